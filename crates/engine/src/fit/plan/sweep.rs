//! Where a plan may stop, and its moves from stop to stop.

use super::PlanStep;
use super::design::Stop;
use super::range::DECIMALS;
use super::room::{Room, longest_move_deg};
use crate::angle::AngleSpan;
use crate::plant::{PlannedMove, Plant};
use crate::rig::{Rig, RigSettings};

/// Possible stops in each sweep.
const PLACES: usize = 120;

/// Most solves at one stop.
pub(super) const MOST_SOLVES: u32 = 3;

/// How far the drive must go after it turns back until the backlash is surely taken up \[deg\].
pub(super) fn lead_deg(rig: &RigSettings) -> f64 {
    (3.0 * rig.drive.backlash_deg).max(1.0)
}

/// Possible stops of both sweeps. Their uneven spacing and odd decimals let the readings tell the step.
pub(super) fn candidates(swept: AngleSpan) -> Vec<Stop> {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let cell = (swept.to_deg - swept.from_deg) / PLACES as f64;
    let mut found = Vec::new();
    for up in [true, false] {
        for i in 0..PLACES {
            let shift = (GOLDEN * (2 * i + usize::from(up)) as f64).fract();
            let at_deg = swept.from_deg + cell * (i as f64 + shift);
            let at_deg = (DECIMALS * at_deg).round() / DECIMALS;
            found.extend((1..=MOST_SOLVES).map(|solves| Stop { at_deg, up, solves }));
        }
    }
    found
}

/// The stops in their order, with the moves that enter the range, lead in and turn back.
pub(super) fn steps(rig: &Rig, mut stops: Vec<Stop>, room: Room) -> Vec<PlanStep> {
    let Room { range, enter_deg } = room;
    stops.sort_by(|a, b| {
        let along = |s: &Stop| if s.up { s.at_deg } else { -s.at_deg };
        b.up.cmp(&a.up).then(along(a).total_cmp(&along(b)))
    });
    let mut steps = Vec::new();
    if enter_deg != rig.settings().drive.park_deg {
        // In one move. In parts, a one-sided approach could go back past the parking reading, to whatever lies behind
        // it.
        steps.push(PlanStep {
            to_deg: enter_deg,
            solves: 0,
        });
    }
    let longest_deg = longest_move_deg(rig.settings());
    let mut at_deg = enter_deg;
    let mut go = |to_deg: f64, solves: u32| {
        if to_deg == at_deg && solves == 0 {
            return;
        }
        // A long way goes in equal parts.
        let parts = ((to_deg - at_deg).abs() / longest_deg).ceil().max(1.0);
        for part in 1..parts as u32 {
            let way_deg = at_deg + (to_deg - at_deg) * f64::from(part) / parts;
            steps.push(PlanStep {
                to_deg: (DECIMALS * way_deg).round() / DECIMALS,
                solves: 0,
            });
        }
        steps.push(PlanStep { to_deg, solves });
        at_deg = to_deg;
    };
    let mut up_before = None;
    for stop in &stops {
        if up_before != Some(stop.up) {
            let end = if stop.up { range.from } else { range.to };
            go(end.at_deg, 0);
            up_before = Some(stop.up);
        }
        go(stop.at_deg, stop.solves);
    }
    steps
}

/// Time of all moves and solves \[s\], without failed solves.
pub(super) fn time_s(rig: &Rig, steps: &[PlanStep]) -> f64 {
    let s = rig.settings();
    let plant = Plant::new(rig);
    let mut at_deg = s.drive.park_deg;
    let mut time_s = 0.0;
    for step in steps {
        let move_plan = plant.plan(at_deg, step.to_deg);
        time_s += plant.duration_s(at_deg, &move_plan);
        if let PlannedMove::Move { to_deg, .. } = move_plan {
            at_deg = to_deg;
        }
        time_s += f64::from(step.solves) * s.solve.good_attempt_s();
    }
    time_s
}
