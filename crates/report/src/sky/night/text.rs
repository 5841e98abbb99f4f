//! A night for a reader.

use super::answer::answer;
use super::{NightHead, clock, name, not_usable};
use crate::document::{Block, Column, Document, Line, Span, Table};
use crate::figures::{NEVER, UNKNOWN, rate, verdict_cell};
use crate::folder::inline;
use crate::page::to_print;
use crate::plot::Picture;
use halfturn_engine::plant::Travel;
use halfturn_engine::summary::Distribution;
use halfturn_engine::wording::{angle, degrees, duration, grouped, on_dial, percent};
use halfturn_sky::night::{Mount, NightPlan, Rotation, RuleNight, Stretch, StretchSummary};

/// The picture of the night, where a page shows it.
const PICTURE: &str = "night";

/// The night: the answer, the timetable, every loop under the rig's own rule (else under the first of the rules), and
/// the rules side by side.
#[must_use]
pub fn night_document(head: &NightHead<'_>, plan: &NightPlan) -> Document {
    let site = &head.request.night.site;
    let named = match head.site_name {
        "" => String::new(),
        name => format!("{name}, "),
    };
    let times = match head.local {
        Some(local) => format!("times UT, local time is UT {}", local.offset()),
        None => "all times UT".to_owned(),
    };
    let mut out = Document::new();
    out.para(format!(
        "{}, {named}{:.4} N {:.4} E, {:.0} m, night of {}, {times}",
        head.rig.settings().name,
        site.latitude_deg(),
        site.longitude_deg(),
        site.elevation_m(),
        head.date.date(),
    ));
    out.0.extend(answer(head, plan).0);
    out.add(Block::Figure(
        PICTURE,
        "Altitudes, and readings under the rig's own rule.".to_owned(),
    ));
    let twilight = head
        .dark
        .all()
        .map(|(kind, (dusk, dawn))| format!("{kind} {} to {}", clock(dusk), clock(dawn)));
    let mount = match head.request.night.mount {
        Mount::German { flip_h: 0.0 } => "German mount, flips at the meridian".to_owned(),
        Mount::German { flip_h } => {
            format!(
                "German mount, flips {} min after the meridian",
                degrees(60.0 * flip_h)
            )
        }
        Mount::Fork => "fork mount, no flips".to_owned(),
    };
    out.add(Block::Heading("timetable", "Timetable".to_owned()));
    out.para(format!(
        "From dusk to dawn: {}. {mount}.",
        twilight.collect::<Vec<_>>().join(", ")
    ));
    for line in [moon(plan), order(plan), setup(plan)] {
        out.para(line);
    }
    timetable(head, plan, &mut out);
    if let Some(rule) = plan.shown() {
        loops(head, plan, rule, &mut out);
    }
    rules(head, plan, &mut out);
    out
}

/// The night and its picture as a page.
#[must_use]
pub fn night_page(head: &NightHead<'_>, plan: &NightPlan, picture: &Picture) -> String {
    let document = night_document(head, plan);
    let pictures = inline(&[(PICTURE, picture.clone())]);
    let title = format!("Night of {}", head.date.date());
    let nights = grouped(head.request.batch.trials);
    let about = format!("Planned, and run {nights} times.");
    to_print(&title, &about, &document, &pictures)
}

fn moon(plan: &NightPlan) -> String {
    let moon = &plan.moon;
    let grows = match moon.at_midnight.waxes {
        true => "waxing",
        false => "waning",
    };
    let mut parts = vec![format!(
        "Moon: {} lit, {grows}",
        percent(moon.at_midnight.lit)
    )];
    let mut times = [("rises", moon.rises), ("sets", moon.sets)];
    times.sort_by(|a, b| a.1.partial_cmp(&b.1).unwrap_or(std::cmp::Ordering::Equal));
    let times = times
        .iter()
        .filter_map(|(does, at)| at.map(|at| format!("{does} {}", at.clock())));
    parts.extend(times);
    if parts.len() == 1 {
        let up = moon.at_midnight.altitude_deg > 0.0;
        parts.push(
            if up {
                "up all night"
            } else {
                "below the horizon"
            }
            .to_owned(),
        );
    }
    format!("{}.", parts.join(", "))
}

/// What was asked of the order; empty if it was given.
fn order(plan: &NightPlan) -> String {
    let Some(best) = &plan.best_order else {
        return String::new();
    };
    let numbers: Vec<String> = best.numbers.iter().map(usize::to_string).collect();
    let how = match best.of_all {
        true => "least of all orders",
        false => "least that a search by moving single targets found",
    };
    format!(
        "Order by the numbers in the list: {}. By the plan, {} min of the planned time go without exposure, {how}.",
        numbers.join(", "),
        degrees(best.lost_s / 60.0)
    )
}

/// The times for other things that move; empty if they take none.
fn setup(plan: &NightPlan) -> String {
    let setup = &plan.setup;
    let parts = [("slew", setup.slew_s), ("focus", setup.focus_s)];
    let parts = parts.iter().filter(|(_, s)| *s > 0.0);
    let parts: Vec<String> = parts
        .map(|(what, s)| format!("{what} {} min", degrees(s / 60.0)))
        .collect();
    let mut said = Vec::new();
    if !parts.is_empty() {
        said.push(format!("Before each loop: {}.", parts.join(", ")));
    }
    if setup.flip_s > 0.0 {
        said.push(format!("At a flip: {} min.", degrees(setup.flip_s / 60.0)));
    }
    said.join(" ")
}

fn timetable(head: &NightHead<'_>, plan: &NightPlan, out: &mut Document) {
    let mut columns = vec![
        Column::numbers("#", ""),
        Column::words("target"),
        Column::numbers("from", ""),
        Column::numbers("to", ""),
    ];
    columns.extend(head.local.map(|_| Column::words("local")));
    columns.extend([
        Column::numbers("hour angle", "(h)"),
        Column::numbers("altitude", "(°)"),
        Column::numbers("Moon high", "(°)"),
        Column::numbers("Moon away", "(°)"),
        Column::words("side"),
        Column::numbers("PA", "(°)"),
        Column::numbers("pole of date", "(°)"),
        Column::words(""),
    ]);
    let mut table = Table::new("", columns);
    for ((i, s), moon) in plan.stretches.iter().enumerate().zip(&plan.moon.stretches) {
        let (a, b) = (&s.at_begin, &s.at_end);
        let side = match (s.flipped, s.after_flip) {
            (_, true) => "flip",
            (true, false) => "flipped",
            (false, false) => "",
        };
        let mut cells = vec![
            (i + 1).to_string(),
            name(plan, s).to_owned(),
            s.begin.clock(),
            s.end.clock(),
        ];
        cells.extend(
            head.local
                .map(|l| format!("{} to {}", l.clock(s.begin), l.clock(s.end))),
        );
        cells.extend([
            format!("{:+.2} to {:+.2}", a.hour_angle_h, b.hour_angle_h),
            format!("{:.1} to {:.1}", a.altitude_deg, b.altitude_deg),
            format!("{:+.0}", moon.0),
            format!("{:.0}", moon.1),
            side.to_owned(),
            degrees(plan.targets[s.target].position_angle_deg),
            format!("{:+.3}", s.pole_deg()),
            not_usable(head, plan, s),
        ]);
        table.row(cells);
    }
    out.add(Block::Table(table));
    out.add(Block::Note(
        "Pole of date: its position angle from ICRS north. The zero point shifts with it from target to target. Moon high, Moon away: its altitude and its distance from the target in the middle of the stretch.".into(),
    ));
}

/// Every loop of the night under a rule: the plan, and the figures of many nights.
fn loops(head: &NightHead<'_>, plan: &NightPlan, rule: &RuleNight, out: &mut Document) {
    let mut table = Table::new(
        "",
        vec![
            Column::numbers("#", ""),
            Column::words("target"),
            Column::numbers("drive angle", "(°)"),
            Column::numbers("turn", "(°)"),
            Column::numbers("reading", "(°)"),
            Column::numbers("to the seam", "(°)"),
            Column::numbers("time, mean", ""),
            Column::numbers("90 % within", ""),
            Column::numbers("framed", ""),
            Column::words("verdict"),
            Column::words(""),
        ],
    );
    let nights = &rule.summary.stretches;
    for (i, (rotation, night)) in rule.course.rotations.iter().zip(nights).enumerate() {
        let stretch = &plan.stretches[i];
        let drive = match rotation.scenario.brief().travel {
            Travel::Endless => on_dial(rotation.drive_deg),
            Travel::Stops { .. } => rotation.drive_deg,
        };
        let time = |s: Option<f64>| Line::new(s.map_or_else(|| NEVER.to_owned(), duration));
        let seam = rotation.seam_distance_deg;
        let framed = match stretch.not_usable.is_empty() {
            true => percent(night.settled.rate),
            false => UNKNOWN.to_owned(),
        };
        table.row([
            (i + 1).to_string().into(),
            Span::Name(name(plan, stretch).to_owned()).into(),
            degrees(drive).into(),
            format!("{:+.2}", rotation.to_deg - rotation.from_deg).into(),
            format!("{:.2}", rotation.to_deg).into(),
            seam.map_or_else(|| UNKNOWN.to_owned(), degrees).into(),
            time(night.time_s.mean),
            time(night.settle_time_s.p90),
            framed.into(),
            verdict_cell(&night.verdict),
            remarks(head, plan, stretch, rotation).into(),
        ]);
    }
    out.add(Block::Heading(
        "loops",
        format!("Loops with {}", rule.course.policy.rule),
    ));
    out.add(Block::Table(table));
    let limit = match head.rig.settings().drive.winding_limit_deg {
        limit_deg if limit_deg > 0.0 => format!("; the cable allows {}", angle(limit_deg)),
        _ => String::new(),
    };
    out.add(Block::Note(
        format!(
            "Drive angle, turn and reading as planned, the rest over {} nights. Time: of the loop, settled or not. Planned readings go {} from the parking reading{limit}.",
            grouped(rule.summary.nights),
            angle(rule.course.winding_deg),
        )
        .into(),
    ));
}

/// Remarks on a loop.
pub(super) fn remarks(
    head: &NightHead<'_>,
    plan: &NightPlan,
    stretch: &Stretch,
    rotation: &Rotation,
) -> String {
    let mut remarks = Vec::new();
    if stretch.after_flip {
        remarks.push("after the flip".to_owned());
    }
    if rotation.refused {
        remarks.push("outside the stops".to_owned());
    }
    if rotation.keep_out_deg > 0.0 {
        let inside = angle(rotation.keep_out_deg);
        remarks.push(format!("{inside} through a keep-out"));
    }
    if rotation.rests_in_keep_out {
        remarks.push("stands in a keep-out".to_owned());
    }
    if !stretch.not_usable.is_empty() {
        remarks.push(not_usable(head, plan, stretch));
    }
    remarks.join(", ")
}

fn rules(head: &NightHead<'_>, plan: &NightPlan, out: &mut Document) {
    let mut columns = vec![Column::words("")];
    let names = plan.rules.iter().map(|r| r.course.policy.rule.to_string());
    columns.extend(names.map(|name| Column::numbers(name, "")));
    let mut table = Table::new("", columns);
    let mut add = |name: &str, value: &dyn Fn(&RuleNight) -> Line| {
        table.row(std::iter::once(name.into()).chain(plan.rules.iter().map(value)));
    };
    let minutes = |value: Option<f64>| {
        Line::new(value.map_or_else(|| UNKNOWN.to_owned(), |s| format!("{:.2}", s / 60.0)))
    };
    let mean = |d: &Distribution, unit: f64| {
        Line::new(match (d.mean, d.mean_low, d.mean_high) {
            (Some(mean), Some(low), Some(high)) => {
                format!("{:.2} ± {:.2}", mean / unit, 0.5 * (high - low) / unit)
            }
            (Some(mean), ..) => format!("{:.2}", mean / unit),
            _ => UNKNOWN.to_owned(),
        })
    };
    add("safe stretches", &|r| {
        let safe = |s: &&StretchSummary| s.verdict.is_safe();
        let all = &r.summary.stretches;
        format!("{} of {}", all.iter().filter(safe).count(), all.len()).into()
    });
    add("camera angles that frame the same", &|r| {
        r.course.policy.symmetry.to_string().into()
    });
    add("clear sky lost to rotation (min)", &|r| {
        mean(&r.summary.clear_lost_s, 60.0)
    });
    add("  90 % of nights below", &|r| {
        minutes(r.summary.clear_lost_s.p90)
    });
    add("  99 %", &|r| minutes(r.summary.clear_lost_s.p99));
    if head.request.clouds.share > 0.0 {
        add("with the time in clouds (min)", &|r| {
            mean(&r.summary.lost_s, 60.0)
        });
    }
    add("clear sky of targets given up (min)", &|r| {
        mean(&r.summary.given_up_s, 60.0)
    });
    add("loops given up", &|r| mean(&r.summary.given_up, 1.0));
    add("nights with every target framed", &|r| {
        rate(r.summary.all_framed)
    });
    add("nights with hunting", &|r| rate(r.summary.hunting));
    add("long swings", &|r| mean(&r.summary.long_swings, 1.0));
    add("turned (°)", &|r| mean(&r.summary.travel_deg, 1.0));
    add("farthest from parking (°)", &|r| {
        mean(&r.summary.winding_deg, 1.0)
    });
    if head.rig.settings().drive.winding_limit_deg > 0.0 {
        add("nights wound too far", &|r| rate(r.summary.overwound));
    }
    if !head.rig.settings().keep_out.is_empty() {
        add("nights through a keep-out", &|r| rate(r.summary.keep_out));
    }
    let learn = if head.request.knowledge.learn {
        "zero point learned and kept"
    } else {
        "zero point not kept"
    };
    out.add(Block::Heading("rules", "Rules".to_owned()));
    out.add(Block::Table(table));
    out.add(Block::Note(
        format!(
            "The night, {} times, seed {}, {learn}. ±: half the width of the 95 % interval of the mean. In brackets: 95 % intervals.",
            grouped(head.request.batch.trials),
            head.request.batch.seed,
        )
        .into(),
    ));
}
