//! A fit -> table, JSON, picture, rig file; a plan -> table.

mod json;
mod picture;
mod plan;
mod rig_file;
mod table;

pub use json::{fit_json, plan_json};
pub use picture::fit_picture;
pub use plan::{log_csv, plan_csv, plan_text};
pub use rig_file::fitted_rig;
pub use table::fit_table;
