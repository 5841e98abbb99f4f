//! The gnomonic projection: a tangent plane and the directions in it.
//!
//! Formulas: Calabretta & Greisen 2002 (FITS WCS paper II), section 5.1.3, written with vectors, so that the pole and
//! right ascension 0 are places like any other.

use halfturn_engine::angle::{TURN_DEG, fold_finite, sin_deg};
use halfturn_engine::scenario::Object;

const DEGREES_PER_RADIAN: f64 = 180.0 / std::f64::consts::PI;

/// A vector in equatorial axes: towards RA 0, towards RA 90, towards the north pole.
pub(super) type Vector = [f64; 3];

/// A place on the sphere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkyPlace {
    /// Right ascension \[deg\], in `[0, 360)`.
    pub ra_deg: f64,
    /// Declination \[deg\], in `[-90, 90]`.
    pub dec_deg: f64,
}

impl From<Object> for SkyPlace {
    fn from(object: Object) -> Self {
        Self {
            ra_deg: object.ra_deg,
            dec_deg: object.dec_deg,
        }
    }
}

/// A plane that touches the sphere at a place.
///
/// Its coordinates are x to the east and y to the north, in degrees: `180 / pi` times the tangent. At a pole, north
/// points away from the meridian of the given right ascension, as it does just beside the pole on that meridian.
#[derive(Debug, Clone, Copy)]
pub struct Plane {
    ra_deg: f64,
    centre: Vector,
    east: Vector,
    north: Vector,
}

impl Plane {
    /// The plane at a place with finite coordinates and `|dec_deg| <= 90`.
    #[must_use]
    pub fn new(place: SkyPlace) -> Self {
        let ra_deg = fold_finite(place.ra_deg, 0.0, TURN_DEG);
        let (sin_ra, cos_ra) = (sin_deg(ra_deg), cos_deg(ra_deg));
        let (sin_dec, cos_dec) = (sin_deg(place.dec_deg), cos_deg(place.dec_deg));
        Self {
            ra_deg,
            centre: [cos_dec * cos_ra, cos_dec * sin_ra, sin_dec],
            east: [-sin_ra, cos_ra, 0.0],
            north: [-sin_dec * cos_ra, -sin_dec * sin_ra, cos_dec],
        }
    }

    /// The direction of a point of the plane; not of unit length.
    pub(super) fn towards(&self, x_deg: f64, y_deg: f64) -> Vector {
        let (x, y) = (x_deg / DEGREES_PER_RADIAN, y_deg / DEGREES_PER_RADIAN);
        combine([(1.0, self.centre), (x, self.east), (y, self.north)])
    }

    /// Where a direction meets the plane \[deg\]; `None` if it is 90 degrees away or more.
    pub(super) fn project(&self, v: Vector) -> Option<(f64, f64)> {
        let depth = dot(v, self.centre);
        let length = dot(v, v).sqrt();
        (depth > 1e-9 * length).then(|| {
            let scale = DEGREES_PER_RADIAN / depth;
            (scale * dot(v, self.east), scale * dot(v, self.north))
        })
    }

    /// The place on the sphere of a point of the plane.
    #[must_use]
    pub fn place(&self, x_deg: f64, y_deg: f64) -> SkyPlace {
        let v = self.towards(x_deg, y_deg);
        let across = libm::hypot(v[0], v[1]);
        SkyPlace {
            ra_deg: if across > 0.0 {
                turn_deg(libm::atan2(v[1], v[0]))
            } else {
                self.ra_deg
            },
            dec_deg: DEGREES_PER_RADIAN * libm::atan2(v[2], across),
        }
    }

    /// Position angle of the plane's direction `(to_east, to_north)` at a point of the plane, in `[0, 360)` \[deg\].
    ///
    /// Meridians converge, and the same direction has another angle at the centre.
    #[must_use]
    pub fn position_angle_deg(&self, x_deg: f64, y_deg: f64, to_east: f64, to_north: f64) -> f64 {
        let v = self.towards(x_deg, y_deg);
        let length = dot(v, v).sqrt();
        let across = libm::hypot(v[0], v[1]);
        let (cos_ra, sin_ra) = if across > 0.0 {
            (v[0] / across, v[1] / across)
        } else {
            (cos_deg(self.ra_deg), sin_deg(self.ra_deg))
        };
        let (sin_dec, cos_dec) = (v[2] / length, across / length);
        let east = [-sin_ra, cos_ra, 0.0];
        let north = [-sin_dec * cos_ra, -sin_dec * sin_ra, cos_dec];
        // Both axes are perpendicular to the line of sight, and the part along it drops out.
        let along = combine([(to_east, self.east), (to_north, self.north)]);
        turn_deg(libm::atan2(dot(along, east), dot(along, north)))
    }
}

fn combine<const N: usize>(parts: [(f64, Vector); N]) -> Vector {
    let mut sum = [0.0; 3];
    for (factor, v) in parts {
        for (s, c) in sum.iter_mut().zip(v) {
            *s += factor * c;
        }
    }
    sum
}

fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Radians to degrees in `[0, 360)`.
pub(super) fn turn_deg(angle_rad: f64) -> f64 {
    fold_finite(DEGREES_PER_RADIAN * angle_rad, 0.0, TURN_DEG)
}

pub(super) fn cos_deg(angle_deg: f64) -> f64 {
    sin_deg(angle_deg + 90.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plane(ra_deg: f64, dec_deg: f64) -> Plane {
        Plane::new(SkyPlace { ra_deg, dec_deg })
    }

    /// On the equator the plane is that of the textbooks: RA by the tangent, and the meridians stay parallel.
    #[test]
    fn the_equator_is_simple() {
        let plane = plane(350.0, 0.0);
        let place = plane.place(DEGREES_PER_RADIAN, 0.0);
        assert!((place.ra_deg - 35.0).abs() < 1e-12 && place.dec_deg.abs() < 1e-12);
        assert!(plane.position_angle_deg(20.0, 0.0, 0.0, 1.0).abs() < 1e-12);
    }

    /// From a plane at the pole every meridian is a straight line through the middle.
    #[test]
    fn the_pole_is_a_place_like_any_other() {
        let plane = plane(30.0, 90.0);
        assert_eq!(
            plane.place(0.0, 0.0),
            SkyPlace {
                ra_deg: 30.0,
                dec_deg: 90.0
            }
        );
        assert!(plane.position_angle_deg(0.0, 0.0, 0.0, 1.0).abs() < 1e-12);
        // Up is over the pole, down the meridian of RA 210. There, up is away from the pole.
        let over = plane.place(0.0, DEGREES_PER_RADIAN);
        assert!((over.ra_deg - 210.0).abs() < 1e-12 && (over.dec_deg - 45.0).abs() < 1e-12);
        let up_deg = plane.position_angle_deg(0.0, DEGREES_PER_RADIAN, 0.0, 1.0);
        assert!((up_deg - 180.0).abs() < 1e-12, "{up_deg}");
    }

    #[test]
    fn a_point_comes_back_from_the_sphere() {
        let plane = plane(123.0, -77.0);
        // The length of a direction does not matter.
        let v = plane.towards(11.0, -23.0).map(|c| 0.3 * c);
        let (x, y) = plane.project(v).expect("in front");
        assert!((x - 11.0).abs() < 1e-12 && (y + 23.0).abs() < 1e-12);
        assert_eq!(plane.project([0.0, 0.0, 1.0]), None);
    }
}
