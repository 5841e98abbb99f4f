//! A finished picture, and why one could not be made.

use super::sheet::Sheet;

/// One drawing in several forms.
#[derive(Debug, Clone)]
pub struct Picture {
    /// An `<svg>` element with a `viewBox`, a `<title>` and no fixed size. It can be a file or a part of HTML.
    pub svg: String,
    /// The SVG laid out for a narrow screen; `None` if the picture has no such form.
    pub narrow: Option<String>,
    pub(super) sheet: Sheet,
}

impl Picture {
    /// The picture as a PNG file, two pixels for a unit of the SVG.
    ///
    /// # Errors
    /// [`PlotError`].
    pub fn png(&self) -> Result<Vec<u8>, PlotError> {
        #[cfg(target_family = "wasm")]
        return Err(PlotError::Drawing(format!(
            "{}: pages draw no PNG",
            self.sheet.title
        )));
        #[cfg(not(target_family = "wasm"))]
        super::bitmap::png(&self.sheet)
    }
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
