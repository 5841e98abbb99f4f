//! Summary -> verdict: one state for one target, from the shares of the runs that have a fault.
//!
//! `docs/verdict.md` has the definition with its numbers. Every command and the page go by it; nothing else in the
//! program decides whether a target is safe.

mod fault;
mod judge;
mod limits;
mod state;
#[cfg(test)]
mod tests;

pub use fault::{Fault, FaultShare, Standing};
pub use judge::{Judge, JudgedTarget, precision_for};
pub use limits::Limits;
pub use state::TargetState;

use serde::Serialize;

use crate::summary::PolicySummary;

/// The verdict on one target.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Verdict {
    /// The worst state that holds.
    #[serde(rename = "verdict")]
    pub state: TargetState,
    /// Every fault with its share and its limit, the worst kind first.
    #[cfg_attr(feature = "schema", schemars(length(equal = 7)))]
    pub faults: Vec<FaultShare>,
}

impl Verdict {
    /// The verdict on what runs or an exact solution say of one target.
    #[must_use]
    pub fn of(summary: &PolicySummary, limits: &Limits) -> Self {
        let fault = |fault: Fault| FaultShare::new(fault, fault.share(summary, limits), limits);
        Self::of_faults(Fault::ALL.iter().copied().map(fault).collect())
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
