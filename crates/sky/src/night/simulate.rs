//! Many nights of one course, over all cores, with the same bits for any number of cores.

use rayon::prelude::*;

use super::course::{Course, Knowledge};
use super::tally::{NightSummary, NightTally};
use super::timetable::Stretch;
use super::trial::Sequence;
use super::weather::Clouds;
use halfturn_engine::rig::Rig;
use halfturn_engine::verdict::Judge;

/// Number of nights that are tallied together. The last digits of sums depend on it.
const BLOCK: u64 = 128;

/// Number of blocks between two merges.
const WAVE: u64 = 32;

/// Runs a course many times; `None` if the monitor stopped it.
#[must_use]
pub fn simulate(
    rig: &Rig,
    course: &Course,
    stretches: &[Stretch],
    knowledge: Knowledge,
    clouds: Clouds,
    judge: &Judge<'_>,
) -> Option<NightSummary> {
    let (batch, monitor) = (judge.batch, judge.monitor);
    let sequence = Sequence::new(rig, course, stretches, knowledge, clouds, batch.seed);
    let blocks = batch.trials.div_ceil(BLOCK);
    let mut all = NightTally::default();
    let mut next = 0;
    while next < blocks {
        let wave = next..blocks.min(next + WAVE);
        next = wave.end;
        let parts: Vec<NightTally> = wave
            .into_par_iter()
            .map(|block| {
                let mut tally = NightTally::default();
                for index in block * BLOCK..batch.trials.min((block + 1) * BLOCK) {
                    if monitor.cancelled() {
                        break;
                    }
                    tally.push(index, &sequence.run(index));
                }
                monitor.done(tally.nights);
                tally
            })
            .collect();
        if monitor.cancelled() {
            return None;
        }
        for part in &parts {
            all.merge(part);
        }
    }
    Some(NightSummary::of(
        &all,
        course.policy,
        stretches,
        &judge.limits,
    ))
}
