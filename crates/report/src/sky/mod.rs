//! Panels, nights and FITS headers -> tables, JSON, pictures, targets file, log.

mod field;
mod field_json;
mod field_picture;
mod fits;
mod fits_json;
mod morning;
mod night;
mod panels;
mod panels_json;

pub use field::{FieldReport, field_document};
#[cfg(feature = "schema")]
pub(crate) use field_json::FieldResult;
pub use field_json::field_json;
pub use field_picture::field_picture;
pub use fits::{Frames, NamedImage, Refusal, fits_document, fits_log};
#[cfg(feature = "schema")]
pub(crate) use fits_json::FitsResult;
pub use fits_json::fits_json;
pub use morning::Against;
#[cfg(feature = "schema")]
pub(crate) use night::NightResult;
pub use night::{
    NightHead, night_document, night_json, night_page, night_picture, night_warnings, run_sheet,
    sheet_csv, sheet_page,
};
pub use panels::{Overlaps, panels_csv, panels_document, panels_picture};
#[cfg(feature = "schema")]
pub(crate) use panels_json::PanelsResult;
pub use panels_json::panels_json;
