//! A fit -> table, JSON, picture, rig file; a plan -> table.

mod json;
mod picture;
mod plan;
mod plan_json;
mod rig_file;
mod table;

pub(crate) use json::FitResult;
pub use json::fit_json;
pub use picture::fit_picture;
pub use plan::{fit_plan_csv, fit_plan_document, log_csv};
#[cfg(feature = "schema")]
pub(crate) use plan_json::FitPlanResult;
pub use plan_json::fit_plan_json;
pub use rig_file::fitted_rig;
pub use table::fit_document;
