//! A finished picture, and why one could not be made.

/// One drawing in several forms.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// An `<svg>` element with a `viewBox`, a `<title>` and no fixed size. It can be a file or a part of HTML.
    pub svg: String,
    /// The SVG laid out for a narrow screen; `None` if the picture has no such form.
    pub narrow: Option<String>,
    /// A PNG file, two pixels for a unit of the SVG.
    pub png: Vec<u8>,
}

/// Why a picture could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PlotError {
    /// The built-in fonts are damaged.
    #[error("the built-in fonts cannot be read")]
    Font,
    /// The drawing library failed.
    #[error("drawing failed: {0}")]
    Drawing(String),
    /// The PNG could not be encoded.
    #[error("the PNG cannot be written: {0}")]
    Encoding(#[from] png::EncodingError),
}
