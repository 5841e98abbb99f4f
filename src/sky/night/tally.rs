//! Many nights -> their figures with intervals.

use serde::Serialize;

use super::trial::{Loop, NightRun};
use crate::run::Outcome;
use crate::summary::{Distribution, Rate};
use crate::tally::{Counts, Spread, TOUCH_DEG};

/// What is kept of many nights.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct NightTally {
    pub(super) nights: u64,
    all_framed: u64,
    ping_pong: u64,
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
    settled: u64,
    unsolved: u64,
    ping_pong: u64,
    time_s: Spread,
}

impl NightTally {
    /// Adds a night; `limit_deg` is how far the cable lets a reading go, 0 for no limit.
    pub(super) fn push(&mut self, night: &NightRun, limit_deg: f64) {
        let sum = |part: fn(&Loop) -> f64| night.loops.iter().map(part).sum::<f64>();
        let count = |part: fn(&Loop) -> u32| night.loops.iter().map(part).sum::<u32>();
        let settled = |l: &Loop| l.figures.outcome == Outcome::Settled;
        let given_up = count(|l| u32::from(l.figures.outcome != Outcome::Settled));
        self.nights += 1;
        self.all_framed += u64::from(given_up == 0);
        self.ping_pong += u64::from(night.loops.iter().any(|l| l.figures.ping_pong()));
        self.keep_out += u64::from(sum(|l| l.figures.keep_out_deg) > TOUCH_DEG);
        self.overwound += u64::from(limit_deg > 0.0 && night.winding_deg > limit_deg + TOUCH_DEG);
        self.lost_s.push(sum(|l| l.lost_s));
        self.clear_s.push(sum(|l| l.clear_s));
        self.idle_s.push(sum(|l| l.idle_s));
        self.given_up.push(given_up);
        self.long_swings.push(count(|l| l.figures.long_swings));
        self.solves.push(count(|l| l.figures.solves));
        self.slips.push(night.slips);
        self.travel_deg.push(sum(|l| l.figures.travel_deg));
        self.winding_deg.push(night.winding_deg);
        if self.stretches.is_empty() {
            self.stretches = vec![StretchTally::default(); night.loops.len()];
        }
        for (tally, l) in self.stretches.iter_mut().zip(&night.loops) {
            tally.settled += u64::from(settled(l));
            tally.unsolved += u64::from(l.figures.outcome == Outcome::Unsolved);
            tally.ping_pong += u64::from(l.figures.ping_pong());
            tally.time_s.push(l.figures.elapsed_s);
        }
    }

    /// Adds the nights that follow.
    pub(super) fn merge(&mut self, later: &Self) {
        self.nights += later.nights;
        self.all_framed += later.all_framed;
        self.ping_pong += later.ping_pong;
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
            mine.settled += theirs.settled;
            mine.unsolved += theirs.unsolved;
            mine.ping_pong += theirs.ping_pong;
            mine.time_s.merge(&theirs.time_s);
        }
    }
}

/// What many nights say about one rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NightSummary {
    /// Nights.
    pub nights: u64,
    /// Every target framed, on both sides of its flip.
    pub all_framed: Rate,
    /// A loop with two long swings or more.
    pub ping_pong: Rate,
    /// Turned through a keep-out that counts.
    pub keep_out: Rate,
    /// Wound farther than the cable lets it.
    pub overwound: Rate,
    /// Time of all loops \[s\].
    pub lost_s: Distribution,
    /// The part of it under a clear sky \[s\].
    pub clear_lost_s: Distribution,
    /// Clear time of stretches whose loop was given up \[s\].
    pub given_up_s: Distribution,
    /// Loops that did not settle.
    pub given_up: Distribution,
    /// Long swings.
    pub long_swings: Distribution,
    /// Good solves.
    pub solves: Distribution,
    /// Slips of the camera.
    pub slips: Distribution,
    /// Degrees turned.
    pub travel_deg: Distribution,
    /// Largest distance of a reading from the parking angle \[deg\].
    pub winding_deg: Distribution,
    /// Every loop of the night, in the order of the timetable.
    pub stretches: Vec<StretchSummary>,
}

/// What many nights say about one loop of the timetable.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StretchSummary {
    /// Settled.
    pub settled: Rate,
    /// Ended by failed solves in a row.
    pub unsolved: Rate,
    /// Two long swings or more.
    pub ping_pong: Rate,
    /// Time of the loop, settled or not \[s\].
    pub time_s: Distribution,
}

impl NightSummary {
    pub(super) fn of(tally: &NightTally) -> Self {
        let rate = |count| Rate::of(count, tally.nights);
        let counted = Distribution::of_counts;
        Self {
            nights: tally.nights,
            all_framed: rate(tally.all_framed),
            ping_pong: rate(tally.ping_pong),
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
                .map(|s| StretchSummary {
                    settled: rate(s.settled),
                    unsolved: rate(s.unsolved),
                    ping_pong: rate(s.ping_pong),
                    time_s: Distribution::of(&s.time_s),
                })
                .collect(),
        }
    }
}
