//! What the user asks of the settings, beside safe targets.

use serde::Serialize;

/// Limits that the advised settings have to meet, and the probabilities of the bounds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Criteria {
    /// Probability with which a bound may be exceeded.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub tail: f64,
    /// Largest share of the frame that may be lost between two nights.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub max_lost_area: f64,
    /// Share of the overlap of a mosaic that must be left at a panel's corners.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub mosaic_keep: f64,
    /// Largest displacement of the frame's corner \[px\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub max_corner_px: Option<f64>,
    /// Only an arc that, band included, is clear of every keep-out.
    pub clear_of_keep_outs: bool,
    /// How far a flat's drive angle may be from that of a light frame \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub flats_within_deg: f64,
}

impl Default for Criteria {
    fn default() -> Self {
        Self {
            tail: 1e-3,
            max_lost_area: 0.02,
            mosaic_keep: 0.5,
            max_corner_px: None,
            clear_of_keep_outs: false,
            flats_within_deg: 1.0,
        }
    }
}
