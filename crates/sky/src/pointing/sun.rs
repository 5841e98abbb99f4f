//! The altitude of the Sun.

use sofars::astro::{ab, atioq};
use sofars::vm::{anp, c2s, rxp};

use super::Site;
use crate::time::Moment;

/// Geometric altitude of the middle of the Sun \[deg\].
///
/// The Sun is where it was when its light left, as seen from the moving Earth. Its light is not bent on the way.
#[must_use]
pub fn sun_altitude_deg(site: &Site, at: Moment) -> f64 {
    let astrom = site.sky(at).astrom;
    let natural = astrom.eh.map(|x| -x);
    let proper = ab(&natural, &astrom.v, astrom.em, astrom.bm1);
    let mut of_date = [0.0; 3];
    rxp(&astrom.bpn, &proper, &mut of_date);
    let (ra, dec) = c2s(&of_date);
    let (_, zenith_distance, ..) = atioq(anp(ra), dec, &astrom);
    90.0 - zenith_distance.to_degrees()
}
