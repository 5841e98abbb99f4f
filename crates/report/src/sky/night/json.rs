//! A night as JSON. `docs/files.md` explains every key.

use serde_json::{Value, json};

use super::{NightHead, name};
use crate::json::VERSION;
use halfturn_sky::night::{Mount, NightPlan, RuleNight};
use halfturn_sky::pointing::{Pointing, Twilight};
use halfturn_sky::time::Moment;

/// Version of the JSON of `sky night`.
const NIGHT_FORMAT: u32 = 2;

/// The result of `sky night`.
#[must_use]
pub fn night_json(head: &NightHead<'_>, plan: &NightPlan) -> Value {
    let request = head.request;
    let site = &request.night.site;
    let iso = |at: Option<Moment>| at.map(Moment::iso);
    let twilight: serde_json::Map<String, Value> = head
        .dark
        .all()
        .map(|(kind, (dusk, dawn))| {
            let ends = json!({ "dusk": iso(dusk), "dawn": iso(dawn) });
            (kind.name().to_owned(), ends)
        })
        .collect();
    let stretches: Vec<Value> = plan
        .stretches
        .iter()
        .map(|s| {
            json!({
                "target": name(plan, s),
                "position_angle_deg": plan.targets[s.target].position_angle_deg,
                "begin": s.begin.iso(),
                "end": s.end.iso(),
                "flipped": s.flipped,
                "after_flip": s.after_flip,
                "at_begin": pointing(&s.at_begin),
                "at_end": pointing(&s.at_end),
                "lowest_deg": s.lowest_deg(),
                "not_usable": s.not_usable,
            })
        })
        .collect();
    json!({
        "format": NIGHT_FORMAT,
        "version": VERSION,
        "rig_digest": head.rig.digest(),
        "seed": request.batch.seed,
        "trials": request.batch.trials,
        "site": {
            "name": head.site_name,
            "latitude_deg": site.latitude_deg(),
            "longitude_deg": site.longitude_deg(),
            "elevation_m": site.elevation_m(),
        },
        "date": head.date.date(),
        "start": request.night.start.iso(),
        "twilight": twilight,
        "darkest": request.night.dark.kind.map(Twilight::name),
        "least_altitude_deg": request.night.least_altitude_deg,
        "mount": match request.night.mount {
            Mount::German { .. } => "german",
            Mount::Fork => "fork",
        },
        "learn": request.knowledge.learn,
        "limits": request.limits,
        "stretches": stretches,
        "rules": plan.rules.iter().map(rule).collect::<Vec<_>>(),
        "best_rule": plan.best().map(|r| r.course.policy.rule),
        "holds": plan.holds(),
    })
}

fn pointing(p: &Pointing) -> Value {
    json!({
        "hour_angle_h": p.hour_angle_h,
        "azimuth_deg": p.azimuth_deg,
        "altitude_deg": p.altitude_deg,
        "parallactic_deg": p.parallactic_deg,
        "pole_of_date_deg": p.pole_of_date_deg(),
    })
}

fn rule(rule: &RuleNight) -> Value {
    let course = &rule.course;
    let rotations: Vec<Value> = course
        .rotations
        .iter()
        .map(|r| {
            json!({
                "from_deg": r.from_deg,
                "drive_deg": r.drive_deg,
                "to_deg": r.to_deg,
                "refused": r.refused,
                "seam_distance_deg": r.seam_distance_deg,
                "keep_outs_in_force": r.in_force,
                "keep_out_deg": r.keep_out_deg,
                "rests_in_keep_out": r.rests_in_keep_out,
            })
        })
        .collect();
    json!({
        "rule": course.policy.rule,
        "symmetry": course.policy.symmetry,
        "arc_start_deg": course.policy.arc_start_deg,
        "rotations": rotations,
        "planned_winding_deg": course.winding_deg,
        "verdict": rule.state(),
        "night": rule.summary,
    })
}
