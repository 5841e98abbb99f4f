//! The two forms of a picture: for a page, and for a narrow screen.

/// What a picture is laid out for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Layout {
    /// A page or a wide screen.
    Wide,
    /// A telephone held upright: the letters keep their size, the picture is narrower.
    Narrow,
}

/// Width of the narrow form.
const NARROW: f64 = 400.0;

impl Layout {
    /// Width of the sheet, given that of the wide form.
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
