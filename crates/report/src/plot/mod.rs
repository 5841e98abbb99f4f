//! Trace, tally and verdicts -> pictures.
//!
//! Every picture is a function of plain data. It lays shapes on a `sheet`, in units of one SVG pixel. `svg` and `bitmap`
//! then paint the sheet. A value that is not finite, or absurdly large, is left out or written as words. It never reaches
//! a scale.

mod angle_bars;
mod axes;
#[cfg(not(target_family = "wasm"))]
mod bearing;
#[cfg(not(target_family = "wasm"))]
mod bitmap;
mod canvas;
mod colour_scale;
mod dial;
mod dial_labels;
mod dial_ring;
mod dial_shown;
mod dial_strip;
mod field_map;
mod font;
mod form;
mod heat_map;
mod labels;
mod legend;
mod loop_path;
mod loop_trace;
mod night_readings;
mod night_shown;
mod night_timeline;
mod panel_map;
mod picture;
mod rate_lines;
mod residual_panel;
mod residuals;
mod scale;
mod seam_distance;
mod settle_time;
mod sheet;
mod state;
mod style;
mod svg;
mod tolerance;
mod varied;

pub use angle_bars::{AngleBar, angle_bars};
pub use colour_scale::{RateColours, rate_colours};
pub use dial::dial;
pub use dial_shown::{Dial, DialTarget};
pub use field_map::{FieldMap, field_map};
pub use heat_map::{HeatAxis, HeatMap, heat_maps};
pub use loop_trace::{TraceSetting, loop_trace};
pub use night_shown::{NightBar, NightCourse, NightSheet, TwilightEnds};
pub use night_timeline::night_timeline;
pub use panel_map::{PanelFrame, PanelMap, panel_map, panel_map_reach};
pub use picture::{Picture, PlotError};
pub use rate_lines::{RateLine, RatePoint};
pub use residuals::{FittedCurve, Leftover, Side, residuals};
pub use seam_distance::seam_distance;
pub use settle_time::{SettleCurve, settle_time};
pub use tolerance::{ToleranceWindow, tolerance_window};
pub use varied::{AxisName, rates_over};
