//! The advice for twelve rigs, and an independent Monte Carlo run that bears it out; just outside the advised
//! window it does not.

use halfturn_engine::advise::{
    AdviceRequest, AllowedChanges, Criteria, FoundBy, advise, frame_lost, mosaic_left,
};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::{Batch, Unattended, run_batch};
use halfturn_engine::scenario::{Policy, Scenario, Target};
use halfturn_engine::verdict::Limits;

use crate::binary::sized;
use crate::twelve::twelve;

/// Enough that none bad of so many means less than 0.001 with 95 % confidence.
const RUNS: u64 = 4000;

/// Another seed than that of the advice.
const SEED: u64 = 987_654;

/// Of `RUNS`, a count whose mean is 4 (a rate of 0.001) exceeds this with a probability of 3e-6, one whose mean
/// is 40 (of 0.01) exceeds the second with 1e-7 (Poisson tails). Some 250 targets are held against each, so the test fails by
/// chance with less than 1e-3, and far less where the rates are below their limits.
const MOST_HUNTING: u64 = 16;
const MOST_LATE: u64 = 77;

fn request() -> AdviceRequest {
    AdviceRequest {
        batch: Batch {
            trials: RUNS,
            seed: 1,
        },
        limits: Limits::default(),
        criteria: Criteria::default(),
        change: AllowedChanges::default(),
    }
}

/// Runs below the window, and a count that one of mean 2000 (a rate of 0.01) exceeds with 1e-7.
const RUNS_BELOW: u64 = 200_000;
const MOST_LATE_BELOW: u64 = 2236;

/// The same for a mean of 200 (a rate of 0.001).
const MOST_BAD_BELOW: u64 = 277;

/// How far below: an exact lower end is sharp to the search's 1.1 %, one found by runs is rather too large.
const BELOW_EXACT: f64 = 0.92;
const BELOW_RUNS: f64 = 0.7;

/// Runs that hunt, fail or pass a keep-out, and runs that do not settle in time.
fn bad_and_late(rig: &Rig, target: &Target, trials: u64) -> (u64, u64) {
    let batch = Batch { trials, seed: SEED };
    let tally = |rig: &Rig| {
        let scenario = Scenario::new(rig, Policy::of(rig), target.position_angle_deg);
        run_batch(&scenario, batch, &Unattended)
    };
    let short = rig
        .with(|s| s.loop_.max_solves = Limits::default().max_solves)
        .unwrap_or_else(|e| panic!("{e}"));
    (tally(rig).ended_badly, trials - tally(&short).settled)
}

/// Shows (advice 2): the advised settings meet the limits; just below the window they do not. Source: none: internal
/// consistency (runs with another seed).
#[test]
fn twelve_rigs_meet_the_stated_limits_and_not_just_outside() {
    for case in twelve().into_iter().step_by(sized(3, 1)) {
        let name = case.name;
        let advice = advise(&case.rig, &case.targets, request(), &Unattended)
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let advised = &advice.advised_rig;
        assert!(advice.holds(), "{name}: {:?}", advice.outcome);
        for target in &case.targets {
            let (bad, late) = bad_and_late(advised, target, RUNS);
            assert!(bad <= MOST_HUNTING, "{name}: {bad} bad at {}", target.name);
            assert!(late <= MOST_LATE, "{name}: {late} late at {}", target.name);
        }

        // Just below the window the hardest target is late, hunts or runs out of solves more often than permitted.
        let window = &advice.window;
        let low_deg = window
            .low_deg
            .unwrap_or_else(|| panic!("{name}: no window"));
        let high_deg = window
            .high_deg
            .unwrap_or_else(|| panic!("{name}: no sensor"));
        let tolerance_deg = advised.settings().loop_.tolerance_deg;
        assert!(
            low_deg <= tolerance_deg && tolerance_deg <= high_deg,
            "{name}"
        );
        let share = match window.low_by {
            FoundBy::Exact => BELOW_EXACT,
            _ => BELOW_RUNS,
        };
        let below = advised
            .with(|s| s.loop_.tolerance_deg = share * low_deg)
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let (bad, late) = bad_and_late(&below, &case.targets[window.hardest], RUNS_BELOW);
        assert!(
            late > MOST_LATE_BELOW || bad > MOST_BAD_BELOW,
            "{name}: only {late} late and {bad} bad at {share} of {low_deg}"
        );

        // Just above it the frame is lost.
        let criteria = Criteria::default();
        let framing = case
            .rig
            .settings()
            .framing
            .unwrap_or_else(|| panic!("{name}"));
        let keeps = |t: f64| {
            frame_lost(&framing, t) <= criteria.max_lost_area
                && mosaic_left(&framing, t) >= criteria.mosaic_keep
        };
        assert!(
            keeps(0.999 * high_deg) && !keeps(1.001 * high_deg),
            "{name}"
        );
    }
}
