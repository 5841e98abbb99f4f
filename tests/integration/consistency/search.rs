//! The search for the start of the arc against brute force.

use halfturn_engine::advise::{AllowedChanges, Changeable, advise};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::{Batch, Unattended};
use halfturn_engine::scenario::Policy;

use super::rigs::{Case, obstructed};
use super::wanted;
use crate::binary::sized;

const SEED: u64 = 17;

/// Enough for a safe target to be seen as safe where it is run.
const TRIALS: u64 = 4_000;

/// Shows (advice 3): where a start in half degrees makes every target safe, the search finds one, and what it finds is
/// one. Source: brute force: every start, judged at the targets one by one.
#[test]
fn a_cure_that_brute_force_finds_is_found() {
    let rigs = wanted(
        "HALFTURN_BRUTE_RIGS",
        sized(&[0, 1, 2, 3, 4], &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9]),
    );
    let (mut curable, mut judged, mut wrong) = (0, 0, Vec::new());
    for index in &rigs {
        let case = obstructed(SEED, *index);
        let request = case.request(TRIALS, AllowedChanges::only(&[Changeable::Arc]));
        let advice = advise(&case.rig, &case.targets, request, &Unattended)
            .unwrap_or_else(|e| panic!("{e}: {}", case.told()));
        let mut force = Force::new(&case, request.batch);
        let told = if advice.holds() {
            let start_deg = advice.advised_rig.settings().wrap.arc_start_deg;
            let only_arc = case.rig.with(|s| s.wrap.arc_start_deg = start_deg);
            assert_eq!(
                only_arc.as_ref(),
                Ok(&advice.advised_rig),
                "{}",
                case.told()
            );
            curable += 1;
            let fine = force.all_safe(&advice.advised_rig);
            (!fine).then(|| format!("{start_deg} is called a cure and is none"))
        } else {
            let cure = force.starts().into_iter().find(|&at| force.cures(at));
            curable += usize::from(cure.is_some());
            cure.map(|at| format!("{at} is a cure and is not found"))
        };
        judged += force.judged;
        wrong.extend(told.map(|told| format!("{told}: {}", case.told())));
        println!("{}: {curable} curable, {} wrong", case.name, wrong.len());
    }
    let rigs = rigs.len();
    println!("{rigs} rigs, {curable} of them curable, {judged} loops judged");
    // Else the test would see one side only.
    assert!(curable * 5 >= rigs && curable * 5 <= 4 * rigs, "{curable}");
    let number = wrong.len();
    assert!(
        number == 0,
        "{}\n\n{number} of {rigs} differ",
        wrong.join("\n\n")
    );
}

/// Tries starts one by one.
struct Force<'a> {
    case: &'a Case,
    batch: Batch,
    /// Places of the targets, the one that failed last first.
    order: Vec<usize>,
    judged: u64,
}

impl<'a> Force<'a> {
    fn new(case: &'a Case, batch: Batch) -> Self {
        Self {
            case,
            batch,
            order: (0..case.targets.len()).collect(),
            judged: 0,
        }
    }

    /// Half degrees of one turn; between stops also every start whose arc fits.
    fn starts(&self) -> Vec<f64> {
        let drive = &self.case.rig.settings().drive;
        let mut halves: Vec<i32> = (0..720).collect();
        if let (Some(from_deg), Some(to_deg)) = (drive.stop_from_deg, drive.stop_to_deg) {
            let last_deg = to_deg - Policy::of(&self.case.rig).period_deg();
            let half = |deg: f64| 2.0 * deg;
            halves.extend(half(from_deg).ceil() as i32..=half(last_deg).floor() as i32);
        }
        halves
            .into_iter()
            .map(|half| f64::from(half) / 2.0)
            .collect()
    }

    fn cures(&mut self, start_deg: f64) -> bool {
        let rig = self.case.rig.with(|s| s.wrap.arc_start_deg = start_deg);
        self.all_safe(&rig.expect("a start in its range"))
    }

    fn all_safe(&mut self, rig: &Rig) -> bool {
        for k in 0..self.order.len() {
            self.judged += 1;
            let judged = self.case.judged(rig, self.order[k], self.batch);
            if !judged.verdict.is_safe() {
                // It will be the first to fail next time, too.
                self.order[..=k].rotate_right(1);
                return false;
            }
        }
        true
    }
}
