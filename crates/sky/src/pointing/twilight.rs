//! The ends of twilight, by the usual definitions: the middle of the Sun is 0.833, 6, 12 or 18 degrees below the
//! horizon (sunset with 34' of refraction and 16' of radius; civil, nautical, astronomical twilight: Explanatory
//! Supplement to the Astronomical Almanac, 3rd ed., chapter 12, from memory).

use super::crossing::Course;
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
        let (noon, course) = sun_course(site, midnight);
        let mut darkest_first = Twilight::ALL.iter().copied().rev();
        Self {
            noon,
            crossings: Twilight::ALL
                .iter()
                .map(|kind| dusk_and_dawn(&course, kind.sun_deg()))
                .collect(),
            darkest: darkest_first.find(|kind| course.lowest_deg() <= kind.sun_deg()),
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
    dusk_and_dawn(&sun_course(site, midnight).1, sun_deg)
}

/// The altitude of the Sun from one local noon to the next, and that noon.
fn sun_course(site: &Site, midnight: Moment) -> (Moment, Course<impl Fn(Moment) -> f64>) {
    let east_deg = residual_finite(site.longitude_deg(), TURN_DEG);
    let noon = midnight.plus_s(DAY_S * (0.5 - east_deg / TURN_DEG));
    let height_deg = |at| sun_altitude_deg(site, at);
    (noon, Course::of(noon, DAY_S, height_deg))
}

/// The first time that it goes below, and the last time that it comes up.
fn dusk_and_dawn(course: &Course<impl Fn(Moment) -> f64>, sun_deg: f64) -> Crossings {
    let all = course.crossings(sun_deg);
    let dusk = all.iter().find(|c| !c.rises);
    let dawn = all.iter().rfind(|c| c.rises);
    (dusk.map(|c| c.at), dawn.map(|c| c.at))
}
