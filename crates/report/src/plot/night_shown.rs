//! What the picture of a night shows.

use halfturn_engine::verdict::TargetState;

/// One stretch of a target.
#[derive(Debug, Clone, PartialEq)]
pub struct NightBar {
    /// Name of the target.
    pub name: String,
    /// Begin, since the start of the night \[h\].
    pub from_h: f64,
    /// End \[h\].
    pub to_h: f64,
    /// Time \[h\] and altitude \[deg\].
    pub altitudes: Vec<(f64, f64)>,
    /// It begins with a meridian flip.
    pub after_flip: bool,
    /// Reading after the rotation \[deg\].
    pub reading_deg: f64,
    /// Mean time of the loop \[h\].
    pub loop_h: f64,
    /// The verdict on it.
    pub state: TargetState,
    /// The target is too low or the sky is not dark.
    pub not_usable: bool,
    /// Keep-outs that count.
    pub keep_outs: Vec<(f64, f64)>,
}

/// What lies behind the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightCourse {
    /// Reading at the start \[deg\].
    pub park_deg: f64,
    /// The allowed arc \[deg\].
    pub arc_deg: (f64, f64),
    /// Its band \[deg\].
    pub band_deg: f64,
    /// How far from parking the cable lets a reading go \[deg\]; 0 for no limit.
    pub limit_deg: f64,
}

/// A kind of twilight: its name, its dusk and its dawn, since the start of the night \[h\].
pub type TwilightEnds = (&'static str, Option<f64>, Option<f64>);

/// All that the picture shows.
#[derive(Debug, Clone, PartialEq)]
pub struct NightSheet {
    /// What stands over it.
    pub title: String,
    /// What stands beside that.
    pub remark: String,
    /// The stretches, in the order of time.
    pub bars: Vec<NightBar>,
    /// Every kind of twilight.
    pub twilight: Vec<TwilightEnds>,
    /// Hour of the day at the start, universal time.
    pub first_hour: f64,
    /// What lies behind the readings.
    pub course: NightCourse,
    /// Altitude below which a target cannot be used \[deg\].
    pub least_altitude_deg: f64,
}
