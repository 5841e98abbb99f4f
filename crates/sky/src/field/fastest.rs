//! When a field turns fastest.

use super::polar::axis_hour_deg;
use super::session::{FieldMount, FieldSession};
use crate::pointing::SIDEREAL_DEG_PER_H;
use crate::time::Moment;
use halfturn_engine::angle::residual_finite;

/// When the field turns fastest in a session, and how fast \[deg/h\]. The spacing of rows plays no part.
///
/// By the rule of cosines the rate is `-15.041 (sin d - sin b sin a) / cos^2 a`, with altitude a, latitude b and
/// declination d. The same holds about the axis of a mount in place of the zenith. As a function of `sin a` it is
/// stationary nowhere if
/// |d| < |b|, else at one point, where its size is least. Its size is therefore largest at an end of the session, or where
/// `sin a` turns: in the meridian.
#[must_use]
pub fn fastest(session: &FieldSession) -> (Moment, f64) {
    let ends = [0.0, session.length_s];
    let culminations = culminations_s(session);
    let times = ends.into_iter().chain(culminations);
    let rates = times.map(|after_s| {
        let at = session.start.plus_s(after_s);
        (at, session.turning(at).2.abs())
    });
    let faster = |best: (Moment, f64), next: (Moment, f64)| {
        if next.1 > best.1 { next } else { best }
    };
    rates.fold((session.start, 0.0), faster)
}

/// When the target passes the meridian of the zenith, or of the mount's axis, above or below, in a session \[s\].
fn culminations_s(session: &FieldSession) -> Vec<f64> {
    const DEG_PER_S: f64 = SIDEREAL_DEG_PER_H / 3600.0;
    let axis_deg = match &session.mount {
        FieldMount::AltAz => 0.0,
        FieldMount::Equatorial(error) => axis_hour_deg(&session.site, error),
    };
    // Aberration makes the hour angle run unevenly, and each guess is corrected from where it leads.
    let mut found = Vec::new();
    let past_deg = |after_s: f64| {
        let (pointing, ..) = session.turning(session.start.plus_s(after_s));
        residual_finite(15.0 * pointing.hour_angle_h - axis_deg, 180.0)
    };
    let half_s = 180.0 / DEG_PER_S;
    let mut guess_s = -past_deg(0.0) / DEG_PER_S;
    while guess_s < session.length_s + 0.5 * half_s {
        let at_s = guess_s - past_deg(guess_s) / DEG_PER_S;
        if at_s > 0.0 && at_s < session.length_s {
            found.push(at_s);
        }
        guess_s += half_s;
    }
    found
}
