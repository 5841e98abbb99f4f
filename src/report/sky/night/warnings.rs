//! What of a night is possible, but probably not meant.

use super::{NightHead, name};
use crate::sky::night::NightPlan;
use crate::wording::degrees;

/// Altitude below which a target is hardly meant \[deg\].
const LOW_DEG: f64 = 10.0;

/// One sentence for each.
#[must_use]
pub fn night_warnings(head: &NightHead<'_>, plan: &NightPlan) -> Vec<String> {
    let mut found = Vec::new();
    for stretch in &plan.stretches {
        let lowest = stretch
            .way
            .iter()
            .map(|(_, p)| p.altitude_deg)
            .fold(f64::INFINITY, f64::min);
        if lowest < LOW_DEG {
            found.push(format!(
                "{}: stands only {} deg high in its time",
                name(plan, stretch),
                degrees(lowest)
            ));
        }
    }
    let twilight = head.dark.all().last();
    if let (Some((_, (dusk, dawn))), Some(first), Some(last)) =
        (twilight, plan.stretches.first(), plan.stretches.last())
    {
        // Dusk is found to a tenth of a second.
        if dusk.is_some_and(|dusk| dusk.since_s(first.begin) > 1.0) {
            found.push("the first target begins before the end of astronomical dusk".to_owned());
        }
        if dawn.is_some_and(|dawn| last.end.since_s(dawn) > 1.0) {
            found.push("the last target ends after astronomical dawn has begun".to_owned());
        }
    }
    let limit_deg = head.rig.settings().drive.winding_limit_deg;
    for rule in &plan.rules {
        let course = &rule.course;
        if limit_deg > 0.0 && course.winding_deg > limit_deg {
            found.push(format!(
                "{}: the plan winds the cable {} deg from the parking angle; {} are allowed",
                course.policy.rule,
                degrees(course.winding_deg),
                degrees(limit_deg)
            ));
        }
        let struck = course
            .rotations
            .iter()
            .filter(|r| r.keep_out_deg > 0.0 || r.rests_in_keep_out)
            .count();
        if struck > 0 {
            found.push(format!(
                "{}: {struck} of {} planned rotations go through a keep-out or end in one",
                course.policy.rule,
                course.rotations.len()
            ));
        }
    }
    found
}
