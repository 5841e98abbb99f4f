//! The ends of twilight, by the usual definitions: the middle of the Sun is 0.833, 6, 12 or 18 degrees below the
//! horizon (sunset with 34' of refraction and 16' of radius; civil, nautical, astronomical twilight: Explanatory
//! Supplement to the Astronomical Almanac, 3rd ed., chapter 12, from memory).

use super::{Site, sun_altitude_deg};
use crate::time::{DAY_S, Moment};
use halfturn_engine::angle::{TURN_DEG, residual_finite};
use serde::Serialize;
use strum::VariantArray as _;

/// A kind of dusk and dawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::IntoStaticStr, strum::VariantArray)]
#[strum(serialize_all = "kebab-case")]
pub enum Twilight {
    /// The Sun's upper edge at the horizon, with average refraction.
    Sunset,
    /// The Sun 6 degrees below the horizon.
    Civil,
    /// The Sun 12 degrees below the horizon.
    Nautical,
    /// The Sun 18 degrees below the horizon.
    Astronomical,
}

impl Twilight {
    /// All kinds, from sunset on.
    pub const ALL: &[Self] = Self::VARIANTS;

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
}

/// Step of the search \[s\], far below the time that the Sun usually spends beyond a limit. It misses the last
/// minutes of a few nights of the year at some latitudes.
const STEP_S: f64 = 300.0;

/// Accuracy of a crossing \[s\].
const ACCURACY_S: f64 = 0.1;

/// When the Sun goes below an altitude and when it comes up again; `None` if it does not.
pub type Crossings = (Option<Moment>, Option<Moment>);

/// The dark hours of the night after a local noon, which follows from the site's longitude and a date.
#[derive(Debug, Clone, PartialEq)]
pub struct DarkHours {
    noon: Moment,
    crossings: Vec<Crossings>,
    darkest: Option<Twilight>,
}

/// How dark a night gets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Darkness {
    /// The last twilight that ends, usually the astronomical one; `None` if the Sun does not set.
    pub kind: Option<Twilight>,
    /// The middle of the night, 12 hours after the local noon.
    pub midnight: Moment,
}

impl DarkHours {
    /// The dark hours of the date that begins at `midnight` in universal time.
    #[must_use]
    pub fn of(site: &Site, midnight: Moment) -> Self {
        let course = SunCourse::of(site, midnight);
        let lowest_deg = course.heights_deg.iter().copied().fold(90.0, f64::min);
        let mut darkest_first = Twilight::ALL.iter().copied().rev();
        Self {
            noon: course.noon,
            crossings: Twilight::ALL
                .iter()
                .map(|kind| course.crossings(kind.sun_deg()))
                .collect(),
            darkest: darkest_first.find(|kind| lowest_deg <= kind.sun_deg()),
        }
    }

    /// How dark the night gets.
    #[must_use]
    pub fn darkness(&self) -> Darkness {
        Darkness {
            kind: self.darkest,
            midnight: self.noon.plus_s(0.5 * DAY_S),
        }
    }

    /// The local noon before the night.
    #[must_use]
    pub fn noon(&self) -> Moment {
        self.noon
    }

    /// Every kind of twilight with its dusk and dawn.
    pub fn all(&self) -> impl Iterator<Item = (Twilight, Crossings)> {
        Twilight::ALL
            .iter()
            .copied()
            .zip(self.crossings.iter().copied())
    }

    /// When astronomical dusk ends; `None` if it does not.
    #[must_use]
    pub fn astronomical_dusk(&self) -> Option<Moment> {
        self.crossings[3].0
    }
}

/// When the Sun goes below this altitude \[deg\], and when it comes up again, in the night after a local noon.
#[must_use]
pub fn sun_crossings(site: &Site, midnight: Moment, sun_deg: f64) -> Crossings {
    SunCourse::of(site, midnight).crossings(sun_deg)
}

/// The altitude of the Sun at every step from one noon to the next.
struct SunCourse<'a> {
    site: &'a Site,
    noon: Moment,
    heights_deg: Vec<f64>,
}

impl<'a> SunCourse<'a> {
    fn of(site: &'a Site, midnight: Moment) -> Self {
        let east_deg = residual_finite(site.longitude_deg(), TURN_DEG);
        let noon = midnight.plus_s(DAY_S * (0.5 - east_deg / TURN_DEG));
        let steps = (DAY_S / STEP_S) as u32;
        let height = |step: u32| sun_altitude_deg(site, noon.plus_s(f64::from(step) * STEP_S));
        Self {
            site,
            noon,
            heights_deg: (0..=steps).map(height).collect(),
        }
    }

    fn crossings(&self, sun_deg: f64) -> Crossings {
        let (mut dusk, mut dawn) = (None, None);
        for (step, pair) in (0_u32..).zip(self.heights_deg.windows(2)) {
            let below = pair[1] <= sun_deg;
            if (pair[0] <= sun_deg) == below {
                continue;
            }
            let at = self.crossing(f64::from(step) * STEP_S, sun_deg, below);
            if below && dusk.is_none() {
                dusk = Some(at);
            } else if !below {
                dawn = Some(at);
            }
        }
        (dusk, dawn)
    }

    /// The crossing in the step that begins here, by halving.
    fn crossing(&self, from_s: f64, sun_deg: f64, goes_below: bool) -> Moment {
        let (mut low, mut high) = (from_s, from_s + STEP_S);
        while high - low > ACCURACY_S {
            let middle = 0.5 * (low + high);
            let below = sun_altitude_deg(self.site, self.noon.plus_s(middle)) <= sun_deg;
            if below == goes_below {
                high = middle;
            } else {
                low = middle;
            }
        }
        self.noon.plus_s(0.5 * (low + high))
    }
}
