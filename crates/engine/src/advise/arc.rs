//! What an arc is like for a list.

/// What an arc is like for a list.
#[derive(Debug, Clone, PartialEq)]
pub struct ArcFacts {
    /// Where it starts \[deg\].
    pub start_deg: f64,
    /// Smallest distance of a target's drive angle from the seam \[deg\].
    pub seam_distance_deg: f64,
    /// The rule has no seam on this rig, so the start does not matter.
    pub no_seam: bool,
    /// The arc, band included, is clear of every keep-out sector.
    pub clear_of_keep_outs: bool,
    /// The arc, band included, fits between the stops.
    pub within_stops: bool,
    /// The largest band around this arc that keeps out of keep-outs and inside stops and the cable limit
    /// \[deg\]; `None` where the arc without a band does not.
    pub largest_band_deg: Option<f64>,
}

/// Degrees that count as none: rounding at a boundary that is only touched \[deg\].
pub(super) const TOUCH_DEG: f64 = 1e-9;
