//! Panels, nights and FITS headers -> tables, JSON, pictures, targets file, log.

mod field;
mod field_picture;
mod fits;
mod night;
mod panels;

pub use field::{FieldReport, field_document, field_json};
pub use field_picture::field_picture;
pub use fits::{Frames, NamedImage, Refusal, fits_document, fits_json, fits_log};
pub use night::{NightHead, night_document, night_json, night_picture, night_warnings};
pub use panels::{Overlaps, panels_csv, panels_document, panels_json, panels_picture};
