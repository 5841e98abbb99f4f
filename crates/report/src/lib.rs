//! Advice, batch, sweep or trace -> tables, pictures, files.

// Tests may use the system's sines, results may not. See clippy.toml.
#![cfg_attr(not(test), warn(clippy::disallowed_methods))]

mod advice;
mod advice_json;
mod any_target_json;
mod batch_json;
mod certificate;
mod check_json;
mod document;
mod figures;
mod files;
mod fit;
mod folder;
pub mod judge;
mod loops;
#[cfg(feature = "schema")]
mod made_schemas;
pub mod page;
mod pictures;
mod plan_json;
pub mod plot;
mod result;
mod schema;
mod setting_json;
mod sky;
pub mod sweep;
mod trace_json;
mod uncertain_json;

pub use advice::{
    Provenance, about, advice_document, any_target_document, check_document, one_sided,
};
pub use advice_json::advice_json;
pub use any_target_json::any_target_json;
pub use batch_json::{batch_json, solved_json};
pub use certificate::certificate_text;
pub use check_json::check_json;
pub use document::{Block, Document, Line, Screen, Span};
pub use figures::{batch_document, solved_document};
pub use files::{
    PictureFormat, ReportError, probe_file, probe_folder, write_file, write_files, write_new_file,
    write_picture,
};
pub use fit::{
    fit_document, fit_json, fit_picture, fit_plan_csv, fit_plan_document, fit_plan_json,
    fitted_rig, log_csv,
};
pub use folder::{FITTED_RIG_FILE, advice_page, picture_files, write_any_target, write_report};
pub use loops::trace_document;
#[cfg(feature = "schema")]
pub use made_schemas::made_schemas;
pub use pictures::{batch_pictures, trace_picture};
pub use schema::{schema, schema_names};
pub use sky::{
    Against, FieldReport, Frames, NamedImage, NightHead, Overlaps, Refusal, field_document,
    field_json, field_picture, fits_document, fits_json, fits_log, night_document, night_json,
    night_page, night_picture, night_warnings, panels_csv, panels_document, panels_json,
    panels_picture, run_sheet, sheet_csv, sheet_page,
};
pub use trace_json::dial_json;
pub use trace_json::trace_json;
