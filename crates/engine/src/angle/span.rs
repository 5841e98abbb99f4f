//! A span of angles or readings.

/// From one angle or reading up to another \[deg\].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AngleSpan {
    /// Where it begins \[deg\].
    pub from_deg: f64,
    /// Where it ends \[deg\].
    pub to_deg: f64,
}

impl AngleSpan {
    /// Everything.
    pub const ALL: Self = Self::new(f64::NEG_INFINITY, f64::INFINITY);

    /// The span that holds nothing: it widens to any other.
    pub const NOTHING: Self = Self::new(f64::INFINITY, f64::NEG_INFINITY);

    /// From here to there \[deg\].
    #[inline(always)]
    #[must_use]
    pub const fn new(from_deg: f64, to_deg: f64) -> Self {
        Self { from_deg, to_deg }
    }

    /// An angle or reading lies in it or on an end.
    #[inline(always)]
    #[must_use]
    pub fn contains(self, deg: f64) -> bool {
        deg >= self.from_deg && deg <= self.to_deg
    }

    /// The same, so many degrees farther on.
    #[inline(always)]
    #[must_use]
    pub fn moved(self, by_deg: f64) -> Self {
        Self::new(self.from_deg + by_deg, self.to_deg + by_deg)
    }
}
