//! The data of a dial.

use halfturn_engine::verdict::TargetState;

/// A circle of drive angles.
#[derive(Debug, Clone, PartialEq)]
pub struct Dial {
    /// Title.
    pub title: String,
    /// The stops \[deg\]: the dial is then a straight strip. `None` for endless travel: angles are shown in `[0,
    /// 360)`, and a full circle has no seam.
    pub stops_deg: Option<(f64, f64)>,
    /// Where the allowed arc starts \[deg\].
    pub arc_from_deg: f64,
    /// Width of the allowed arc \[deg\].
    pub arc_width_deg: f64,
    /// Band around the arc \[deg\]; 0 for none.
    pub band_deg: f64,
    /// Sectors to stay out of: from, up to \[deg\], and why.
    pub keep_outs: Vec<(f64, f64, String)>,
    /// The targets.
    pub targets: Vec<DialTarget>,
}

/// A target on a dial.
#[derive(Debug, Clone, PartialEq)]
pub struct DialTarget {
    /// Its name.
    pub name: String,
    /// Its drive angle \[deg\].
    pub drive_deg: f64,
    /// Its state.
    pub state: TargetState,
}
