//! What a log says of its rig.

use super::diagnosis::Diagnosis;
use super::estimate::{Joint, Parameters, PeriodicEstimate};
use crate::rig::Sense;

/// One solved row, with what the fit says of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedRow {
    /// Row of the log, from 1.
    pub row: usize,
    /// Reading on the line \[deg\].
    pub reading_deg: f64,
    /// Size of the move to it \[deg\]; 0 for none, or the start of a run.
    pub moved_deg: f64,
    /// Side of the backlash that the last move took up: 1 after a move up, -1 after one down, 0 unknown.
    pub direction: i8,
    /// Measured position angle less the fitted one \[deg\].
    pub residual_deg: f64,
    /// The solve is an outlier.
    pub outlier: bool,
    /// The row took part in the estimates.
    pub used: bool,
}

/// What a log says of its rig.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Rows of the log.
    pub row_count: usize,
    /// The estimates.
    pub parameters: Parameters,
    /// Periodic errors of one and two cycles a turn.
    pub periodic: Vec<PeriodicEstimate>,
    /// Direction of position angle against reading.
    pub sense: Sense,
    /// The log tells the sense.
    pub sense_identifiable: bool,
    /// How the parameters of the mechanics hang together.
    pub joint: Joint,
    /// Error of one solve after a move, repeatability and noise together, one sigma \[deg\].
    pub total_error_deg: f64,
    /// Error of an outlier, one sigma \[deg\]; `None` without any.
    pub outlier_deg: Option<f64>,
    /// Degrees of freedom of the estimates.
    pub freedom: usize,
    /// Mean distance from the first guess with this sense \[deg\].
    pub distance_deg: f64,
    /// Mean distance from the first guess with the other sense \[deg\].
    pub other_sense_distance_deg: f64,
    /// Readings were unrolled by the short way across 0.
    pub short_way: bool,
    /// The solved rows.
    pub rows: Vec<FittedRow>,
    /// What is wrong.
    pub diagnoses: Vec<Diagnosis>,
}
