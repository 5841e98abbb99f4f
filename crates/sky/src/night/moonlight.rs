//! The Moon of a night, and how near it is to each target.

use super::given::{Night, NightTarget};
use super::timetable::Stretch;
use crate::pointing::{Moon, crossings};
use crate::time::{DAY_S, Moment};

/// The Moon of a night.
#[derive(Debug, Clone, PartialEq)]
pub struct Moonlight {
    /// The Moon in the middle of the night.
    pub at_midnight: Moon,
    /// When its middle comes above the horizon, from noon to noon; `None` if it does not.
    pub rises: Option<Moment>,
    /// When it goes below.
    pub sets: Option<Moment>,
    /// For each stretch, at its middle: the altitude of the Moon and its distance from the target \[deg\].
    pub stretches: Vec<(f64, f64)>,
}

impl Moonlight {
    pub(super) fn of(night: &Night, targets: &[NightTarget], stretches: &[Stretch]) -> Self {
        let moon = |at: Moment| night.site.sky(at).moon(&night.site, at);
        let midnight = night.dark.midnight;
        let noon = midnight.plus_s(-0.5 * DAY_S);
        let all = crossings(noon, DAY_S, |at| moon(at).altitude_deg);
        let first = |rises| all.iter().find(|c| c.rises == rises).map(|c| c.at);
        let near = |s: &Stretch| {
            let at = s.begin.plus_s(0.5 * s.length_s());
            let sky = night.site.sky(at);
            let moon = sky.moon(&night.site, at);
            let target = sky.pointing(targets[s.target].place);
            (moon.altitude_deg, moon.distance_deg(&target))
        };
        Self {
            at_midnight: moon(midnight),
            rises: first(true),
            sets: first(false),
            stretches: stretches.iter().map(near).collect(),
        }
    }
}
