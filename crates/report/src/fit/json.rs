//! The result of `fit` as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use crate::result::{Format, Version, as_json};
use halfturn_engine::fit::{Diagnosis, Fit, Parameters, PeriodicEstimate};
use halfturn_engine::rig::Sense;

/// Estimates of a rig's errors from a log.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct FitResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// Rows of the log.
    rows: usize,
    /// Rows with a position angle.
    solved: usize,
    /// Rows that took part in the estimates.
    used: usize,
    /// Degrees of freedom: dwells minus parameters.
    degrees_of_freedom: usize,
    /// The estimates, under the keys of the rig file.
    parameters: &'a Parameters,
    /// Whether the position angle grows or falls with the reading.
    sense: Sense,
    /// Whether the log tells the sense.
    sense_identifiable: bool,
    /// Periodic errors of the shaft.
    periodic: &'a [PeriodicEstimate],
    /// Repeatability and noise of one row together, one standard deviation \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    total_error_deg: f64,
    /// Error of an outlier, one standard deviation \[deg\]; `None` without outliers.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    outlier_deg: Option<f64>,
    /// Correlations of the parameters of the mechanics.
    correlations: Correlations<'a>,
    /// The findings.
    diagnoses: &'a [Diagnosis],
}

/// Correlations of the parameters of the mechanics.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct Correlations<'a> {
    /// The parameters.
    names: &'a [String],
    /// Correlation of each with each, row by row; `None` if one has no variance.
    #[cfg_attr(feature = "schema", schemars(inner(inner(range(min = -1.000_001, max = 1.000_001)))))]
    matrix: Vec<Vec<Option<f64>>>,
}

impl<'a> FitResult<'a> {
    pub(crate) fn of(fit: &'a Fit) -> Self {
        let count = fit.joint.names.len();
        let row = |i| (0..count).map(|j| fit.joint.correlation(i, j)).collect();
        Self {
            format: Format,
            version: Version,
            rows: fit.row_count,
            solved: fit.rows.len(),
            used: fit.rows.iter().filter(|r| r.used).count(),
            degrees_of_freedom: fit.freedom,
            parameters: &fit.parameters,
            sense: fit.sense,
            sense_identifiable: fit.sense_identifiable,
            periodic: &fit.periodic,
            total_error_deg: fit.total_error_deg,
            outlier_deg: fit.outlier_deg,
            correlations: Correlations {
                names: &fit.joint.names,
                matrix: (0..count).map(row).collect(),
            },
            diagnoses: &fit.diagnoses,
        }
    }
}

/// The result of `fit`.
#[must_use]
pub fn fit_json(fit: &Fit) -> Value {
    as_json(&FitResult::of(fit))
}
