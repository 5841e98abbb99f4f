//! The wrap rules side by side over the whole list, and which of them to use (docs/advice.md, section 5).

use serde::Serialize;

use super::arc::{ArcChoice, choose_arc};
use super::verdict::{Limits, Verdict};
use super::wishes::Wishes;
use super::{Request, complete_batch};
use crate::plant::Plant;
use crate::rig::{Rig, Rule};
use crate::sample::{Cancelled, Monitor};
use crate::scenario::{Policy, Scenario, Target};
use crate::summary::{PolicySummary, Rate};
use crate::tally::Tally;

/// A rule that saves less than this share of the time is not worth a change.
const WORTH: f64 = 0.05;

/// A limit that a rule does not meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Miss {
    /// A target hunts, is refused or fails too often, or runs pass a keep-out.
    Unsafe,
    /// A target does not settle in time.
    Slow,
    /// The arc, band included, overlaps a keep-out.
    KeepOut,
    /// The cable is wound too far.
    Winding,
}

impl Miss {
    /// The limit in a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Unsafe => "unsafe",
            Self::Slow => "slow",
            Self::KeepOut => "keep-out",
            Self::Winding => "winding",
        }
    }
}

/// One rule over the whole list, with the arc that suits it.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleOnList {
    /// The rule with its symmetry, arc and band.
    pub policy: Policy,
    /// The arc.
    pub choice: ArcChoice,
    /// Targets that are safe.
    pub safe: usize,
    /// Ping-pong at the target with the most of it.
    pub worst_ping_pong: Rate,
    /// Runs that settle within the wished number of solves, at the target with the fewest.
    pub worst_in_time: Rate,
    /// The target that this is.
    pub slowest: usize,
    /// Mean time to frame every target once \[s\].
    pub total_time_s: f64,
    /// Runs wound farther than the cable allows, of all.
    pub overwound: Rate,
    /// All runs at all targets together.
    pub summary: PolicySummary,
    /// The limits that it does not meet.
    pub misses: Vec<Miss>,
}

impl RuleOnList {
    /// It meets every limit.
    #[must_use]
    pub fn meets(&self) -> bool {
        self.misses.is_empty()
    }
}

/// A rule with its arc on a list.
pub(super) fn rule_on_list(
    rig: &Rig,
    targets: &[Target],
    (policy, choice): (Policy, ArcChoice),
    request: Request,
    monitor: &dyn Monitor,
) -> Result<RuleOnList, Cancelled> {
    let (limits, wishes) = (&request.limits, &request.wishes);
    let mut all = Tally::default();
    let mut found = Gathered::default();
    for (number, target) in targets.iter().enumerate() {
        let scenario = Scenario::new(rig, policy, target.position_angle_deg);
        let tally = complete_batch(&scenario, request.batch, monitor)?;
        found.add(
            number,
            &tally,
            rig.settings().loop_.max_solves,
            limits,
            wishes,
        );
        all.merge(&tally);
    }
    let limit_deg = rig.settings().drive.winding_limit_deg;
    let overwound = if limit_deg > 0.0 {
        let within = all.winding_deg.histogram().share_up_to(limit_deg);
        ((1.0 - within).max(0.0) * all.trials as f64).round() as u64
    } else {
        0
    };
    let overwound = Rate::of(overwound, all.trials);
    let mut misses = Vec::new();
    let mut miss = |missed: bool, which: Miss| {
        if missed {
            misses.push(which);
        }
    };
    miss(found.safe < targets.len(), Miss::Unsafe);
    miss(found.in_time.low < wishes.settle_chance, Miss::Slow);
    miss(
        wishes.clear_of_keep_outs && !choice.clear_of_keep_outs,
        Miss::KeepOut,
    );
    miss(overwound.rate > limits.max_hunting, Miss::Winding);
    Ok(RuleOnList {
        policy,
        choice,
        safe: found.safe,
        worst_ping_pong: found.ping_pong,
        worst_in_time: found.in_time,
        slowest: found.slowest,
        total_time_s: found.total_time_s,
        overwound,
        summary: PolicySummary::of(policy, &all),
        misses,
    })
}

struct Gathered {
    safe: usize,
    ping_pong: Rate,
    in_time: Rate,
    slowest: usize,
    total_time_s: f64,
}

impl Default for Gathered {
    fn default() -> Self {
        Self {
            safe: 0,
            ping_pong: Rate::of(0, 1),
            in_time: Rate::of(1, 1),
            slowest: 0,
            total_time_s: 0.0,
        }
    }
}

impl Gathered {
    fn add(
        &mut self,
        number: usize,
        tally: &Tally,
        max_solves: u32,
        limits: &Limits,
        wishes: &Wishes,
    ) {
        let verdict = Verdict::of(tally, limits);
        self.safe += usize::from(verdict == Verdict::Safe);
        let ping_pong = Rate::of(tally.ping_pong, tally.trials);
        let in_time = Rate::of(
            settled_within(tally, max_solves, wishes.max_solves),
            tally.trials,
        );
        if number == 0 || ping_pong.rate > self.ping_pong.rate {
            self.ping_pong = ping_pong;
        }
        if number == 0 || in_time.rate < self.in_time.rate {
            (self.in_time, self.slowest) = (in_time, number);
        }
        if verdict != Verdict::OutOfReach {
            self.total_time_s += tally.elapsed_s().moments().mean().unwrap_or(0.0);
        }
    }
}

/// Runs that settled within so many solves, or a few less: a run that ended otherwise, early, is not told
/// apart from one that ended otherwise, late.
pub(super) fn settled_within(tally: &Tally, max_solves: u32, within: u32) -> u64 {
    let _ = max_solves;
    (0..=within).map(|k| tally.settled_solves.times(k)).sum()
}

/// Every rule with the arc that suits it best, the band being `band_deg`: the arc that was decided on where it is
/// as wide and leaves room for the band, else one of its own.
pub(super) fn candidates(
    rig: &Rig,
    targets: &[Target],
    decided: &ArcChoice,
    band_deg: f64,
) -> Vec<(Policy, ArcChoice)> {
    let present = Policy::of(rig);
    let travel = Plant::new(rig).travel();
    let width_deg = |policy: Policy| policy.wrap(travel).width_deg();
    let choice = |rule: Rule| {
        let changed = rig.with(|s| {
            s.wrap.rule = rule;
            s.wrap.band_deg = band_deg;
        });
        let changed = changed.unwrap_or_else(|_| rig.clone());
        let policy = Policy::of(&changed);
        let needed_deg = policy.wrap(travel).band_deg();
        let fits = width_deg(policy) == width_deg(present)
            && decided.keeps_all()
            && decided
                .largest_band_deg
                .is_some_and(|room| needed_deg <= room);
        let choice = if rule == present.rule || fits {
            decided.clone()
        } else {
            choose_arc(&changed, targets)
        };
        let policy = Policy {
            arc_start_deg: choice.start_deg,
            ..policy
        };
        (policy, choice)
    };
    Rule::ALL.into_iter().map(choice).collect()
}

/// The rule to use: the cheapest in time that meets every limit, but the present one where it meets them and
/// another saves next to nothing. An arc that overlaps a keep-out is taken only where no other meets the
/// limits. `None` where no rule meets them.
pub(super) fn cheapest(rules: &[RuleOnList], present: Rule) -> Option<usize> {
    let clear = rules
        .iter()
        .any(|r| r.meets() && r.choice.clear_of_keep_outs);
    let meets = |i: &usize| rules[*i].meets() && (rules[*i].choice.clear_of_keep_outs || !clear);
    let best = (0..rules.len())
        .filter(meets)
        .min_by(|a, b| rules[*a].total_time_s.total_cmp(&rules[*b].total_time_s))?;
    let kept = (0..rules.len())
        .filter(meets)
        .find(|i| rules[*i].policy.rule == present);
    match kept {
        Some(kept) if rules[kept].total_time_s * (1.0 - WORTH) <= rules[best].total_time_s => {
            Some(kept)
        }
        _ => Some(best),
    }
}

/// The trap of a widened arc on endless travel: its width \[deg\] where the short way between two of its points
/// can run outside it.
#[must_use]
pub fn short_way_trap(rig: &Rig, policy: Policy) -> Option<f64> {
    let travel = Plant::new(rig).travel();
    let wrap = policy.wrap(travel);
    let wide = wrap.width_deg() + 2.0 * wrap.band_deg();
    let half_turn = 0.5 * crate::angle::TURN_DEG;
    let traps = travel == crate::plant::Travel::Endless
        && wide > half_turn
        && wide < crate::angle::TURN_DEG;
    traps.then_some(wide)
}
