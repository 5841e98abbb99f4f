//! What to change: the key, its margins and limits, and what else there is where it does not cure.

use maud::{Markup, html};

use super::Made;
use super::effect::{Effect, ROUNDING_DEG, crossing};
use super::verdict::{arc, too_few};
use super::words::{angle, mark, maybe, number, rule, worst_first};
use crate::advise::{Advice, TargetReport, Verdict};
use crate::rig::{Named, TravelKind};

/// Unsafe targets that are named one by one.
const NAMED: usize = 10;

pub(super) fn section(advice: &Advice, made: &Made) -> Markup {
    let effect = Effect::of(advice);
    html! {
        section id="change" {
            h2 { "What to change" }
            @if effect.changes() {
                p {
                    @if effect == Effect::Spare { "If you like, set one key" } @else { "Set one key" }
                    " in " code { (made.rig_file) } ": " code { "arc_start_deg" } " under " code { "[wrap]" }
                    ", from " (angle(advice.before.policy.arc_start_deg)) " to " (angle(advice.choice.start_deg))
                    ". Then give the program that turns your rotator the same range: the rig file only describes it."
                }
                pre.snippet tabindex="0" aria-label="Lines for the rig file" { code { (snippet(advice)) } }
                p { (margins(advice)) }
            } @else {
                p {
                    @if effect == Effect::Fine { "Nothing. " } @else { "Not the start of the arc. " }
                    "Leave " code { "arc_start_deg" } " under " code { "[wrap]" } " at "
                    (angle(advice.before.policy.arc_start_deg)) "."
                }
                @if !advice.choice.no_seam {
                    p { "The target nearest to the seam lies " (angle(advice.choice.present_margin_deg)) " from it." }
                }
            }
            @if !advice.rig.settings().keep_out.is_empty() || advice.rig.settings().drive.travel == TravelKind::Stops {
                (limits(advice, effect))
            }
            @if matches!(effect, Effect::Helps | Effect::NoOther | Effect::NoHelp) {
                (unsafe_targets(advice, effect))
                (cures(advice))
            }
        }
    }
}

/// The lines to put into the rig file. Without rounding noise, but never another angle.
fn snippet(advice: &Advice) -> String {
    let tidy = |start_deg: f64| {
        let rounded = (start_deg * 1e6).round() / 1e6;
        let close = (rounded - start_deg).abs() <= ROUNDING_DEG;
        if close { rounded } else { start_deg }
    };
    format!(
        "[wrap]\narc_start_deg = {:?}    # was {:?}\n",
        tidy(advice.choice.start_deg),
        tidy(advice.before.policy.arc_start_deg)
    )
}

fn margins(advice: &Advice) -> String {
    let choice = &advice.choice;
    let targets = match advice.before.targets.as_slice() {
        [_] => "The target then lies",
        _ => "The nearest target then lies",
    };
    format!(
        "The {} has its seam, the place where its two ends meet, as far from your targets as the rig allows. {targets} {} from the seam; now it is {}.",
        arc(&advice.example_after.scenario),
        angle(choice.margin_deg),
        angle(choice.present_margin_deg)
    )
}

/// Keep-outs and stops, of the arc that is to be used.
fn limits(advice: &Advice, effect: Effect) -> Markup {
    let choice = &advice.choice;
    let brief = advice.example_after.scenario.brief();
    let has_keep_out = !advice.rig.settings().keep_out.is_empty();
    let between_stops = advice.rig.settings().drive.travel == TravelKind::Stops;
    // The choice speaks of its own start, which is not to be used where it does not help.
    let known = effect != Effect::NoHelp;
    let arc = if effect.changes() {
        "The new arc"
    } else {
        "The arc"
    };
    let with_band = if brief.band_deg > 0.0 {
        ", band included,"
    } else {
        ""
    };
    let crossing = crossing(if effect.changes() {
        &advice.after
    } else {
        &advice.before
    });
    html! {
        ul {
            @if has_keep_out && known {
                li {
                    @if choice.clear_of_keep_outs {
                        (arc) (with_band) " is clear of every keep-out."
                    } @else {
                        strong { (arc) (with_band) " overlaps a keep-out:" }
                        " no start of the arc avoids them all."
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
            @if between_stops && known {
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
fn unsafe_targets(advice: &Advice, effect: Effect) -> Markup {
    let setting = if effect.changes() {
        &advice.after
    } else {
        &advice.before
    };
    let bad: Vec<&TargetReport> = worst_first(setting)
        .into_iter()
        .filter(|t| t.verdict != Verdict::Safe)
        .collect();
    let more = bad.len().saturating_sub(NAMED);
    html! {
        h3 {
            @if effect.changes() { "Not safe under the advised start either" } @else { "Not safe" }
        }
        ul {
            @for target in bad.iter().take(NAMED) {
                li { strong { (target.name) } ", " (mark(target.verdict)) ". " (target.reason) }
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
    let limits = &advice.request.limits;
    let present = advice.before.policy.rule;
    let cures: Vec<_> = advice
        .rules
        .iter()
        .filter(|r| r.summary.rule != present && r.verdict(limits) == Verdict::Safe)
        .collect();
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
