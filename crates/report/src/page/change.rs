//! What to change: the keys, and what the new settings still leave.

use maud::{Markup, html};

use super::words::{angle, mark, number, whole_units};
use super::{Made, cautions};
use halfturn_engine::advise::{Advice, TargetReport};

/// Unsafe targets that are named one by one.
const NAMED: usize = 10;

pub(super) fn section(advice: &Advice, made: &Made) -> Markup {
    let repair = advice.repair_sentence();
    html! {
        section id="change" {
            h2 { "What to change" }
            @if advice.changes.is_empty() {
                p { (whole_units(&advice.headline())) }
            } @else {
                p {
                    "Set these keys in " code { (made.rig_file) }
                    ", and give the program that turns your rotator the same values: the rig file only describes it. The certificate "
                    code { "advice.toml" } " beside this page has them too, and " code.option { "--write" } " makes the new rig file."
                }
                pre.snippet tabindex="0" aria-label="Lines for the rig file" { code { (advice.change_lines()) } }
                p { (whole_units(&advice.rule_sentence())) }
            }
            ul {
                @for fact in facts(advice) { li { (fact) } }
            }
            (cautions::section())
            @if !repair.is_empty() {
                h3 { "Where no settings serve the whole list" }
                p { (whole_units(&repair)) }
            }
            @if !advice.after.all_safe() { (unsafe_targets(advice)) }
        }
    }
}

/// Where the advised arc lies to targets, keep-outs and stops.
fn facts(advice: &Advice) -> Vec<String> {
    let (arc, settings) = (&advice.after.arc, advice.rig.settings());
    let mut facts = Vec::new();
    if !arc.no_seam {
        let before = if advice.changes.is_empty() {
            String::new()
        } else {
            format!("; now one is at {}", angle(advice.before.arc.margin_deg))
        };
        facts.push(format!(
            "With this arc no target is closer than {} to either end{before}.",
            angle(arc.margin_deg)
        ));
    }
    if !settings.keep_out.is_empty() {
        facts.push(if arc.clear_of_keep_outs {
            "The arc is clear of every keep-out.".to_owned()
        } else {
            "The arc overlaps a keep-out: a target planned there would turn through it.".to_owned()
        });
    }
    if settings.drive.travel == halfturn_engine::rig::TravelKind::Stops {
        facts.push(if arc.within_stops {
            "The arc fits between the stops.".to_owned()
        } else {
            "The arc reaches beyond the stops: a target planned there would be refused.".to_owned()
        });
    }
    if settings.drive.winding_limit_deg > 0.0 {
        facts.push(format!(
            "The cable allows {} either way from the parking angle of {}.",
            angle(settings.drive.winding_limit_deg),
            angle(settings.drive.park_deg)
        ));
    }
    facts
}

/// Which targets stay unsafe under the advised rig.
fn unsafe_targets(advice: &Advice) -> Markup {
    let bad: Vec<&TargetReport> = advice
        .after
        .worst_first()
        .into_iter()
        .filter(|t| !t.verdict.is_safe())
        .collect();
    let more = bad.len().saturating_sub(NAMED);
    html! {
        h3 { "Not safe" @if !advice.changes.is_empty() { " with the advised settings either" } }
        ul {
            @for target in bad.iter().take(NAMED) {
                li { strong { bdi { (target.name) } } ", " (mark(target.verdict.state)) ". " (whole_units(&target.reason)) }
            }
            @if more > 0 {
                li { "and " (number(more)) " more, see the table of " a href="#targets" { "targets" } "." }
            }
        }
    }
}
