use super::diagnosis::Diagnosis;
use super::estimate::{Joint, Parameters, PeriodicEstimate};
use crate::rig::Sense;

/// One solved row and its fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedRow {
    /// Row of the log, from 1.
    pub row: usize,
    /// Reading on the line \[deg\].
    pub reading_deg: f64,
    /// Size of the move to it \[deg\]; 0 without a move or at the start of a run.
    pub moved_deg: f64,
    /// Side of the backlash after the last move: 1 after a move up, -1 after a move down, 0 if unknown.
    pub direction: i8,
    /// Measured position angle minus the fitted one \[deg\].
    pub residual_deg: f64,
    /// The solve is an outlier.
    pub outlier: bool,
    /// Whether the row took part in the estimates.
    pub used: bool,
}

/// What a log says about its rig.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Number of rows in the log, failed solves included.
    pub row_count: usize,
    /// The estimates.
    pub parameters: Parameters,
    /// Periodic errors of one and two cycles a turn.
    pub periodic: Vec<PeriodicEstimate>,
    /// Whether the position angle grows or falls with the reading.
    pub sense: Sense,
    /// Whether the log tells the sense.
    pub sense_identifiable: bool,
    /// The parameters of the mechanics with their covariance.
    pub joint: Joint,
    /// Error of one solve after a move, repeatability and noise together, one standard deviation \[deg\].
    pub total_error_deg: f64,
    /// Error of an outlier, one standard deviation \[deg\]; `None` without outliers.
    pub outlier_deg: Option<f64>,
    /// Degrees of freedom of the estimates.
    pub freedom: usize,
    /// Mean distance of the angles from the first guess with this sense \[deg\].
    pub distance_deg: f64,
    /// Mean distance of the angles from the first guess with the other sense \[deg\].
    pub other_sense_distance_deg: f64,
    /// Whether readings were continued across 0 by the short way.
    pub short_way: bool,
    /// The solved rows.
    pub rows: Vec<FittedRow>,
    /// The findings.
    pub diagnoses: Vec<Diagnosis>,
}
