//! A fit -> table, JSON, picture, rig file; a plan -> table.

mod json;
mod picture;
mod plan;
mod rig_file;
mod table;

pub use json::{fit_json, fit_plan_json};
pub use picture::fit_picture;
pub use plan::{fit_plan_csv, fit_plan_document, log_csv};
pub use rig_file::fitted_rig;
pub use table::fit_document;
