//! Advice, batch or trace -> tables, pictures, files.

mod advice_text;
mod files;
mod folder;
mod json;
pub mod page;
mod pictures;
pub mod plot;
mod table;

pub use advice_text::advice_text;
pub use files::{ReportError, write_file, write_files};
pub use folder::{picture_files, write_report};
pub use json::{advice_json, batch_json, trace_json};
pub use pictures::{batch_pictures, trace_picture};
pub use table::{batch_table, trace_table};
