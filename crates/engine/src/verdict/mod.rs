//! Summary -> verdict: one state for a target, from the shares of runs with a fault.
//!
//! `docs/verdict.md` has the definition with its numbers. Every command and the page use this verdict. Nothing else
//! in the program decides whether a target is safe.

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
    /// Every fault with its share and its limit, worst first.
    #[cfg_attr(feature = "schema", schemars(length(equal = 7)))]
    pub faults: Vec<FaultShare>,
}

impl Verdict {
    /// The verdict on the figures of one target, from runs or from an exact solution.
    #[must_use]
    pub fn of(summary: &PolicySummary, limits: &Limits) -> Self {
        let fault = |fault: Fault| FaultShare::new(fault, fault.share(summary, limits), limits);
        Self::of_faults(Fault::ALL.iter().copied().map(fault).collect())
    }

    /// The verdict on faults whose shares are known, worst fault first.
    #[must_use]
    pub fn of_faults(faults: Vec<FaultShare>) -> Self {
        let state = states(&faults).next().unwrap_or(TargetState::Safe);
        Self { state, faults }
    }

    /// Whether no fault exceeds its limit.
    #[must_use]
    pub fn is_safe(&self) -> bool {
        self.state == TargetState::Safe
    }

    /// Every state that holds, worst first.
    #[must_use]
    pub fn states(&self) -> Vec<TargetState> {
        let mut all: Vec<TargetState> = states(&self.faults).collect();
        all.dedup();
        if all.is_empty() {
            all.push(TargetState::Safe);
        }
        all
    }

    /// The fault that decides the state; `None` if the target is safe.
    #[must_use]
    pub fn decides(&self) -> Option<&FaultShare> {
        self.faults.iter().find(|f| f.state() == Some(self.state))
    }

    /// Share and limit of one fault; `None` if the verdict does not hold it.
    #[must_use]
    pub fn fault(&self, fault: Fault) -> Option<&FaultShare> {
        self.faults.iter().find(|f| f.fault == fault)
    }

    /// For comparing two settings that both fail: the upper ends of the shares over their limits, summed over the
    /// faults that are not within them.
    #[must_use]
    pub fn excess(&self) -> f64 {
        let beyond = self
            .faults
            .iter()
            .filter(|f| f.standing != Standing::Within);
        beyond.map(|f| f.rate.high / f.limit).sum()
    }
}

/// The states of faults, certain ones first, each kind in its order.
fn states(faults: &[FaultShare]) -> impl Iterator<Item = TargetState> + '_ {
    let certain = faults.iter().filter(|f| f.standing == Standing::Exceeds);
    let possible = faults.iter().filter(|f| f.standing == Standing::MayExceed);
    certain.chain(possible).filter_map(FaultShare::state)
}
