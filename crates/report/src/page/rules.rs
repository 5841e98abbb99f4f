//! The wrap rules side by side at the shown target.

use maud::{Markup, html};

use super::list_rules;
use super::picture::{Pictures, figure};
use super::words::{angle, mark, maybe, number, range, rate, rule, time, turned};
use halfturn_engine::advise::{Advice, RuleReport};
use halfturn_engine::angle::TURN_DEG;
use halfturn_engine::rig::Rule;
use halfturn_engine::summary::{Distribution, Rate};

pub(super) fn section(advice: &Advice, pictures: &Pictures) -> Markup {
    let shown = advice.shown();
    html! {
        section id="rules" {
            h2 { "Settle time and ping-pong by rule" }
            p {
                "All rules at " strong { (shown.name) } " (position angle " (angle(shown.position_angle_deg))
                "), with the present arc and the same random numbers for each."
                @if shown.summary.method == "exact" {
                    " These shares are counted in " (number(advice.request.batch.trials as usize)) " runs. The verdict goes by solved shares, which differ a little from counted ones."
                }
            }
            (figure(pictures.settle_time.as_ref(), &html! {
                "The share of all runs at " (shown.name) " that have settled by a given time, under each rule. "
                "The later a line rises, the more time its swings cost; a line that stays below 100\u{a0}% has runs that never settle."
            }))
            (figure(pictures.seam_distance.as_ref(), &html! {
                "The share of the runs that ping-pong, against the distance of a target from the seam. Where a line has fallen to nothing, the seam is far enough away."
            }))
            (table(advice))
            (note(advice))
            (list_rules::part(advice))
        }
    }
}

/// A way to read one figure of a rule.
type Cell = Box<dyn Fn(&RuleReport) -> Markup>;

/// A value with the ends of its interval.
type Bounded = (Option<f64>, Option<f64>, Option<f64>);

fn table(advice: &Advice) -> Markup {
    let present = advice.before.policy.rule;
    let groups: [(&str, Vec<(&str, Cell)>); 3] = [
        (
            "Share of the runs",
            vec![
                ("Settled", of_rate(|r| &r.summary.settled)),
                ("Ping-pong", of_rate(|r| &r.summary.ping_pong)),
                (
                    "Unsettled: out of solves",
                    of_rate(|r| &r.summary.unsettled),
                ),
                ("Unsolved", of_rate(|r| &r.summary.unsolved)),
                ("Refused at a stop", of_rate(|r| &r.summary.refused)),
            ],
        ),
        (
            "Time to settle, of all runs",
            vec![
                (
                    "Mean of the settled ones",
                    of_mean(|r| &r.summary.settle_time_s, time),
                ),
                (
                    "Half of them within",
                    quantile(|d| (d.p50, d.p50_low, d.p50_high)),
                ),
                (
                    "90\u{a0}% within",
                    quantile(|d| (d.p90, d.p90_low, d.p90_high)),
                ),
                (
                    "99\u{a0}% within",
                    quantile(|d| (d.p99, d.p99_low, d.p99_high)),
                ),
            ],
        ),
        (
            "Mean of a run",
            vec![
                (
                    "Solves",
                    of_mean(|r| &r.summary.solves, |n| format!("{n:.2}")),
                ),
                ("Turned in all", of_mean(|r| &r.summary.travel_deg, turned)),
                (
                    "Turned outside the arc",
                    of_mean(|r| &r.summary.outside_arc_deg, turned),
                ),
                (
                    "Turned inside keep-outs",
                    of_mean(|r| &r.summary.keep_out_deg, turned),
                ),
                (
                    "True error, settled runs",
                    of_mean(|r| &r.summary.true_error_deg, angle),
                ),
            ],
        ),
    ];
    let skipped = |title: &str, cell: &str| {
        let s = advice.rig.settings();
        title == "Share of the runs"
            && ((cell == "Unsolved" && s.solve.failure_rate == 0.0)
                || (cell == "Refused at a stop"
                    && s.drive.travel == halfturn_engine::rig::TravelKind::Endless))
    };
    html! {
        div.scroll role="region" aria-label="Rules side by side" tabindex="0" {
            table {
                caption {
                    span { "The figures of each rule; 95\u{a0}% intervals below." }
                }
                thead {
                    tr {
                        th scope="col" { "Figure" }
                        @for report in &advice.rules {
                            th scope="col" {
                                (rule(report.summary.rule))
                                small {
                                    "symmetry " (report.summary.symmetry)
                                    @if report.summary.rule == present { ", present rule" }
                                }
                            }
                        }
                    }
                }
                tbody {
                    tr {
                        th scope="row" { "Verdict" }
                        @for report in &advice.rules {
                            td { (mark(report.verdict.state)) }
                        }
                    }
                    @for (title, rows) in &groups {
                        tr.group { th scope="rowgroup" colspan=(advice.rules.len() + 1) { (title) } }
                        @for (name, cell) in rows.iter().filter(|(name, _)| !skipped(title, name)) {
                            tr {
                                th scope="row" { (name) }
                                @for report in &advice.rules {
                                    td { (cell(report)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn of_rate(get: fn(&RuleReport) -> &Rate) -> Cell {
    Box::new(move |report| rate(get(report)))
}

fn of_mean(get: fn(&RuleReport) -> &Distribution, text: fn(f64) -> String) -> Cell {
    Box::new(move |report| {
        let d = get(report);
        with_interval((d.mean, d.mean_low, d.mean_high), text)
    })
}

fn quantile(get: fn(&Distribution) -> Bounded) -> Cell {
    Box::new(move |report| match get(&report.summary.settle_time_s) {
        (None, ..) => html! { "never" },
        bounded => with_interval(bounded, time),
    })
}

fn with_interval((value, low, high): Bounded, text: fn(f64) -> String) -> Markup {
    let value = maybe(value, text);
    // An interval that rounds to the value itself says nothing.
    let ends = low.map(text).zip(high.map(text));
    html! {
        (value)
        @if let Some((low, high)) = ends.filter(|(l, h)| *l != value || *h != value) {
            (range(&low, &high))
        }
    }
}

/// Why a rule with another symmetry is another bargain.
fn note(advice: &Advice) -> Markup {
    let full = advice
        .rules
        .iter()
        .find(|r| r.summary.rule == Rule::FullCircle)
        .map(|r| r.summary.symmetry);
    let others = advice
        .rules
        .iter()
        .find(|r| r.summary.rule != Rule::FullCircle)
        .map(|r| r.summary.symmetry);
    html! {
        @if let (Some(1), Some(symmetry @ 2..)) = (full, others) {
            p.soft {
                "The full circle runs with symmetry 1, the others with " (symmetry)
                ": for it a camera turned by " (angle(TURN_DEG / f64::from(symmetry)))
                " does not frame the same field. So a target may need a turn of up to 180\u{a0}deg, but no correction can be sent to an equivalent framing, "
                "and on endless travel it has no seam."
            }
        } @else if let Some(symmetry) = full {
            p.soft {
                "The rig sets symmetry " (symmetry) ", so every rule here accepts a camera turned by "
                (angle(TURN_DEG / f64::from(symmetry))) " as the same framing."
            }
        }
    }
}
