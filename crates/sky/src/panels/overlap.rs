//! How much neighbouring panels still overlap on the sphere.

use super::{Mosaic, Panel};
use crate::plane::{Plane, Vector, cos_deg};
use halfturn_engine::angle::sin_deg;

/// On which side a neighbour lies.
#[derive(Clone, Copy)]
enum Side {
    Right,
    Below,
}

impl Mosaic {
    /// Smallest share of a side by which two neighbours overlap on the sphere, if every panel may be turned by up to
    /// `error_deg` either way. Below 0 a gap opens. `None` for a single panel, or if frames are too large to see each
    /// other.
    ///
    /// Each frame is a rectangle in the plane that touches the sphere at its middle. An edge is a great circle and
    /// therefore a straight line in the plane of the neighbour: the least overlap is at an end of the common part.
    #[must_use]
    pub fn least_overlap(&self, panels: &[Panel], error_deg: f64) -> Option<f64> {
        let mut least: Option<f64> = None;
        let columns = self.columns as usize;
        for (i, panel) in panels.iter().enumerate() {
            let right = (panel.column < self.columns).then(|| (Side::Right, i + 1));
            let below = (panel.row < self.rows).then_some((Side::Below, i + columns));
            for (side, other) in [right, below].into_iter().flatten() {
                for (one_deg, two_deg) in turns(error_deg) {
                    let one = Footprint::of(self, panel, one_deg);
                    let two = Footprint::of(self, panels.get(other)?, two_deg);
                    let share = one.shared(&two, side)?;
                    least = Some(least.map_or(share, |l| l.min(share)));
                }
            }
        }
        least
    }
}

/// The errors of two neighbours to try \[deg\].
fn turns(error_deg: f64) -> Vec<(f64, f64)> {
    if error_deg == 0.0 {
        return vec![(0.0, 0.0)];
    }
    let e = error_deg;
    vec![(e, e), (e, -e), (-e, e), (-e, -e)]
}

/// A frame on the sphere.
pub(super) struct Footprint {
    plane: Plane,
    /// Up and right, as components to the east and to the north.
    up: (f64, f64),
    half_width_deg: f64,
    half_height_deg: f64,
}

impl Footprint {
    pub(super) fn of(mosaic: &Mosaic, panel: &Panel, turned_deg: f64) -> Self {
        let angle_deg = panel.position_angle_deg + turned_deg;
        Self {
            plane: Plane::new(panel.place),
            up: (sin_deg(angle_deg), cos_deg(angle_deg)),
            half_width_deg: 0.5 * mosaic.width_deg,
            half_height_deg: 0.5 * mosaic.height_deg,
        }
    }

    /// The direction of a corner. `right` and `up` are each 1 or -1.
    pub(super) fn corner(&self, right: f64, up: f64) -> Vector {
        let (along, above) = (right * self.half_width_deg, up * self.half_height_deg);
        let (sine, cosine) = self.up;
        self.plane.towards(
            -along * cosine + above * sine,
            along * sine + above * cosine,
        )
    }

    /// A direction in this frame: to the right of its middle and above it \[deg\]; `None` if it is out of sight.
    fn seen(&self, v: Vector) -> Option<(f64, f64)> {
        let (x, y) = self.plane.project(v)?;
        let (sine, cosine) = self.up;
        Some((-x * cosine + y * sine, x * sine + y * cosine))
    }

    /// Least overlap with a neighbour on that side, as a share of the side.
    fn shared(&self, other: &Self, side: Side) -> Option<f64> {
        let (mine, its) = match side {
            Side::Right => (
                self.covered(other, [(-1.0, 1.0), (-1.0, -1.0)], side, 1.0)?,
                other.covered(self, [(1.0, 1.0), (1.0, -1.0)], side, -1.0)?,
            ),
            Side::Below => (
                self.covered(other, [(-1.0, 1.0), (1.0, 1.0)], side, -1.0)?,
                other.covered(self, [(-1.0, -1.0), (1.0, -1.0)], side, 1.0)?,
            ),
        };
        Some(mine.min(its))
    }

    /// How far the neighbour's near edge, between two of its corners, lies inside this frame's edge on the side of
    /// `sign`: the least value, as a share of the side.
    fn covered(&self, other: &Self, edge: [(f64, f64); 2], side: Side, sign: f64) -> Option<f64> {
        // Across the common edge, and along it.
        let turned = |(x, y): (f64, f64)| match side {
            Side::Right => (sign * x, y),
            Side::Below => (sign * y, x),
        };
        let (half, reach) = match side {
            Side::Right => (self.half_width_deg, self.half_height_deg),
            Side::Below => (self.half_height_deg, self.half_width_deg),
        };
        let [a, b] = edge.map(|(right, up)| self.seen(other.corner(right, up)).map(turned));
        let (a, b) = (a?, b?);
        let across_at = |along: f64| {
            let along = along.clamp(a.1.min(b.1), a.1.max(b.1));
            let t = (along - a.1) / (b.1 - a.1);
            a.0 + t * (b.0 - a.0)
        };
        let ends = [a.1, b.1].map(|along| across_at(along.clamp(-reach, reach)));
        let share = (half - ends[0].max(ends[1])) / (2.0 * half);
        share.is_finite().then_some(share)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{SkyPlace, lay_out};
    use super::*;

    fn pair(columns: u32, rows: u32, dec_deg: f64) -> Mosaic {
        Mosaic {
            name: "pair".to_owned(),
            centre: SkyPlace {
                ra_deg: 359.9,
                dec_deg,
            },
            columns,
            rows,
            width_deg: 0.02,
            height_deg: 0.01,
            overlap: 0.2,
            position_angle_deg: 77.0,
        }
    }

    /// Frames of a minute of arc lie on a plane: the overlap is the one that was asked for.
    /// Shows (sky): smallest overlap, and what a rotation error leaves. With: `a_common_turn_goes_by_the_cosine`,
    /// `a_large_error_opens_a_gap`. Source: by hand.
    #[test]
    fn small_frames_overlap_as_on_paper() {
        for (columns, rows) in [(2, 1), (1, 2), (3, 3)] {
            let mosaic = pair(columns, rows, 70.0);
            let panels = lay_out(&mosaic).expect("a mosaic");
            let share = mosaic.least_overlap(&panels, 0.0).expect("neighbours");
            assert!((share - 0.2).abs() < 1e-6, "{share}");
        }
        let one = pair(1, 1, 70.0);
        let panels = lay_out(&one).expect("a mosaic");
        assert_eq!(one.least_overlap(&panels, 0.0), None);
    }

    /// Worked by hand in the plane: two squares, both turned by +t. The frames stay parallel and overlap by `w - s
    /// cos t` along the turned axis, with `s` the step.
    #[test]
    fn a_common_turn_goes_by_the_cosine() {
        let mut mosaic = pair(2, 1, 10.0);
        mosaic.height_deg = mosaic.width_deg;
        let panels = lay_out(&mosaic).expect("a mosaic");
        let (t, step) = (3.0_f64.to_radians(), 0.8);
        let one = Footprint::of(&mosaic, &panels[0], 3.0);
        let two = Footprint::of(&mosaic, &panels[1], 3.0);
        let share = one.shared(&two, Side::Right).expect("neighbours");
        assert!((share - (1.0 - step * t.cos())).abs() < 1e-6, "{share}");
        // Turned against each other they lose more: opposite errors give the least.
        let least = mosaic.least_overlap(&panels, 3.0).expect("neighbours");
        assert!(least < share - 0.01, "{least}");
    }

    #[test]
    fn a_large_error_opens_a_gap() {
        let mosaic = pair(2, 2, -45.0);
        let panels = lay_out(&mosaic).expect("a mosaic");
        assert!(mosaic.least_overlap(&panels, 40.0).expect("neighbours") < 0.0);
    }
}
