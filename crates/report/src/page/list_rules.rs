//! Every rule on the whole list of targets, each with the settings that suit it best.

use maud::{Markup, html};

use super::words::{angle, rule, share, time, whole_units};
use halfturn_engine::advise::{Advice, RuleOnList};
use halfturn_engine::verdict::{Fault, State};

/// A way to read one figure of a rule.
type Cell<'a> = Box<dyn Fn(&RuleOnList) -> String + 'a>;

pub(super) fn part(advice: &Advice) -> Markup {
    let trap = advice.trap_sentence();
    html! {
        h3 { "On the whole list" }
        p { (whole_units(&advice.rule_sentence())) }
        @if !trap.is_empty() { p { strong { "The short way: " } (whole_units(&trap)) } }
        (table(advice))
    }
}

fn table(advice: &Advice) -> Markup {
    let targets = advice.before.targets.len();
    let mut rows: Vec<(&str, Cell<'_>)> = vec![
        ("Arc from", Box::new(|r| angle(r.setting.arc.start_deg))),
        ("Tolerance", Box::new(|r| angle(r.setting.tolerance_deg))),
        ("Changed keys", Box::new(|r| r.changes.len().to_string())),
        (
            "Safe targets",
            Box::new(move |r| format!("{} of {targets}", r.setting.count(State::Safe))),
        ),
        (
            "Ping-pong, worst target",
            Box::new(|r| share(r.setting.worst_share(Fault::PingPong))),
        ),
        (
            "Late, worst target",
            Box::new(|r| share(r.setting.worst_share(Fault::Late))),
        ),
        (
            "All targets once",
            Box::new(|r| time(r.setting.total_time_s())),
        ),
    ];
    if advice.rig.settings().drive.winding_limit_deg > 0.0 {
        rows.push((
            "Wound too far, worst target",
            Box::new(|r| share(r.setting.worst_share(Fault::Winding))),
        ));
    }
    html! {
        div.scroll role="region" aria-label="Rules on the whole list" tabindex="0" {
            table {
                caption { span { "Every rule on the whole list, each with the settings that suit it best." } }
                thead {
                    tr {
                        th scope="col" { "Figure" }
                        @for r in &advice.on_list {
                            th scope="col" {
                                (rule(r.setting.policy.rule))
                                @if r.advised { small { "advised" } }
                            }
                        }
                    }
                }
                tbody {
                    tr {
                        th scope="row" { "Meets every limit" }
                        @for r in &advice.on_list {
                            td { @if r.setting.holds() { "● yes" } @else { "◆ no" } }
                        }
                    }
                    @for (name, cell) in &rows {
                        tr {
                            th scope="row" { (name) }
                            @for r in &advice.on_list { td { (cell(r)) } }
                        }
                    }
                }
            }
        }
    }
}
