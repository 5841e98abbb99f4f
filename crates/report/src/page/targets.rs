//! The targets before and after, and what the angles mean on the sensor.

use maud::{Markup, html};

use super::picture::{Pictures, figure};
use super::verdict::arc;
use super::words::{
    angle, limit, mark, maybe, number, pixels, rate, rule, share, time, whole_units,
};
use halfturn_engine::advise::{Advice, Setting, TargetReport};
use halfturn_engine::rig::{Framing, Rule};
use halfturn_engine::scenario::Scenario;
use halfturn_engine::verdict::Fault;
use halfturn_engine::wording::degrees;

/// Rows of a table of targets.
const ROWS: usize = 200;

pub(super) fn section(advice: &Advice, pictures: &Pictures) -> Markup {
    let changed = !advice.changes.is_empty();
    html! {
        section id="targets" {
            h2 { @if changed { "Every target before and after" } @else { "Every target" } }
            (figure(pictures.before_after.as_ref(), &html! {
                "Expected time to frame each target now"
                @if changed { " and with the advised settings, those that gain most at the top" }
                "."
            }))
            (table(advice, &advice.before, &advice.example_before.scenario, "Now"))
            @if changed {
                (table(advice, &advice.after, &advice.example_after.scenario, "With the advised settings"))
            }
            p.soft {
                "Expected time is the mean until a run ends, settled or not. A target out of reach has none (“–”), and no total counts it. "
                "“Never” stands where fewer than 90\u{a0}% of the runs settle. Below a rate stands its interval, below that the reason for the verdict."
            }
            @if let Some(framing) = &advice.rig.settings().framing {
                (on_the_sensor(advice, framing))
            }
        }
    }
}

/// One setting: every target, or the worst of a long list.
fn table(advice: &Advice, setting: &Setting, scenario: &Scenario, title: &str) -> Markup {
    let all = setting.targets.len();
    let rows: Vec<&TargetReport> = if all > ROWS {
        setting.worst_first().into_iter().take(ROWS).collect()
    } else {
        setting.targets.iter().collect()
    };
    let columns = Columns {
        seam: rows.iter().any(|t| t.seam_distance_deg.is_some()),
        winding: advice.rig.settings().drive.winding_limit_deg > 0.0,
        keep_out: !advice.rig.settings().keep_out.is_empty(),
    };
    html! {
        div.scroll role="region" aria-label=(title) tabindex="0" {
            table {
                caption {
                    span {
                        strong { (title) ": " }
                        "rule " (rule(setting.policy.rule)) ", " (arc(scenario)) "."
                        @if all > ROWS {
                            " The " (number(ROWS)) " worst targets, the worst first; "
                            (number(all - ROWS)) " more stand in targets.csv, which has all "
                            (number(all)) "."
                        }
                    }
                }
                thead {
                    tr {
                        th scope="col" { "Target" }
                        th.text scope="col" { "Verdict" }
                        th scope="col" { "Position angle" small { "deg" } }
                        th scope="col" { "Drive angle" small { "deg" } }
                        @if columns.seam { th scope="col" { "From the seam" small { "deg" } } }
                        th scope="col" { "Settled" }
                        th scope="col" { "Ping-pong" }
                        th scope="col" { "Late" }
                        @if columns.winding { th scope="col" { "Wound too far" } }
                        @if columns.keep_out { th scope="col" { "Through keep-outs" } th scope="col" { "Inside keep-outs" small { "deg a run" } } }
                        th scope="col" { "Expected time" }
                        th scope="col" { "90\u{a0}% settle within" }
                    }
                }
                @for target in rows {
                    (row(target, &columns))
                }
            }
        }
    }
}

/// The time by which a share of all runs has settled.
fn settles(time_s: Option<f64>) -> String {
    time_s.map_or_else(|| "never".to_owned(), time)
}

/// The columns that are there only where they say something.
struct Columns {
    seam: bool,
    winding: bool,
    keep_out: bool,
}

impl Columns {
    /// All columns but the name.
    fn count(&self) -> usize {
        // The keep-outs take two.
        8 + [self.seam, self.winding, self.keep_out, self.keep_out]
            .map(usize::from)
            .iter()
            .sum::<usize>()
    }
}

fn row(target: &TargetReport, columns: &Columns) -> Markup {
    let summary = &target.summary;
    html! {
        tbody.target {
        tr {
            th.target rowspan="2" scope="rowgroup" { span.name dir="auto" { (target.name) } }
            td.text { (mark(target.verdict.state)) }
            td { (degrees(target.position_angle_deg)) }
            td { (degrees(target.drive_deg)) }
            @if columns.seam { td { (maybe(target.seam_distance_deg, degrees)) } }
            td { (share(summary.settled.rate)) }
            td { (rate(&summary.ping_pong)) }
            td { (share(target.share(Fault::Late))) }
            @if columns.winding { td { (share(target.share(Fault::Winding))) } }
            @if columns.keep_out { td { (rate(&summary.keep_out)) } td { (maybe(summary.keep_out_deg.mean, degrees)) } }
            td { (maybe(target.expected_time_s, time)) }
            td { (settles(summary.settle_time_s.p90)) }
        }
        tr.why {
            td colspan=(columns.count()) { span { (whole_units(&target.reason)) } }
        }
        }
    }
}

/// The angles that the user chooses, as the way of the frame's corner in pixels.
fn on_the_sensor(advice: &Advice, framing: &Framing) -> Markup {
    let s = advice.rig.settings();
    let mut rows = vec![
        ("Tolerance of the loop", s.loop_.tolerance_deg),
        ("Noise of a plate solve, one sigma", s.solve.noise_deg),
        ("Step of the drive", s.drive.step_deg),
    ];
    if s.wrap.rule == Rule::HysteresisBand {
        rows.push(("Band", s.wrap.band_deg));
    }
    let overlap_px =
        framing.mosaic_overlap * framing.sensor_width_mm.min(framing.sensor_height_mm) * 1000.0
            / framing.pixel_um;
    html! {
        div.scroll role="region" aria-label="On the sensor" tabindex="0" {
            table {
                caption {
                    span {
                        strong { "On the sensor: " }
                        "how far a corner of the frame moves when the camera turns by this angle."
                    }
                }
                thead {
                    tr {
                        th scope="col" { "Angle" }
                        th scope="col" { "Size" small { "deg" } }
                        th scope="col" { "Corner moves by" small { "px" } }
                    }
                }
                tbody {
                    @for (name, angle_deg) in rows {
                        tr {
                            th scope="row" { (name) }
                            td { (degrees(angle_deg)) }
                            td { (pixels(framing.corner_shift_px(angle_deg))) }
                        }
                    }
                }
            }
        }
        @if framing.mosaic_overlap > 0.0 {
            p {
                "For comparison: neighbouring panels of a mosaic overlap by " (limit(framing.mosaic_overlap))
                ", on the shorter side " (pixels(overlap_px)) "\u{a0}px. A camera that is off by the whole tolerance of "
                (angle(s.loop_.tolerance_deg)) " moves its corners by "
                (pixels(framing.corner_shift_px(s.loop_.tolerance_deg))) "\u{a0}px of that."
            }
        }
    }
}
