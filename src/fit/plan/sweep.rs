//! Where a plan may go, and the moves from stop to stop.

use super::design::Stop;
use super::{PlanStep, Wanted};
use crate::angle::TURN_DEG;
use crate::plant::{Plan, Plant, Travel};
use crate::rig::{Rig, RigSettings};

/// Places in each sweep at which a stop may be.
const PLACES: usize = 120;

/// Most solves at one stop.
const MOST_SOLVES: u32 = 3;

/// Longest move \[deg\], so that an endless drive never takes the other way round.
const LONGEST_MOVE_DEG: f64 = 120.0;

/// The widest arc that the rig may sweep: between its stops, or a whole turn from the start of its arc, and in it the
/// longest part that no keep-out touches \[deg\].
#[must_use]
pub fn free_arc_deg(rig: &Rig) -> (f64, f64) {
    let s = rig.settings();
    let (low, high) = match Plant::new(rig).travel() {
        Travel::Stops { lo_deg, hi_deg } => (lo_deg, hi_deg),
        Travel::Endless => (s.wrap.arc_start_deg, s.wrap.arc_start_deg + TURN_DEG),
    };
    if s.keep_out.is_empty() {
        return (low, high);
    }
    // Free parts may go on beyond the end of the turn where nothing stops the drive.
    let endless = matches!(Plant::new(rig).travel(), Travel::Endless);
    let mut sectors: Vec<(f64, f64)> = Vec::new();
    for k in &s.keep_out {
        let width = (k.to_deg - k.from_deg).rem_euclid(TURN_DEG);
        for turn in -1..=2 {
            let from = k.from_deg.rem_euclid(TURN_DEG) + f64::from(turn) * TURN_DEG;
            if endless {
                sectors.push((from, from + width));
            }
        }
        if !endless {
            sectors.push((k.from_deg, k.to_deg));
        }
    }
    sectors.sort_by(|a, b| a.0.total_cmp(&b.0));
    let last = if endless { high + TURN_DEG } else { high };
    let mut best = (low, low);
    let mut at = low;
    for (from, to) in sectors.into_iter().chain([(last, last)]) {
        let end = from.min(last);
        if end - at > best.1 - best.0 && at < high {
            best = (at, end.min(at + TURN_DEG));
        }
        at = at.max(to);
    }
    // On the turn where the drive is parked.
    let turns = ((s.drive.park_deg - best.0) / TURN_DEG).floor() * TURN_DEG;
    if endless {
        (best.0 + turns, best.1 + turns)
    } else {
        best
    }
}

/// How far the drive must go after a turn before the play is surely taken up \[deg\].
pub(super) fn lead_deg(rig: &RigSettings) -> f64 {
    (3.0 * rig.drive.backlash_deg).max(1.0)
}

/// Places of the sweeps, unevenly spaced and with odd decimals, so that the readings tell the step.
pub(super) fn candidates((low, high): (f64, f64)) -> Vec<Stop> {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let cell = (high - low) / PLACES as f64;
    let mut found = Vec::new();
    for up in [true, false] {
        for i in 0..PLACES {
            let shift = (GOLDEN * (2 * i + usize::from(up)) as f64).fract();
            let at_deg = low + cell * (i as f64 + shift);
            let at_deg = (100.0 * at_deg).round() / 100.0;
            found.extend((1..=MOST_SOLVES).map(|solves| Stop { at_deg, up, solves }));
        }
    }
    found
}

/// The stops in their order, with the moves that lead in and turn round.
pub(super) fn steps(rig: &Rig, mut stops: Vec<Stop>, wanted: Wanted) -> Vec<PlanStep> {
    stops.sort_by(|a, b| {
        let along = |s: &Stop| if s.up { s.at_deg } else { -s.at_deg };
        b.up.cmp(&a.up).then(along(a).total_cmp(&along(b)))
    });
    let mut steps = Vec::new();
    let mut at_deg = rig.settings().drive.park_deg;
    let mut go = |to_deg: f64, solves: u32| {
        // Long ways in equal parts.
        let parts = ((to_deg - at_deg).abs() / LONGEST_MOVE_DEG).ceil().max(1.0);
        for part in 1..parts as u32 {
            let way_deg = at_deg + (to_deg - at_deg) * f64::from(part) / parts;
            steps.push(PlanStep {
                to_deg: (100.0 * way_deg).round() / 100.0,
                solves: 0,
            });
        }
        steps.push(PlanStep { to_deg, solves });
        at_deg = to_deg;
    };
    let mut up_before = None;
    for stop in &stops {
        if up_before != Some(stop.up) {
            go(
                if stop.up {
                    wanted.from_deg
                } else {
                    wanted.to_deg
                },
                0,
            );
            up_before = Some(stop.up);
        }
        go(stop.at_deg, stop.solves);
    }
    steps
}

/// Time of all moves and solves \[s\], without failures.
pub(super) fn time_s(rig: &Rig, steps: &[PlanStep]) -> f64 {
    let s = rig.settings();
    let plant = Plant::new(rig);
    let mut at_deg = s.drive.park_deg;
    let mut time_s = 0.0;
    for step in steps {
        let move_plan = plant.plan(at_deg, step.to_deg);
        time_s += plant.duration_s(at_deg, &move_plan);
        if let Plan::Move { to_deg, .. } = move_plan {
            at_deg = to_deg;
        }
        time_s += f64::from(step.solves) * (s.solve.exposure_s + s.solve.solve_s);
    }
    time_s
}
