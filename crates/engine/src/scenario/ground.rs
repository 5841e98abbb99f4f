//! The arc and the keep-outs: how much of a leg lies outside the one or inside the others.

use crate::angle::{AngleSpan, Sectors, TURN_DEG, overlap_deg};
use crate::controller::Wrap;
use crate::plant::Travel;
use crate::rig::KeepOut;

/// The allowed arc, band included, and the keep-out sectors.
///
/// With endless travel both repeat every turn. Between stops they lie on the line of readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground {
    arc: Sectors,
    arc_span: AngleSpan,
    keep_out: Sectors,
    /// A leg between readings of this span touches neither the outside of the arc nor a keep-out.
    plain: AngleSpan,
}

impl Ground {
    pub(crate) fn new(wrap: &Wrap, travel: Travel, keep_out: &[KeepOut]) -> Self {
        let from = wrap.start_deg() - wrap.band_deg();
        let to = wrap.start_deg() + wrap.width_deg() + wrap.band_deg();
        let arc = match travel {
            Travel::Endless => Sectors::on_circle([(from, to - from)]),
            Travel::Stops { .. } => Sectors::on_line([AngleSpan::new(from, to)]),
        };
        let keep_out = keep_out_sectors(travel, keep_out);
        let allowed = if arc.is_everything() {
            AngleSpan::ALL
        } else {
            AngleSpan::new(from, to)
        };
        Self {
            plain: keep_out.clear_part(allowed, 0.5 * (from + to)),
            arc,
            arc_span: AngleSpan::new(from, to),
            keep_out,
        }
    }

    /// A leg between readings of this span touches neither the outside of the arc nor a keep-out.
    #[inline(always)]
    pub(crate) fn plain(&self) -> AngleSpan {
        self.plain
    }

    fn is_plain(&self, from_deg: f64, to_deg: f64) -> bool {
        self.plain.contains(from_deg) && self.plain.contains(to_deg)
    }

    /// Degrees of a straight leg outside the allowed arc \[deg\].
    #[inline]
    pub(crate) fn outside_arc_deg(&self, from_deg: f64, to_deg: f64) -> f64 {
        if self.arc.is_everything() || self.is_plain(from_deg, to_deg) {
            return 0.0;
        }
        let (span, turning) = self.arc();
        outside_deg(span, turning, from_deg, to_deg)
    }

    /// Degrees of a straight leg inside keep-out sectors \[deg\].
    #[inline]
    pub fn keep_out_deg(&self, from_deg: f64, to_deg: f64) -> f64 {
        if self.keep_out.is_empty() || self.is_plain(from_deg, to_deg) {
            return 0.0;
        }
        let (spans, turning) = (self.keep_out.spans(), self.keep_out.turning());
        let inside = spans
            .iter()
            .map(|span| overlap_deg(*span, turning, from_deg, to_deg));
        inside.fold(0.0, |sum, inside| sum + inside)
    }

    /// Whether a reading lies inside a keep-out.
    #[must_use]
    pub fn in_keep_out(&self, reading_deg: f64) -> bool {
        /// Half of a short leg about the reading \[deg\]. Inside, all of it lies in a keep-out.
        const HALF_DEG: f64 = 1e-6;
        self.keep_out_deg(reading_deg - HALF_DEG, reading_deg + HALF_DEG) > 1.5 * HALF_DEG
    }

    /// The arc, band included, and whether it repeats every turn.
    #[inline(always)]
    pub(crate) fn arc(&self) -> (AngleSpan, bool) {
        (self.arc_span, self.arc.turning())
    }

    /// Whether the arc has no outside.
    #[inline(always)]
    pub(crate) fn arc_is_everything(&self) -> bool {
        self.arc.is_everything()
    }

    #[inline(always)]
    pub(crate) fn keep_out(&self) -> &Sectors {
        &self.keep_out
    }
}

/// Degrees of a straight leg outside one span \[deg\].
#[inline(always)]
pub fn outside_deg(span: AngleSpan, turning: bool, from_deg: f64, to_deg: f64) -> f64 {
    let outside = (to_deg - from_deg).abs() - overlap_deg(span, turning, from_deg, to_deg);
    if outside > 0.0 { outside } else { 0.0 }
}

/// The keep-out sectors of a rig for a kind of travel.
pub fn keep_out_sectors(travel: Travel, keep_out: &[KeepOut]) -> Sectors {
    match travel {
        Travel::Endless => Sectors::on_circle(keep_out.iter().map(|k| {
            let width = k.to_deg - k.from_deg;
            (
                k.from_deg,
                if width < 0.0 {
                    width.rem_euclid(TURN_DEG)
                } else {
                    width
                },
            )
        })),
        Travel::Stops { .. } => Sectors::on_line(
            keep_out
                .iter()
                .map(|k| AngleSpan::new(k.from_deg, k.to_deg)),
        ),
    }
}
