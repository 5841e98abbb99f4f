//! Simulator and set-up chooser for a camera rotator that is driven by plate solving.
//!
//! Run a loop many times, or solve it:
//!
//! ```
//! use halfturn::exact::{Precision, solve};
//! use halfturn::rig::{DEMO_RIG, read};
//! use halfturn::sample::{Batch, Unattended, run_batch};
//! use halfturn::scenario::{Policy, Scenario};
//!
//! let rig = read(DEMO_RIG, "demo", &[])?;
//! let scenario = Scenario::new(&rig, Policy::of(&rig), 0.0); // a target on the seam
//! let tally = run_batch(&scenario, Batch { trials: 20_000, seed: 1 }, &Unattended);
//! let exact = solve(&scenario, Precision::FULL)?;
//! let share = tally.hunting as f64 / 20_000.0;
//! assert!((share - exact.hunting.value).abs() < 0.02);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Ask what to set for a list of targets:
//!
//! ```
//! use halfturn::advise::{AllowedChanges, AdviceRequest, Criteria, advise};
//! use halfturn::rig::{DEMO_RIG, read};
//! use halfturn::sample::{Batch, Unattended};
//! use halfturn::scenario::read_targets;
//! use halfturn::verdict::Limits;
//!
//! let rig = read(DEMO_RIG, "demo", &[])?;
//! let targets = read_targets("name,position_angle_deg\nA,0\nB,90\n", "targets.csv")?;
//! let request = AdviceRequest {
//!     batch: Batch { trials: 4000, seed: 1 },
//!     limits: Limits::default(),
//!     criteria: Criteria::default(),
//!     change: AllowedChanges::default(),
//! };
//! let advice = advise(&rig, &targets, request, &Unattended)?;
//! assert!(!advice.before.all_safe() && advice.holds());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Judge a controller: see [`judge::check`]; run your own in the loop: see [`controller`].
//!
//! The model that is computed stands in `docs/model.md`. The crates below this one promise nothing of their names.

// Tests may use the system's sines, results may not. See clippy.toml.
#![cfg_attr(not(test), warn(clippy::disallowed_methods))]

#[doc(hidden)]
pub mod command;
#[cfg(feature = "serve")]
mod serve;

pub use halfturn_engine::controller;

/// Angles: folding and residuals.
pub mod angle {
    pub use halfturn_engine::angle::{NotFinite, fold, residual};
}

/// The text of a rig file -> a validated rig.
pub mod rig {
    pub use halfturn_engine::rig::{
        Approach, DEMO_RIG, DriveSettings, Framing, InputError, KeepOut, KeyDifference,
        LoopSettings, Periodic, Rig, RigError, RigSettings, Rule, Sense, SolveSettings, TravelKind,
        When, WrapSettings, read,
    };
}

/// The drive and the mechanics.
pub mod plant {
    pub use halfturn_engine::plant::Travel;
}

/// Rig, wrap policy and target -> a scenario.
pub mod scenario {
    pub use halfturn_engine::scenario::{
        DEMO_TARGETS, Policy, Scenario, Target, read_targets, with_flips,
    };
}

/// Scenario and random stream -> the figures of one loop.
pub mod run {
    pub use halfturn_engine::run::{
        Figures, MoveEvent, Observer, Outcome, SolveEvent, Trace, TraceRow, Unobserved, run, traced,
    };
}

/// Many runs of one scenario.
pub mod sample {
    pub use halfturn_engine::sample::{
        Batch, Cancelled, Monitor, Stream, Unattended, run_batch, stream,
    };
}

/// Counts, moments and histograms of many runs.
pub mod tally {
    pub use halfturn_engine::tally::Tally;
}

/// Scenario -> the same figures without sampling.
pub mod exact {
    pub use halfturn_engine::exact::{
        Bounded, BoundedSpread, Precision, Solution, Unsupported, solve,
    };
}

/// Rates, means and quantiles with intervals.
pub mod summary {
    pub use halfturn_engine::summary::{Distribution, PolicySummary, Rate};
}

/// Figures and limits -> the state of a target.
pub mod verdict {
    pub use halfturn_engine::verdict::{
        Fault, FaultShare, Judge, JudgedTarget, Limits, Standing, TargetState, Verdict,
    };
}

/// Verdicts on a list of targets -> the rig that meets every limit.
pub mod advise {
    pub use halfturn_engine::advise::{
        Advice, AdviceOutcome, AdviceRequest, AdviseError, AllowedChanges, Changeable, Criteria,
        Setting, TargetReport, advise,
    };
}

/// A controller and scenarios -> what held and what did not.
pub mod judge {
    pub use halfturn_engine::judge::{
        CheckError, CheckRequest, EndMargin, Failure, Family, Judgement, MarginError, Property,
        check, check_margin,
    };
}

/// A log of readings and solved angles -> estimates of a rig's errors.
pub mod fit {
    pub use halfturn_engine::fit::{
        Diagnosis, DiagnosisKind, Estimate, Fit, FitError, Log, LogRow, Parameters, PlanStep, fit,
        nearest_turn, read_log, rehearse,
    };
}
