//! Every rule on the whole list of targets, each with the arc that suits it.

use maud::{Markup, html};

use super::words::{angle, maybe, range, rule, share, time, turned, whole_units};
use crate::advise::{Advice, RuleOnList};
use crate::plant::Plant;
use crate::rig::Rule;
use crate::summary::Rate;

/// A way to read one figure of a rule.
type Cell<'a> = Box<dyn Fn(&RuleOnList) -> Markup + 'a>;

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
    let plan = &advice.plan;
    let travel = Plant::new(&advice.rig).travel();
    let targets = advice.before.targets.len();
    let present = advice.rig.settings().wrap.rule;
    let limited = advice.rig.settings().drive.winding_limit_deg > 0.0;
    let mean = |x: Option<f64>| html! { (maybe(x, turned)) };
    let mut rows: Vec<(&str, Cell<'_>)> = vec![
        (
            "Arc from",
            Box::new(|r| html! { (angle(r.policy.arc_start_deg)) }),
        ),
        (
            "Band",
            Box::new(move |r| {
                let band = (r.policy.rule == Rule::HysteresisBand)
                    .then(|| r.policy.wrap(travel).band_deg());
                html! { (maybe(band, angle)) }
            }),
        ),
        (
            "Safe targets",
            Box::new(move |r| html! { (r.safe) " of " (targets) }),
        ),
        (
            "Ping-pong, worst target",
            Box::new(|r| bounded(&r.worst_ping_pong)),
        ),
        (
            "In time, slowest target",
            Box::new(|r| bounded(&r.worst_in_time)),
        ),
        (
            "Settle time, mean",
            Box::new(|r| html! { (maybe(r.summary.settle_time_s.mean, time)) }),
        ),
        (
            "Turned, mean",
            Box::new(move |r| mean(r.summary.travel_deg.mean)),
        ),
        (
            "Turned outside the arc, mean",
            Box::new(move |r| mean(r.summary.outside_arc_deg.mean)),
        ),
        (
            "Winding, 99\u{a0}% below",
            Box::new(move |r| mean(r.summary.winding_deg.p99)),
        ),
        (
            "All targets once",
            Box::new(|r| html! { (time(r.total_time_s)) }),
        ),
    ];
    if limited {
        rows.insert(
            9,
            (
                "Wound too far",
                Box::new(|r| html! { (share(r.overwound.rate)) }),
            ),
        );
    }
    html! {
        div.scroll role="region" aria-label="Rules on the whole list" tabindex="0" {
            table {
                caption {
                    span {
                        "Every rule on the whole list, each with the arc that suits it and a tolerance of "
                        (angle(plan.rig.settings().loop_.tolerance_deg)) ". In time: settled within "
                        (advice.request.wishes.max_solves) " solves."
                    }
                }
                thead {
                    tr {
                        th scope="col" { "Figure" }
                        @for (i, r) in plan.rules.iter().enumerate() {
                            th scope="col" {
                                (rule(r.policy.rule))
                                @if plan.chosen == Some(i) { small { "advised" } }
                                @else if r.policy.rule == present { small { "present rule" } }
                            }
                        }
                    }
                }
                tbody {
                    tr {
                        th scope="row" { "Meets every limit" }
                        @for r in &plan.rules {
                            td {
                                @if r.meets() { "● yes" } @else {
                                    "◆ no"
                                    span.range { (r.misses.iter().map(|m| m.word()).collect::<Vec<_>>().join(", ")) }
                                }
                            }
                        }
                    }
                    @for (name, cell) in &rows {
                        tr {
                            th scope="row" { (name) }
                            @for r in &plan.rules { td { (cell(r)) } }
                        }
                    }
                }
            }
        }
    }
}

fn bounded(rate: &Rate) -> Markup {
    html! {
        (share(rate.rate))
        (range(&share(rate.low), &share(rate.high)))
    }
}
