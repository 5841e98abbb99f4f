//! The targets of the night on the dial, each with its margin.

use maud::{Markup, html};

use super::picture::{Pictures, figure};
use super::words::{mark, maybe, number};
use halfturn_engine::advise::{Advice, TargetReport};
use halfturn_engine::rig::TravelKind;
use halfturn_engine::wording::degrees;

/// Rows of the table.
const ROWS: usize = 200;

pub(super) fn section(advice: &Advice, pictures: &Pictures) -> Markup {
    let has_keep_out = !advice.rig.settings().keep_out.is_empty();
    let between_stops = advice.rig.settings().drive.travel == TravelKind::Stops;
    html! {
        section id="dial" {
            h2 { @if between_stops { "The night's targets between the stops" } @else { "The night's targets on the dial" } }
            (figure(pictures.dial.as_ref(), &html! {
                "Each mark is the drive angle that one target is sent to first"
                ". "
                span.narrow { "The numbers are those of the table below. " }
                @if !advice.after.arc.no_seam {
                    span.wide { "The table below has its margin, the distance from the seam. " }
                    "The allowed arc ends at the seam: a target beside it is the one that can be thrown to the other end."
                }
                @if has_keep_out {
                    " Keep-outs are the sectors that the rig file says not to turn through."
                }
            }))
            (margins(advice))
        }
    }
}

/// Where every target lies, now and then.
fn margins(advice: &Advice) -> Markup {
    let changed = !advice.changes.is_empty();
    let pairs = advice.before.targets.iter().zip(&advice.after.targets);
    let all = advice.before.targets.len();
    let both = |before: &TargetReport, after: &TargetReport, cell: fn(&TargetReport) -> Markup| {
        html! {
            (cell(before))
            @if changed { (cell(after)) }
        }
    };
    let times: &[&str] = if changed { &["now", "then"] } else { &["now"] };
    html! {
        div.scroll role="region" aria-label="Margins of the targets" tabindex="0" {
            table {
                caption {
                    span {
                        strong { "Margins: " }
                        "how far from the seam the first move of each target ends."
                        @if all > ROWS { " The first " (number(ROWS)) " of " (number(all)) "; targets.csv has all." }
                    }
                }
                thead {
                    tr {
                        th scope="col" { "Target" }
                        @for time in times { th scope="col" { "Margin " (time) small { "deg" } } }
                        @for time in times { th.text scope="col" { "Verdict " (time) } }
                        th scope="col" { "Position angle" small { "deg" } }
                        @for time in times { th scope="col" { "Drive angle " (time) small { "deg" } } }
                    }
                }
                tbody {
                    @for (i, (before, after)) in pairs.take(ROWS).enumerate() {
                        tr {
                            th.target.numbered scope="row" {
                                span.place { (number(i + 1)) "." }
                                span.name dir="auto" { (before.name) }
                            }
                            (both(before, after, |t| html! { td { (maybe(t.seam_distance_deg, degrees)) } }))
                            (both(before, after, |t| html! { td.text { (mark(t.verdict.state)) } }))
                            td { (degrees(before.position_angle_deg)) }
                            (both(before, after, |t| html! { td { (degrees(t.drive_deg)) } }))
                        }
                    }
                }
            }
        }
    }
}
