//! A span of angles or readings.

/// A span from one angle or reading up to another \[deg\].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AngleSpan {
    /// Where it begins \[deg\].
    pub from_deg: f64,
    /// Where it ends \[deg\].
    pub to_deg: f64,
}

impl AngleSpan {
    /// All angles.
    pub const ALL: Self = Self::new(f64::NEG_INFINITY, f64::INFINITY);

    /// No angle. Widening it by any other span gives that span.
    pub const NOTHING: Self = Self::new(f64::INFINITY, f64::NEG_INFINITY);

    /// A span with these ends \[deg\].
    #[inline(always)]
    #[must_use]
    pub const fn new(from_deg: f64, to_deg: f64) -> Self {
        Self { from_deg, to_deg }
    }

    /// Whether an angle or reading \[deg\] lies in the span, ends included.
    #[inline(always)]
    #[must_use]
    pub fn contains(self, deg: f64) -> bool {
        deg >= self.from_deg && deg <= self.to_deg
    }

    /// The smallest span that holds both.
    #[must_use]
    pub fn widened_by(self, other: Self) -> Self {
        Self::new(
            self.from_deg.min(other.from_deg),
            self.to_deg.max(other.to_deg),
        )
    }

    /// The span, moved up by `by_deg`.
    #[inline(always)]
    #[must_use]
    pub fn moved(self, by_deg: f64) -> Self {
        Self::new(self.from_deg + by_deg, self.to_deg + by_deg)
    }
}
