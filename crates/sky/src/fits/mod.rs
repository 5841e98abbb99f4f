//! A FITS file -> the position angle of its image.
//!
//! It follows the FITS standard 4.0 (FITS Working Group 2018), sections 4 and 8, and its papers on world coordinates:
//! Greisen & Calabretta 2002 (paper I) and Calabretta & Greisen 2002 (paper II). It reads only headers and skips
//! images.
//!
//! This module reads the cards itself. The available libraries load the whole image or need an asynchronous runtime,
//! and none keeps a number as written. `fit` needs that to find the step of a reading.

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
