//! How fast the field turns in a telescope on an altazimuth mount.

use crate::plane::cos_deg;
use halfturn_engine::angle::sin_deg;

/// Rotation of the Earth against the stars \[deg/h\]: 360.985647 degrees a day (Aoki et al. 1982, Astron. Astrophys.
/// 105, 359).
pub const SIDEREAL_DEG_PER_H: f64 = 360.985_647_366 / 24.0;

/// Rate at which the zenith's position angle changes \[deg/h\]: `-15.041 cos(latitude) cos(azimuth) / cos(altitude)`,
/// with the azimuth from north through east. Its sign is that of the parallactic angle. Infinite at the zenith.
///
/// The rate is the derivative of the parallactic angle over the hour angle, as in telescope handbooks.
#[must_use]
pub fn rotation_deg_per_h(latitude_deg: f64, azimuth_deg: f64, altitude_deg: f64) -> f64 {
    -SIDEREAL_DEG_PER_H * cos_deg(latitude_deg) * cos_deg(azimuth_deg)
        / sin_deg(90.0 - altitude_deg)
}

/// How far from the zenith the field turns at this rate in the meridian, where it turns fastest \[deg\]. Closer to
/// the zenith a drive with that speed cannot follow.
#[must_use]
pub fn zenith_zone_deg(latitude_deg: f64, speed_deg_per_s: f64) -> f64 {
    let share = SIDEREAL_DEG_PER_H / 3600.0 * cos_deg(latitude_deg) / speed_deg_per_s;
    libm::asin(share.min(1.0)).to_degrees()
}
