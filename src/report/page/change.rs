//! What to change: the key, its margins and limits, and what else there is where it does not cure.

use maud::{Markup, html};

use super::verdict::{arc, too_few};
use super::words::{angle, mark, maybe, number, rule, whole_units};
use super::{Made, cautions};
use crate::advise::{Advice, Decision, Setting, TargetReport, Verdict};
use crate::rig::{Named, TravelKind};

/// Unsafe targets that are named one by one.
const NAMED: usize = 10;

pub(super) fn section(advice: &Advice, made: &Made) -> Markup {
    let changes = advice.decision.changes();
    html! {
        section id="change" {
            h2 { "What to change" }
            @if changes {
                p {
                    @if advice.decision == Decision::Spare { "If you like, set one key" } @else { "Set one key" }
                    " in " code { (made.rig_file) } ": " code { "arc_start_deg" } " under " code { "[wrap]" }
                    ", from " (angle(advice.before.policy.arc_start_deg)) " to " (angle(advice.choice.start_deg))
                    ". Then give the program that turns your rotator the same range: the rig file only describes it."
                }
                pre.snippet tabindex="0" aria-label="Lines for the rig file" { code { (advice.rig_lines()) } }
                p { (margins(advice)) }
            } @else {
                p {
                    @if advice.decision == Decision::Fine { "Nothing. " } @else { (whole_units(&advice.sentence())) " " }
                    "Leave " code { "arc_start_deg" } " under " code { "[wrap]" } " at "
                    (angle(advice.before.policy.arc_start_deg)) "."
                }
                @if !advice.choice.no_seam {
                    p { "The target nearest to the seam lies " (angle(advice.choice.margin_deg)) " from it." }
                }
            }
            @if !advice.rig.settings().keep_out.is_empty() || advice.rig.settings().drive.travel == TravelKind::Stops {
                (limits(advice))
            }
            (cautions::section())
            (further(advice))
            @if !advice.after.all_safe() {
                (unsafe_targets(advice))
                (cures(advice))
            }
        }
    }
}

/// What the plan changes beyond the start of the arc.
fn further(advice: &Advice) -> Markup {
    let repair = advice.repair_sentence();
    html! {
        @if advice.plan.chosen.is_some() && advice.plan_goes_further() {
            h3 { "All changes together" }
            p {
                (whole_units(&advice.plan_headline())) " " (whole_units(&advice.rule_sentence()))
                " These are all the keys that change; the certificate " code { "advice.toml" } " beside this page has them too, and "
                code.option { "--write" } " makes the new rig file."
            }
            pre.snippet tabindex="0" aria-label="All lines for the rig file" { code { (advice.plan_lines()) } }
        }
        @if !repair.is_empty() {
            h3 { "Where no arc serves the whole list" }
            p { (whole_units(&repair)) }
        }
    }
}

fn margins(advice: &Advice) -> String {
    let choice = &advice.choice;
    let targets = match advice.before.targets.as_slice() {
        [_] => "The target then lies",
        _ => "The nearest target then lies",
    };
    format!(
        "{targets} {} from the seam, the place where the two ends of the {} meet; now it is {}.",
        angle(choice.margin_deg),
        arc(&advice.example_after.scenario),
        angle(choice.present_margin_deg)
    )
}

/// Keep-outs and stops, of the arc that is to be used.
fn limits(advice: &Advice) -> Markup {
    let choice = &advice.choice;
    let brief = advice.example_after.scenario.brief();
    let has_keep_out = !advice.rig.settings().keep_out.is_empty();
    let between_stops = advice.rig.settings().drive.travel == TravelKind::Stops;
    let arc = if advice.decision.changes() {
        "The new arc"
    } else {
        "The arc"
    };
    let with_band = if brief.band_deg > 0.0 {
        ", band included,"
    } else {
        ""
    };
    let crossing = crossing(&advice.after);
    html! {
        ul {
            @if has_keep_out {
                li {
                    @if choice.clear_of_keep_outs {
                        (arc) (with_band) " is clear of every keep-out."
                    } @else {
                        strong { (arc) (with_band) " overlaps a keep-out:" }
                        @if advice.decision.changes() { " no start of the arc avoids them all." }
                        @else { " look at the range before you use it." }
                    }
                }
            }
            @if let Some((target, inside_deg)) = crossing {
                li {
                    strong { "Some moves pass through a keep-out" }
                    ", most for " (target.name) ": " (angle(inside_deg))
                    " a run on average. A first move from the parking angle can do so even where the arc does not."
                }
            }
            @if between_stops {
                li {
                    @if choice.within_stops {
                        (arc) (with_band) " fits between the stops."
                    } @else {
                        strong { (arc) (with_band) " does not fit between the stops," }
                        " so some commands may be refused."
                    }
                }
            }
        }
    }
}

/// Which targets stay unsafe: under the advised arc, or under the present one where no change is advised.
fn unsafe_targets(advice: &Advice) -> Markup {
    let bad: Vec<&TargetReport> = advice
        .after
        .worst_first()
        .into_iter()
        .filter(|t| t.verdict != Verdict::Safe)
        .collect();
    let more = bad.len().saturating_sub(NAMED);
    html! {
        h3 {
            @if advice.decision.changes() { "Not safe under the advised start either" } @else { "Not safe" }
        }
        ul {
            @for target in bad.iter().take(NAMED) {
                li { strong { bdi { (target.name) } } ", " (mark(target.verdict)) ". " (whole_units(&target.reason)) }
            }
            @if more > 0 {
                li { "and " (number(more)) " more, see the table of " a href="#targets" { "targets" } "." }
            }
        }
    }
}

/// The other rules that cure the shown target.
fn cures(advice: &Advice) -> Markup {
    let shown = &advice.before.targets[advice.shown];
    let cures = advice.rule_cures();
    html! {
        h3 { "What another rule would do" }
        @if cures.is_empty() && too_few(advice).is_some() {
            p { "With so few runs no rule can be called safe. The " a href="#rules" { "rules side by side" } " show how each one did." }
        } @else if cures.is_empty() {
            p {
                "At " strong { (shown.name) } ", the worst of the list, none of the other rules is safe, so the arc is not the only cause. "
                "Its reason above and the " a href="#rules" { "rules side by side" } " say where to look: tolerance, play, noise, or the stops."
            }
        } @else {
            p {
                "At " strong { (shown.name) } ", the worst of the list, and with the present arc, "
                @if cures.len() == 1 { "this rule is safe:" } @else { "these rules are safe:" }
            }
            ul {
                @for cure in &cures {
                    li {
                        code { "rule = \"" (cure.summary.rule.name()) "\"" }
                        " (" (rule(cure.summary.rule)) "): settles in "
                        (maybe(cure.summary.settle_time_s.mean, super::words::time)) " on average"
                    }
                }
            }
            p { "That was tried at this target only. Set " code { "rule" } " under " code { "[wrap]" } " and run the advice again for the whole list." }
        }
    }
}

/// Degrees inside a keep-out that count as none \[deg\].
const TOUCH_DEG: f64 = 1e-9;

/// The target whose runs turn farthest through keep-outs, and how far on average \[deg\].
fn crossing(setting: &Setting) -> Option<(&TargetReport, f64)> {
    setting
        .targets
        .iter()
        .filter_map(|t| Some((t, t.summary.keep_out_deg.mean?)))
        .filter(|(_, mean)| *mean > TOUCH_DEG)
        .max_by(|a, b| a.1.total_cmp(&b.1))
}
