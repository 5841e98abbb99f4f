//! The ground that a drive covers: how much of a leg lies outside the arc or inside a keep-out.

use crate::angle::{Sectors, TURN_DEG};
use crate::controller::Wrap;
use crate::plant::Travel;
use crate::rig::KeepOut;

/// The allowed arc, band included, and the keep-out sectors.
///
/// With endless travel both repeat every turn; between stops they lie on the line of readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground {
    arc: Sectors,
    /// The arc on the line of readings, for a quick answer \[deg\].
    arc_span_deg: (f64, f64),
    keep_out: Sectors,
}

impl Ground {
    pub(crate) fn new(wrap: &Wrap, travel: Travel, keep_out: &[KeepOut]) -> Self {
        let from = wrap.start_deg() - wrap.band_deg();
        let to = wrap.start_deg() + wrap.width_deg() + wrap.band_deg();
        Self {
            arc: match travel {
                Travel::Endless => Sectors::on_circle([(from, to - from)]),
                Travel::Stops { .. } => Sectors::on_line([(from, to)]),
            },
            arc_span_deg: (from, to),
            keep_out: keep_out_sectors(travel, keep_out),
        }
    }

    /// Degrees of a straight leg outside the allowed arc.
    #[inline]
    pub(super) fn outside_arc_deg(&self, from_deg: f64, to_deg: f64) -> f64 {
        let (low, high) = self.arc_span_deg;
        let within = |x: f64| x >= low && x <= high;
        if (within(from_deg) && within(to_deg)) || self.arc.is_everything() {
            return 0.0;
        }
        let outside = (to_deg - from_deg).abs() - self.arc.inside_deg(from_deg, to_deg);
        outside.max(0.0)
    }

    /// Degrees of a straight leg inside keep-out sectors.
    #[inline]
    pub(super) fn keep_out_deg(&self, from_deg: f64, to_deg: f64) -> f64 {
        if self.keep_out.is_empty() {
            return 0.0;
        }
        self.keep_out.inside_deg(from_deg, to_deg)
    }
}

/// The keep-out sectors of a rig under a kind of travel.
pub(crate) fn keep_out_sectors(travel: Travel, keep_out: &[KeepOut]) -> Sectors {
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
        Travel::Stops { .. } => Sectors::on_line(keep_out.iter().map(|k| (k.from_deg, k.to_deg))),
    }
}
