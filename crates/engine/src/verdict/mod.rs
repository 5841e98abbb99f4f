//! Summary -> verdict: one state for one target, from the shares of the runs that have a fault.
//!
//! `docs/verdict.md` has the definition with its numbers. Every command and the page go by it; nothing else in the
//! program decides whether a target is safe.

mod fault;
mod judge;
#[cfg(test)]
mod tests;

pub use fault::{Fault, FaultShare, Standing};
pub use judge::{Judge, JudgedTarget, precision_for, verdict_on};

use serde::Serialize;

use crate::summary::PolicySummary;

/// What counts as safe.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limits {
    /// Largest share of the runs that may have a fault; being late has a limit of its own.
    pub max_ping_pong: f64,
    /// Good solves within which a target should settle.
    pub max_solves: u32,
    /// Share of the runs that should settle within them.
    pub settle_chance: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            max_ping_pong: 0.001,
            max_solves: 5,
            settle_chance: 0.99,
        }
    }
}

impl Limits {
    /// The smallest share that a verdict is held against.
    #[must_use]
    pub fn least_share(&self) -> f64 {
        self.max_ping_pong.min(1.0 - self.settle_chance)
    }
}

/// The state of a target, the worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TargetState {
    /// The drive turns through a keep-out sector.
    TurnsThroughKeepOut,
    /// A reading is farther from the parking angle than the cable allows.
    WindsTooFar,
    /// A command lies outside the stops.
    OutOfReach,
    /// The camera swings to the other end of the arc and back.
    Hunts,
    /// The loop does not settle in time, without hunting.
    DoesNotSettle,
    /// Too many plate solves fail in a row.
    NoSolution,
    /// A fault may be more frequent than its limit.
    AtRisk,
    /// No fault exceeds its limit.
    Safe,
}

impl TargetState {
    /// All of them, the worst first.
    pub const ALL: [Self; 8] = [
        Self::TurnsThroughKeepOut,
        Self::WindsTooFar,
        Self::OutOfReach,
        Self::Hunts,
        Self::DoesNotSettle,
        Self::NoSolution,
        Self::AtRisk,
        Self::Safe,
    ];

    /// As a predicate of one target: "hunts", "is at risk".
    #[must_use]
    pub fn does(self) -> &'static str {
        match self {
            Self::TurnsThroughKeepOut => "turns through a keep-out",
            Self::WindsTooFar => "winds the cable too far",
            Self::OutOfReach => "is out of reach",
            Self::Hunts => "hunts",
            Self::DoesNotSettle => "does not settle",
            Self::NoSolution => "finds no solution",
            Self::AtRisk => "is at risk",
            Self::Safe => "is safe",
        }
    }

    /// As a predicate of several targets: "hunt", "are at risk".
    #[must_use]
    pub fn do_(self) -> &'static str {
        match self {
            Self::TurnsThroughKeepOut => "turn through a keep-out",
            Self::WindsTooFar => "wind the cable too far",
            Self::OutOfReach => "are out of reach",
            Self::Hunts => "hunt",
            Self::DoesNotSettle => "do not settle",
            Self::NoSolution => "find no solution",
            Self::AtRisk => "are at risk",
            Self::Safe => "are safe",
        }
    }
}

impl TargetState {
    /// Behind a number of targets: "1 hunts", "2 hunt", "6 safe".
    #[must_use]
    pub fn short(self, count: usize) -> &'static str {
        let does = if count == 1 { self.does() } else { self.do_() };
        does.trim_start_matches("is ").trim_start_matches("are ")
    }
}

impl std::fmt::Display for TargetState {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::TurnsThroughKeepOut => "turns through a keep-out",
            Self::WindsTooFar => "winds the cable too far",
            Self::OutOfReach => "out of reach",
            Self::Hunts => "hunts",
            Self::DoesNotSettle => "does not settle",
            Self::NoSolution => "no solution",
            Self::AtRisk => "at risk",
            Self::Safe => "safe",
        })
    }
}

/// The verdict on one target.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    /// The worst state that holds.
    #[serde(rename = "verdict")]
    pub state: TargetState,
    /// Every fault with its share and its limit, the worst kind first.
    pub faults: Vec<FaultShare>,
}

impl Verdict {
    /// The verdict on what runs or an exact solution say of one target.
    #[must_use]
    pub fn of(summary: &PolicySummary, limits: &Limits) -> Self {
        let fault = |fault: Fault| FaultShare::new(fault, fault.share(summary, limits), limits);
        Self::of_faults(Fault::ALL.map(fault).to_vec())
    }

    /// The verdict on faults whose shares are known; the worst kind first.
    #[must_use]
    pub fn of_faults(faults: Vec<FaultShare>) -> Self {
        let state = states(&faults).next().unwrap_or(TargetState::Safe);
        Self { state, faults }
    }

    /// No fault exceeds its limit.
    #[must_use]
    pub fn is_safe(&self) -> bool {
        self.state == TargetState::Safe
    }

    /// Every state that holds, the worst first.
    #[must_use]
    pub fn states(&self) -> Vec<TargetState> {
        let mut all: Vec<TargetState> = states(&self.faults).collect();
        all.dedup();
        if all.is_empty() {
            all.push(TargetState::Safe);
        }
        all
    }

    /// The fault that decides the state; `None` where the target is safe.
    #[must_use]
    pub fn decides(&self) -> Option<&FaultShare> {
        self.faults.iter().find(|f| f.state() == Some(self.state))
    }

    /// The share and limit of one fault.
    #[must_use]
    pub fn fault(&self, fault: Fault) -> Option<&FaultShare> {
        self.faults.iter().find(|f| f.fault == fault)
    }

    /// How far the faults are beyond their limits, in limits; for comparing two settings that both fail.
    #[must_use]
    pub fn excess(&self) -> f64 {
        let beyond = self
            .faults
            .iter()
            .filter(|f| f.standing != Standing::Within);
        beyond.map(|f| f.rate.high / f.limit).sum()
    }
}

/// The states of faults, the certain ones first, each kind in its order.
fn states(faults: &[FaultShare]) -> impl Iterator<Item = TargetState> + '_ {
    let certain = faults.iter().filter(|f| f.standing == Standing::Exceeds);
    let possible = faults.iter().filter(|f| f.standing == Standing::MayExceed);
    certain.chain(possible).filter_map(FaultShare::state)
}
