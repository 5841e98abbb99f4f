//! The two forms of a picture: for a page and for a narrow screen.

/// The form of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Layout {
    /// For a page or a wide screen.
    Wide,
    /// For a telephone held upright. Letters keep their size, but the picture is narrower.
    Narrow,
}

/// Width of the narrow form.
const NARROW: f64 = 400.0;

impl Layout {
    /// Width of the sheet in this form. `wide` is that of the wide form.
    pub(super) fn width(self, wide: f64) -> f64 {
        self.of(wide, NARROW)
    }

    /// One of two values.
    pub(super) fn of<T>(self, wide: T, narrow: T) -> T {
        match self {
            Self::Wide => wide,
            Self::Narrow => narrow,
        }
    }
}
