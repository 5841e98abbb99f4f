//! Panels and FITS headers -> tables, JSON, targets file, log.

mod fits;
mod panels;

pub use fits::{Frames, NamedImage, Refusal, fits_json, fits_log, fits_table};
pub use panels::{Overlaps, panels_csv, panels_json, panels_table};
