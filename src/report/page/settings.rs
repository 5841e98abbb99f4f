//! Tolerance, band and rule: what each rests on.

use maud::{Markup, html};

use super::words::{angle, limit, maybe, pixels, range, rule, share, time, turned, whole_units};
use crate::advise::{Advice, RuleOnList, Term};
use crate::plant::Plant;
use crate::rig::Rule;
use crate::summary::Rate;
use crate::wording::degrees;

pub(super) fn section(advice: &Advice) -> Markup {
    let trap = advice.trap_sentence();
    html! {
        section id="settings" {
            h2 { "Tolerance, band and rule" }
            div.pair {
                div {
                    h3 { "Tolerance" }
                    p { (whole_units(&advice.window_sentence())) }
                    (window(advice))
                    (improvements(advice))
                    h3 { "Band" }
                    p { (whole_units(&advice.band_sentence())) }
                }
                div {
                    h3 { "What a swing leaves" }
                    p { (whole_units(&advice.bound_sentence())) }
                    (bound(advice))
                }
            }
            h3 { "Rule" }
            p { (whole_units(&advice.rule_sentence())) }
            @if !trap.is_empty() { p { strong { "The short way: " } (whole_units(&trap)) } }
            (rules(advice))
        }
    }
}

/// Part by part, what adds up to the distance that a target needs from the seam.
fn bound(advice: &Advice) -> Markup {
    let bound = &advice.plan.bound;
    let framing = advice.rig.settings().framing;
    let row = |name: &str, size_deg: f64, sum: bool| {
        html! {
            tr {
                th.part[!sum] scope="row" { (name) }
                td { (degrees(size_deg)) }
                @if let Some(framing) = framing { td { (pixels(framing.corner_shift_px(size_deg))) } }
            }
        }
    };
    let rows = |terms: &[Term]| {
        html! { @for term in terms { (row(term.name, term.size_deg, false)) } }
    };
    html! {
        @if !bound.no_seam && !bound.terms.is_empty() {
            div.scroll role="region" aria-label="Parts of the bound" tabindex="0" {
                table {
                    caption {
                        span {
                            "The largest residual after a long swing, and how far from the seam a target should lie. "
                            "Each bound is exceeded with a probability of at most " (limit(bound.tail)) "."
                        }
                    }
                    thead {
                        tr {
                            th scope="col" { "Part" }
                            th scope="col" { "Size" small { "deg" } }
                            @if framing.is_some() { th scope="col" { "Corner" small { "px" } } }
                        }
                    }
                    tbody {
                        (rows(&bound.terms))
                        (row("Residual after a swing", bound.residual_deg, true))
                        (rows(&bound.first_move))
                        @if !bound.first_move.is_empty() { (row("Wanted distance from the seam", bound.margin_deg, true)) }
                    }
                }
            }
            p.soft {
                "With another start of the arc the residual is at most " (angle(bound.anywhere_deg)) "."
                @if !advice.choice.no_seam {
                    " The nearest target lies " (angle(advice.choice.margin_deg)) " from the advised seam."
                }
            }
        }
    }
}

/// Each limit of the tolerance, in degrees and on the sensor.
fn window(advice: &Advice) -> Markup {
    let window = &advice.plan.window;
    let wishes = &advice.request.wishes;
    let framing = advice.rig.settings().framing;
    let mut rows: Vec<(String, f64)> = Vec::new();
    if let Some(low) = window.low_deg {
        rows.push((
            format!(
                "Least: {} settle within {} solves",
                limit(wishes.settle_chance),
                wishes.max_solves
            ),
            low,
        ));
    }
    rows.push(("Present".to_owned(), window.present_deg));
    if window.advised_deg != window.present_deg {
        rows.push(("Advised".to_owned(), window.advised_deg));
    }
    if let Some(limits) = &window.limits {
        rows.push((
            format!(
                "Most: {} of the frame lost between two nights",
                limit(wishes.max_lost_area)
            ),
            limits.area_deg,
        ));
        if let Some(mosaic) = limits.mosaic_deg {
            rows.push((
                format!(
                    "Most: {} of a mosaic's overlap left",
                    limit(wishes.mosaic_keep)
                ),
                mosaic,
            ));
        }
        if let (Some(corner), Some(px)) = (limits.corner_deg, wishes.max_corner_px) {
            rows.push((format!("Most: the corner moves {} px", pixels(px)), corner));
        }
    }
    html! {
        div.scroll role="region" aria-label="Tolerances" tabindex="0" {
            table {
                caption { span { "Tolerances of the loop, and how far the frame's corner moves by each." } }
                thead {
                    tr {
                        th scope="col" { "Tolerance" }
                        th scope="col" { "Size" small { "deg" } }
                        @if framing.is_some() { th scope="col" { "Corner" small { "px" } } }
                    }
                }
                tbody {
                    @for (name, size_deg) in &rows {
                        tr {
                            th.long scope="row" { (whole_units(name)) }
                            td { (degrees(*size_deg)) }
                            @if let Some(framing) = framing { td { (pixels(framing.corner_shift_px(*size_deg))) } }
                        }
                    }
                }
            }
        }
    }
}

/// What to improve first.
fn improvements(advice: &Advice) -> Markup {
    let window = &advice.plan.window;
    html! {
        @if !window.improvements.is_empty() {
            p {
                "What halving one error would do for the least tolerance: "
                @for (i, better) in window.improvements.iter().enumerate() {
                    @if i > 0 { "; " }
                    (better.what) ", " (angle(better.low_deg)) " (" (share(1.0 - better.ratio)) " less)"
                }
                "."
            }
        }
    }
}

/// A way to read one figure of a rule.
type Cell<'a> = Box<dyn Fn(&RuleOnList) -> Markup + 'a>;

/// Every rule on the whole list.
fn rules(advice: &Advice) -> Markup {
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
