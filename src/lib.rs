//! Simulator and set-up chooser for a camera rotator that is driven by plate solving.
//!
//! Data flows one way, and the modules stand in its order:
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
//! | sky | [`sky`] | a mosaic -> its panels; a night or a turning field -> its course; a FITS header -> its position angle |
//! | report | [`report`] | advice, batch, sweep or trace -> tables, pictures, files |
//! | page | [`serve`] | a local web page: the other thin face over the calls above |
//! | command | [`command`] | the command line: a thin face over the calls above |
//!
//! Everything up to [`sweep`], and [`judge`] and [`sky`], knows no file, screen or clock, and no thread pool but in [`sample`], [`sweep`],
//! [`method`], the drawn rigs of [`advise`] and the nights of [`sky`].
//! The model that is computed stands in `docs/model.md`.

// Tests may take sines from the system; a result may not. See clippy.toml.
#![cfg_attr(not(test), warn(clippy::disallowed_methods))]

pub mod command;
#[cfg(feature = "serve")]
pub mod serve;

pub use halfturn_engine::{
    advise, angle, controller, exact, fit, judge, method, plant, rig, run, sample, scenario,
    summary, sweep, tally, verdict, wording,
};
pub use halfturn_report as report;
pub use halfturn_sky as sky;
