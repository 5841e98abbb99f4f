//! The wrap rules: from a wanted drive angle to a commanded one (docs/model.md, section 5).

use super::Command;
use crate::angle::{TURN_DEG, fold_finite, residual_finite};
use crate::plant::Travel;
use crate::rig::Rule;

/// One wrap rule with its arc.
///
/// The allowed arc is the half-open `[start, start + width)`. Its two ends are the seam. With endless travel, whole
/// turns first bring a wanted angle within 180 degrees of the centre of the arc. Between stops it stays as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wrap {
    /// Start of the arc \[deg\].
    start_deg: f64,
    /// Width of the arc: a turn for the full circle, else one period \[deg\].
    width_deg: f64,
    /// How far a correction may leave the arc without a fold \[deg\].
    band_deg: f64,
    /// A correction from this angle up to below the next stays where it is \[deg\]. None does if this one is larger.
    stay_from_deg: f64,
    stay_to_deg: f64,
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
        let width_deg = match rule {
            Rule::FullCircle => TURN_DEG,
            Rule::HalfCircle | Rule::HysteresisBand | Rule::FoldOnce => period_deg,
        };
        let band_deg = match rule {
            Rule::HysteresisBand => band_deg,
            Rule::FullCircle | Rule::HalfCircle | Rule::FoldOnce => 0.0,
        };
        let (stay_from_deg, stay_to_deg) = match rule {
            Rule::FullCircle | Rule::HalfCircle => (f64::INFINITY, f64::NEG_INFINITY),
            Rule::HysteresisBand => (start_deg - band_deg, start_deg + width_deg + band_deg),
            Rule::FoldOnce => (f64::NEG_INFINITY, f64::INFINITY),
        };
        Self {
            start_deg,
            width_deg,
            band_deg,
            stay_from_deg,
            stay_to_deg,
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

    /// How far a correction may leave the arc without a fold \[deg\]; 0 if the rule has no band.
    #[must_use]
    pub fn band_deg(&self) -> f64 {
        self.band_deg
    }

    /// The command for the first move of a run, which always folds.
    #[inline]
    #[must_use]
    pub fn first(&self, wanted_deg: f64) -> Command {
        let wanted_deg = self.nearest_turn(wanted_deg);
        Command {
            drive_deg: self.fold(wanted_deg),
            wanted_deg,
        }
    }

    /// The command for a correction. It has no branch, and neither have the functions that it calls.
    #[inline(always)]
    #[must_use]
    pub fn correction(&self, wanted_deg: f64) -> Command {
        let wanted_deg = self.nearest_turn(wanted_deg);
        let stays = (wanted_deg >= self.stay_from_deg) & (wanted_deg < self.stay_to_deg);
        let folded_deg = self.fold(wanted_deg);
        Command {
            drive_deg: if stays { wanted_deg } else { folded_deg },
            wanted_deg,
        }
    }

    /// Calls `at` with every wanted angle at which the command of a correction jumps \[deg\], and the period with
    /// which it repeats, if it does \[deg\].
    pub(crate) fn jumps(&self, mut at: impl FnMut(f64, Option<f64>)) {
        let turn = self.endless.then_some(TURN_DEG);
        at(self.start_deg, Some(self.width_deg));
        if self.endless {
            at(self.start_deg + 0.5 * self.width_deg + 180.0, turn);
        }
        for edge_deg in [self.stay_from_deg, self.stay_to_deg] {
            if edge_deg.is_finite() {
                at(edge_deg, turn);
            }
        }
    }

    #[inline(always)]
    fn fold(&self, wanted_deg: f64) -> f64 {
        fold_finite(wanted_deg, self.start_deg, self.width_deg)
    }

    /// With endless travel, the angle in `(centre - 180, centre + 180]`; between stops, the angle itself.
    #[inline(always)]
    fn nearest_turn(&self, wanted_deg: f64) -> f64 {
        let centre_deg = self.start_deg + 0.5 * self.width_deg;
        let near_deg = centre_deg + residual_finite(wanted_deg - centre_deg, TURN_DEG);
        if self.endless { near_deg } else { wanted_deg }
    }
}
