//! How large a rotation error the frame can bear.

use serde::Serialize;

use crate::advise::criteria::Criteria;
use crate::angle::sin_deg;
use crate::rig::Framing;

/// No tolerance is looked for beyond this \[deg\].
const MOST_DEG: f64 = 45.0;

/// Halvings of the search for a limit.
const HALVINGS: u32 = 40;

/// The largest tolerance by each measure \[deg\].
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::not_negative))]
pub struct FrameLimits {
    /// Two nights framed at +T and -T lose no more of the frame than permitted.
    pub area_deg: f64,
    /// The overlap of a mosaic is left as wished at a panel's corners; `None` without an overlap.
    pub mosaic_deg: Option<f64>,
    /// The corner moves no farther than permitted; `None` without such a limit.
    pub corner_deg: Option<f64>,
}

impl FrameLimits {
    /// The strictest of them \[deg\].
    #[must_use]
    pub fn least_deg(&self) -> f64 {
        [Some(self.area_deg), self.mosaic_deg, self.corner_deg]
            .into_iter()
            .flatten()
            .fold(MOST_DEG, f64::min)
    }
}

/// The largest tolerances that a frame bears.
#[must_use]
pub fn tolerance_limits(framing: &Framing, criteria: &Criteria) -> FrameLimits {
    let overlap = framing.mosaic_overlap;
    FrameLimits {
        area_deg: largest(|t| frame_lost(framing, t) <= criteria.max_lost_area),
        mosaic_deg: (overlap > 0.0)
            .then(|| largest(|t| mosaic_left(framing, t) >= criteria.mosaic_keep)),
        corner_deg: criteria
            .max_corner_px
            .map(|px| largest(|t| framing.corner_shift_px(t) <= px)),
    }
}

/// The largest angle \[deg\] for which something holds that holds for small ones.
fn largest(holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.0, MOST_DEG);
    if holds(high) {
        return high;
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// Share of the frame that is lost when the same target is framed at `+tolerance_deg` one night and at
/// `-tolerance_deg` another: what is not in both, of two rectangles about one centre.
#[must_use]
pub fn frame_lost(framing: &Framing, tolerance_deg: f64) -> f64 {
    let (width, height) = (framing.sensor_width_mm, framing.sensor_height_mm);
    let corners = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)];
    let mut common = corners.map(|(x, y)| [x * width, y * height]).to_vec();
    // The sides of the other frame, as seen from the first.
    let turned_deg = 2.0 * tolerance_deg;
    for (off_deg, distance) in [
        (0.0, width),
        (90.0, height),
        (180.0, width),
        (270.0, height),
    ] {
        let angle_deg = turned_deg + off_deg;
        let towards = [sin_deg(angle_deg + 90.0), sin_deg(angle_deg)];
        common = inside(&common, towards, 0.5 * distance);
    }
    (1.0 - area(&common) / (width * height)).clamp(0.0, 1.0)
}

/// What of a convex polygon lies within a distance from the centre along a direction: Sutherland & Hodgman (1974),
/// "Reentrant polygon clipping", Communications of the ACM 17.
fn inside(path: &[[f64; 2]], towards: [f64; 2], distance: f64) -> Vec<[f64; 2]> {
    let beyond = |p: &[f64; 2]| p[0] * towards[0] + p[1] * towards[1] - distance;
    let mut kept = Vec::with_capacity(path.len() + 1);
    for (a, b) in path.iter().zip(path.iter().cycle().skip(1)) {
        let (at_a, at_b) = (beyond(a), beyond(b));
        if at_a <= 0.0 {
            kept.push(*a);
        }
        if (at_a <= 0.0) != (at_b <= 0.0) {
            let share = at_a / (at_a - at_b);
            kept.push([0, 1].map(|i| a[i] + share * (b[i] - a[i])));
        }
    }
    kept
}

/// Area inside a closed path, by the shoelace formula.
fn area(path: &[[f64; 2]]) -> f64 {
    let next = path.iter().cycle().skip(1);
    let twice: f64 = path
        .iter()
        .zip(next)
        .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
        .sum();
    0.5 * twice.abs()
}

/// Share of the overlap of two neighbouring panels that is left at their corners when one is turned by
/// `+tolerance_deg` and the other by `-tolerance_deg`; below 0 where a gap opens. 1 without an overlap.
#[must_use]
pub fn mosaic_left(framing: &Framing, tolerance_deg: f64) -> f64 {
    let overlap = framing.mosaic_overlap;
    if overlap <= 0.0 {
        return 1.0;
    }
    let (sine, versine) = (sin_deg(tolerance_deg), 1.0 - sin_deg(tolerance_deg + 90.0));
    // The corner of each panel moves in by half a side times the sine, and half the other side times 1 - cos.
    let left = |along: f64, across: f64| {
        let lost = across * sine + along * versine;
        1.0 - lost / (overlap * along)
    };
    let (width, height) = (framing.sensor_width_mm, framing.sensor_height_mm);
    left(width, height).min(left(height, width))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sensor(width: f64, height: f64, overlap: f64) -> Framing {
        Framing {
            sensor_width_mm: width,
            sensor_height_mm: height,
            focal_length_mm: 480.0,
            pixel_um: 3.76,
            mosaic_overlap: overlap,
        }
    }

    /// Two squares 45° apart meet in a regular octagon of area `2 (sqrt 2 - 1)` of the square: Euclid's construction.
    /// In general it is `2 / (1 + sin a + cos a)` of it (from memory).
    /// Shows (advice 2): lost area: two rectangles turned by `2 T`. With:
    /// `the_lost_area_is_that_of_points_in_both_frames`. Source: elementary geometry, in part from memory; counted
    /// points.
    #[test]
    fn squares_meet_in_an_octagon() {
        let square = sensor(15.0, 15.0, 0.0);
        let octagon = 2.0 * (2.0_f64.sqrt() - 1.0);
        assert!((frame_lost(&square, 22.5) - (1.0 - octagon)).abs() < 1e-9);
        for t in [0.01, 0.5, 3.0, 10.0] {
            let a = (2.0_f64 * t).to_radians();
            let common = 2.0 / (1.0 + a.sin() + a.cos());
            let found = frame_lost(&square, t);
            assert!((found - (1.0 - common)).abs() < 1e-9, "{t}: {found}");
        }
        assert_eq!(frame_lost(&square, 0.0), 0.0);
    }

    /// The same area counted point by point, by another way than polygons.
    #[test]
    fn the_lost_area_is_that_of_points_in_both_frames() {
        let frame = sensor(23.5, 15.7, 0.0);
        for t in [0.5, 2.0, 7.0] {
            let (n, mut both) = (1000, 0);
            let (sine, cosine) = (
                (2.0_f64 * t).to_radians().sin(),
                (2.0 * t).to_radians().cos(),
            );
            for i in 0..n {
                for k in 0..n {
                    let place =
                        |j: i32, side: f64| ((f64::from(j) + 0.5) / f64::from(n) - 0.5) * side;
                    let (x, y) = (place(i, 23.5), place(k, 15.7));
                    let (u, v) = (x * cosine - y * sine, x * sine + y * cosine);
                    both += i32::from(u.abs() < 11.75 && v.abs() < 7.85);
                }
            }
            let counted = 1.0 - f64::from(both) / f64::from(n * n);
            // The border of about 4 n points is counted to half a point.
            assert!((frame_lost(&frame, t) - counted).abs() < 5e-4, "{t}");
        }
    }

    /// Shows (advice 2): overlap of a mosaic: `h sin T + w (1 - cos T)`. Source: by hand.
    #[test]
    fn an_overlap_ends_where_the_corners_meet() {
        let frame = sensor(24.0, 16.0, 0.15);
        assert_eq!(mosaic_left(&frame, 0.0), 1.0);
        // The long side loses most: 16 * 0.15 = 24 sin T + 16 (1 - cos T).
        let t = 5.6_f64.to_radians();
        let by_hand = 1.0 - (24.0 * t.sin() + 16.0 * (1.0 - t.cos())) / 2.4;
        assert!((mosaic_left(&frame, 5.6) - by_hand).abs() < 1e-12);
        assert!(by_hand < 0.0 && mosaic_left(&frame, 2.0) > 0.0);
        assert_eq!(mosaic_left(&sensor(24.0, 16.0, 0.0), 5.0), 1.0);
    }

    /// Shows (advice 2): a corner moves by `2 r sin(T / 2)`; each limit is just met. Source: by hand.
    #[test]
    fn each_limit_is_just_met() {
        let frame = sensor(23.5, 15.7, 0.15);
        let criteria = Criteria {
            max_corner_px: Some(20.0),
            ..Criteria::default()
        };
        let limits = tolerance_limits(&frame, &criteria);
        assert!((frame_lost(&frame, limits.area_deg) - 0.02).abs() < 1e-6);
        let mosaic = limits.mosaic_deg.expect("an overlap");
        assert!((mosaic_left(&frame, mosaic) - 0.5).abs() < 1e-6);
        let corner = limits.corner_deg.expect("a limit");
        assert!((frame.corner_shift_px(corner) - 20.0).abs() < 1e-6);
        assert_eq!(limits.least_deg(), corner.min(mosaic).min(limits.area_deg));
    }
}
