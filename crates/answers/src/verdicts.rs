//! The verdicts on all targets, which the page requests in the background.

use std::collections::HashMap;

use rayon::prelude::*;
use serde::Deserialize;
use serde_json::{Value, json};

use crate::files::shown_angles;
use crate::view::place;
use crate::wire::{WireTarget, read_rig};
use crate::{Answer, asked};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::{Batch, Monitor};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::verdict::{Judge, Limits, Verdict};

/// Runs of a loop that cannot be solved, as many as in `advise`.
const TRIALS: u64 = 20_000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct List {
    rig: Value,
    targets: Vec<WireTarget>,
    seed: u64,
}

/// `POST /api/verdicts`: the verdicts that the time allows. The page asks again for the others.
pub(crate) fn verdicts(body: &[u8], monitor: &dyn Monitor) -> Answer {
    let list: List = asked(body)?;
    let rig = read_rig(&list.rig)?;
    let targets_deg = shown_angles(&list.targets)?;
    let found = judged(&rig, &targets_deg, judge(list.seed, monitor));
    let complete = found.iter().all(Option::is_some);
    let entry = |(target_deg, verdict): (&f64, Option<Verdict>)| {
        let verdict = verdict?;
        let mut entry = place(&rig, *target_deg);
        entry["verdict"] = json!(verdict.state);
        entry["faults"] = json!(verdict.faults);
        Some(entry)
    };
    let targets: Vec<_> = targets_deg.iter().zip(found).map(entry).collect();
    Ok(json!({ "targets": targets, "complete": complete }))
}

/// The judge of the page.
fn judge(seed: u64, monitor: &dyn Monitor) -> Judge<'_> {
    let trials = TRIALS;
    Judge {
        limits: Limits::default(),
        batch: Batch { trials, seed },
        monitor,
    }
}

/// The verdicts on position angles \[deg\] under the rig's own rule, on the caller's thread pool; `None` for those
/// that a stop left out. Targets with the same drive angle share one.
fn judged(rig: &Rig, targets_deg: &[f64], judge: Judge<'_>) -> Vec<Option<Verdict>> {
    let policy = Policy::of(rig);
    let mut distinct: Vec<Scenario> = Vec::new();
    let mut places = HashMap::new();
    let mut place = |target_deg: &f64| {
        let scenario = Scenario::new(rig, policy, *target_deg);
        let angle = (scenario.drive_angle_deg() + 0.0).to_bits(); // -0 is 0
        *places.entry(angle).or_insert_with(|| {
            distinct.push(scenario);
            distinct.len() - 1
        })
    };
    let place_of: Vec<usize> = targets_deg.iter().map(&mut place).collect();
    let one = |scenario| judge.judge(scenario, policy).ok().map(|j| j.verdict);
    // The first one gets all threads. Otherwise many slow ones would share the time, and none would finish.
    let (first, others) = distinct.split_at(distinct.len().min(1));
    let mut found: Vec<Option<Verdict>> = first.iter().map(one).collect();
    found.par_extend(others.par_iter().map(one));
    place_of.iter().map(|i| found[*i].clone()).collect()
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering};

    use super::*;
    use halfturn_engine::rig::{DEMO_RIG, read};
    use halfturn_engine::sample::Unattended;

    fn demo(changes: &[&str]) -> Rig {
        let changes: Vec<String> = changes.iter().map(|c| (*c).to_owned()).collect();
        read(DEMO_RIG, "demo", &changes).expect("a valid rig")
    }

    /// Stops after a number of runs, and counts them.
    #[derive(Default)]
    struct Patience {
        runs: AtomicU64,
        most: Option<u64>,
    }

    impl Monitor for Patience {
        fn done(&self, runs: u64) {
            self.runs.fetch_add(runs, Ordering::Relaxed);
        }

        fn cancelled(&self) -> bool {
            let most = self.most.unwrap_or(u64::MAX);
            self.runs.load(Ordering::Relaxed) >= most
        }
    }

    /// For solved and run loops alike, every entry is what the judge says about that target alone.
    #[test]
    fn every_target_has_the_verdict_of_the_judge() {
        let targets_deg = [0.0, 179.6, 90.0, 1.0, 270.0, 359.6, -180.0];
        for changes in [
            &[][..],
            &["loop.field_rotation_deg_per_s=0.001"],
            &["drive.winding_limit_deg=60"],
        ] {
            let rig = demo(changes);
            let all = judged(&rig, &targets_deg, judge(7, &Unattended));
            for (target_deg, verdict) in targets_deg.iter().zip(all) {
                let scenario = Scenario::new(&rig, Policy::of(&rig), *target_deg);
                let alone = judge(7, &Unattended).judge(&scenario, Policy::of(&rig));
                assert_eq!(verdict, alone.ok().map(|j| j.verdict), "{target_deg}");
            }
        }
    }

    #[test]
    fn equal_drive_angles_share_one_judgement() {
        let monitor = Patience::default();
        let all = judged(&demo(&[]), &[10.0, 190.0, 370.0, 10.0], judge(7, &monitor));
        assert!(all.iter().all(|v| v.is_some() && *v == all[0]));
        assert_eq!(monitor.runs.into_inner(), TRIALS);
    }

    /// The first verdict is there, however many follow. The page asks again for the others.
    #[test]
    fn what_a_stop_leaves_out_is_not_known() {
        let monitor = Patience {
            most: Some(TRIALS),
            ..Patience::default()
        };
        let all = judged(&demo(&[]), &[0.0, 30.0, 60.0, 0.0], judge(7, &monitor));
        let known: Vec<bool> = all.iter().map(Option::is_some).collect();
        assert_eq!(known, [true, false, false, true]);
    }

    #[test]
    fn no_targets_have_no_verdicts() {
        assert!(judged(&demo(&[]), &[], judge(7, &Unattended)).is_empty());
    }
}
