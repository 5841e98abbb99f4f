//! A rotator that follows the field: when it must stop or unwind, and its faults.

use super::bounds::{Bounds, Breach, WayEnd};
use super::session::{FieldRow, FieldSession, session};
use crate::time::Moment;
use halfturn_engine::angle::{TURN_DEG, residual_finite};
use halfturn_engine::plant::PlannedMove;
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::verdict::Fault;
use serde::Serialize;

/// A turn to an equivalent framing, because the rotator met a limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Unwind {
    /// When the turn begins.
    #[serde(rename = "time")]
    pub at: Moment,
    /// The limit that it met.
    pub end: WayEnd,
    /// Reading before the turn \[deg\].
    pub from_deg: f64,
    /// Reading after the turn \[deg\].
    pub to_deg: f64,
    /// Time of the turn \[s\].
    #[serde(rename = "takes_s")]
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub time_s: f64,
}

/// What the rotator does at the time of a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display)]
#[strum(serialize_all = "kebab-case")]
pub enum During {
    /// The move from the parking reading to the first framing.
    FirstMove,
    /// The rotator follows the field, or stands still.
    Following,
    /// A turn to an equivalent framing.
    Unwind,
}

/// A fault of a rotator that follows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FollowFault {
    /// A keep-out, the cable, or a command outside the stops.
    pub fault: Fault,
    /// What the rotator does meanwhile.
    pub during: During,
    /// When it begins; for a turn, when the turn begins.
    pub at: Moment,
    /// Reading where it begins \[deg\]; for a refusal, the command that the stops refuse.
    pub reading_deg: f64,
    /// Reading where it ends \[deg\]; for a turn past the cable, the farthest.
    pub to_deg: f64,
    /// How long it lasts \[s\]; for a turn, the time of the turn.
    pub lasts_s: f64,
}

/// The reading at a row of the session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Followed {
    /// Reading \[deg\].
    pub reading_deg: f64,
    /// Whether the field turns faster than the drive can.
    pub too_fast: bool,
}

/// A rotator that follows a session.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Follow {
    /// One for every row; empty if the stops refuse the first command.
    pub rows: Vec<Followed>,
    /// Every unwind, in the order of time.
    pub unwinds: Vec<Unwind>,
    /// When, and at which limit, the rotator could go no further, because no equivalent framing was in reach; `None`
    /// if it followed to the end.
    pub stuck: Option<(Moment, WayEnd)>,
    /// Every fault, in the order of its beginning.
    pub faults: Vec<FollowFault>,
    /// If the first command or its framing has a fault: an equivalent framing that the drive could reach from the
    /// parking reading without one \[deg\].
    pub clear_first_deg: Option<f64>,
}

impl Follow {
    /// Whether it has a fault or gets stuck.
    #[must_use]
    pub fn is_bad(&self) -> bool {
        self.stuck.is_some() || !self.faults.is_empty()
    }
}

/// Follows a session on an altazimuth mount that begins with the target framed at `position_angle_deg`, and returns
/// the readings at its `rows`. `steps` should have short steps: between them the field counts as turning evenly.
///
/// The drive stands at `sense (position angle - zero point - position angle of the zenith)` and moves against the
/// field. Moves and unwinds take no time here.
#[must_use]
pub fn follow(
    rig: &Rig,
    rule: Rule,
    position_angle_deg: f64,
    steps: &FieldSession,
    rows: &[FieldRow],
) -> Follow {
    let fine = session(steps);
    let mut found = follow_steps(rig, rule, position_angle_deg, &fine);
    let at_row = |row: &FieldRow| {
        let next = fine.partition_point(|f| f.at.since_s(row.at) < -1e-3);
        found.rows.get(next).copied()
    };
    let shown: Vec<Followed> = rows.iter().filter_map(at_row).collect();
    found.rows = shown;
    found
}

/// The same, with a reading at every one of the steps.
pub(super) fn follow_steps(
    rig: &Rig,
    rule: Rule,
    position_angle_deg: f64,
    rows: &[FieldRow],
) -> Follow {
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
        return Follow::default();
    };
    let settings = rig.settings();
    let policy = Policy::with_rule(rig, rule);
    let target_deg = position_angle_deg - first.pointing.zenith_deg;
    let command_deg = Scenario::new(rig, policy, target_deg).drive_angle_deg();
    let mut counting = counting(rig, &[first]);
    let mut follower = Follower {
        bounds: Bounds::new(rig, policy, &counting),
        at_deg: settings.drive.park_deg,
        end: last.at,
        stands: [None; 2],
        out: Follow::default(),
    };
    if !follower.first_move(command_deg, first.at) {
        return follower.out;
    }
    let sense = settings.loop_.believed_sense.factor();
    let speed_deg_per_h = 3600.0 * settings.drive.speed_deg_per_s;
    let mut before = first;
    for row in rows {
        let way_deg = -sense * (row.turned_deg - before.turned_deg);
        let now = self::counting(rig, &[before, row]);
        if now != counting {
            counting = now;
            follower.keep_out_changes(Bounds::new(rig, policy, &counting), way_deg, before.at);
        }
        follower.step(way_deg, before.at, row.at);
        follower.out.rows.push(Followed {
            reading_deg: follower.at_deg,
            too_fast: row.rate_deg_per_h.abs() > speed_deg_per_h,
        });
        before = row;
    }
    follower.out
}

/// Whether each keep-out counts at one of these pointings.
fn counting(rig: &Rig, rows: &[&FieldRow]) -> Vec<bool> {
    let pointings = || rows.iter().map(|row| &row.pointing);
    let sectors = rig.settings().keep_out.iter();
    let counts = sectors.map(|k| pointings().any(|p| k.when.holds(p.hour_angle_h, p.altitude_deg)));
    counts.collect()
}

/// A rotator that follows the field.
struct Follower {
    bounds: Bounds,
    at_deg: f64,
    /// End of the session.
    end: Moment,
    /// Index of the fault that goes on while it stands in a keep-out, and while it is beyond the cable.
    stands: [Option<usize>; 2],
    out: Follow,
}

impl Follower {
    /// Turns from the parking reading to the first framing. Returns whether the stops allow it.
    fn first_move(&mut self, command_deg: f64, at: Moment) -> bool {
        let park_deg = self.at_deg;
        let plan = self.bounds.plant.plan(park_deg, command_deg);
        let to_deg = match plan {
            PlannedMove::Move { to_deg, .. } => to_deg,
            PlannedMove::Still | PlannedMove::Refused => park_deg,
        };
        if plan == PlannedMove::Refused {
            self.out.stuck = Some((at, WayEnd::Stop));
            self.refused(During::FirstMove, at, command_deg);
        } else {
            self.turn(&plan, During::FirstMove, at);
            // The steps of the drive do not change where it meets a limit.
            self.at_deg = to_deg + residual_finite(command_deg - to_deg, TURN_DEG);
        }
        if self.out.is_bad() || self.bounds.keeps_out(self.at_deg) {
            self.out.clear_first_deg = self.bounds.clear_first_deg(park_deg, command_deg);
        }
        plan != PlannedMove::Refused
    }

    /// Other keep-outs count from now on. If the rotator would stand in one, it unwinds just before.
    fn keep_out_changes(&mut self, bounds: Bounds, way_deg: f64, at: Moment) {
        let at_deg = self.at_deg;
        let comes = bounds.keeps_out(at_deg) && !self.bounds.keeps_out(at_deg);
        if comes && self.out.stuck.is_none() {
            let direction = 1.0_f64.copysign(way_deg);
            let to_side = |side: f64| bounds.unwound(&self.bounds, at_deg, direction, side);
            if let Some(turn) = to_side(-direction).or_else(|| to_side(direction)) {
                self.unwind(&turn, WayEnd::KeepOut, at);
            }
        }
        self.bounds = bounds;
    }

    /// Follows the field for one step, and unwinds at a limit.
    fn step(&mut self, way_deg: f64, begin: Moment, end: Moment) {
        /// More in one step would mean limits closer together than a step.
        const MOST: u32 = 256;
        let direction = 1.0_f64.copysign(way_deg);
        let step_s = end.since_s(begin);
        let mut left_deg = way_deg.abs();
        let mut at = begin;
        for _ in 0..MOST {
            if self.out.stuck.is_some() {
                break;
            }
            let (edge_deg, ends) = self.bounds.ahead(self.at_deg, direction);
            let room_deg = ((edge_deg - self.at_deg) * direction).max(0.0);
            if room_deg >= left_deg {
                self.turn_to(self.at_deg + direction * left_deg, at, end);
                return;
            }
            left_deg -= room_deg;
            let then = begin.plus_s((1.0 - left_deg / way_deg.abs()) * step_s);
            if room_deg > 0.0 {
                self.turn_to(edge_deg, at, then);
            }
            at = then;
            if let Some(ends) = ends {
                self.way_ends(ends, direction, at);
            }
        }
        if self.out.stuck.is_none() {
            self.out.stuck = Some((at, WayEnd::Seam));
        }
        self.turn_to(self.at_deg, at, end);
    }

    /// Unwinds at a limit, or gets stuck there.
    fn way_ends(&mut self, end: WayEnd, direction: f64, at: Moment) {
        let bounds = &self.bounds;
        let turn = if end == WayEnd::Seam {
            // The rule folds without help, whatever is in the way.
            match bounds.folded(self.at_deg, direction) {
                Ok(to_deg) => Some(bounds.turn(to_deg)),
                Err(command_deg) => {
                    self.refused(During::Unwind, at, command_deg);
                    None
                }
            }
        } else {
            bounds.unwound(bounds, self.at_deg, direction, -direction)
        };
        match turn {
            Some(turn) => self.unwind(&turn, end, at),
            None => self.out.stuck = Some((at, end)),
        }
    }

    fn unwind(&mut self, turn: &PlannedMove, end: WayEnd, at: Moment) {
        let from_deg = self.at_deg;
        let time_s = self.bounds.plant.duration_s(from_deg, turn);
        self.turn(turn, During::Unwind, at);
        self.out.unwinds.push(Unwind {
            at,
            end,
            from_deg,
            to_deg: self.at_deg,
            time_s,
        });
    }

    /// Turns, and notes the faults on the way.
    fn turn(&mut self, turn: &PlannedMove, during: During, at: Moment) {
        let lasts_s = self.bounds.plant.duration_s(self.at_deg, turn);
        for Breach {
            fault,
            from_deg,
            to_deg,
        } in self.bounds.breaches(self.at_deg, turn)
        {
            self.out.faults.push(FollowFault {
                fault,
                during,
                at,
                reading_deg: from_deg,
                to_deg,
                lasts_s,
            });
        }
        if let PlannedMove::Move { to_deg, .. } = *turn {
            self.at_deg = to_deg;
        }
        self.stands = [None; 2];
    }

    fn refused(&mut self, during: During, at: Moment, command_deg: f64) {
        self.out.faults.push(FollowFault {
            fault: Fault::Refused,
            during,
            at,
            reading_deg: command_deg,
            to_deg: command_deg,
            lasts_s: self.end.since_s(at),
        });
    }

    /// Follows to a reading, with no edge between, and notes the faults meanwhile.
    fn turn_to(&mut self, to_deg: f64, begin: Moment, end: Moment) {
        let middle_deg = 0.5 * (self.at_deg + to_deg);
        let stands = [
            (Fault::KeepOut, self.bounds.keeps_out(middle_deg)),
            (Fault::Winding, self.bounds.overwinds(middle_deg)),
        ];
        let reading_deg = std::mem::replace(&mut self.at_deg, to_deg);
        if end.since_s(begin) <= 0.0 {
            return;
        }
        for (open, (fault, bad)) in self.stands.iter_mut().zip(stands) {
            if !bad {
                *open = None;
                continue;
            }
            let number = *open.get_or_insert(self.out.faults.len());
            if number == self.out.faults.len() {
                self.out.faults.push(FollowFault {
                    fault,
                    during: During::Following,
                    at: begin,
                    reading_deg,
                    to_deg,
                    lasts_s: 0.0,
                });
            }
            if let Some(fault) = self.out.faults.get_mut(number) {
                fault.to_deg = to_deg;
                fault.lasts_s = end.since_s(fault.at);
            }
        }
    }
}
