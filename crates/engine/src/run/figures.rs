//! The figures of one run (docs/model.md, section 6).

use serde::Serialize;

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display)]
#[strum(serialize_all = "kebab-case")]
pub enum Outcome {
    /// Within tolerance, as often in a row as the rig asks for.
    Settled,
    /// The good solves were used up.
    Unsettled,
    /// Too many failed solves in a row.
    Unsolved,
    /// The stops refused a command.
    Refused,
    /// The controller gave up. The model's own controller never does.
    #[strum(to_string = "gave up")]
    GaveUp,
    /// The controller commanded something that is no angle, or commanded without end.
    Faulty,
}

/// The figures of a run.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::not_negative))]
pub struct Figures {
    /// How it ended.
    pub outcome: Outcome,
    /// Good solves.
    pub solves: u32,
    /// Failed attempts to solve.
    pub failed_attempts: u32,
    /// Commands after which the reading had changed.
    pub moves: u32,
    /// Corrections longer than half a period.
    pub long_swings: u32,
    /// Degrees that the drive turned, over all legs.
    pub travel_deg: f64,
    /// Largest distance of a reading from the parking reading \[deg\].
    pub winding_deg: f64,
    /// Whether the winding exceeded the cable limit.
    #[serde(skip)]
    pub overwound: bool,
    /// Degrees turned outside the allowed arc and its band.
    pub outside_arc_deg: f64,
    /// Degrees turned inside keep-out sectors.
    pub keep_out_deg: f64,
    /// Time from before the first move to the end of the last attempt \[s\].
    pub elapsed_s: f64,
    /// Distance of the true position angle of the last good exposure from the target \[deg\]; `None` without a good
    /// solve.
    pub true_error_deg: Option<f64>,
}

impl Figures {
    /// The figures before anything happens.
    #[must_use]
    pub fn start() -> Self {
        Self {
            outcome: Outcome::Unsettled,
            solves: 0,
            failed_attempts: 0,
            moves: 0,
            long_swings: 0,
            travel_deg: 0.0,
            winding_deg: 0.0,
            overwound: false,
            outside_arc_deg: 0.0,
            keep_out_deg: 0.0,
            elapsed_s: 0.0,
            true_error_deg: None,
        }
    }

    /// Whether the run has two or more long swings.
    #[must_use]
    pub fn hunting(&self) -> bool {
        self.long_swings >= 2
    }
}
