//! The wrap rules: from a wanted drive angle to a commanded one (docs/model.md, section 5).

use super::Command;
use crate::angle::{TURN_DEG, fold_finite, residual_finite};
use crate::plant::Travel;
use crate::rig::Rule;

/// One wrap rule with its arc.
///
/// The allowed arc is the half-open `[start, start + width)`; its two ends are the seam. With endless
/// travel a wanted angle is first brought by whole turns within 180 degrees of the centre of the arc;
/// between stops it is taken as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wrap {
    rule: Rule,
    /// \[deg\]
    start_deg: f64,
    /// Width of the arc: a turn for the full circle, else one period \[deg\].
    width_deg: f64,
    /// \[deg\]
    band_deg: f64,
    endless: bool,
}

impl Wrap {
    /// A rule over an arc. All arguments are finite.
    pub(crate) fn new(
        rule: Rule,
        start_deg: f64,
        period_deg: f64,
        band_deg: f64,
        travel: Travel,
    ) -> Self {
        Self {
            rule,
            start_deg,
            width_deg: match rule {
                Rule::FullCircle => TURN_DEG,
                Rule::HalfCircle | Rule::HysteresisBand | Rule::FoldOnce => period_deg,
            },
            band_deg: match rule {
                Rule::HysteresisBand => band_deg,
                Rule::FullCircle | Rule::HalfCircle | Rule::FoldOnce => 0.0,
            },
            endless: travel == Travel::Endless,
        }
    }

    /// Width of the allowed arc \[deg\].
    #[must_use]
    pub fn width_deg(&self) -> f64 {
        self.width_deg
    }

    /// Where the allowed arc starts \[deg\].
    #[must_use]
    pub fn start_deg(&self) -> f64 {
        self.start_deg
    }

    /// How far a correction may leave the arc without a fold \[deg\]; 0 where the rule has no band.
    #[must_use]
    pub fn band_deg(&self) -> f64 {
        self.band_deg
    }

    /// The command for the first move of a run: always folded.
    #[inline]
    #[must_use]
    pub fn first(&self, wanted_deg: f64) -> Command {
        let wanted_deg = self.nearest_turn(wanted_deg);
        Command {
            drive_deg: self.fold(wanted_deg),
            wanted_deg,
        }
    }

    /// The command for a correction.
    #[inline]
    #[must_use]
    pub fn correction(&self, wanted_deg: f64) -> Command {
        let wanted_deg = self.nearest_turn(wanted_deg);
        let stays = match self.rule {
            Rule::FullCircle | Rule::HalfCircle => false,
            Rule::FoldOnce => true,
            Rule::HysteresisBand => {
                wanted_deg >= self.start_deg - self.band_deg
                    && wanted_deg < self.start_deg + self.width_deg + self.band_deg
            }
        };
        Command {
            drive_deg: if stays {
                wanted_deg
            } else {
                self.fold(wanted_deg)
            },
            wanted_deg,
        }
    }

    #[inline]
    fn fold(&self, wanted_deg: f64) -> f64 {
        fold_finite(wanted_deg, self.start_deg, self.width_deg)
    }

    #[inline]
    fn nearest_turn(&self, wanted_deg: f64) -> f64 {
        if !self.endless {
            return wanted_deg;
        }
        let centre = self.start_deg + 0.5 * self.width_deg;
        let half = 0.5 * TURN_DEG;
        if wanted_deg > centre - half && wanted_deg <= centre + half {
            wanted_deg
        } else {
            centre + residual_finite(wanted_deg - centre, TURN_DEG)
        }
    }
}
