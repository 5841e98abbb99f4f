//! The ends of twilight, by the usual definitions: when the middle of the Sun stands 0.833, 6, 12 and 18 degrees below the
//! horizon (sunset with 34' of refraction and 16' of radius; civil, nautical, astronomical twilight: Explanatory Supplement to
//! the Astronomical Almanac, 3rd ed., chapter 12, from memory).

use super::{Site, sun_altitude_deg};
use crate::sky::time::{DAY_S, Moment};

/// A kind of dusk and dawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Twilight {
    /// The Sun's upper edge at the horizon, in usual air.
    Sunset,
    /// 6 degrees.
    Civil,
    /// 12 degrees.
    Nautical,
    /// 18 degrees.
    Astronomical,
}

impl Twilight {
    /// All, from sunset on.
    pub const ALL: [Self; 4] = [
        Self::Sunset,
        Self::Civil,
        Self::Nautical,
        Self::Astronomical,
    ];

    /// Altitude of the middle of the Sun \[deg\].
    #[must_use]
    pub fn sun_deg(self) -> f64 {
        match self {
            Self::Sunset => -50.0 / 60.0,
            Self::Civil => -6.0,
            Self::Nautical => -12.0,
            Self::Astronomical => -18.0,
        }
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Sunset => "sunset",
            Self::Civil => "civil",
            Self::Nautical => "nautical",
            Self::Astronomical => "astronomical",
        }
    }
}

/// Step of the search \[s\]: far below the time that the Sun spends beyond any limit but for a few nights of the year at some
/// latitudes, whose last minutes are so missed.
const STEP_S: f64 = 300.0;

/// How well a crossing is found \[s\].
const ACCURACY_S: f64 = 0.1;

/// When the Sun goes below this altitude, and when it comes up again, in the night after a local noon: the noon by the site's
/// longitude on the date that `midnight` begins in universal time. `None` where it does not.
#[must_use]
pub fn sun_crossings(
    site: &Site,
    midnight: Moment,
    sun_deg: f64,
) -> (Option<Moment>, Option<Moment>) {
    let noon = local_noon(site, midnight);
    let height = |after_s: f64| sun_altitude_deg(site, noon.plus_s(after_s)) - sun_deg;
    let steps = (DAY_S / STEP_S) as u32;
    let (mut dusk, mut dawn) = (None, None);
    let mut before = height(0.0);
    for step in 1..=steps {
        let to_s = f64::from(step) * STEP_S;
        let now = height(to_s);
        if (before > 0.0) != (now > 0.0) {
            let at = noon.plus_s(crossing(&height, to_s - STEP_S, to_s));
            if now <= 0.0 && dusk.is_none() {
                dusk = Some(at);
            } else if now > 0.0 {
                dawn = Some(at);
            }
        }
        before = now;
    }
    (dusk, dawn)
}

/// Where a function changes its sign between two times \[s\], by halving.
fn crossing(height: &impl Fn(f64) -> f64, mut from_s: f64, mut to_s: f64) -> f64 {
    let above = height(from_s) > 0.0;
    while to_s - from_s > ACCURACY_S {
        let middle = 0.5 * (from_s + to_s);
        if (height(middle) > 0.0) == above {
            from_s = middle;
        } else {
            to_s = middle;
        }
    }
    0.5 * (from_s + to_s)
}

/// Noon by the longitude of the site.
fn local_noon(site: &Site, midnight: Moment) -> Moment {
    let east_deg = crate::angle::residual_finite(site.longitude_deg(), 360.0);
    midnight.plus_s(DAY_S * (0.5 - east_deg / 360.0))
}

/// Every kind of twilight of a night: its dusk and its dawn.
#[must_use]
pub fn dark_hours(
    site: &Site,
    midnight: Moment,
) -> [(Twilight, Option<Moment>, Option<Moment>); 4] {
    Twilight::ALL.map(|kind| {
        let (dusk, dawn) = sun_crossings(site, midnight, kind.sun_deg());
        (kind, dusk, dawn)
    })
}
