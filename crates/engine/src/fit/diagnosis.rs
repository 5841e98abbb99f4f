//! A finding about a rig.

use serde::Serialize;

/// Kinds of findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum DiagnosisKind {
    /// The position angle goes the other way than the rig says.
    WrongSense,
    /// The camera turned against the drive, at once or slowly.
    ZeroPointSlip,
    /// The drive turns less than its readings say.
    LostSteps,
    /// The step is large compared with the tolerance.
    CoarseStep,
    /// The backlash is large compared with the tolerance.
    LargeBacklash,
    /// Some solves are far off.
    Outliers,
    /// The loop hunts.
    Hunting,
    /// The loop corrects again and again, and the residual stays.
    NeverSettles,
    /// The readings show an error beside those that the fit estimates.
    UnmodelledError,
    /// The log does not tell a parameter.
    NotIdentifiable,
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Diagnosis {
    /// What is wrong.
    pub kind: DiagnosisKind,
    /// Row of the log where it begins or first shows, from 1, without comments and header; `None` if it has no row.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "usize", range(min = 1)))]
    pub row: Option<usize>,
    /// Last row of the run that it is about; `None` if it is about no run.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "usize", range(min = 1)))]
    pub last_row: Option<usize>,
    /// Position angle that this run wanted \[deg\]; `None` if it is about no run.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "f64"))]
    pub target_deg: Option<f64>,
    /// Start of an arc that would have ended the hunting \[deg\]; `None` if it is about none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "f64"))]
    pub arc_start_deg: Option<f64>,
    /// The parameter that it is about; `None` if it is about none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "&str"))]
    pub parameter: Option<&'static str>,
    /// The evidence, in one or two sentences.
    pub evidence: String,
}

impl Diagnosis {
    /// Its rows, such as `rows 5 to 24`; `None` if it has none.
    #[must_use]
    pub fn rows(&self) -> Option<String> {
        let row = self.row?;
        Some(match self.last_row {
            Some(last) => format!("rows {row} to {last}"),
            None => format!("row {row}"),
        })
    }

    pub(super) fn new(kind: DiagnosisKind, row: Option<usize>, evidence: String) -> Self {
        Self {
            kind,
            row,
            last_row: None,
            target_deg: None,
            arc_start_deg: None,
            parameter: None,
            evidence,
        }
    }
}
