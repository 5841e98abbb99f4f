//! The picture of a night.

use super::{NightHead, name};
use crate::files::ReportError;
use crate::plot::{NightBar, NightCourse, NightSheet, Picture, night_timeline};
use halfturn_engine::wording::grouped;
use halfturn_sky::night::NightPlan;
use halfturn_sky::time::Moment;

/// The night over time: altitudes, and the readings under the rig's own rule.
///
/// # Errors
/// [`ReportError::Picture`] if it cannot be drawn.
pub fn night_picture(head: &NightHead<'_>, plan: &NightPlan) -> Result<Picture, ReportError> {
    let start = head.request.night.start;
    let hour = |at: Moment| at.since_s(start) / 3600.0;
    let Some(rule) = plan.shown() else {
        return Err(ReportError::Picture("no rule".to_owned()));
    };
    let policy = rule.course.policy;
    let bars = plan
        .stretches
        .iter()
        .zip(&rule.course.rotations)
        .zip(&rule.summary.stretches)
        .map(|((s, r), night)| {
            let heights = s.way.iter();
            NightBar {
                name: name(plan, s).to_owned(),
                from_h: hour(s.begin),
                to_h: hour(s.end),
                altitudes: heights
                    .map(|(after_s, p)| (hour(s.begin.plus_s(*after_s)), p.altitude_deg))
                    .collect(),
                after_flip: s.after_flip,
                reading_deg: r.to_deg,
                loop_h: night.time_s.mean.unwrap_or(0.0) / 3600.0,
                state: night.verdict.state,
                not_usable: !s.not_usable.is_empty(),
                keep_outs: r
                    .in_force
                    .iter()
                    .filter_map(|i| head.rig.settings().keep_out.get(*i))
                    .map(|k| (k.from_deg, k.to_deg))
                    .collect(),
            }
        })
        .collect();
    let twilight = head
        .dark
        .all()
        .map(|(kind, (dusk, dawn))| (kind.into(), dusk.map(hour), dawn.map(hour)))
        .collect();
    let place = match head.site_name {
        "" => String::new(),
        name => format!(", {name}"),
    };
    let wrap = policy.wrap(head.rig.travel());
    Ok(night_timeline(&NightSheet {
        title: format!("Night of {}{place}", head.date.date()),
        remark: format!(
            "{}, {}, {} nights",
            head.rig.settings().name,
            policy.rule,
            grouped(rule.summary.nights)
        ),
        bars,
        twilight,
        // For a clock with whole hours of universal time.
        first_hour: start.hour_of_day(),
        course: NightCourse {
            park_deg: head.rig.settings().drive.park_deg,
            arc_deg: (wrap.start_deg(), wrap.start_deg() + wrap.width_deg()),
            band_deg: wrap.band_deg(),
            limit_deg: head.rig.settings().drive.winding_limit_deg,
        },
        least_altitude_deg: head.request.night.least_altitude_deg,
    }))
}
