//! A FITS file -> the position angle of its image.
//!
//! By the FITS standard 4.0 (FITS Working Group 2018), sections 4 and 8, and its papers on world coordinates: Greisen &
//! Calabretta 2002 (paper I) and Calabretta & Greisen 2002 (paper II). Only headers are read; an image is skipped.
//!
//! The cards are read by this module, not by a library: those at hand want the whole image in memory or bring an asynchronous
//! runtime, and none keeps a number as it was written, from which `fit` tells the step of a reading.

mod axes;
mod card;
mod error;
mod file;
mod frame;
mod header;
mod matrix;
mod orientation;
#[cfg(test)]
mod tests;

pub use error::FitsError;
pub use file::{Image, read_image};
pub use frame::Frame;
pub use header::Header;
pub use orientation::{Orientation, orientation};

impl FitsError {
    fn key(key: &str, value: Option<&str>, allowed: impl Into<String>) -> Self {
        Self::Key {
            key: key.to_owned(),
            value: value.map(str::to_owned),
            allowed: allowed.into(),
        }
    }
}
