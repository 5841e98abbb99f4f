//! A rotator that follows the field: where its way ends, and when it must unwind.

use super::session::{FieldRow, Session, session};
use crate::plant::{Plan, Plant, Travel};
use crate::rig::{Rig, Rule};
use crate::scenario::{Policy, Scenario};
use crate::sky::time::Moment;

/// What ends the way of a rotator.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The end of the allowed arc, band included: a command beyond it folds.
    Seam,
    /// A stop of the drive.
    Stop,
    /// A cable is taut.
    Cable,
}

impl End {
    /// In a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Seam => "seam",
            Self::Stop => "stop",
            Self::Cable => "cable",
        }
    }
}

/// A turn to an equivalent framing, because the way has ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unwind {
    /// When it is due.
    pub at: Moment,
    /// What ended the way.
    pub end: End,
    /// Reading before \[deg\].
    pub from_deg: f64,
    /// Reading after; equal to the one before where no equivalent framing is in reach \[deg\].
    pub to_deg: f64,
    /// Time of the turn \[s\].
    pub time_s: f64,
}

/// The reading at a row of the session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Followed {
    /// Reading \[deg\].
    pub reading_deg: f64,
    /// The drive is too slow for the field.
    pub too_fast: bool,
}

/// A rotator that follows a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Follow {
    /// One for every row.
    pub rows: Vec<Followed>,
    /// Every unwind, in the order of time.
    pub unwinds: Vec<Unwind>,
    /// The way ended for good at this moment: no equivalent framing was in reach.
    pub stuck: Option<(Moment, End)>,
}

/// The readings between which the rotator may be.
struct Range {
    low: (f64, End),
    high: (f64, End),
}

/// Follows a session that begins with the target framed at `position_angle_deg`, of a mount by azimuth and altitude, and tells the
/// readings at its `rows`. The session is followed in steps of its own, which should be short: between them the field is taken to turn evenly.
///
/// The drive stands at `sense (position angle - zero point - position angle of the zenith)`, and so moves against the field.
/// An unwind takes no time of the session here.
#[must_use]
pub fn follow(
    rig: &Rig,
    rule: Rule,
    position_angle_deg: f64,
    steps: &Session,
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

/// The same, at the steps themselves.
pub(super) fn follow_steps(
    rig: &Rig,
    rule: Rule,
    position_angle_deg: f64,
    rows: &[FieldRow],
) -> Follow {
    let policy = Policy::with_rule(rig, rule);
    let plant = Plant::new(rig);
    let settings = rig.settings();
    let sense = settings.loop_.believed_sense.factor();
    let first_deg = rows.first().map_or(0.0, |r| r.pointing.zenith_deg);
    let scenario = Scenario::new(rig, policy, position_angle_deg - first_deg);
    let park_deg = settings.drive.park_deg;
    let drive_deg = scenario.drive_angle_deg();
    let mut out = Follow {
        rows: Vec::new(),
        unwinds: Vec::new(),
        stuck: None,
    };
    let mut at_deg = match plant.plan(park_deg, drive_deg) {
        Plan::Move { to_deg, .. } => to_deg,
        Plan::Still => park_deg,
        Plan::Refused => {
            out.stuck = rows.first().map(|r| (r.at, End::Stop));
            return out;
        }
    };
    // Steps of the drive play no part in where the way ends.
    at_deg += crate::angle::residual_finite(drive_deg - at_deg, 360.0);
    let speed_deg_per_h = 3600.0 * settings.drive.speed_deg_per_s;
    let mut before: Option<&FieldRow> = None;
    for row in rows {
        if let Some(before) = before
            && out.stuck.is_none()
        {
            let step_deg = -sense * (row.turned_deg - before.turned_deg);
            at_deg = advance(
                &plant,
                &policy,
                rig,
                at_deg,
                step_deg,
                (before, row),
                &mut out,
            );
        }
        out.rows.push(Followed {
            reading_deg: at_deg,
            too_fast: row.rate_deg_per_h.abs() > speed_deg_per_h,
        });
        before = Some(row);
    }
    out
}

/// Moves on by a step, unwinding where the way ends; returns the reading at the end of the step.
fn advance(
    plant: &Plant,
    policy: &Policy,
    rig: &Rig,
    from_deg: f64,
    step_deg: f64,
    (before, after): (&FieldRow, &FieldRow),
    out: &mut Follow,
) -> f64 {
    /// More in one step would be a range narrower than a step.
    const MOST: u32 = 64;
    let mut at_deg = from_deg;
    let mut left_deg = step_deg;
    for _ in 0..MOST {
        let range = range(plant, policy, rig, at_deg);
        let (end_deg, end) = if left_deg >= 0.0 {
            range.high
        } else {
            range.low
        };
        let room_deg = (end_deg - at_deg) * left_deg.signum();
        if room_deg >= left_deg.abs() {
            return at_deg + left_deg;
        }
        let room_deg = room_deg.max(0.0);
        let done = 1.0 - (left_deg.abs() - room_deg) / step_deg.abs();
        let at = before.at.plus_s(done * after.at.since_s(before.at));
        at_deg += room_deg * left_deg.signum();
        left_deg -= room_deg * left_deg.signum();
        let Some(to_deg) = unwound(plant, policy, rig, at_deg, left_deg.signum(), end) else {
            out.stuck = Some((at, end));
            return at_deg;
        };
        let turn = Plan::Move {
            via_deg: None,
            to_deg,
        };
        out.unwinds.push(Unwind {
            at,
            end,
            from_deg: at_deg,
            to_deg,
            time_s: plant.duration_s(at_deg, &turn),
        });
        at_deg = to_deg;
    }
    out.stuck = Some((after.at, End::Seam));
    at_deg
}

/// The readings between which the cable lets the rotator be, if it has a limit.
fn cable(rig: &Rig) -> Option<(f64, f64)> {
    let drive = &rig.settings().drive;
    let (park_deg, limit_deg) = (drive.park_deg, drive.winding_limit_deg);
    (limit_deg > 0.0).then_some((park_deg - limit_deg, park_deg + limit_deg))
}

/// The nearest end below and above a reading.
fn range(plant: &Plant, policy: &Policy, rig: &Rig, at_deg: f64) -> Range {
    let mut range = Range {
        low: (f64::NEG_INFINITY, End::Cable),
        high: (f64::INFINITY, End::Cable),
    };
    let mut narrow = |low: f64, high: f64, end: End| {
        if low > range.low.0 {
            range.low = (low, end);
        }
        if high < range.high.0 {
            range.high = (high, end);
        }
    };
    if let Some((low, high)) = cable(rig) {
        narrow(low, high, End::Cable);
    }
    let wrap = policy.wrap(plant.travel());
    match plant.travel() {
        Travel::Stops { lo_deg, hi_deg } => narrow(lo_deg, hi_deg, End::Stop),
        Travel::Endless if wrap.width_deg() >= 360.0 => return range,
        Travel::Endless => {}
    }
    if policy.rule != Rule::FoldOnce {
        // With endless travel the arc lies at every whole turn.
        let centre_deg = wrap.start_deg() + 0.5 * wrap.width_deg();
        let turns = match plant.travel() {
            Travel::Endless => ((at_deg - centre_deg) / 360.0).round() * 360.0,
            Travel::Stops { .. } => 0.0,
        };
        let low = wrap.start_deg() - wrap.band_deg() + turns;
        let high = wrap.start_deg() + wrap.width_deg() + wrap.band_deg() + turns;
        narrow(low, high, End::Seam);
    }
    range
}

/// Where to turn at the end of a way that goes up (1) or down (-1): to the equivalent framing with the most room ahead.
/// `None` where none has any.
fn unwound(
    plant: &Plant,
    policy: &Policy,
    rig: &Rig,
    at_deg: f64,
    direction: f64,
    end: End,
) -> Option<f64> {
    /// Less room ahead is none \[deg\].
    const LEAST_DEG: f64 = 1.0;
    let period_deg = policy.period_deg();
    if end == End::Seam && plant.travel() == Travel::Endless {
        // The rule folds by itself: back by a period, and the drive takes the short way there.
        let command_deg = at_deg - direction * period_deg;
        let goal_deg = plant.goal_deg(at_deg, command_deg);
        let range = range(plant, policy, rig, goal_deg);
        if goal_deg > range.low.0 - 1e-9 && goal_deg < range.high.0 + 1e-9 {
            return Some(goal_deg);
        }
    }
    // Else backwards, the long way, as far as is allowed.
    let (mut low, mut high) = match plant.travel() {
        Travel::Stops { lo_deg, hi_deg } => (lo_deg, hi_deg),
        Travel::Endless => (f64::NEG_INFINITY, f64::INFINITY),
    };
    if let Some((from, to)) = cable(rig) {
        (low, high) = (low.max(from), high.min(to));
    }
    let mut found = None;
    for turns in 1..=10_000 {
        let to_deg = at_deg - direction * period_deg * f64::from(turns);
        if to_deg < low || to_deg > high {
            break;
        }
        let ahead = range(plant, policy, rig, to_deg);
        let room_deg = if direction > 0.0 {
            ahead.high.0 - to_deg
        } else {
            to_deg - ahead.low.0
        };
        if room_deg >= LEAST_DEG {
            found = Some(to_deg);
        }
        // Without a cable or stops one step back is as good as many.
        if !(low.is_finite() && high.is_finite()) {
            break;
        }
    }
    found
}
