use thiserror::Error;

/// Why a file gives no position angle.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum FitsError {
    /// The file cannot be read.
    #[error("cannot be read: {0}")]
    Read(#[from] std::io::Error),
    /// The file is not a FITS file.
    #[error("not a FITS file: {0}")]
    NotFits(&'static str),
    /// The file ends too early.
    #[error("truncated: {0}")]
    Truncated(String),
    /// A key of the header is missing or has an impossible value.
    #[error("{key}{}: {allowed}", .value.as_ref().map(|v| format!(" = {v}")).unwrap_or_default())]
    Key {
        /// The key.
        key: String,
        /// Its value as written; `None` if the key is missing.
        value: Option<String>,
        /// What is wrong with it.
        allowed: String,
    },
    /// No header has celestial coordinates.
    #[error("no header has CTYPEi of RA and DEC. Plate-solve the image first")]
    NotCelestial,
    /// The coordinates are of another kind.
    #[error(
        "CTYPEi are {0}, but a position angle needs RA and DEC. Solve in equatorial coordinates"
    )]
    NotEquatorial(String),
    /// The reader does not know this kind of header.
    #[error("{0}")]
    Unsupported(String),
}
