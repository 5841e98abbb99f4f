//! A night on the screen.

use std::fmt::Write as _;

use super::{NightHead, clock, name};
use crate::plant::Travel;
use crate::report::table::{lines, table};
use crate::rig::Rule;
use crate::sky::night::{Mount, NightPlan, RuleNight};
use crate::summary::Distribution;
use crate::wording::{degrees, duration, grouped, on_dial, percent};

/// The night as text: twilight, timetable, the rotations under the rig's own rule (the first asked for, where that was not), and the
/// rules side by side.
#[must_use]
pub fn night_text(head: &NightHead<'_>, plan: &NightPlan) -> String {
    let site = &head.request.night.site;
    let named = match head.site_name {
        "" => String::new(),
        name => format!("{name}, "),
    };
    let mut out = format!(
        "{}, {named}{:.4} N {:.4} E, {:.0} m, night of {}, all times UT\n",
        head.rig.settings().name,
        site.latitude_deg(),
        site.longitude_deg(),
        site.elevation_m(),
        head.date.date(),
    );
    let twilight = head
        .dark
        .all()
        .map(|(kind, (dusk, dawn))| format!("{} {} to {}", kind.name(), clock(dusk), clock(dawn)));
    let _ = writeln!(
        out,
        "Sun below: {}",
        twilight.collect::<Vec<_>>().join(", ")
    );
    let mount = match head.request.night.mount {
        Mount::German { flip_h: 0.0 } => "german mount, flips at the meridian".to_owned(),
        Mount::German { flip_h } => {
            format!(
                "german mount, flips {} min after the meridian",
                degrees(60.0 * flip_h)
            )
        }
        Mount::Fork => "fork mount, no flips".to_owned(),
    };
    let _ = writeln!(out, "{mount}\n");
    out.push_str(&timetable(plan));
    let own = head.rig.settings().wrap.rule;
    let shown = plan.rules.iter().find(|r| r.course.policy.rule == own);
    if let Some(rule) = shown.or(plan.rules.first()) {
        out.push_str(&rotations(head, plan, rule));
    }
    out.push_str(&rules(head, plan));
    out
}

fn timetable(plan: &NightPlan) -> String {
    let mut table = table(&[
        "#",
        "target",
        "from",
        "to",
        "hour angle",
        "altitude",
        "side",
        "PA",
        "pole of date",
    ]);
    for (i, s) in plan.stretches.iter().enumerate() {
        let (a, b) = (&s.at_begin, &s.at_end);
        table.add_row([
            (i + 1).to_string(),
            name(plan, s).to_owned(),
            s.begin.clock(),
            s.end.clock(),
            format!("{:+.2} to {:+.2} h", a.hour_angle_h, b.hour_angle_h),
            format!("{:.1} to {:.1}", a.altitude_deg, b.altitude_deg),
            match (s.flipped, s.after_flip) {
                (_, true) => "flip",
                (true, false) => "flipped",
                (false, false) => "",
            }
            .to_owned(),
            degrees(plan.targets[s.target].position_angle_deg),
            format!("{:+.3}", s.pole_deg()),
        ]);
    }
    format!(
        "{}\nangles in degrees; pole of date: its position angle from ICRS north, which shifts the zero point from target to target\n\n",
        lines(table, &[1, 6])
    )
}

fn rotations(head: &NightHead<'_>, plan: &NightPlan, rule: &RuleNight) -> String {
    let mut table = table(&[
        "#",
        "target",
        "drive",
        "turn",
        "reading",
        "seam",
        "zero ±",
        "settle",
        "ping-pong",
        "framed",
        "",
    ]);
    let endless = rule
        .course
        .rotations
        .first()
        .is_some_and(|r| r.scenario.brief().travel == Travel::Endless);
    for (i, (rotation, cost)) in rule.course.rotations.iter().zip(&rule.costs).enumerate() {
        let night = &rule.summary.stretches[i];
        let drive = if endless {
            on_dial(rotation.drive_deg)
        } else {
            rotation.drive_deg
        };
        let mut remarks = Vec::new();
        if plan.stretches[i].after_flip {
            remarks.push("after the flip".to_owned());
        }
        if rotation.refused {
            remarks.push("refused: outside the stops".to_owned());
        }
        if rotation.keep_out_deg > 0.0 {
            remarks.push(format!(
                "{} deg through a keep-out",
                degrees(rotation.keep_out_deg)
            ));
        }
        if rotation.rests_in_keep_out {
            remarks.push("stands in a keep-out".to_owned());
        }
        table.add_row([
            (i + 1).to_string(),
            name(plan, &plan.stretches[i]).to_owned(),
            degrees(drive),
            format!("{:+.2}", rotation.to_deg - rotation.from_deg),
            format!("{:.2}", rotation.to_deg),
            rotation
                .seam_distance_deg
                .map_or_else(|| "-".to_owned(), degrees),
            format!("{:.3}", rotation.zero_sigma_deg),
            duration(cost.time_s),
            percent(cost.ping_pong),
            percent(night.settled.rate),
            remarks.join(", "),
        ]);
    }
    let limit_deg = head.rig.settings().drive.winding_limit_deg;
    let limit = if limit_deg > 0.0 {
        format!("; the cable allows {} deg", degrees(limit_deg))
    } else {
        String::new()
    };
    format!(
        "{}, as planned; settle and ping-pong by the expected zero point, framed over {} nights\n\n{}\ncable: planned readings go {} deg from the parking angle{limit}\n\n",
        rule.course.policy.rule,
        grouped(rule.summary.nights),
        lines(table, &[1, 10]),
        degrees(rule.course.winding_deg),
    )
}

fn rules(head: &NightHead<'_>, plan: &NightPlan) -> String {
    let mut header = vec![String::new()];
    header.extend(plan.rules.iter().map(|r| r.course.policy.rule.to_string()));
    let names: Vec<&str> = header.iter().map(String::as_str).collect();
    let mut table = table(&names);
    let mut add = |name: &str, value: &dyn Fn(&RuleNight) -> String| {
        table.add_row(std::iter::once(name.to_owned()).chain(plan.rules.iter().map(value)));
    };
    let minutes =
        |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |s| format!("{:.2}", s / 60.0));
    let mean = |d: &Distribution, unit: f64| match (d.mean, d.mean_low, d.mean_high) {
        (Some(mean), Some(low), Some(high)) => {
            format!("{:.2} ± {:.2}", mean / unit, 0.5 * (high - low) / unit)
        }
        (Some(mean), ..) => format!("{:.2}", mean / unit),
        _ => "-".to_owned(),
    };
    let share = |r: crate::summary::Rate| {
        format!(
            "{} ({} to {})",
            percent(r.rate),
            percent(r.low),
            percent(r.high)
        )
    };
    add("symmetry", &|r| r.course.policy.symmetry.to_string());
    add("rotations expected, min", &|r| {
        minutes(Some(r.expected_s()))
    });
    add("clear sky lost to rotation, min", &|r| {
        mean(&r.summary.clear_lost_s, 60.0)
    });
    add("  90 % of nights below", &|r| {
        minutes(r.summary.clear_lost_s.p90)
    });
    add("  99 %", &|r| minutes(r.summary.clear_lost_s.p99));
    if head.request.clouds.share > 0.0 {
        add("with the time in clouds, min", &|r| {
            mean(&r.summary.lost_s, 60.0)
        });
    }
    add("clear sky of targets given up, min", &|r| {
        mean(&r.summary.given_up_s, 60.0)
    });
    add("loops given up", &|r| mean(&r.summary.given_up, 1.0));
    add("nights with every target framed", &|r| {
        share(r.summary.all_framed)
    });
    add("nights with ping-pong", &|r| share(r.summary.ping_pong));
    add("long swings", &|r| mean(&r.summary.long_swings, 1.0));
    add("degrees turned", &|r| mean(&r.summary.travel_deg, 1.0));
    add("farthest from parking, deg", &|r| {
        mean(&r.summary.winding_deg, 1.0)
    });
    if head.rig.settings().drive.winding_limit_deg > 0.0 {
        add("nights wound too far", &|r| share(r.summary.overwound));
    }
    if !head.rig.settings().keep_out.is_empty() {
        add("nights through a keep-out", &|r| share(r.summary.keep_out));
    }
    let learn = if head.request.knowledge.learn {
        "zero point learned and kept"
    } else {
        "zero point not kept"
    };
    let best = cheapest(plan).map_or_else(String::new, |rule| {
        format!("\nleast clear sky lost: {rule}\n")
    });
    format!(
        "the night, {} times, seed {}, {learn}\n\n{}\n± half the width of the 95 % interval of the mean; shares with 95 % intervals\n{best}",
        grouped(head.request.batch.trials),
        head.request.batch.seed,
        lines(table, &[0]),
    )
}

/// The rule that loses least, targets given up counted, if there are several to choose from.
pub(super) fn cheapest(plan: &NightPlan) -> Option<Rule> {
    let lost = |r: &RuleNight| {
        r.summary.clear_lost_s.mean.unwrap_or(0.0) + r.summary.given_up_s.mean.unwrap_or(0.0)
    };
    let least = plan.rules.iter().min_by(|a, b| lost(a).total_cmp(&lost(b)));
    least
        .filter(|_| plan.rules.len() > 1)
        .map(|r| r.course.policy.rule)
}
