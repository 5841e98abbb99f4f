//! The verdict: how the list fares now, how it fares under the advised arc, in a few plain sentences.

use maud::{Markup, html};

use super::words::{angle, limit, mark, number, rule, share, time, whole_units};
use halfturn_engine::advise::{Advice, Setting};
use halfturn_engine::angle::TURN_DEG;
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::scenario::Scenario;
use halfturn_engine::verdict::{Fault, State};

pub(super) fn section(advice: &Advice) -> Markup {
    html! {
        section.answer aria-label="Verdict" {
            div {
                p.lead { (present(advice)) }
                p.lead { (whole_units(&advice.headline())) }
                p.soft { (meaning(advice)) }
                @if let Some(text) = too_few(advice) {
                    p { (text) " Use more of them, with " code.option { "--trials" } "." }
                }
            }
            (glance(advice))
        }
    }
}

/// The list under the present settings.
pub(super) fn present(advice: &Advice) -> String {
    let settings = settings(&advice.rig, &advice.example_before.scenario);
    let fares = whole_units(&advice.before.fares());
    let (first, rest) = fares.split_at(fares.chars().next().map_or(0, char::len_utf8));
    format!("Now ({settings}): {}{rest}.", first.to_lowercase())
}

/// Rule, arc and tolerance in words.
fn settings(rig: &Rig, scenario: &Scenario) -> String {
    let wrap = &rig.settings().wrap;
    let band = match wrap.rule {
        Rule::HysteresisBand => format!(" with a band of {}", angle(wrap.band_deg)),
        Rule::FullCircle | Rule::HalfCircle | Rule::FoldOnce => String::new(),
    };
    format!(
        "rule {}, {}{band}, tolerance {}",
        rule(wrap.rule),
        arc(scenario),
        angle(scenario.brief().tolerance_deg)
    )
}

/// The allowed arc in words; endless travel counts readings up to a turn.
pub(super) fn arc(scenario: &Scenario) -> String {
    let brief = scenario.brief();
    let (from_deg, to_deg) = (
        brief.arc_start_deg,
        brief.arc_start_deg + brief.arc_width_deg,
    );
    if brief.travel == Travel::Endless && brief.arc_width_deg >= TURN_DEG {
        format!("arc of a full turn from {}", angle(from_deg))
    } else if brief.travel == Travel::Endless && from_deg >= 0.0 && to_deg > TURN_DEG {
        format!(
            "arc from {} through 0 to {}",
            angle(from_deg),
            angle(to_deg - TURN_DEG)
        )
    } else {
        format!("arc from {} to {}", angle(from_deg), angle(to_deg))
    }
}

/// What the states mean.
fn meaning(advice: &Advice) -> String {
    let limits = &advice.request.limits;
    let certain = Fault::PingPong.certain_from(limits);
    format!(
        "A target hunts if the camera swings to the other end of the arc and back in more than {} of the runs. \
         It is safe if no more than {} of the runs hunt, run out of solves, find no solution, are refused at a stop, turn through a keep-out or wind the cable too far, \
         and at least {} settle within {} solves.",
        limit(certain),
        limit(limits.max_ping_pong),
        limit(limits.settle_chance),
        limits.max_solves
    )
}

/// Says so where the runs are too few to call anything safe.
pub(super) fn too_few(advice: &Advice) -> Option<String> {
    let trials = advice.request.batch.trials;
    advice.too_few_runs().then(|| {
        format!(
            "Note: {} runs for every target are too few to be sure of any target that the exact method cannot solve.",
            number(usize::try_from(trials).unwrap_or(usize::MAX))
        )
    })
}

/// Time for the whole list, and what it leaves out.
fn total_time(setting: &Setting) -> String {
    let out = setting
        .targets
        .iter()
        .filter(|t| t.expected_time_s.is_none());
    match out.count() {
        0 => time(setting.total_time_s()),
        n if n == setting.targets.len() => "–".to_owned(),
        n => format!(
            "{}, {} out of reach left out",
            time(setting.total_time_s()),
            number(n)
        ),
    }
}

/// Counts and margins, now and advised.
fn glance(advice: &Advice) -> Markup {
    let (before, after) = (&advice.before, &advice.after);
    let differs = !advice.changes.is_empty();
    let both = |row: &str, values: [String; 2]| {
        let [now, then] = values;
        html! {
            tr {
                th scope="row" { (row) }
                td { (now) }
                @if differs { td { (then) } }
            }
        }
    };
    let settled = |s: &Setting| {
        let shares: f64 = s.targets.iter().map(|t| t.summary.settled.rate).sum();
        share(shares / s.targets.len().max(1) as f64)
    };
    html! {
        div.scroll role="region" aria-label="At a glance" tabindex="0" {
            table {
                caption { span { "At a glance" } }
                thead {
                    tr {
                        th scope="col" { "Setting" }
                        th scope="col" { "Now" }
                        @if differs { th scope="col" { "Advised" } }
                    }
                }
                tbody {
                    @if before.policy.rule != after.policy.rule {
                        (both("Rule", [before, after].map(|s| rule(s.policy.rule))))
                    }
                    (both("Start of the arc", [before, after].map(|s| angle(s.policy.arc_start_deg))))
                    @if before.tolerance_deg != after.tolerance_deg {
                        (both("Tolerance", [before, after].map(|s| angle(s.tolerance_deg))))
                    }
                    @for state in State::ALL {
                        @if before.count(state) + after.count(state) > 0 {
                            tr {
                                th scope="row" { "Targets " (mark(state)) }
                                td { (number(before.count(state))) }
                                @if differs { td { (number(after.count(state))) } }
                            }
                        }
                    }
                    @if !after.arc.no_seam {
                        (both("Nearest target to the seam", [before, after].map(|s| angle(s.arc.margin_deg))))
                    }
                    (both("Runs that settle, mean of all targets", [before, after].map(settled)))
                    (both("Time to frame every target once", [before, after].map(total_time)))
                }
            }
        }
    }
}
