//! Where the arc should start: the seam in the middle of the widest gap between the drive angles.

use crate::angle::{Sectors, TURN_DEG, fold_finite, residual_finite};
use crate::plant::{Plant, Travel};
use crate::rig::{Rig, Rule};
use crate::run::keep_out_sectors;
use crate::scenario::{Policy, Scenario, Target};

/// Keep-out degrees that count as none: rounding of a boundary that is only touched \[deg\].
const TOUCH_DEG: f64 = 1e-9;

/// The chosen start of the arc.
#[derive(Debug, Clone, PartialEq)]
pub struct ArcChoice {
    /// Where the allowed arc should start \[deg\].
    pub start_deg: f64,
    /// Smallest distance of a target's drive angle from the seam \[deg\].
    pub margin_deg: f64,
    /// That distance for the present start \[deg\].
    pub present_margin_deg: f64,
    /// Drive angles of the two targets beside the seam, as angles from the start \[deg\]: below and above.
    pub neighbours_deg: (f64, f64),
    /// The rule has no seam on this rig, so the start does not matter.
    pub no_seam: bool,
    /// The arc, band included, is clear of every keep-out sector.
    pub clear_of_keep_outs: bool,
    /// The arc fits between the stops.
    pub within_stops: bool,
    /// A better margin was found, but the runs there end worse: the present start is kept.
    pub kept_present: bool,
}

/// Chooses the start of the arc that keeps the seam as far as possible from every target, among the
/// starts whose arc, band included, is clear of the keep-outs and fits between the stops. If there is
/// no such start these two conditions are dropped, keep-outs last, and the choice says so. Of equally good
/// starts it takes the one nearest to the present start.
///
/// `targets` must not be empty; without one the present start is kept.
#[must_use]
pub fn choose_arc(rig: &Rig, targets: &[Target]) -> ArcChoice {
    let ground = Grounds::of(rig);
    let drive_deg = ground.drive_angles_deg(rig, targets);
    let present_deg = ground.policy.arc_start_deg;
    if ground.no_seam || targets.is_empty() {
        return ground.choice(present_deg, &drive_deg);
    }
    let candidates = ground.candidates(&drive_deg);
    let conditions: [fn(&Grounds, f64) -> bool; 3] = [
        |g, s| g.clear_of_keep_outs(s) && g.within_stops(s),
        |g, s| g.clear_of_keep_outs(s),
        |_, _| true,
    ];
    let best = conditions.iter().find_map(|holds| {
        candidates
            .iter()
            .copied()
            .filter(|s| holds(&ground, *s))
            .max_by(|a, b| {
                let (ma, mb) = (
                    ground.margin_deg(*a, &drive_deg),
                    ground.margin_deg(*b, &drive_deg),
                );
                let far = |s: f64| ground.distance_deg(s, present_deg);
                // Margins that differ by rounding only are equal.
                if (ma - mb).abs() > TOUCH_DEG {
                    ma.total_cmp(&mb)
                } else {
                    far(*b).total_cmp(&far(*a)).then(b.total_cmp(a))
                }
            })
    });
    ground.choice(best.unwrap_or(present_deg), &drive_deg)
}

/// The choice of staying where the arc is, because the runs say so.
#[must_use]
pub(super) fn keep_present(rig: &Rig, targets: &[Target]) -> ArcChoice {
    let ground = Grounds::of(rig);
    let drive_deg = ground.drive_angles_deg(rig, targets);
    ArcChoice {
        kept_present: true,
        ..ground.choice(ground.policy.arc_start_deg, &drive_deg)
    }
}

/// What limits the choice.
struct Grounds {
    policy: Policy,
    travel: Travel,
    width_deg: f64,
    band_deg: f64,
    keep_out: Sectors,
    /// `(from, to)` of every keep-out \[deg\].
    keep_out_ends_deg: Vec<(f64, f64)>,
    no_seam: bool,
}

impl Grounds {
    fn of(rig: &Rig) -> Self {
        let policy = Policy::of(rig);
        let travel = Plant::new(rig).travel();
        let wrap = policy.wrap(travel);
        let keep_out = &rig.settings().keep_out;
        Self {
            policy,
            travel,
            width_deg: wrap.width_deg(),
            band_deg: wrap.band_deg(),
            keep_out: keep_out_sectors(travel, keep_out),
            keep_out_ends_deg: keep_out.iter().map(|k| (k.from_deg, k.to_deg)).collect(),
            // The drive turns past the end of an endless full circle without noticing.
            no_seam: wrap.width_deg() >= TURN_DEG && travel == Travel::Endless,
        }
    }

    fn drive_angles_deg(&self, rig: &Rig, targets: &[Target]) -> Vec<f64> {
        targets
            .iter()
            .map(|t| Scenario::new(rig, self.policy, t.position_angle_deg).drive_angle_deg())
            .collect()
    }

    /// Every start at which the smallest distance can be greatest: the middles of the gaps between
    /// drive angles, and the ends of the permitted ranges.
    fn candidates(&self, drive_deg: &[f64]) -> Vec<f64> {
        let width = self.width_deg;
        let mut sorted: Vec<f64> = drive_deg
            .iter()
            .map(|d| fold_finite(*d, 0.0, width))
            .collect();
        sorted.sort_by(f64::total_cmp);
        let mut starts: Vec<f64> = sorted
            .iter()
            .zip(sorted.iter().skip(1).copied().chain([sorted[0] + width]))
            .map(|(below, above)| 0.5 * (below + above))
            .collect();
        for (from, to) in &self.keep_out_ends_deg {
            starts.push(to + self.band_deg);
            starts.push(from - width - self.band_deg);
        }
        if let Travel::Stops { lo_deg, hi_deg } = self.travel {
            starts.push(lo_deg + self.band_deg);
            starts.push(hi_deg - width - self.band_deg);
        }
        starts.push(self.policy.arc_start_deg);
        // The same seam belongs to several arcs, one period apart.
        let (lowest, highest) = match self.travel {
            Travel::Endless => (0.0, TURN_DEG),
            Travel::Stops { lo_deg, hi_deg } => (lo_deg - width, hi_deg + width),
        };
        starts
            .iter()
            .flat_map(|start| {
                let first = fold_finite(*start, lowest, width);
                (0_u32..)
                    .map(move |k| first + f64::from(k) * width)
                    .take_while(move |s| *s < highest)
            })
            .collect()
    }

    fn clear_of_keep_outs(&self, start_deg: f64) -> bool {
        let from = start_deg - self.band_deg;
        let to = start_deg + self.width_deg + self.band_deg;
        self.keep_out.inside_deg(from, to) <= TOUCH_DEG
    }

    fn within_stops(&self, start_deg: f64) -> bool {
        match self.travel {
            Travel::Endless => true,
            Travel::Stops { lo_deg, hi_deg } => {
                start_deg - self.band_deg >= lo_deg
                    && start_deg + self.width_deg + self.band_deg <= hi_deg
            }
        }
    }

    /// Smallest distance of a target from the seam; also from the stops where a correction is held by
    /// nothing else.
    fn margin_deg(&self, start_deg: f64, drive_deg: &[f64]) -> f64 {
        drive_deg
            .iter()
            .map(|d| {
                let seam_deg = residual_finite(d - start_deg, self.width_deg).abs();
                match self.travel {
                    Travel::Stops { lo_deg, hi_deg } if self.policy.rule == Rule::FoldOnce => {
                        let at_deg = fold_finite(*d, start_deg, self.width_deg);
                        seam_deg.min(at_deg - lo_deg).min(hi_deg - at_deg)
                    }
                    Travel::Stops { .. } | Travel::Endless => seam_deg,
                }
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// How far two starts are apart \[deg\].
    fn distance_deg(&self, a: f64, b: f64) -> f64 {
        match self.travel {
            Travel::Endless => residual_finite(a - b, TURN_DEG).abs(),
            Travel::Stops { .. } => (a - b).abs(),
        }
    }

    fn choice(&self, start_deg: f64, drive_deg: &[f64]) -> ArcChoice {
        let from_start = |d: &f64| fold_finite(d - start_deg, 0.0, self.width_deg);
        let least = drive_deg
            .iter()
            .map(from_start)
            .fold(f64::INFINITY, f64::min);
        let most = drive_deg.iter().map(from_start).fold(0.0, f64::max);
        ArcChoice {
            start_deg,
            margin_deg: self.margin_deg(start_deg, drive_deg),
            present_margin_deg: self.margin_deg(self.policy.arc_start_deg, drive_deg),
            neighbours_deg: (start_deg + most - self.width_deg, start_deg + least),
            no_seam: self.no_seam,
            clear_of_keep_outs: self.clear_of_keep_outs(start_deg),
            within_stops: self.within_stops(start_deg),
            kept_present: false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::read;

    fn targets(angles: &[f64]) -> Vec<Target> {
        angles
            .iter()
            .map(|a| Target {
                name: a.to_string(),
                position_angle_deg: *a,
                ra_deg: None,
                dec_deg: None,
                minutes: None,
            })
            .collect()
    }

    fn start(toml: &str, angles: &[f64]) -> ArcChoice {
        let rig = read(toml, "test", &[]).expect("a valid rig");
        choose_arc(&rig, &targets(angles))
    }

    #[test]
    fn the_seam_goes_to_the_middle_of_the_widest_gap() {
        let c = start("", &[0.0, 20.0, 100.0, 179.0]);
        assert_eq!((c.start_deg, c.margin_deg), (60.0, 40.0));
        // 200 and 20 frame the same field.
        let c = start("", &[0.0, 200.0, 100.0, 179.0]);
        assert_eq!(c.start_deg, 60.0);
        assert_eq!(c.neighbours_deg, (20.0, 100.0));
    }

    #[test]
    fn one_target_is_put_in_the_middle_of_the_arc() {
        let c = start("", &[0.0]);
        assert_eq!((c.start_deg, c.margin_deg), (90.0, 90.0));
    }

    #[test]
    fn keep_outs_choose_the_other_arc_with_the_same_seam() {
        let rig = "[[keep_out]]\nfrom_deg = 200.0\nto_deg = 250.0\n";
        // 60 has the widest margin, but its arc reaches 240, and the arc from 240 starts inside.
        let c = start(rig, &[0.0, 20.0, 100.0, 179.0]);
        assert!(c.clear_of_keep_outs);
        assert_eq!((c.start_deg, c.margin_deg), (319.5, 39.5));
        // Here no middle of a gap is as good as the first start above the keep-out.
        let c = start(rig, &[0.0, 20.0, 100.0, 120.0, 140.0, 160.0]);
        assert!(c.clear_of_keep_outs);
        assert_eq!((c.start_deg, c.margin_deg), (250.0, 30.0));
    }

    #[test]
    fn a_keep_out_that_no_arc_can_avoid_is_reported() {
        let rig = "[[keep_out]]\nfrom_deg = 0.0\nto_deg = 10.0\n[[keep_out]]\nfrom_deg = 180.0\nto_deg = 190.0\n";
        let c = start(rig, &[0.0, 90.0]);
        assert!(!c.clear_of_keep_outs);
        assert_eq!(c.margin_deg, 45.0);
    }

    #[test]
    fn the_arc_fits_between_the_stops() {
        let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10.0\nstop_to_deg = 200.0\n";
        let c = start(rig, &[0.0, 20.0, 100.0, 179.0]);
        assert!(c.within_stops);
        assert_eq!((c.start_deg, c.margin_deg), (10.0, 10.0));
    }

    #[test]
    fn fold_once_keeps_away_from_the_stops() {
        let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10.0\nstop_to_deg = 200.0\n[wrap]\nrule = \"fold-once\"\n";
        // From -10 the target at 178 goes to -2, 8 from a stop; from 12 it stays at 178, 22 from one.
        let c = start(rig, &[40.0, 178.0]);
        assert!(c.within_stops);
        assert!(c.start_deg > -2.0 && c.margin_deg > 14.0, "{c:?}");
    }

    #[test]
    fn an_endless_full_circle_has_no_seam() {
        let c = start(
            "[wrap]\nrule = \"full-circle\"\narc_start_deg = 5.0\n",
            &[5.0],
        );
        assert!(c.no_seam);
        assert_eq!(c.start_deg, 5.0);
    }

    /// The closed form against a search over a fine grid.
    #[test]
    fn no_grid_point_beats_the_choice() {
        let angles = [3.0, 17.5, 44.0, 91.0, 133.3, 160.25];
        let c = start("", &angles);
        for i in 0..18_000 {
            let s = f64::from(i) * 0.01;
            let margin = angles
                .iter()
                .map(|a| residual_finite(a - s, 180.0).abs())
                .fold(f64::INFINITY, f64::min);
            assert!(margin <= c.margin_deg + 1e-9, "{s}");
        }
    }
}
