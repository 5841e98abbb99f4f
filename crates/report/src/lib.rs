//! Advice, batch, sweep or trace -> tables, pictures, files.

// Tests may take sines from the system; a result may not. See clippy.toml.
#![cfg_attr(not(test), warn(clippy::disallowed_methods))]

mod advice_text;
mod certificate;
mod check_text;
mod files;
mod fit;
mod folder;
mod json;
pub mod judge;
pub mod page;
mod pictures;
mod plan_json;
pub mod plot;
mod schema;
mod sky;
mod solved_table;
pub mod sweep;
mod table;
mod trace_json;
mod uncertain;

pub use advice_text::advice_text;
pub use certificate::certificate_text;
pub use check_text::check_text;
pub use files::{
    PictureFormat, ReportError, probe_file, probe_folder, write_file, write_files, write_new_file,
    write_picture,
};
pub use fit::{
    fit_json, fit_picture, fit_plan_csv, fit_plan_json, fit_plan_text, fit_table, fitted_rig,
    log_csv,
};
pub use folder::{FITTED_RIG_FILE, advice_page, picture_files, write_report};
pub use json::{advice_json, batch_json, check_json, solved_json};
pub use pictures::{batch_pictures, trace_picture};
pub use schema::{schema, schema_names};
pub use sky::{
    FieldReport, Frames, NamedImage, NightHead, Overlaps, Refusal, field_json, field_picture,
    field_text, fits_json, fits_log, fits_table, night_json, night_picture, night_text,
    night_warnings, panels_csv, panels_json, panels_picture, panels_table,
};
pub use solved_table::solved_table;
pub use table::{batch_table, trace_table};
pub use trace_json::dial_json;
pub use trace_json::trace_json;
pub use uncertain::uncertain_text;
