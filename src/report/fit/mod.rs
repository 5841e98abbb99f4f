//! A fit -> table, JSON, picture, rig file.

mod json;
mod table;

pub use json::fit_json;
pub use table::fit_table;
