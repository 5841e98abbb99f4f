//! A finding about a rig.

use serde::Serialize;

/// What is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum DiagnosisKind {
    /// The position angle goes the other way than the rig believes.
    WrongSense,
    /// The camera turned against the drive at once, or creeps.
    ZeroPointSlip,
    /// The drive turns less than it says.
    LostSteps,
    /// The step is large beside the tolerance.
    CoarseStep,
    /// The backlash is large beside the tolerance.
    LargeBacklash,
    /// Solves that are far off.
    Outliers,
    /// The log does not tell a parameter.
    NotIdentifiable,
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Diagnosis {
    /// What is wrong.
    pub kind: DiagnosisKind,
    /// The row of the log where it begins or first shows, from 1, comments and header not counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "usize", range(min = 1)))]
    pub row: Option<usize>,
    /// The parameter, where one is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "&str"))]
    pub parameter: Option<&'static str>,
    /// Why, in one or two sentences.
    pub evidence: String,
}

impl Diagnosis {
    pub(super) fn new(kind: DiagnosisKind, row: Option<usize>, evidence: String) -> Self {
        Self {
            kind,
            row,
            parameter: None,
            evidence,
        }
    }
}
