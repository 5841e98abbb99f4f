//! Warnings about a night: what is possible but probably not meant.

use super::{NightHead, name, not_usable};
use halfturn_engine::wording::degrees;
use halfturn_sky::night::{NightPlan, Stretch};

/// Below this altitude, a target is probably a mistake \[deg\].
const LOW_DEG: f64 = 10.0;

/// One sentence for each stretch that cannot be used or whose target is low.
#[must_use]
pub fn night_warnings(head: &NightHead<'_>, plan: &NightPlan) -> Vec<String> {
    let warning = |(i, stretch): (usize, &Stretch)| {
        let (name, lowest_deg) = (name(plan, stretch), stretch.lowest_deg());
        if !stretch.not_usable.is_empty() {
            let why = not_usable(head, plan, stretch);
            Some(format!(
                "stretch {}, {name}: you can't use it: {why}",
                i + 1
            ))
        } else if lowest_deg < LOW_DEG {
            let altitude = degrees(lowest_deg);
            Some(format!("stretch {}, {name}: only {altitude}° high", i + 1))
        } else {
            None
        }
    };
    plan.stretches
        .iter()
        .enumerate()
        .filter_map(warning)
        .collect()
}
