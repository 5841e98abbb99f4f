//! A range of readings, and what ends it.

use std::fmt;

use serde::Serialize;

use crate::wording::degrees;

/// Planned readings have this many parts in a degree: two decimals.
pub(super) const DECIMALS: f64 = 100.0;

/// What ends a range of readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RangeLimit {
    /// A stop of the drive.
    Stop,
    /// The cable limit.
    Cable,
    /// A keep-out with its margin.
    KeepOut,
    /// A whole turn, which is enough.
    Turn,
    /// The user's own limit.
    Asked,
}

/// One end of a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RangeEnd {
    /// Reading \[deg\].
    pub at_deg: f64,
    /// Why the range ends there.
    pub limit: RangeLimit,
}

/// Readings that a plan may send the drive to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Lower end.
    pub from: RangeEnd,
    /// Upper end.
    pub to: RangeEnd,
}

impl Range {
    pub(super) fn new(low_deg: f64, high_deg: f64, limit: RangeLimit) -> Self {
        Self {
            from: RangeEnd::new(low_deg, limit),
            to: RangeEnd::new(high_deg, limit),
        }
    }

    pub(super) fn narrow(&mut self, low_deg: f64, high_deg: f64, limit: RangeLimit) {
        if low_deg > self.from.at_deg {
            self.from = RangeEnd::new(low_deg, limit);
        }
        if high_deg < self.to.at_deg {
            self.to = RangeEnd::new(high_deg, limit);
        }
    }
}

impl RangeEnd {
    pub(super) fn new(at_deg: f64, limit: RangeLimit) -> Self {
        Self { at_deg, limit }
    }

    pub(super) fn rounded_up(self) -> Self {
        // Adding 0.0 turns -0.0 into 0.0.
        let at_deg = (DECIMALS * self.at_deg).ceil() / DECIMALS + 0.0;
        Self { at_deg, ..self }
    }

    pub(super) fn rounded_down(self) -> Self {
        let at_deg = (DECIMALS * self.at_deg).floor() / DECIMALS + 0.0;
        Self { at_deg, ..self }
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (from, to) = (self.from, self.to);
        write!(
            f,
            "from {}° ({}) to {}° ({})",
            degrees(from.at_deg),
            from.limit,
            degrees(to.at_deg),
            to.limit
        )
    }
}

impl fmt::Display for RangeLimit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Stop => "a stop",
            Self::Cable => "the cable limit",
            Self::KeepOut => "near a keep-out",
            Self::Turn => "a whole turn",
            Self::Asked => "your choice",
        })
    }
}
