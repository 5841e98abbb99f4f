//! When a target can be exposed: high enough and in the dark.

use serde::Serialize;

use super::given::Night;
use crate::pointing::{Pointing, Twilight, sun_altitude_deg};
use crate::time::Moment;

/// Why a stretch cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum NotUsable {
    /// The target is below the least altitude.
    TooLow,
    /// Trees, roofs or hills hide the target.
    BehindHorizon,
    /// The sky is not dark yet.
    BeforeDusk,
    /// The sky is no longer dark.
    AfterDawn,
}

/// The end of twilight is found to a tenth of a second, in which the Sun moves less than this \[deg\].
const SUN_DEG: f64 = 0.001;

/// Why a stretch that begins at `begin` cannot be used. `way` has the seconds since then, and where the target
/// stands.
pub(super) fn not_usable(night: &Night, begin: Moment, way: &[(f64, Pointing)]) -> Vec<NotUsable> {
    let mut found: Vec<NotUsable> = way
        .iter()
        .flat_map(|(after_s, pointing)| {
            let low = pointing.altitude_deg < night.least_altitude_deg;
            let limit_deg = night.least_altitude_deg(pointing.azimuth_deg);
            let hidden = !low && pointing.altitude_deg < limit_deg;
            [
                low.then_some(NotUsable::TooLow),
                hidden.then_some(NotUsable::BehindHorizon),
                light(night, begin.plus_s(*after_s)),
            ]
        })
        .flatten()
        .collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// Why the sky is not dark at a moment: the Sun is higher than at the end of the last twilight of this night. `None`
/// if it is dark.
fn light(night: &Night, at: Moment) -> Option<NotUsable> {
    let dark_deg = night.dark.kind.map_or(f64::NEG_INFINITY, Twilight::sun_deg);
    if sun_altitude_deg(&night.site, at) <= dark_deg + SUN_DEG {
        None
    } else if at.since_s(night.dark.midnight) < 0.0 {
        Some(NotUsable::BeforeDusk)
    } else {
        Some(NotUsable::AfterDawn)
    }
}
