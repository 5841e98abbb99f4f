//! A night on the screen.

use std::fmt::Write as _;

use super::answer::answer;
use super::{NightHead, clock, name, not_usable};
use crate::table::{lines, table};
use halfturn_engine::plant::Travel;
use halfturn_engine::summary::Distribution;
use halfturn_engine::verdict::Fault;
use halfturn_engine::wording::{degrees, duration, grouped, on_dial, percent};
use halfturn_sky::night::{Mount, NightPlan, Rotation, RuleNight, Stretch, StretchSummary};

/// The night as text: twilight, timetable, every loop under the rig's own rule (else under the first of the rules), the rules side by
/// side, and the best of them.
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
    out.push_str(&timetable(head, plan));
    if let Some(rule) = plan.shown() {
        out.push_str(&loops(head, plan, rule));
    }
    out.push_str(&rules(head, plan));
    out.push_str(&answer(head, plan));
    out
}

fn timetable(head: &NightHead<'_>, plan: &NightPlan) -> String {
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
        "",
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
            not_usable(head, s),
        ]);
    }
    format!(
        "{}\nangles in degrees; pole of date: its position angle from ICRS north; the zero point shifts with it from target to target\n\n",
        lines(table, &[1, 6, 9])
    )
}

/// Every loop of the night under a rule: the plan, and what the nights that were run say.
fn loops(head: &NightHead<'_>, plan: &NightPlan, rule: &RuleNight) -> String {
    let nights = &rule.summary.stretches;
    let share =
        |night: &StretchSummary, fault| night.verdict.fault(fault).map_or(0.0, |f| f.rate.rate);
    let mut faults = vec![Fault::PingPong, Fault::Late];
    let rare = Fault::ALL.into_iter().filter(|fault| {
        !matches!(fault, Fault::PingPong | Fault::Late | Fault::Stuck)
            && nights.iter().any(|n| share(n, *fault) > 0.0)
    });
    faults.extend(rare);
    let names: Vec<String> = faults.iter().map(ToString::to_string).collect();
    let mut header = vec![
        "#", "target", "drive", "turn", "reading", "seam", "mean", "90 %",
    ];
    header.extend(names.iter().map(String::as_str));
    header.extend(["framed", "verdict", ""]);
    let last = header.len() - 1;
    let mut table = table(&header);
    for (i, (rotation, night)) in rule.course.rotations.iter().zip(nights).enumerate() {
        let stretch = &plan.stretches[i];
        let drive = match rotation.scenario.brief().travel {
            Travel::Endless => on_dial(rotation.drive_deg),
            Travel::Stops { .. } => rotation.drive_deg,
        };
        let time = |s: Option<f64>| s.map_or_else(|| "never".to_owned(), duration);
        let mut row = vec![
            (i + 1).to_string(),
            name(plan, stretch).to_owned(),
            degrees(drive),
            format!("{:+.2}", rotation.to_deg - rotation.from_deg),
            format!("{:.2}", rotation.to_deg),
            rotation
                .seam_distance_deg
                .map_or_else(|| "-".to_owned(), degrees),
            time(night.time_s.mean),
            time(night.settle_time_s.p90),
        ];
        row.extend(faults.iter().map(|fault| percent(share(night, *fault))));
        let usable = stretch.not_usable.is_empty();
        row.push(match usable {
            true => percent(night.settled.rate),
            false => "-".to_owned(),
        });
        row.push(night.verdict.state.to_string());
        row.push(remarks(head, stretch, rotation));
        table.add_row(row);
    }
    let limit_deg = head.rig.settings().drive.winding_limit_deg;
    let limit = if limit_deg > 0.0 {
        format!("; the cable allows {} deg", degrees(limit_deg))
    } else {
        String::new()
    };
    format!(
        "{} over {} nights; drive, turn and reading as planned\n\n{}\nmean: time of the loop, settled or not; 90 %: the time by which 90 % of all nights have settled\n\
        cable: planned readings go {} deg from the parking angle{limit}\n\n",
        rule.course.policy.rule,
        grouped(rule.summary.nights),
        lines(table, &[1, last - 1, last]),
        degrees(rule.course.winding_deg),
    )
}

/// What else there is to say of a loop.
fn remarks(head: &NightHead<'_>, stretch: &Stretch, rotation: &Rotation) -> String {
    let mut remarks = Vec::new();
    if stretch.after_flip {
        remarks.push("after the flip".to_owned());
    }
    if rotation.refused {
        remarks.push("outside the stops".to_owned());
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
    if !stretch.not_usable.is_empty() {
        remarks.push(not_usable(head, stretch));
    }
    remarks.join(", ")
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
    let share = |r: halfturn_engine::summary::Rate| {
        format!(
            "{} ({} to {})",
            percent(r.rate),
            percent(r.low),
            percent(r.high)
        )
    };
    add("symmetry", &|r| r.course.policy.symmetry.to_string());
    add("safe stretches", &|r| {
        let safe = |s: &&StretchSummary| s.verdict.is_safe();
        let all = &r.summary.stretches;
        format!("{} of {}", all.iter().filter(safe).count(), all.len())
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
    format!(
        "the night, {} times, seed {}, {learn}\n\n{}\n± half the width of the 95 % interval of the mean; shares with 95 % intervals\n",
        grouped(head.request.batch.trials),
        head.request.batch.seed,
        lines(table, &[0]),
    )
}
