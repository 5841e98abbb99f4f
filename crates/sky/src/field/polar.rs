//! Field rotation of an equatorial mount whose axis misses the pole.

use crate::plane::cos_deg;
use crate::pointing::{Pointing, SIDEREAL_DEG_PER_H, Site};
use halfturn_engine::angle::sin_deg;

/// Where the mount's axis points, minus the pole above the horizon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoleError {
    /// Too high \[arcmin\].
    pub altitude_arcmin: f64,
    /// Turned too far about the vertical, from north through east \[arcmin\].
    pub azimuth_arcmin: f64,
}

/// A direction: its components to north, east and up. This order is left-handed.
type Direction = [f64; 3];

/// Position angle of the mount's axis from the pole of date \[deg\] at a pointing, and its rate \[deg/h\]. The field
/// in the camera turns as this angle changes.
///
/// Exact for a mount that is otherwise perfect and is guided on the target. For a small error e it is about `e sin(h)
/// / cos(declination)`, with h the hour angle from that of the axis.
#[must_use]
pub fn polar_rotation(site: &Site, error: &PoleError, pointing: &Pointing) -> (f64, f64) {
    let latitude_deg = site.latitude_deg();
    let (north, axis) = axes(latitude_deg, error);
    let at = towards(
        latitude_deg,
        15.0 * pointing.hour_angle_h,
        pointing.dec_of_date_deg,
    );
    // East on the sky grows with right ascension: the cross product in a left-handed order.
    let east = product(at, north);
    // Perpendicular to both: towards the pole.
    let up = product(east, at);
    let angle_deg = libm::atan2(dot(axis, east), dot(axis, up)).to_degrees();
    // The derivative of that over the hour angle: `-cos(latitude) cos(azimuth) / cos(altitude)`, about this axis in
    // place of the zenith.
    let (across, tilt) = (product(axis, at), product(axis, north));
    let slope = dot(across, tilt);
    let rate = if slope == 0.0 {
        0.0
    } else {
        -SIDEREAL_DEG_PER_H * slope / dot(across, across)
    };
    (angle_deg, rate)
}

/// Hour angle of the mount's axis \[deg\].
pub(super) fn axis_hour_deg(site: &Site, error: &PoleError) -> f64 {
    let latitude_deg = site.latitude_deg();
    let (_, [north, east, up]) = axes(latitude_deg, error);
    let south = cos_deg(latitude_deg) * up - sin_deg(latitude_deg) * north;
    libm::atan2(-east, south).to_degrees()
}

/// The north end of the Earth's axis, and of the mount's.
fn axes(latitude_deg: f64, error: &PoleError) -> (Direction, Direction) {
    let north = [cos_deg(latitude_deg), 0.0, sin_deg(latitude_deg)];
    let altitude_deg = latitude_deg.abs() + error.altitude_arcmin / 60.0;
    let azimuth_deg = error.azimuth_arcmin / 60.0;
    let (cos_alt, sin_alt) = (cos_deg(altitude_deg), sin_deg(altitude_deg));
    let visible = [
        cos_alt * cos_deg(azimuth_deg),
        cos_alt * sin_deg(azimuth_deg),
        sin_alt,
    ];
    if latitude_deg >= 0.0 {
        (north, visible)
    } else {
        // The south end is visible, over the south point. Its turn about the vertical has the same direction.
        let [a, b, up] = visible;
        (north, [a, b, -up])
    }
}

fn towards(latitude_deg: f64, hour_deg: f64, dec_deg: f64) -> Direction {
    let (sin_phi, cos_phi) = (sin_deg(latitude_deg), cos_deg(latitude_deg));
    let (sin_dec, cos_dec) = (sin_deg(dec_deg), cos_deg(dec_deg));
    let (sin_h, cos_h) = (sin_deg(hour_deg), cos_deg(hour_deg));
    [
        cos_phi * sin_dec - sin_phi * cos_dec * cos_h,
        -cos_dec * sin_h,
        sin_phi * sin_dec + cos_phi * cos_dec * cos_h,
    ]
}

fn product(a: Direction, b: Direction) -> Direction {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn dot(a: Direction, b: Direction) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfturn_engine::angle::residual_finite;

    fn pointing(hour_angle_h: f64, dec_deg: f64) -> Pointing {
        Pointing {
            hour_angle_h,
            dec_of_date_deg: dec_deg,
            azimuth_deg: 0.0,
            altitude_deg: 0.0,
            parallactic_deg: 0.0,
            zenith_deg: 0.0,
        }
    }

    /// To first order an axis that is off by e towards hour angle H turns the field by `e sin(h - H) / cos(dec)`, the
    /// sine rule in the small triangle of target and both poles. An axis too high is off towards hour angle 0 in the
    /// north, and beyond the south pole away from it.
    /// Shows (sky): an axis that misses the pole: `e sin(h) / cos(declination)`. With:
    /// `the_rate_is_the_slope_of_the_angle`, `a_true_axis_turns_nothing`,
    /// `errors_in_azimuth_act_a_quarter_of_a_turn_later`,
    /// `sky_field::an_axis_that_misses_the_pole_turns_the_field_slowly`. Source: sine rule, by hand; Hook 1989, J.
    /// Brit. Astron. Assoc. 99, 19 (from memory).
    #[test]
    fn small_errors_follow_the_first_order() {
        let error = PoleError {
            altitude_arcmin: 1.0,
            azimuth_arcmin: 0.0,
        };
        let e_deg = 1.0 / 60.0;
        for latitude_deg in [20.0, 50.0, -35.0] {
            let site = Site::new(latitude_deg, 0.0, 0.0).expect("a site");
            for dec_deg in [-20.0, 0.0, 55.0] {
                for hour in [-4.0, -1.0, 2.5] {
                    let (angle, rate) = polar_rotation(&site, &error, &pointing(hour, dec_deg));
                    // In the south the north end goes down as the south end goes up: away from hour angle 12, again
                    // towards 0.
                    let lift = if latitude_deg >= 0.0 { e_deg } else { -e_deg };
                    let scale = lift / cos_deg(dec_deg);
                    // East of north is against growing hour angle.
                    let expected = scale * sin_deg(15.0 * hour);
                    let slope = scale * cos_deg(15.0 * hour) * SIDEREAL_DEG_PER_H.to_radians();
                    let second = 4.0 * e_deg * e_deg.to_radians() / cos_deg(dec_deg).powi(2);
                    assert!(
                        (angle.abs() - expected.abs()).abs() < second,
                        "{angle} {expected}"
                    );
                    assert!((rate.abs() - slope.abs()).abs() < second, "{rate} {slope}");
                    assert_eq!(angle * rate >= 0.0, expected * slope >= 0.0);
                }
            }
        }
    }

    /// The rate is the slope of the angle, even near the pole, where the first order fails.
    #[test]
    fn the_rate_is_the_slope_of_the_angle() {
        let error = PoleError {
            altitude_arcmin: 40.0,
            azimuth_arcmin: -70.0,
        };
        for (latitude_deg, dec_deg) in [(47.0, 88.0), (47.0, 20.0), (-30.0, -87.0), (-30.0, 60.0)] {
            let site = Site::new(latitude_deg, 0.0, 0.0).expect("a site");
            for hour in [-9.0, -2.0, 0.5, 5.0] {
                let at = |hour: f64| polar_rotation(&site, &error, &pointing(hour, dec_deg));
                // In hours: 0.015 degrees to either side.
                let step = 1e-3;
                let change = residual_finite(at(hour + step).0 - at(hour - step).0, 360.0);
                let slope = change / (30.0 * step) * SIDEREAL_DEG_PER_H;
                let rate = at(hour).1;
                let off = (rate - slope).abs();
                assert!(
                    off < 1e-6 * (1.0 + rate.abs()),
                    "{dec_deg} {hour} {rate} {slope}"
                );
            }
        }
    }

    #[test]
    fn a_true_axis_turns_nothing() {
        let site = Site::new(47.0, 0.0, 0.0).expect("a site");
        let none = PoleError {
            altitude_arcmin: 0.0,
            azimuth_arcmin: 0.0,
        };
        let (angle, rate) = polar_rotation(&site, &none, &pointing(3.0, 40.0));
        assert!(angle.abs() < 1e-12 && rate.abs() < 1e-9, "{angle} {rate}");
    }

    /// An axis that is off to the east swings a target in the south differently from an axis that is too high. At
    /// hour angle 0 the first adds no rate but an angle, the second no angle but a rate.
    #[test]
    fn errors_in_azimuth_act_a_quarter_of_a_turn_later() {
        let site = Site::new(47.0, 0.0, 0.0).expect("a site");
        let east = PoleError {
            altitude_arcmin: 0.0,
            azimuth_arcmin: 10.0,
        };
        let (angle, rate) = polar_rotation(&site, &east, &pointing(0.0, 20.0));
        let size_deg = 10.0 / 60.0 * cos_deg(47.0) / cos_deg(20.0);
        // East of the pole is to the east of north.
        assert!((angle - size_deg).abs() < 1e-3, "{angle}");
        assert!(rate.abs() < 1e-3, "{rate}");
    }
}
