//! Many nights -> their figures with intervals, and the verdict on every stretch.

use serde::Serialize;

use super::timetable::Stretch;
use super::trial::{Loop, NightRun};
use halfturn_engine::run::Outcome;
use halfturn_engine::scenario::Policy;
use halfturn_engine::summary::{Distribution, PolicySummary, Rate};
use halfturn_engine::tally::{Counts, Spread, Tally};
use halfturn_engine::verdict::{Limits, Verdict};

/// What is kept of many nights.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct NightTally {
    pub(super) nights: u64,
    all_framed: u64,
    hunting: u64,
    keep_out: u64,
    overwound: u64,
    lost_s: Spread,
    clear_s: Spread,
    idle_s: Spread,
    given_up: Counts,
    long_swings: Counts,
    solves: Counts,
    slips: Counts,
    travel_deg: Spread,
    winding_deg: Spread,
    stretches: Vec<StretchTally>,
}

#[derive(Debug, Clone, Default, PartialEq)]
struct StretchTally {
    loops: Tally,
    keep_out: u64,
}

impl NightTally {
    /// Adds the night number `index`.
    pub(super) fn push(&mut self, index: u64, night: &NightRun) {
        let sum = |part: fn(&Loop) -> f64| night.loops.iter().map(part).sum::<f64>();
        let count = |part: fn(&Loop) -> u32| night.loops.iter().map(part).sum::<u32>();
        let any = |is: fn(&Loop) -> bool| u64::from(night.loops.iter().any(is));
        let winding = night.loops.iter().map(|l| l.figures.winding_deg);
        let given_up = count(|l| u32::from(l.figures.outcome != Outcome::Settled));
        self.nights += 1;
        self.all_framed += u64::from(given_up == 0);
        self.hunting += any(|l| l.figures.hunting());
        self.keep_out += any(|l| l.keep_out);
        self.overwound += any(|l| l.figures.overwound);
        self.lost_s.push(sum(|l| l.lost_s));
        self.clear_s.push(sum(|l| l.clear_s));
        self.idle_s.push(sum(|l| l.idle_s));
        self.given_up.push(given_up);
        self.long_swings.push(count(|l| l.figures.long_swings));
        self.solves.push(count(|l| l.figures.solves));
        self.slips.push(night.slips);
        self.travel_deg.push(sum(|l| l.figures.travel_deg));
        self.winding_deg.push(winding.fold(0.0, f64::max));
        if self.stretches.is_empty() {
            self.stretches = vec![StretchTally::default(); night.loops.len()];
        }
        for (tally, l) in self.stretches.iter_mut().zip(&night.loops) {
            tally.loops.push(index, &l.figures);
            tally.keep_out += u64::from(l.keep_out);
        }
    }

    /// Adds the nights that follow these.
    pub(super) fn merge(&mut self, later: &Self) {
        self.nights += later.nights;
        self.all_framed += later.all_framed;
        self.hunting += later.hunting;
        self.keep_out += later.keep_out;
        self.overwound += later.overwound;
        self.lost_s.merge(&later.lost_s);
        self.clear_s.merge(&later.clear_s);
        self.idle_s.merge(&later.idle_s);
        self.given_up.merge(&later.given_up);
        self.long_swings.merge(&later.long_swings);
        self.solves.merge(&later.solves);
        self.slips.merge(&later.slips);
        self.travel_deg.merge(&later.travel_deg);
        self.winding_deg.merge(&later.winding_deg);
        if self.stretches.is_empty() {
            self.stretches.clone_from(&later.stretches);
            return;
        }
        for (mine, theirs) in self.stretches.iter_mut().zip(&later.stretches) {
            mine.loops.merge(&theirs.loops);
            mine.keep_out += theirs.keep_out;
        }
    }
}

/// The figures of many nights under one rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct NightSummary {
    /// Number of nights.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub nights: u64,
    /// Nights with every target framed, on both sides of its flip; 0 if a stretch cannot be used.
    pub all_framed: Rate,
    /// Nights with a loop that makes two or more long swings.
    pub hunting: Rate,
    /// Nights in which the rotator turned through a keep-out that counts, or stood in one.
    pub keep_out: Rate,
    /// Nights in which the cable was wound too far.
    pub overwound: Rate,
    /// Time of all loops in a night \[s\].
    pub lost_s: Distribution,
    /// The part of `lost_s` under a clear sky \[s\].
    pub clear_lost_s: Distribution,
    /// Time under a clear sky that stretches lose after their loop gave up \[s\].
    pub given_up_s: Distribution,
    /// Loops in a night that did not settle.
    pub given_up: Distribution,
    /// Long swings in a night.
    pub long_swings: Distribution,
    /// Good solves in a night.
    pub solves: Distribution,
    /// Slips of the camera in a night.
    pub slips: Distribution,
    /// Degrees turned in a night.
    pub travel_deg: Distribution,
    /// Largest distance of a reading from the parking reading \[deg\].
    pub winding_deg: Distribution,
    /// Every loop of the night, in the order of the timetable.
    pub stretches: Vec<StretchSummary>,
}

/// The figures of one loop of the timetable over many nights.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StretchSummary {
    /// The verdict over the nights.
    #[serde(flatten)]
    pub verdict: Verdict,
    /// Nights in which the loop settled.
    pub settled: Rate,
    /// Time until it settled \[s\]: the mean over the nights in which it did, quantiles over all nights.
    pub settle_time_s: Distribution,
    /// Time of the loop, settled or not \[s\].
    pub time_s: Distribution,
}

impl StretchSummary {
    fn of(tally: &StretchTally, policy: Policy, limits: &Limits) -> Self {
        let mut summary = PolicySummary::of(policy, &tally.loops);
        summary.keep_out = Rate::of(tally.keep_out, tally.loops.trials);
        Self {
            verdict: Verdict::of(&summary, limits),
            settled: summary.settled,
            settle_time_s: summary.settle_time_s,
            time_s: summary.elapsed_s,
        }
    }
}

impl NightSummary {
    pub(super) fn of(
        tally: &NightTally,
        policy: Policy,
        stretches: &[Stretch],
        limits: &Limits,
    ) -> Self {
        let usable = stretches.iter().all(|s| s.not_usable.is_empty());
        let rate = |count| Rate::of(count, tally.nights);
        let counted = Distribution::of_counts;
        Self {
            nights: tally.nights,
            all_framed: rate(if usable { tally.all_framed } else { 0 }),
            hunting: rate(tally.hunting),
            keep_out: rate(tally.keep_out),
            overwound: rate(tally.overwound),
            lost_s: Distribution::of(&tally.lost_s),
            clear_lost_s: Distribution::of(&tally.clear_s),
            given_up_s: Distribution::of(&tally.idle_s),
            given_up: counted(&tally.given_up),
            long_swings: counted(&tally.long_swings),
            solves: counted(&tally.solves),
            slips: counted(&tally.slips),
            travel_deg: Distribution::of(&tally.travel_deg),
            winding_deg: Distribution::of(&tally.winding_deg),
            stretches: tally
                .stretches
                .iter()
                .map(|s| StretchSummary::of(s, policy, limits))
                .collect(),
        }
    }
}
