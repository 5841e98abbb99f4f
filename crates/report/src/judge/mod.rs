//! A judged session -> table, JUnit XML, TAP, JSON, files of scenarios.

mod file;
mod json;
mod junit;
mod margin;
mod table;
mod tap;
mod vectors;
mod verdict;

#[cfg(feature = "schema")]
pub(crate) use file::ScenariosFile;
pub use file::{cases_text, read_cases};
#[cfg(feature = "schema")]
pub(crate) use json::JudgeResult;
pub use json::judge_json;
pub use junit::junit;
pub use margin::{END_NAMES, Margin, end_name, margin_sentence};
pub use table::judge_document;
pub use tap::tap;
#[cfg(feature = "schema")]
pub(crate) use vectors::VectorsResult;
pub use vectors::{vectors_csv, vectors_digest, vectors_json};
pub use verdict::Verdict;
