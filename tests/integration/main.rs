//! Tests of the crate from outside: against the model, against other programs and published figures,
//! and of the program as a user runs it.

mod advise;
mod bad_input;
mod bad_targets;
mod binary;
mod closed_forms;
mod fit;
mod fit_plan;
mod fit_program;
mod intervals;
mod least_squares;
mod limits;
mod play;
mod program;
mod random_streams;
mod reference_program;
mod rigs;
mod seam_oscillation;
mod sweep;
mod sweep_merge;
mod sweep_refusals;
mod wrap;
mod wrong_use;
