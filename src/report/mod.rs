//! Advice, batch, sweep or trace -> tables, pictures, files.

mod advice_text;
mod files;
mod fit;
mod folder;
mod json;
pub mod page;
mod pictures;
pub mod plot;
pub mod sweep;
mod table;

pub use advice_text::advice_text;
pub use files::{
    PictureFormat, ReportError, probe_file, probe_folder, write_file, write_files, write_picture,
};
pub use fit::{
    fit_json, fit_picture, fit_table, fitted_rig, log_csv, plan_csv, plan_json, plan_text,
};
pub use folder::{picture_files, write_report};
pub use json::{advice_json, batch_json, trace_json};
pub use pictures::{batch_pictures, trace_picture};
pub use table::{batch_table, trace_table};
