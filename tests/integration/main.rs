//! Tests of the crate from outside: against the model, against other programs and published figures,
//! and of the program as a user runs it.

mod advice_bound;
mod advice_proof;
mod advise;
mod bad_input;
mod bad_targets;
mod binary;
mod certificate;
mod closed_forms;
mod exact_rigs;
mod exact_runs;
mod fit;
mod fit_plan;
mod fit_program;
mod intervals;
mod judge;
mod judge_faults;
mod judge_program;
mod judge_properties;
mod least_squares;
mod limits;
mod mutants;
mod play;
mod program;
mod random_streams;
mod reference_program;
mod rigs;
mod seam_oscillation;
mod settling;
mod sweep;
mod sweep_merge;
mod sweep_refusals;
mod twelve;
mod vectors;
mod wrap;
mod wrong_use;
