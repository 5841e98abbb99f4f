//! The data of the picture of a night.

use halfturn_engine::verdict::TargetState;

/// One stretch of a target.
#[derive(Debug, Clone, PartialEq)]
pub struct NightBar {
    /// Name of the target.
    pub name: String,
    /// Beginning, since the start of the night \[h\].
    pub from_h: f64,
    /// End, since the start of the night \[h\].
    pub to_h: f64,
    /// Time since the start of the night \[h\] and altitude \[deg\].
    pub altitudes: Vec<(f64, f64)>,
    /// Whether it begins with a meridian flip.
    pub after_flip: bool,
    /// Reading after the rotation \[deg\].
    pub reading_deg: f64,
    /// Mean time of the loop \[h\].
    pub loop_h: f64,
    /// The verdict on the loop.
    pub state: TargetState,
    /// Whether the target is too low or the sky not dark.
    pub not_usable: bool,
    /// Keep-outs that count, from and to \[deg\].
    pub keep_outs: Vec<(f64, f64)>,
}

/// The background of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightCourse {
    /// Reading at the start \[deg\].
    pub park_deg: f64,
    /// The allowed arc, from and to \[deg\].
    pub arc_deg: (f64, f64),
    /// Band around the arc \[deg\].
    pub band_deg: f64,
    /// How far from the parking reading the cable lets a reading go \[deg\]; 0 for no limit.
    pub limit_deg: f64,
}

/// A kind of twilight: its name, dusk and dawn, since the start of the night \[h\]; `None` if the Sun does not cross
/// that altitude.
pub type TwilightEnds = (&'static str, Option<f64>, Option<f64>);

/// All data of the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct NightSheet {
    /// Title.
    pub title: String,
    /// Remark beside the title.
    pub remark: String,
    /// The stretches, in the order of time.
    pub bars: Vec<NightBar>,
    /// Every kind of twilight.
    pub twilight: Vec<TwilightEnds>,
    /// Hour of the day at the start, universal time.
    pub first_hour: f64,
    /// The background of the readings.
    pub course: NightCourse,
    /// Altitude below which a target cannot be used \[deg\].
    pub least_altitude_deg: f64,
}
