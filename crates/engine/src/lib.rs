//! The engine of halfturn. It knows no file, clock, network or screen, and takes a random stream where it
//! needs one.
//!
//! Data flows one way, and the table lists the modules in that order:
//!
//! | stage | module | from -> to |
//! |---|---|---|
//! | rig | [`rig`] | the text of a rig file -> a validated rig |
//! | scenario | [`scenario`], [`plant`], [`controller`] | rig, wrap policy and target -> a scenario |
//! | run | [`run`] | scenario and random stream -> the figures of one loop |
//! | tally | [`sample`], [`tally`] | many runs -> counts, moments, histograms |
//! | exact | [`exact`] | scenario -> the same figures without sampling |
//! | summary | [`summary`] | tally -> rates, means and quantiles with intervals |
//! | both | [`method`] | scenario -> summary, by running or by solving |
//! | verdict | [`verdict`] | summary and limits -> the state of a target, with the share of every fault |
//! | advice | [`advise`] | verdicts on a list of targets -> the rig that meets every limit |
//! | sweep | [`sweep`] | a rig and axes -> rows over a grid of rigs or targets |
//! | judgement | [`judge`] | a controller and scenarios -> what held and what did not |
//! | fit | [`fit`] | a log of readings and solved angles -> estimates of a rig's errors |
//!
//! `docs/model.md` defines the model. Depend on the crate `halfturn`, not on this one: names here may change.

// Tests may use the system's sines, results may not. See clippy.toml.
#![cfg_attr(not(test), warn(clippy::disallowed_methods))]

pub mod advise;
pub mod angle;
pub mod controller;
pub mod decimal;
pub mod exact;
pub mod fit;
pub mod judge;
pub mod method;
pub mod plant;
pub mod rig;
pub mod run;
pub mod sample;
pub mod scenario;
#[cfg(feature = "schema")]
pub mod schema;
pub mod summary;
pub mod sweep;
pub mod tally;
pub mod verdict;
pub mod wording;
