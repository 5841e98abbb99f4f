//! The verdict: how the list fares now, how it fares under the advised arc, in a few plain sentences.

use maud::{Markup, html};

use super::effect::Effect;
use super::words::{VERDICTS, angle, limit, mark, number, rule, share, time};
use crate::advise::{Advice, Setting, Verdict};
use crate::angle::TURN_DEG;
use crate::plant::Travel;
use crate::rig::{Rig, Rule};
use crate::scenario::Scenario;
use crate::summary::Rate;

pub(super) fn section(advice: &Advice) -> Markup {
    let effect = Effect::of(advice);
    html! {
        section.answer aria-label="Verdict" {
            div {
                p.lead { (present(advice)) }
                p.lead { (advised(advice, effect)) }
                p.soft { (meaning(advice)) }
                @if let Some(text) = too_few(advice) {
                    p { (text) " Use more of them, with " code.option { "--trials" } "." }
                }
            }
            (glance(advice, effect))
        }
    }
}

/// The list under the present settings.
pub(super) fn present(advice: &Advice) -> String {
    let settings = settings(&advice.rig, &advice.example_before.scenario);
    if let [target] = advice.before.targets.as_slice() {
        let does = match target.verdict {
            Verdict::Safe => "is safe",
            Verdict::AtRisk => "is at risk of hunting",
            Verdict::WillHunt => "hunts",
            Verdict::OutOfReach => "is out of reach",
        };
        return format!(
            "Your one target, {}, {does} under the present settings ({settings}).",
            target.name
        );
    }
    let n = number(advice.before.targets.len());
    if advice.before.all_safe() {
        return format!("All {n} targets are safe under the present settings ({settings}).");
    }
    let hunting = advice.before.count(Verdict::WillHunt);
    if hunting == advice.before.targets.len() {
        return format!("All {n} targets hunt under the present settings ({settings}).");
    }
    let (count, verb, lead) = match hunting {
        0 => ("None".to_owned(), "hunts", " Still, "),
        1 => ("1".to_owned(), "hunts", " "),
        _ => (number(hunting), "hunt", " "),
    };
    let rest = others(&advice.before, lead);
    format!("{count} of the {n} targets {verb} under the present settings ({settings}).{rest}")
}

/// The list under the advised start.
pub(super) fn advised(advice: &Advice, effect: Effect) -> String {
    let start = angle(advice.choice.start_deg);
    let now = angle(advice.before.policy.arc_start_deg);
    let n = advice.after.targets.len();
    match effect {
        Effect::Fine if advice.choice.no_seam => {
            "Nothing needs to change: a full circle of endless travel has no seam.".to_owned()
        }
        Effect::Fine => format!("Nothing needs to change: keep the start of the arc at {now}."),
        Effect::Spare => format!(
            "Nothing needs to change. With the arc started at {start} instead of {now}, they would lie farther from the seam still."
        ),
        Effect::Clears => format!(
            "But some moves pass through a keep-out. With the arc started at {start} instead of {now}, none does, and all stay safe."
        ),
        Effect::Cures if n == 1 => {
            format!("With the arc started at {start} instead of {now}, it is safe.")
        }
        Effect::Cures => format!(
            "With the arc started at {start} instead of {now}, none hunts: all {} are safe.",
            number(n)
        ),
        Effect::Helps => format!(
            "With the arc started at {start} instead of {now}, {}: better, but not all are safe.",
            state(&advice.after)
        ),
        Effect::NoOther if advice.choice.no_seam => {
            "Another start of the arc cannot help: a full circle of endless travel has no seam, so the cause lies elsewhere."
                .to_owned()
        }
        Effect::NoOther => format!(
            "Another start of the arc does not help: {now} already keeps the seam as far from the targets as it can be."
        ),
        Effect::NoHelp => format!(
            "Moving the start of the arc does not help: with the widest margin, at {start}, {}.",
            state(&advice.after)
        ),
    }
}

/// How a setting that is not all safe stands, as a clause.
fn state(setting: &Setting) -> String {
    let n = setting.targets.len();
    if let [target] = setting.targets.as_slice() {
        return format!("it is still not safe (verdict: {})", target.verdict);
    }
    if setting.count(Verdict::WillHunt) == n {
        return format!("all {} hunt", number(n));
    }
    let counts: Vec<String> = VERDICTS
        .iter()
        .filter(|v| setting.count(**v) > 0)
        .map(|v| {
            let count = setting.count(*v);
            match v {
                Verdict::WillHunt if count == 1 => "1 hunts".to_owned(),
                Verdict::WillHunt => format!("{} hunt", number(count)),
                _ => format!("{} {} {v}", number(count), is_are(count)),
            }
        })
        .collect();
    format!("of {} targets {}", number(n), counts.join(", "))
}

/// The targets that neither hunt nor are safe, as a sentence.
fn others(setting: &Setting, lead: &str) -> String {
    let parts: Vec<String> = [Verdict::AtRisk, Verdict::OutOfReach]
        .into_iter()
        .filter(|v| setting.count(*v) > 0)
        .map(|v| {
            let count = setting.count(v);
            format!("{} {} {v}", number(count), is_are(count))
        })
        .collect();
    if parts.is_empty() {
        String::new()
    } else {
        format!("{lead}{}.", parts.join(" and "))
    }
}

fn is_are(count: usize) -> &'static str {
    if count == 1 { "is" } else { "are" }
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
         in more than {} of the runs. It is safe when that happens in less than {}, with 95\u{a0}% confidence.",
        advice.rig.settings().loop_.max_solves,
        limit((10.0 * advice.request.limits.max_hunting).min(0.5)),
        limit(advice.request.limits.max_hunting),
    )
}

/// Says so where the runs are too few to call anything safe.
pub(super) fn too_few(advice: &Advice) -> Option<String> {
    let limit = advice.request.limits.max_hunting;
    let trials = advice.request.batch.trials;
    (Rate::of(0, trials).high > limit).then(|| {
        format!(
            "Note: {} runs for every target are too few to call any target safe.",
            number(usize::try_from(trials).unwrap_or(usize::MAX))
        )
    })
}

/// Counts and margins, now and advised.
fn glance(advice: &Advice, effect: Effect) -> Markup {
    let (before, after) = (&advice.before, &advice.after);
    let differs = before.policy.arc_start_deg != after.policy.arc_start_deg;
    let label = if effect.changes() {
        "Advised"
    } else {
        "Best other"
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
                    (both("Time to frame every target once", [before, after].map(|s| time(s.total_time_s()))))
                }
            }
        }
    }
}
