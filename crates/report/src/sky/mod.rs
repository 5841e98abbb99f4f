//! Panels, nights and FITS headers -> tables, JSON, pictures, targets file, log.

mod field;
mod field_picture;
mod fits;
mod night;
mod panels;
mod words;

pub use field::{FieldReport, field_json, field_text};
pub use field_picture::field_picture;
pub use fits::{Frames, NamedImage, Refusal, fits_json, fits_log, fits_table};
pub use night::{NightHead, night_json, night_picture, night_text, night_warnings};
pub use panels::{Overlaps, panels_csv, panels_json, panels_picture, panels_table};
use words::verdict_words;
