//! The limits of a rotator that follows the field: keep-outs, stops, the cable, and the ends of the arc.

use halfturn_engine::angle::{AngleSpan, Sectors, TURN_DEG};
use halfturn_engine::controller::Wrap;
use halfturn_engine::plant::{PlannedMove, Plant, Travel};
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::scenario::{Policy, keep_out_sectors};
use halfturn_engine::tally::TOUCH_DEG;
use halfturn_engine::verdict::Fault;
use serde::Serialize;

/// What stops a rotator that follows the field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display)]
#[strum(serialize_all = "kebab-case")]
pub enum WayEnd {
    /// The end of the allowed arc, band included. A command beyond it folds.
    Seam,
    /// A stop of the drive.
    Stop,
    /// A cable is taut.
    Cable,
    /// The edge of a keep-out sector.
    KeepOut,
}

/// The part of a turn that a limit forbids.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Breach {
    pub(super) fault: Fault,
    /// Where it begins \[deg\].
    pub(super) from_deg: f64,
    /// Where it ends; for the cable, the farthest reading \[deg\].
    pub(super) to_deg: f64,
}

/// All limits of the way.
#[derive(Debug, Clone)]
pub(super) struct Bounds {
    pub(super) plant: Plant,
    wrap: Wrap,
    policy: Policy,
    /// Readings between the stops \[deg\].
    stops: AngleSpan,
    /// Readings that the cable allows \[deg\].
    cable: AngleSpan,
    /// The keep-outs that count now.
    keep_out: Sectors,
}

impl Bounds {
    /// The limits of a rig under a policy. `count` says for each keep-out whether it counts.
    pub(super) fn new(rig: &Rig, policy: Policy, count: &[bool]) -> Self {
        let plant = Plant::new(rig);
        let settings = rig.settings();
        let (park_deg, limit_deg) = (settings.drive.park_deg, settings.drive.winding_limit_deg);
        let sectors = settings.keep_out.iter().zip(count);
        let counting: Vec<_> = sectors
            .filter(|(_, c)| **c)
            .map(|(k, _)| k.clone())
            .collect();
        Self {
            wrap: policy.wrap(plant.travel()),
            policy,
            stops: match plant.travel() {
                Travel::Stops { lo_deg, hi_deg } => AngleSpan::new(lo_deg, hi_deg),
                Travel::Endless => AngleSpan::ALL,
            },
            cable: if limit_deg > 0.0 {
                AngleSpan::new(park_deg - limit_deg, park_deg + limit_deg)
            } else {
                AngleSpan::ALL
            },
            keep_out: keep_out_sectors(plant.travel(), &counting),
            plant,
        }
    }

    /// The next reading on the way up (1) or down (-1) where something begins or ends \[deg\], and what stops the
    /// rotator there; `None` if it can go on.
    pub(super) fn ahead(&self, at_deg: f64, direction: f64) -> (f64, Option<WayEnd>) {
        // The near and the far end of a span, in the direction of the way.
        let along = |span: AngleSpan| {
            if direction > 0.0 {
                (span.from_deg, span.to_deg)
            } else {
                (span.to_deg, span.from_deg)
            }
        };
        let before = |a_deg: f64, b_deg: f64| (b_deg - a_deg) * direction;
        let mut next = (direction * f64::INFINITY, None);
        let mut meet = |reading_deg: f64, end: Option<WayEnd>| {
            if before(reading_deg, next.0) > 0.0 {
                next = (reading_deg, end);
            }
        };
        // If two limits are at one place, the rule's comes first, because it folds without help.
        if let Some(arc) = self.arc(at_deg) {
            meet(along(arc).1, Some(WayEnd::Seam));
        }
        meet(along(self.stops).1, Some(WayEnd::Stop));
        let (near_deg, far_deg) = along(self.cable);
        if before(at_deg, near_deg) > TOUCH_DEG {
            meet(near_deg, None); // on the way back from beyond it
        } else {
            meet(far_deg, Some(WayEnd::Cable));
        }
        let sectors = self.sectors(at_deg, at_deg);
        match sectors.iter().find(|s| is_inside(**s, at_deg)) {
            Some(sector) => meet(along(*sector).1, None),
            None => {
                let edges = sectors.iter().map(|s| along(*s).0);
                let coming = edges.filter(|edge| before(at_deg, *edge) >= -TOUCH_DEG);
                coming.for_each(|edge| meet(edge, Some(WayEnd::KeepOut)));
            }
        }
        next
    }

    /// Whether a reading lies inside a keep-out.
    pub(super) fn keeps_out(&self, at_deg: f64) -> bool {
        let sectors = self.sectors(at_deg, at_deg);
        sectors.into_iter().any(|s| is_inside(s, at_deg))
    }

    /// Whether a reading is farther from the parking reading than the cable allows.
    pub(super) fn overwinds(&self, at_deg: f64) -> bool {
        let AngleSpan { from_deg, to_deg } = self.cable;
        at_deg < from_deg - TOUCH_DEG || at_deg > to_deg + TOUCH_DEG
    }

    /// A turn to a reading; two legs for a one-sided approach.
    pub(super) fn turn(&self, to_deg: f64) -> PlannedMove {
        PlannedMove::Move {
            via_deg: self.plant.one_sided().then(|| self.plant.via_deg(to_deg)),
            to_deg,
        }
    }

    /// Where a turn passes through a keep-out or beyond the cable.
    pub(super) fn breaches(&self, from_deg: f64, turn: &PlannedMove) -> Vec<Breach> {
        let PlannedMove::Move { via_deg, to_deg } = *turn else {
            return Vec::new();
        };
        let via_deg = via_deg.unwrap_or(from_deg);
        let mut inside: Option<(f64, f64)> = None;
        let mut beyond: Option<(f64, f64)> = None;
        for (a, b) in [(from_deg, via_deg), (via_deg, to_deg)] {
            let (low, high) = (a.min(b), a.max(b));
            let sectors = self.sectors(low, high).into_iter();
            let mut parts: Vec<(f64, f64)> = sectors
                .map(|s| (s.from_deg.max(low), s.to_deg.min(high)))
                .collect();
            parts.retain(|(f, t)| t - f > TOUCH_DEG);
            if b < a {
                parts = parts.into_iter().rev().map(|(f, t)| (t, f)).collect();
            }
            if let (Some(first), Some(last)) = (parts.first(), parts.last()) {
                inside = Some((inside.map_or(first.0, |i| i.0), last.1));
            }
            if self.overwinds(b) {
                let AngleSpan { from_deg, to_deg } = self.cable;
                let edge = if b > to_deg { to_deg } else { from_deg };
                let farther = beyond.is_none_or(|(e, far)| (b - edge).abs() > (far - e).abs());
                beyond = if farther { Some((edge, b)) } else { beyond };
            }
        }
        let breach = |fault: Fault, part: Option<(f64, f64)>| {
            part.map(|(from_deg, to_deg)| Breach {
                fault,
                from_deg,
                to_deg,
            })
        };
        let both = [
            breach(Fault::KeepOut, inside),
            breach(Fault::Winding, beyond),
        ];
        both.into_iter().flatten().collect()
    }

    /// What the rule itself does at the end of its arc: a command just beyond folds, and the drive takes the short
    /// way. Returns the reading after it \[deg\].
    ///
    /// # Errors
    /// The command that the stops refuse \[deg\].
    pub(super) fn folded(&self, at_deg: f64, direction: f64) -> Result<f64, f64> {
        /// How far beyond \[deg\]. The fold is then less than half a turn back, and only one way is the short one.
        const HAIR_DEG: f64 = 1e-6;
        let hair_deg = direction * HAIR_DEG;
        let command_deg = self.wrap.correction(at_deg + hair_deg).drive_deg;
        if self.plant.refuses(command_deg) {
            return Err(command_deg);
        }
        Ok(self.plant.goal_deg(at_deg, command_deg) - hair_deg)
    }

    /// The turn to the equivalent framing with the most room ahead, on one `side` (1 above, -1 below). The turn must
    /// stay within stops and cable and clear of the keep-outs of these limits and of those `during` the turn. `None`
    /// if no framing has room.
    pub(super) fn unwound(
        &self,
        during: &Self,
        at_deg: f64,
        direction: f64,
        side: f64,
    ) -> Option<PlannedMove> {
        /// Less room ahead counts as none \[deg\].
        const LEAST_DEG: f64 = 1.0;
        // An endless drive without a cable finds the same framings again after a turn.
        let ends = [self.stops, self.cable];
        let bounded = ends.iter().any(|span| span.from_deg.is_finite());
        let most = if bounded {
            10_000
        } else {
            self.policy.symmetry
        };
        let mut found = None;
        let mut most_room_deg = LEAST_DEG - TOUCH_DEG;
        for turns in 1..=most {
            let to_deg = at_deg + side * self.policy.period_deg() * f64::from(turns);
            let turn = self.turn(to_deg);
            let held = ends.iter().all(|span| span.contains(to_deg));
            if !held || !during.breaches(at_deg, &turn).is_empty() {
                break;
            }
            let room_deg = (self.ahead(to_deg, direction).0 - to_deg) * direction;
            let stays = self
                .arc(to_deg)
                .is_none_or(|a| to_deg > a.from_deg - TOUCH_DEG && to_deg < a.to_deg + TOUCH_DEG);
            if stays && !self.keeps_out(to_deg) && room_deg > most_room_deg + TOUCH_DEG {
                most_room_deg = room_deg;
                found = Some(turn);
            }
        }
        found
    }

    /// Another first command without a fault on the way or at the end: the nearest equivalent framing \[deg\]; `None`
    /// if there is none.
    pub(super) fn clear_first_deg(&self, park_deg: f64, command_deg: f64) -> Option<f64> {
        let period_deg = self.policy.period_deg();
        let (first, last) = match self.plant.travel() {
            Travel::Endless => (1, i64::from(self.policy.symmetry) - 1),
            Travel::Stops { lo_deg, hi_deg } => (
                ((lo_deg - command_deg) / period_deg).ceil() as i64,
                ((hi_deg - command_deg) / period_deg).floor() as i64,
            ),
        };
        let mut found: Option<f64> = None;
        for turns in first..=last {
            let plan = self
                .plant
                .plan(park_deg, command_deg + period_deg * turns as f64);
            let to_deg = match plan {
                PlannedMove::Refused => continue,
                PlannedMove::Still => park_deg,
                PlannedMove::Move { to_deg, .. } => to_deg,
            };
            let clear = self.breaches(park_deg, &plan).is_empty() && !self.keeps_out(to_deg);
            let nearer = found.is_none_or(|f| (to_deg - park_deg).abs() < (f - park_deg).abs());
            if clear && nearer {
                found = Some(to_deg);
            }
        }
        found
    }

    /// The ends of the arc about a reading, band included \[deg\]; `None` if the rule never folds a correction.
    fn arc(&self, at_deg: f64) -> Option<AngleSpan> {
        let half_deg = 0.5 * self.wrap.width_deg() + self.wrap.band_deg();
        let endless = self.plant.travel() == Travel::Endless;
        if self.policy.rule == Rule::FoldOnce || endless && 2.0 * half_deg >= TURN_DEG {
            return None;
        }
        let centre_deg = self.wrap.start_deg() + 0.5 * self.wrap.width_deg();
        // With endless travel the arc repeats every turn.
        let turns = if endless {
            ((at_deg - centre_deg) / TURN_DEG).round() * TURN_DEG
        } else {
            0.0
        };
        Some(AngleSpan::new(
            self.wrap.start_deg() - self.wrap.band_deg() + turns,
            self.wrap.start_deg() + self.wrap.width_deg() + self.wrap.band_deg() + turns,
        ))
    }

    /// The keep-outs about a stretch of readings. With endless travel they repeat every turn, and a sector across 0
    /// is one piece.
    fn sectors(&self, low_deg: f64, high_deg: f64) -> Vec<AngleSpan> {
        let spans = self.keep_out.spans();
        if !self.keep_out.turning() {
            return spans.to_vec();
        }
        let (first, last) = (low_deg / TURN_DEG, high_deg / TURN_DEG);
        let mut all: Vec<AngleSpan> = Vec::new();
        for turn in (first.floor() as i64 - 1)..=(last.floor() as i64 + 1) {
            let turn_deg = turn as f64 * TURN_DEG;
            for span in spans.iter().map(|span| span.moved(turn_deg)) {
                match all.last_mut() {
                    Some(last) if span.from_deg <= last.to_deg => last.to_deg = span.to_deg,
                    _ => all.push(span),
                }
            }
        }
        all
    }
}

/// Whether a reading lies in a sector and not on its edge.
fn is_inside(sector: AngleSpan, at_deg: f64) -> bool {
    at_deg > sector.from_deg + TOUCH_DEG && at_deg < sector.to_deg - TOUCH_DEG
}
