//! The Moon over a site: `moon98` of the IAU's SOFA, after Meeus (1998) and Simon et al. (1994), Astron. Astrophys. 282,
//! 663. Its errors are some 10 arcseconds.

use sofars::astro::atioq;
use sofars::consts::{CMPS, DAU, DAYSEC};
use sofars::coords::gd2gc;
use sofars::eph::moon98;
use sofars::vm::{anp, c2s, rxp, trxp};

use super::{Pointing, Site, Sky};
use crate::plane::turn_deg;
use crate::time::Moment;

/// The Moon as a site sees it. Angles are geometric, without refraction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moon {
    /// Azimuth from north through east, in `[0, 360)` \[deg\].
    pub azimuth_deg: f64,
    /// Altitude of its middle \[deg\].
    pub altitude_deg: f64,
    /// Share of the disc that the Sun lights.
    pub lit: f64,
    /// Whether that share grows.
    pub waxes: bool,
}

/// The WGS84 ellipsoid in `sofars`.
const WGS84: i32 = 1;

impl Sky {
    /// The Moon at the moment of this sky.
    #[must_use]
    pub fn moon(&self, site: &Site, at: Moment) -> Moon {
        let (utc1, utc2) = at.julian();
        // Between the leap seconds of the table these can't fail. A second moves the Moon by half an arcsecond.
        let tai = sofars::ts::utctai(utc1, utc2).unwrap_or((utc1, utc2));
        let (tt1, tt2) = sofars::ts::taitt(tai.0, tai.1).unwrap_or(tai);
        let length = |v: [f64; 3]| libm::sqrt(v.iter().map(|x| x * x).sum());
        // Where it was when its light left. The Earth moved on meanwhile, which makes up for the aberration of its year.
        let [now, _] = moon98(tt1, tt2);
        let [geocentric, _] = moon98(tt1, tt2 - length(now) * DAU / CMPS / DAYSEC);
        let mut of_date = [0.0; 3];
        rxp(&self.astrom.bpn, &geocentric, &mut of_date);
        let site_m = gd2gc(WGS84, 0.0, self.latitude_rad, site.elevation_m()).unwrap_or_default();
        let (sine, cosine) = libm::sincos(self.astrom.eral);
        let observer = [site_m[0] * cosine, site_m[0] * sine, site_m[2]];
        let seen = [0, 1, 2].map(|i| of_date[i] - observer[i] / DAU);
        let (ra, dec) = c2s(&seen);
        let (azimuth, zenith_distance, ..) = atioq(anp(ra), dec, &self.astrom);
        // Sun, Moon and site make a triangle; its angle at the Moon gives the phase.
        let mut from_site = [0.0; 3];
        trxp(&self.astrom.bpn, &seen, &mut from_site);
        let sun = self.astrom.eh.map(|x| -x * self.astrom.em);
        let to_sun = [0, 1, 2].map(|i| sun[i] - from_site[i]);
        let dot: f64 = (0..3).map(|i| -from_site[i] * to_sun[i]).sum();
        let cosine = dot / (length(from_site) * length(to_sun));
        // North of the ecliptic: the Moon waxes east of the Sun.
        let (sine_e, cosine_e) = libm::sincos(23.44_f64.to_radians());
        let across = [
            sun[1] * from_site[2] - sun[2] * from_site[1],
            sun[2] * from_site[0] - sun[0] * from_site[2],
            sun[0] * from_site[1] - sun[1] * from_site[0],
        ];
        Moon {
            azimuth_deg: turn_deg(azimuth),
            altitude_deg: 90.0 - zenith_distance.to_degrees(),
            lit: 0.5 * (1.0 + cosine),
            waxes: cosine_e * across[2] - sine_e * across[1] > 0.0,
        }
    }
}

impl Moon {
    /// Its distance from a place in the sky \[deg\].
    #[must_use]
    pub fn distance_deg(&self, from: &Pointing) -> f64 {
        let [a, b, c, d] = [
            self.azimuth_deg,
            self.altitude_deg,
            from.azimuth_deg,
            from.altitude_deg,
        ]
        .map(f64::to_radians);
        sofars::vm::seps(a, b, c, d).to_degrees()
    }
}
