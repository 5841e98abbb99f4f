//! What the user asks of the settings, beside a safe target.

use serde::Serialize;

/// Limits that the advised settings have to meet, and the probabilities of the bounds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Wishes {
    /// Probability with which a bound may be exceeded.
    pub tail: f64,
    /// Good solves within which a target should settle.
    pub max_solves: u32,
    /// Probability with which it should.
    pub settle_chance: f64,
    /// Largest share of the frame that may be lost between two nights.
    pub max_lost_area: f64,
    /// Share of the overlap of a mosaic that must be left at a panel's corners.
    pub mosaic_keep: f64,
    /// Largest displacement of the frame's corner \[px\].
    pub max_corner_px: Option<f64>,
    /// Largest chance that a hunting loop goes on one more swing, for a band that counts as wide enough.
    pub max_persistence: f64,
    /// Only settings whose runs stay clear of every keep-out.
    pub clear_of_keep_outs: bool,
    /// How far a flat's drive angle may be from that of a light frame \[deg\].
    pub flats_within_deg: f64,
}

impl Default for Wishes {
    fn default() -> Self {
        Self {
            tail: 1e-3,
            max_solves: 5,
            settle_chance: 0.99,
            max_lost_area: 0.02,
            mosaic_keep: 0.5,
            max_corner_px: None,
            max_persistence: 0.05,
            clear_of_keep_outs: false,
            flats_within_deg: 1.0,
        }
    }
}
