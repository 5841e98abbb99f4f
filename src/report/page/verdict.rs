//! The verdict: how the list fares now, how it fares under the advised arc, in a few plain sentences.

use maud::{Markup, html};

use super::words::{angle, limit, mark, number, rule, share, time, whole_units};
use crate::advise::{Advice, Setting, VERDICTS, Verdict};
use crate::angle::TURN_DEG;
use crate::plant::Travel;
use crate::rig::{Rig, Rule};
use crate::scenario::Scenario;

pub(super) fn section(advice: &Advice) -> Markup {
    html! {
        section.answer aria-label="Verdict" {
            div {
                p.lead { (present(advice)) }
                p.lead { (whole_units(&advice.sentence())) }
                @if !advice.plan_headline().is_empty() {
                    p { (whole_units(&advice.plan_headline())) " See the " a href="#rules" { "rules" } " and the " a href="#settings" { "tolerance window" } "." }
                }
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
    if let [target] = advice.before.targets.as_slice() {
        let does = match target.verdict {
            Verdict::WillHunt => "will hunt".to_owned(),
            verdict => format!("is {verdict}"),
        };
        return format!(
            "Your one target, {}, {does} under the present settings ({settings}).",
            target.name
        );
    }
    let standing = whole_units(&advice.before.standing());
    let (first, rest) = standing.split_at(standing.chars().next().map_or(0, char::len_utf8));
    format!(
        "{}{rest} under the present settings ({settings}).",
        first.to_uppercase()
    )
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

/// What the verdicts count.
fn meaning(advice: &Advice) -> String {
    format!(
        "A target hunts when the camera swings to the other end of the arc again and again, or the {} solves of a run are used up, \
         in more than {} of the runs. It is safe when that happens in less than {}, with 95\u{a0}% confidence, and as few runs fail to solve, are refused at a stop or turn through a keep-out.",
        advice.rig.settings().loop_.max_solves,
        limit((10.0 * advice.request.limits.max_hunting).min(0.5)),
        limit(advice.request.limits.max_hunting),
    )
}

/// Says so where the runs are too few to call anything safe.
pub(super) fn too_few(advice: &Advice) -> Option<String> {
    let trials = advice.request.batch.trials;
    advice.too_few_runs().then(|| {
        format!(
            "Note: {} runs for every target are too few to call any target safe.",
            number(usize::try_from(trials).unwrap_or(usize::MAX))
        )
    })
}

/// Time for the whole list, and what it leaves out.
fn total_time(setting: &Setting) -> String {
    match setting.count(Verdict::OutOfReach) {
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
    let differs = before.policy.arc_start_deg != after.policy.arc_start_deg;
    let label = if advice.decision.needed() {
        "Advised"
    } else {
        "If you like"
    };
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
                        th scope="col" { "Present" }
                        @if differs { th scope="col" { (label) } }
                    }
                }
                tbody {
                    (both("Start of the arc", [before, after].map(|s| angle(s.policy.arc_start_deg))))
                    @for verdict in VERDICTS {
                        @if before.count(verdict) + after.count(verdict) > 0 {
                            tr {
                                th scope="row" { "Targets " (mark(verdict)) }
                                td { (number(before.count(verdict))) }
                                @if differs { td { (number(after.count(verdict))) } }
                            }
                        }
                    }
                    @if !advice.choice.no_seam {
                        (both("Nearest target to the seam", [advice.choice.present_margin_deg, advice.choice.margin_deg].map(angle)))
                    }
                    (both("Runs that settle, mean of all targets", [before, after].map(settled)))
                    (both("Time to frame every target once", [before, after].map(total_time)))
                }
            }
        }
    }
}
