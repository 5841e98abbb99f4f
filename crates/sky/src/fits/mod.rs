//! A FITS file -> the position angle of its image.
//!
//! By the FITS standard 4.0 (FITS Working Group 2018), sections 4 and 8, and its papers on world coordinates: Greisen &
//! Calabretta 2002 (paper I) and Calabretta & Greisen 2002 (paper II). Only headers are read; an image is skipped.
//!
//! The cards are read by this module, not by a library: those at hand want the whole image in memory or bring an asynchronous
//! runtime, and none keeps a number as it was written, from which `fit` tells the step of a reading.

mod axes;
mod card;
mod file;
mod frame;
mod header;
mod matrix;
mod orientation;
#[cfg(test)]
mod tests;

pub use file::{Image, read_image};
pub use frame::Frame;
pub use header::Header;
pub use orientation::{Orientation, orientation};

use thiserror::Error;

/// Why a file tells no position angle.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum FitsError {
    /// The file system said no.
    #[error("cannot be read: {0}")]
    Read(#[from] std::io::Error),
    /// It is something else.
    #[error("not a FITS file: {0}")]
    NotFits(&'static str),
    /// It ends too early.
    #[error("truncated: {0}")]
    Truncated(String),
    /// A key of the header is missing, or has a value that it cannot have.
    #[error("{key}{}: {allowed}", .value.as_ref().map(|v| format!(" = {v}")).unwrap_or_default())]
    Key {
        /// The key.
        key: String,
        /// Its value as written.
        value: Option<String>,
        /// What is wrong.
        allowed: String,
    },
    /// No header has celestial coordinates.
    #[error(
        "not celestial: no header of the file has CTYPEi of RA and DEC; plate-solve the image first"
    )]
    NotCelestial,
    /// The coordinates are of another kind.
    #[error("not equatorial: CTYPEi are {0}; a position angle needs RA and DEC")]
    NotEquatorial(String),
    /// The header is one that this reader does not follow.
    #[error("{0}")]
    Unsupported(String),
}

impl FitsError {
    fn key(key: &str, value: Option<&str>, allowed: impl Into<String>) -> Self {
        Self::Key {
            key: key.to_owned(),
            value: value.map(str::to_owned),
            allowed: allowed.into(),
        }
    }
}
