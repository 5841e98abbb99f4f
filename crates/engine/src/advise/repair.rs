//! Where no arc serves the whole list: the fewest targets to move, and two groups with an arc each
//! (docs/advice.md, section 3).

use serde::Serialize;

use super::arc::TOUCH_DEG;
use super::search::{CONDITIONS, Grounds, widest_arc};
use crate::angle::fold_finite;
use crate::rig::Rig;
use crate::scenario::Target;

/// A target to be planned at another position angle.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TargetMove {
    /// Place in the list.
    pub number: usize,
    /// Its name.
    pub name: String,
    /// By how much the position angle has to change, at least \[deg\].
    pub by_deg: f64,
    /// The position angle then \[deg\].
    pub to_deg: f64,
}

/// Targets that share an arc.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Group {
    /// Where the arc starts \[deg\].
    pub start_deg: f64,
    /// Smallest distance of one of them from the seam \[deg\].
    pub seam_distance_deg: f64,
    /// Their places in the list.
    pub targets: Vec<usize>,
}

/// Ways out where no arc keeps every target as far from the seam as it should be.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Repair {
    /// The distance from the seam that is wanted \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub wanted_deg: f64,
    /// Where the arc starts after the moves \[deg\]; `None` if no moves help.
    pub start_deg: Option<f64>,
    /// The fewest targets to move, and the least that they have to move by.
    pub moves: Vec<TargetMove>,
    /// Two groups, each with its own arc, if that serves all.
    pub split: Option<[Group; 2]>,
}

impl Repair {
    /// Looks for both. `targets` must not be empty.
    pub(super) fn find(rig: &Rig, targets: &[Target], wanted_deg: f64) -> Self {
        let ground = Grounds::of(rig);
        let drive_deg = ground.drive_angles_deg(rig, targets);
        let circle = Circle::new(&drive_deg, ground.width_deg);
        let start_deg = circle.fewest(&ground, wanted_deg);
        let sense = rig.settings().loop_.believed_sense.factor();
        let moves = start_deg.map_or_else(Vec::new, |start| {
            let by = |d: f64| {
                let above = fold_finite(d - start, 0.0, ground.width_deg);
                let below = ground.width_deg - above;
                if above.min(below) >= wanted_deg - TOUCH_DEG {
                    None
                } else if above <= below {
                    Some(wanted_deg - above)
                } else {
                    Some(below - wanted_deg)
                }
            };
            let moved = targets.iter().zip(&drive_deg).enumerate();
            moved
                .filter_map(|(number, (target, d))| {
                    by(*d).map(|by| TargetMove {
                        number,
                        name: target.name.clone(),
                        by_deg: sense * by,
                        to_deg: target.position_angle_deg + sense * by,
                    })
                })
                .collect()
        });
        Self {
            wanted_deg,
            start_deg,
            moves,
            split: split(rig, targets, &circle, &ground, wanted_deg),
        }
    }
}

/// Drive angles around one width of the arc, sorted, with running sums.
struct Circle {
    /// Three rounds of them, so that every window is in one piece \[deg\].
    angles_deg: Vec<f64>,
    /// Sum of all before.
    sums: Vec<f64>,
    /// Place in the list of every one of the first round.
    numbers: Vec<usize>,
    width_deg: f64,
}

impl Circle {
    fn new(drive_deg: &[f64], width_deg: f64) -> Self {
        let mut one: Vec<(f64, usize)> = drive_deg
            .iter()
            .enumerate()
            .map(|(i, d)| (fold_finite(*d, 0.0, width_deg), i))
            .collect();
        one.sort_by(|a, b| a.0.total_cmp(&b.0));
        let rounds = [-width_deg, 0.0, width_deg];
        let angles_deg: Vec<f64> = rounds
            .iter()
            .flat_map(|turn| one.iter().map(move |(d, _)| d + turn))
            .collect();
        let sums = std::iter::once(0.0)
            .chain(angles_deg.iter().scan(0.0, |sum, d| {
                *sum += d;
                Some(*sum)
            }))
            .collect();
        Self {
            angles_deg,
            sums,
            numbers: one.into_iter().map(|(_, i)| i).collect(),
            width_deg,
        }
    }

    /// How many targets lie nearer to a seam than they should, and how far they have to go in all \[deg\].
    fn cost(&self, seam_deg: f64, wanted_deg: f64) -> (usize, f64) {
        let x = fold_finite(seam_deg, 0.0, self.width_deg);
        let place = |at: f64| self.angles_deg.partition_point(|d| *d < at);
        let from = place(x - wanted_deg + TOUCH_DEG);
        let (middle, end) = (place(x), place(x + wanted_deg - TOUCH_DEG));
        let (middle, end) = (middle.max(from), end.max(from));
        let sum = |a: usize, b: usize| self.sums[b] - self.sums[a];
        let below = sum(from, middle) - (middle - from) as f64 * (x - wanted_deg);
        let above = (end - middle) as f64 * (x + wanted_deg) - sum(middle, end);
        (end - from, below + above)
    }

    /// The start with the fewest targets to move, and of those the one with the shortest moves.
    fn fewest(&self, ground: &Grounds, wanted_deg: f64) -> Option<f64> {
        if 2.0 * wanted_deg > self.width_deg {
            return None;
        }
        // The count changes only where a target enters or leaves, and the sum of moves is straight between.
        let round = &self.angles_deg[self.numbers.len()..2 * self.numbers.len()];
        let mut seams = ground.limits_deg();
        seams.extend(round.iter().flat_map(|d| [d - wanted_deg, d + wanted_deg]));
        let candidates: Vec<f64> = seams.iter().flat_map(|s| ground.copies(*s)).collect();
        CONDITIONS.iter().find_map(|wanted| {
            candidates
                .iter()
                .filter(|s| wanted.hold(ground, **s))
                .map(|s| (self.cost(*s, wanted_deg), *s))
                .min_by(|(a, s), (b, t)| {
                    let near = |x: f64| ground.distance_deg(x, ground.policy.arc_start_deg);
                    (a.0.cmp(&b.0))
                        .then(a.1.total_cmp(&b.1))
                        .then(near(*s).total_cmp(&near(*t)))
                })
                .map(|(_, s)| s)
        })
    }

    /// The two groups of neighbours whose wider one is narrowest, as places in the list.
    fn halves(&self) -> Option<[Vec<usize>; 2]> {
        let n = self.numbers.len();
        let at = |i: usize| self.angles_deg[n + i];
        let span = |from: usize, to: usize| at(to - 1) - at(from);
        let mut best: Option<(f64, usize, usize)> = None;
        for i in 0..n {
            // The first group grows from i on, the second one is what is left: look where they are equal.
            let (mut low, mut high) = (i + 1, (i + n - 1).min(2 * n - 1));
            while low < high {
                let middle = (low + high) / 2;
                if span(i, middle) >= span(middle, i + n) {
                    high = middle;
                } else {
                    low = middle + 1;
                }
            }
            for j in [low.saturating_sub(1).max(i + 1), low] {
                if j < i + n && i + n <= 2 * n {
                    let wider = span(i, j).max(span(j, i + n));
                    if best.is_none_or(|(b, ..)| wider < b) {
                        best = Some((wider, i, j));
                    }
                }
            }
        }
        let (_, i, j) = best?;
        let group = |from: usize, to: usize| {
            let mut places: Vec<usize> = (from..to).map(|k| self.numbers[k % n]).collect();
            places.sort_unstable();
            places
        };
        Some([group(i, j), group(j, i + n)])
    }
}

/// Two groups whose arcs keep every condition and the wanted distance.
fn split(
    rig: &Rig,
    targets: &[Target],
    circle: &Circle,
    ground: &Grounds,
    wanted_deg: f64,
) -> Option<[Group; 2]> {
    let groups = circle.halves()?.map(|places| {
        let list: Vec<Target> = places.iter().map(|i| targets[*i].clone()).collect();
        let arc = widest_arc(rig, &list);
        let serves = arc.seam_distance_deg >= wanted_deg - TOUCH_DEG
            && CONDITIONS[0].hold(ground, arc.start_deg);
        serves.then_some(Group {
            start_deg: arc.start_deg,
            seam_distance_deg: arc.seam_distance_deg,
            targets: places,
        })
    });
    match groups {
        [Some(one), Some(other)] => Some([one, other]),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::read;

    fn list(angles: impl IntoIterator<Item = f64>) -> Vec<Target> {
        angles
            .into_iter()
            .map(|a| Target {
                name: format!("T{a}"),
                position_angle_deg: a,
                ra_deg: None,
                dec_deg: None,
                minutes: None,
                after_deg: None,
            })
            .collect()
    }

    fn rig(keys: &str) -> Rig {
        read(keys, "test", &[]).expect("a valid rig")
    }

    /// Shows (advice 3): the fewest targets to move are found. With: `no_seam_of_a_grid_needs_fewer_moves`. Source: by
    /// hand; search over a fine grid.
    #[test]
    fn the_fewest_targets_move_the_least() {
        // Every 4 deg, but for a gap of 8 deg between 100 and 108: with 5 deg wanted, one on one side or a bit of
        // both; moving one by 2 deg is the least.
        let angles = (0..45).map(|i| f64::from(4 * i)).filter(|a| *a != 104.0);
        let targets = list(angles);
        let found = Repair::find(&rig(""), &targets, 5.0);
        assert_eq!(found.moves.len(), 1, "{found:?}");
        assert!(
            (found.moves[0].by_deg.abs() - 2.0).abs() < 1e-9,
            "{found:?}"
        );
        let start = found.start_deg.expect("a start");
        let after = targets.iter().map(|t| {
            let moved = found.moves.iter().find(|m| m.name == t.name);
            moved.map_or(t.position_angle_deg, |m| m.to_deg)
        });
        let moved = list(after);
        let there = rig(&format!("[wrap]\narc_start_deg = {start:?}\n"));
        assert!(crate::advise::search::present_arc(&there, &moved).seam_distance_deg >= 5.0 - 1e-9);
    }

    /// By trying every seam on a fine grid.
    #[test]
    fn no_seam_of_a_grid_needs_fewer_moves() {
        for shift in 0..20 {
            let angles = (0..40).map(|i| f64::from((i * i * 7 + shift * 13) % 1800) * 0.1);
            let targets = list(angles.collect::<Vec<_>>());
            let found = Repair::find(&rig(""), &targets, 6.0);
            let too_near = |seam: f64| {
                let near = |t: &&Target| {
                    let turned = (t.position_angle_deg - seam).rem_euclid(180.0);
                    turned.min(180.0 - turned) < 6.0 - 1e-6
                };
                targets.iter().filter(near).count()
            };
            let best = (0..18_000).map(|i| too_near(f64::from(i) * 0.01)).min();
            assert_eq!(Some(found.moves.len()), best, "{shift}");
        }
    }

    /// Shows (advice 3): two groups of targets each have their arc. With:
    /// `crates/report/src/advice/tests.rs::targets_all_around_need_another_rule_or_a_split`. Source: by hand.
    #[test]
    fn two_groups_each_have_their_arc() {
        let targets = list((0..90).map(|i| f64::from(2 * i)));
        let found = Repair::find(&rig(""), &targets, 5.0);
        let [one, other] = found.split.expect("two groups");
        assert_eq!(one.targets.len() + other.targets.len(), 90);
        assert!(
            (one.seam_distance_deg - 46.0).abs() < 1.5
                && (other.seam_distance_deg - 46.0).abs() < 1.5
        );
        // What no arc can give is not promised.
        let shut = rig(
            "[[keep_out]]\nfrom_deg = 10\nto_deg = 20\n[[keep_out]]\nfrom_deg = 190\nto_deg = 200\n\
            [[keep_out]]\nfrom_deg = 100\nto_deg = 110\n[[keep_out]]\nfrom_deg = 280\nto_deg = 290\n",
        );
        assert_eq!(Repair::find(&shut, &targets, 5.0).split, None);
        assert_eq!(Repair::find(&rig(""), &targets, 91.0).start_deg, None);
    }
}
