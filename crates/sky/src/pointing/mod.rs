//! Site and moment -> where a place of the sky stands, and how the field is turned there.
//!
//! The sky is that of the IAU 2006/2000A models, computed by the crate `sofars`: precession, nutation, aberration,
//! light bent by the Sun, and the rotation of the Earth. It leaves out refraction, polar motion and proper motion.
//! `docs/sky.md` has the sizes.

mod crossing;
mod horizon;
mod moon;
mod sun;
mod turning;
mod twilight;

pub use crossing::{Crossing, crossings};
pub use horizon::{Horizon, read_horizon};
pub use moon::Moon;
pub use sun::sun_altitude_deg;
pub use turning::{SIDEREAL_DEG_PER_H, rotation_deg_per_h, zenith_zone_deg};
pub use twilight::{Crossings, DarkHours, Darkness, Twilight, sun_crossings};

use sofars::astro::{IauAstrom, apco13, atciq, atioq};
use thiserror::Error;

use super::plane::{SkyPlace, turn_deg};
use super::time::Moment;
use halfturn_engine::angle::residual_finite;

/// Where the telescope stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    latitude_deg: f64,
    longitude_deg: f64,
    elevation_m: f64,
    dut1_s: f64,
}

/// A site with a number out of its range.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{what} = {value}: must be a number from {low} to {high} {unit}")]
pub struct SiteError {
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
}

impl Site {
    /// A site with this geodetic latitude and longitude, east positive \[deg\], and this height above the ellipsoid
    /// \[m\].
    ///
    /// # Errors
    /// [`SiteError`] for a number out of its range.
    pub fn new(latitude_deg: f64, longitude_deg: f64, elevation_m: f64) -> Result<Self, SiteError> {
        let check = |what, value: f64, low, high, unit| {
            let error = SiteError {
                what,
                value,
                low,
                high,
                unit,
            };
            if (low..=high).contains(&value) {
                Ok(())
            } else {
                Err(error)
            }
        };
        check("latitude", latitude_deg, -90.0, 90.0, "deg")?;
        check("longitude", longitude_deg, -180.0, 360.0, "deg")?;
        check("elevation", elevation_m, -500.0, 9000.0, "m")?;
        Ok(Self {
            latitude_deg,
            longitude_deg,
            elevation_m,
            dut1_s: 0.0,
        })
    }

    /// Reads latitude, longitude and perhaps elevation.
    ///
    /// # Errors
    /// Why they are no site.
    pub fn read(text: &str) -> Result<Self, String> {
        let numbers: Option<Vec<f64>> = text
            .split(',')
            .map(|t| t.trim().parse().ok().filter(|x: &f64| x.is_finite()))
            .collect();
        let (latitude_deg, longitude_deg, elevation_m) = match numbers.as_deref() {
            Some([latitude, longitude]) => (*latitude, *longitude, 0.0),
            Some([latitude, longitude, elevation]) => (*latitude, *longitude, *elevation),
            _ => {
                return Err(
                    "must be degrees north, degrees east and, if you like, metres above the sea, such as 47.3,12.1,1180"
                        .to_owned(),
                );
            }
        };
        Self::new(latitude_deg, longitude_deg, elevation_m).map_err(|e| e.to_string())
    }

    /// The site with a difference of UT1 and UTC \[s\], below a second by convention. Without it the difference
    /// counts as 0, which turns the sky by up to 14 arcseconds.
    #[must_use]
    pub fn with_dut1_s(self, dut1_s: f64) -> Self {
        Self { dut1_s, ..self }
    }

    /// Latitude \[deg\].
    #[must_use]
    pub fn latitude_deg(&self) -> f64 {
        self.latitude_deg
    }

    /// Longitude, east positive \[deg\].
    #[must_use]
    pub fn longitude_deg(&self) -> f64 {
        self.longitude_deg
    }

    /// Height above the ellipsoid \[m\].
    #[must_use]
    pub fn elevation_m(&self) -> f64 {
        self.elevation_m
    }

    /// The sky at a moment.
    #[must_use]
    pub fn sky(&self, at: Moment) -> Sky {
        let mut astrom = IauAstrom::default();
        let mut origins = 0.0;
        let (utc1, utc2) = at.julian();
        // Without air there is no refraction. The status warns of dubious years, and no [`Moment`] has one that
        // fails.
        let _ = apco13(
            utc1,
            utc2,
            self.dut1_s,
            self.longitude_deg.to_radians(),
            self.latitude_deg.to_radians(),
            self.elevation_m,
            0.0,
            0.0,
            0.0,
            0.0,
            0.0,
            0.55,
            &mut astrom,
            &mut origins,
        );
        Sky {
            astrom,
            latitude_rad: self.latitude_deg.to_radians(),
        }
    }
}

/// The sky over a site at a moment. It can point at many places.
#[derive(Debug, Clone)]
pub struct Sky {
    astrom: IauAstrom,
    latitude_rad: f64,
}

/// Where a place of the sky stands. Angles are geometric, without refraction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pointing {
    /// Hour angle, from -12 to 12, positive west of the meridian \[h\].
    pub hour_angle_h: f64,
    /// Declination of date \[deg\].
    pub dec_of_date_deg: f64,
    /// Azimuth from north through east, in `[0, 360)` \[deg\].
    pub azimuth_deg: f64,
    /// Altitude \[deg\].
    pub altitude_deg: f64,
    /// Position angle of the zenith from the pole of date, in `(-180, 180]` \[deg\]: the classical parallactic angle.
    pub parallactic_deg: f64,
    /// Position angle of the zenith from ICRS north \[deg\], as a plate solve counts it.
    pub zenith_deg: f64,
}

impl Pointing {
    /// A pointing by azimuth and altitude \[deg\] over a site. Both angles of the zenith are left at 0.
    #[must_use]
    pub fn towards(site: &Site, azimuth_deg: f64, altitude_deg: f64) -> Self {
        let [hour, dec] = sofars::coords::ae2hd(
            azimuth_deg.to_radians(),
            altitude_deg.to_radians(),
            site.latitude_deg().to_radians(),
        );
        Self {
            hour_angle_h: hour.to_degrees() / 15.0,
            dec_of_date_deg: dec.to_degrees(),
            azimuth_deg,
            altitude_deg,
            parallactic_deg: 0.0,
            zenith_deg: 0.0,
        }
    }

    /// Position angle of the pole of date from ICRS north, in `(-180, 180]` \[deg\].
    #[must_use]
    pub fn pole_of_date_deg(&self) -> f64 {
        residual_finite(self.zenith_deg - self.parallactic_deg, 360.0)
    }
}

/// Step to either side for the direction of ICRS north \[rad\]. Its error grows with the square, rounding with the
/// inverse.
const STEP_RAD: f64 = 1e-5;

impl Sky {
    /// Where an ICRS place stands.
    #[must_use]
    pub fn pointing(&self, place: SkyPlace) -> Pointing {
        let (ra, dec) = (place.ra_deg.to_radians(), place.dec_deg.to_radians());
        let (azimuth, zenith_distance, hour_angle, dec_of_date) = self.observed(ra, dec);
        let hour_angle_h = residual_finite(hour_angle.to_degrees(), 360.0) / 15.0;
        let parallactic = sofars::coords::hd2pa(hour_angle, dec_of_date, self.latitude_rad);
        // The direction of ICRS north over the horizon: from just south of the place to just north of it. Past a pole
        // the declination continues on the other side.
        let above = |step: f64| {
            let (azimuth, distance, ..) = self.observed(ra, dec + step);
            towards(azimuth, distance)
        };
        let (south, north) = (above(-STEP_RAD), above(STEP_RAD));
        let along = [0, 1, 2].map(|i| north[i] - south[i]);
        // Up and, with the zenith above, right: the direction in which azimuth grows.
        let (sin_a, cos_a) = libm::sincos(azimuth);
        let (sin_z, cos_z) = libm::sincos(zenith_distance);
        let up = [-cos_z * cos_a, -cos_z * sin_a, sin_z];
        let right = [-sin_a, cos_a, 0.0];
        let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        // East of north is to the left for somebody who looks at the sky. The zenith therefore has the angle from
        // north that north has to the right of the zenith.
        let zenith = libm::atan2(dot(along, right), dot(along, up));
        Pointing {
            hour_angle_h,
            dec_of_date_deg: dec_of_date.to_degrees(),
            azimuth_deg: turn_deg(azimuth),
            altitude_deg: 90.0 - zenith_distance.to_degrees(),
            parallactic_deg: parallactic.to_degrees(),
            zenith_deg: zenith.to_degrees(),
        }
    }

    /// Azimuth, zenith distance, hour angle, declination of date \[rad\].
    fn observed(&self, ra: f64, dec: f64) -> (f64, f64, f64, f64) {
        let mut astrom = self.astrom;
        let (ri, di) = atciq(ra, dec, 0.0, 0.0, 0.0, 0.0, &mut astrom);
        let (azimuth, distance, hour_angle, dec_of_date, _) = atioq(ri, di, &astrom);
        (azimuth, distance, hour_angle, dec_of_date)
    }
}

/// A direction over the horizon: its components to north, east and up.
fn towards(azimuth: f64, zenith_distance: f64) -> [f64; 3] {
    let (sin_z, cos_z) = libm::sincos(zenith_distance);
    let (sin_a, cos_a) = libm::sincos(azimuth);
    [sin_z * cos_a, sin_z * sin_a, cos_z]
}
