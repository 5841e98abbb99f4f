//! Which readings a plan may use: clear of keep-outs, between the stops, within the cable limit, and reachable from
//! the parking reading without crossing any of them.

use super::error::FitPlanError;
use super::range::{Range, RangeEnd, RangeLimit};
use super::wanted::Wanted;
use crate::angle::{AngleSpan, TURN_DEG};
use crate::plant::Travel;
use crate::rig::{Approach, Rig, RigSettings, TravelKind};
use crate::scenario::keep_out_sectors;

/// Least distance from a keep-out \[deg\], because its edges were found by hand.
const LEAST_MARGIN_DEG: f64 = 1.0;

/// A plan with shorter moves would take too long \[deg\].
const LEAST_MOVE_DEG: f64 = 10.0;

/// Where a plan may go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Room {
    /// The readings of the plan.
    pub(super) range: Range,
    /// The allowed reading nearest to the parking reading \[deg\]. The drive goes there first.
    pub(super) enter_deg: f64,
}

impl Room {
    /// The readings that the user wants, or else at most a turn of the allowed ones.
    pub(super) fn of(rig: &Rig, wanted: Wanted) -> Result<Self, FitPlanError> {
        let s = rig.settings();
        let allowed = allowed(rig)?;
        let (low, high) = (allowed.from.at_deg, allowed.to.at_deg);
        if low >= high {
            return Err(FitPlanError::NoRoom { range: allowed });
        }
        let park_deg = s.drive.park_deg;
        let enter_deg = park_deg.clamp(low, high);
        let least_deg = (enter_deg - park_deg).abs().max(LEAST_MOVE_DEG);
        if s.drive.travel == TravelKind::Endless && least_deg > longest_move_deg(s) {
            let overrun_deg = s.loop_.overrun_deg;
            return Err(FitPlanError::Overrun { overrun_deg });
        }
        let usual = one_turn(allowed, s);
        let end = |asked_deg: Option<f64>, usual: RangeEnd| match asked_deg {
            Some(at_deg) if !(low..=high).contains(&at_deg) => {
                Err(FitPlanError::Outside { at_deg, allowed })
            }
            Some(at_deg) => Ok(RangeEnd::new(at_deg, RangeLimit::Asked)),
            None => Ok(usual),
        };
        let range = Range {
            from: end(wanted.from_deg, usual.from)?.rounded_up(),
            to: end(wanted.to_deg, usual.to)?.rounded_down(),
        };
        Ok(Self { range, enter_deg })
    }
}

/// All readings that a plan may command: a turn either way if nothing ends the travel.
///
/// The drive stops up to half a step beside its goal, and a one-sided approach goes past it. Both ends of the range
/// leave room for that. The camera lags behind the reading by the backlash, which widens the margin at a keep-out.
fn allowed(rig: &Rig) -> Result<Range, FitPlanError> {
    let s = rig.settings();
    let park_deg = s.drive.park_deg;
    let mut range = match rig.travel() {
        Travel::Stops { lo_deg, hi_deg } => Range::new(lo_deg, hi_deg, RangeLimit::Stop),
        Travel::Endless => Range::new(park_deg - TURN_DEG, park_deg + TURN_DEG, RangeLimit::Turn),
    };
    let limit_deg = s.drive.winding_limit_deg;
    if limit_deg > 0.0 {
        range.narrow(
            park_deg - limit_deg,
            park_deg + limit_deg,
            RangeLimit::Cable,
        );
    }
    let keep_out = keep_out_sectors(rig.travel(), &s.keep_out);
    let clear = keep_out.clear_part(AngleSpan::ALL, park_deg);
    if clear.from_deg >= clear.to_deg {
        return Err(FitPlanError::InKeepOut { park_deg });
    }
    let margin_deg = LEAST_MARGIN_DEG + s.drive.backlash_deg;
    range.narrow(
        clear.from_deg + margin_deg,
        clear.to_deg - margin_deg,
        RangeLimit::KeepOut,
    );
    let beside_deg = 0.5 * s.drive.step_deg;
    range.from.at_deg += beside_deg + overrun_deg(s, Approach::FromBelow);
    range.to.at_deg -= beside_deg + overrun_deg(s, Approach::FromAbove);
    range.from = range.from.rounded_up();
    range.to = range.to.rounded_down();
    Ok(range)
}

/// A turn of the range that holds the parking reading, from the start of the arc if possible.
fn one_turn(range: Range, s: &RigSettings) -> Range {
    if range.to.at_deg - range.from.at_deg <= TURN_DEG {
        return range;
    }
    let start_deg = s.wrap.arc_start_deg;
    let turns = ((s.drive.park_deg - start_deg) / TURN_DEG).floor();
    let low = start_deg + turns * TURN_DEG;
    let low = low.clamp(range.from.at_deg, range.to.at_deg - TURN_DEG);
    let mut turn = range;
    turn.narrow(low, low + TURN_DEG, RangeLimit::Turn);
    turn
}

/// How far the drive goes past its goal on this side \[deg\].
fn overrun_deg(s: &RigSettings, side: Approach) -> f64 {
    if s.loop_.approach == side {
        s.loop_.overrun_deg
    } else {
        0.0
    }
}

/// Longest move of a plan \[deg\]. An endless drive takes the other way round to a goal more than half a turn away.
/// Between stops it has no other way.
pub(super) fn longest_move_deg(s: &RigSettings) -> f64 {
    /// The usual longest move \[deg\].
    const USUAL_DEG: f64 = 120.0;
    if s.drive.travel == TravelKind::Stops {
        return USUAL_DEG;
    }
    let past_goal_deg = overrun_deg(s, Approach::FromBelow) + overrun_deg(s, Approach::FromAbove);
    (0.5 * TURN_DEG - LEAST_MOVE_DEG - s.drive.step_deg - past_goal_deg).min(USUAL_DEG)
}
