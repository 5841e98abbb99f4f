//! The pictures of a report: the data for each of them.

use rayon::prelude::*;

use super::files::ReportError;
use super::plot::{
    AngleBar, Dial, DialTarget, Picture, PlotError, RateLine, SettleCurve, ToleranceWindow,
    TraceSetting, angle_bars, dial, loop_trace, seam_distance, settle_time, tolerance_window,
};
use halfturn_engine::advise::{
    Advice, AnyTarget, Circle, RuleReport, SeamScan, Setting, TraceExample,
};
use halfturn_engine::angle::TURN_DEG;
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::Rig;
use halfturn_engine::run::{Figures, Outcome, TraceRow};
use halfturn_engine::scenario::Scenario;
use halfturn_engine::verdict::TargetState;
use halfturn_engine::wording::{degrees, grouped};

impl From<PlotError> for ReportError {
    fn from(error: PlotError) -> Self {
        Self::Picture(error.to_string())
    }
}

/// A picture with the stem of its file name.
pub(super) type NamedPicture = (&'static str, Picture);

/// One loop over time.
pub fn trace_picture(
    scenario: &Scenario,
    figures: &Figures,
    rows: &[TraceRow],
    title: &str,
) -> Picture {
    let brief = scenario.brief();
    // Readings count turns: the arc is drawn where the drive ends.
    let turns_deg = match (brief.travel, rows.last()) {
        (Travel::Endless, Some(last)) => {
            let centre_deg = brief.arc_start_deg + 0.5 * brief.arc_width_deg;
            TURN_DEG * ((last.reading_deg - centre_deg) / TURN_DEG).round()
        }
        _ => 0.0,
    };
    let arc_from_deg = brief.arc_start_deg + turns_deg;
    let setting = TraceSetting {
        title: title.to_owned(),
        arc_from_deg,
        arc_to_deg: arc_from_deg + brief.arc_width_deg,
        band_deg: brief.band_deg,
        endless: brief.travel == Travel::Endless,
        period_deg: scenario.period_deg(),
        drive_deg: scenario.drive_angle_deg() + turns_deg,
        tolerance_deg: brief.tolerance_deg,
        stops_deg: match brief.travel {
            Travel::Endless => None,
            Travel::Stops { lo_deg, hi_deg } => Some((lo_deg, hi_deg)),
        },
        outcome: outcome(figures),
    };
    loop_trace(rows, &setting)
}

/// How a run ended, in a few words.
fn outcome(figures: &Figures) -> String {
    let swings = match figures.long_swings {
        0 => "no long swing".to_owned(),
        1 => "1 long swing".to_owned(),
        n => format!("{n} long swings"),
    };
    match (figures.outcome, figures.solves) {
        (Outcome::Refused, 0) => "the first command is refused".to_owned(),
        (outcome, 0) => format!("{outcome}, without a good solve, {swings}"),
        (outcome, 1) => format!("{outcome} after 1 solve, {swings}"),
        (outcome, n) => format!("{outcome} after {n} solves, {swings}"),
    }
}

fn settle_picture(rules: &[RuleReport], about: &str) -> Picture {
    let curves: Vec<SettleCurve> = rules
        .iter()
        .map(|r| SettleCurve::of(r.summary.rule.to_string(), &r.tally))
        .collect();
    settle_time(&curves, about)
}

/// Hunting of the rules around the seam.
fn seam_picture(scans: &[SeamScan], about: &str) -> Picture {
    let lines: Vec<RateLine> = scans
        .iter()
        .map(|scan| RateLine {
            label: scan.rule.to_string(),
            points: scan
                .points
                .iter()
                .map(|p| super::plot::RatePoint {
                    at: p.distance_deg,
                    rate: p.hunting.rate,
                    low: p.hunting.low,
                    high: p.hunting.high,
                })
                .collect(),
        })
        .collect();
    seam_distance(&lines, about)
}

/// The pictures of `batch`. `about` names the rig, target and runs.
pub fn batch_pictures(
    rules: &[RuleReport],
    scans: &[SeamScan],
    about: &str,
) -> Vec<(&'static str, Picture)> {
    vec![
        ("settle-time", settle_picture(rules, about)),
        ("seam-distance", seam_picture(scans, about)),
    ]
}

/// The picture of a rig at every target angle: every rule as it is, and at its best where that differs.
pub(super) fn any_target_picture(found: &AnyTarget) -> NamedPicture {
    let bar = |circle: &Circle, what: &str| AngleBar {
        label: format!("{}, {what}", circle.policy.rule),
        zones: over_turn(circle),
    };
    let mut bars = Vec::new();
    for rule in &found.rules {
        bars.push(bar(&rule.now, "now"));
        if rule.best != rule.now {
            bars.push(bar(&rule.best, "at its best"));
        }
    }
    ("any-target", angle_bars(&bars, &found.rig.settings().name))
}

/// The zones of a circle over the whole turn, none through 0.
fn over_turn(circle: &Circle) -> Vec<(f64, f64, TargetState)> {
    let width_deg = circle.width_deg;
    let copies = (TURN_DEG / width_deg).round() as u32;
    let parts = circle.zones().into_iter().flat_map(|z| {
        if z.from_deg < z.to_deg {
            vec![(z.from_deg, z.to_deg, z.state)]
        } else {
            vec![(0.0, z.to_deg, z.state), (z.from_deg, width_deg, z.state)]
        }
    });
    let copied = |(from_deg, to_deg, state): (f64, f64, TargetState)| {
        (0..copies).map(move |k| {
            let on_deg = f64::from(k) * width_deg;
            (from_deg + on_deg, to_deg + on_deg, state)
        })
    };
    parts.flat_map(copied).collect()
}

/// The pictures of `advise`.
pub(super) fn advice_pictures(advice: &Advice) -> Vec<NamedPicture> {
    let example = |e: &TraceExample, title: &str| {
        let name = &advice.shown().name;
        trace_picture(
            &e.scenario,
            &e.figures,
            e.trace.rows(),
            &format!("{name}, {title}, run {}", e.trial),
        )
    };
    let start = |setting: &Setting| {
        let from = degrees(setting.policy.arc_start_deg).replace('-', "\u{2212}");
        format!("{}, arc from {from}°", setting.policy.rule)
    };
    let (before, after) = (start(&advice.before), start(&advice.after));
    let dials = || {
        if advice.changes.is_empty() {
            return dial(&[dial_of(&advice.rig, &advice.before, &before)]);
        }
        let present = dial_of(&advice.rig, &advice.before, &format!("now: {before}"));
        let other = dial_of(
            &advice.advised_rig,
            &advice.after,
            &format!("then: {after}"),
        );
        dial(&[present, other])
    };
    let rig = &advice.rig.settings().name;
    let runs = grouped(advice.request.batch.trials);
    let about = format!("{rig}, {}, {runs} runs each", advice.shown().name);
    let mut names = vec!["loop-before", "dial", "loop-after"];
    if advice.changes.is_empty() {
        names.pop();
    }
    names.extend(["settle-time", "seam-distance", "tolerance"]);
    let draw = |name: &'static str| {
        let picture = match name {
            "loop-before" => example(&advice.example_before, &before),
            "dial" => dials(),
            "loop-after" => example(&advice.example_after, &after),
            "settle-time" => settle_picture(&advice.rules, &about),
            "seam-distance" => seam_picture(&advice.seam_scan, rig),
            _ => tolerance_window(&tolerances(advice)),
        };
        (name, picture)
    };
    names.into_par_iter().map(draw).collect()
}

/// The window, with the name of each limit.
fn tolerances(advice: &Advice) -> ToleranceWindow {
    let window = &advice.window;
    let named = super::advice::named_limits(advice).into_iter();
    let limits = named.filter(|(name, _)| name != "present" && name != "advised");
    ToleranceWindow {
        low_deg: window.low_deg,
        high_deg: window.high_deg,
        present_deg: window.present_deg,
        advised_deg: window.advised_deg,
        limits: limits.collect(),
    }
}

fn dial_of(rig: &Rig, setting: &Setting, title: &str) -> Dial {
    let s = rig.settings();
    let policy = setting.policy;
    let travel = rig.travel();
    let wrap = policy.wrap(travel);
    Dial {
        stops_deg: match travel {
            Travel::Endless => None,
            Travel::Stops { lo_deg, hi_deg } => Some((lo_deg, hi_deg)),
        },
        title: title.to_owned(),
        arc_from_deg: wrap.start_deg(),
        arc_width_deg: wrap.width_deg(),
        band_deg: wrap.band_deg(),
        keep_outs: s
            .keep_out
            .iter()
            .map(|k| (k.from_deg, k.to_deg, k.why.clone()))
            .collect(),
        targets: setting
            .targets
            .iter()
            .map(|t| DialTarget {
                name: t.name.clone(),
                drive_deg: t.drive_deg,
                state: t.verdict.state,
            })
            .collect(),
    }
}
