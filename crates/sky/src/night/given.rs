//! The input of a timetable: a night with its site and mount, and targets.

use thiserror::Error;

use crate::plane::SkyPlace;
use crate::pointing::{Crossing, Darkness, Horizon, Pointing, Site, crossings};
use crate::time::Moment;

/// Longest night \[h\].
pub(super) const MOST_HOURS: f64 = 24.0;

/// The kind of mount.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mount {
    /// An equatorial mount that goes to the other side of its pier `flip_h` after the meridian. The field is then
    /// upside down.
    German {
        /// Hour angle of the flip \[h\].
        flip_h: f64,
    },
    /// An equatorial mount that follows through the meridian.
    Fork,
}

impl Mount {
    /// Whether the tube is on the other side.
    pub(super) fn flipped(self, hour_angle_h: f64) -> bool {
        match self {
            Self::German { flip_h } => hour_angle_h >= flip_h,
            Self::Fork => false,
        }
    }
}

/// Time before a loop in which something else moves \[s\].
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Setup {
    /// The mount goes to a target.
    pub slew_s: f64,
    /// The mount flips.
    pub flip_s: f64,
    /// The focuser finds its place, after a slew.
    pub focus_s: f64,
}

/// Site, mount, start and darkness of a night.
#[derive(Debug, Clone, PartialEq)]
pub struct Night {
    /// Where the telescope stands.
    pub site: Site,
    /// The kind of mount.
    pub mount: Mount,
    /// When the first target begins.
    pub start: Moment,
    /// How dark the night gets.
    pub dark: Darkness,
    /// Altitude below which a target is not used \[deg\].
    pub least_altitude_deg: f64,
    /// What hides the sky lower down.
    pub horizon: Horizon,
    /// Time for slews, flips and focus.
    pub setup: Setup,
}

impl Night {
    /// Altitude below which a target is not used at this azimuth \[deg\].
    #[must_use]
    pub fn least_altitude_deg(&self, azimuth_deg: f64) -> f64 {
        self.least_altitude_deg
            .max(self.horizon.altitude_deg(azimuth_deg))
    }

    /// The times at which a target comes above this altitude or goes below it, in `length_s` seconds from `from`.
    #[must_use]
    pub fn crossings(&self, place: SkyPlace, from: Moment, length_s: f64) -> Vec<Crossing> {
        crossings(from, length_s, |at| {
            self.above_deg(&self.site.sky(at).pointing(place))
        })
    }

    /// How far a target is above that altitude \[deg\].
    fn above_deg(&self, p: &Pointing) -> f64 {
        p.altitude_deg - self.least_altitude_deg(p.azimuth_deg)
    }
}

/// A target with everything that a night needs.
#[derive(Debug, Clone, PartialEq)]
pub struct NightTarget {
    /// Unique name.
    pub name: String,
    /// Where the target is.
    pub place: SkyPlace,
    /// Wanted position angle, from ICRS north \[deg\].
    pub position_angle_deg: f64,
    /// Planned time, rotation included \[min\].
    pub minutes: f64,
}

/// Why no timetable is possible.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum NightError {
    /// A target lacks something.
    #[error("{name:?} has no {what}")]
    Lacking {
        /// Name of the target.
        name: String,
        /// What is missing.
        what: &'static str,
    },
    /// A target's time ends before its loop begins.
    #[error(
        "{name:?} has {minutes} min, but slew and focus take {setup_min} min. Give it more minutes"
    )]
    TooShort {
        /// Name of the target.
        name: String,
        /// Its minutes.
        minutes: f64,
        /// Minutes that pass before its loop.
        setup_min: f64,
    },
    /// The order does not name each of this many targets once.
    #[error("--order: must name every target once, by its number from 1 to {0}")]
    Order(usize),
    /// The times add up to this many hours, which is too long.
    #[error(
        "the targets take {0:.1} hours, but a night has at most {MOST_HOURS}. Lower their minutes"
    )]
    TooLong(f64),
}
