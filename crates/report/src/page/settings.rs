//! The tolerance window and the band: what they rest on.

use maud::{Markup, html};

use super::picture::{Pictures, figure};
use super::words::{angle, limit, pixels, share, whole_units};
use halfturn_engine::advise::{Advice, Term};
use halfturn_engine::wording::degrees;

pub(super) fn section(advice: &Advice, pictures: &Pictures) -> Markup {
    html! {
        section id="settings" {
            h2 { "The tolerance window" }
            p { (whole_units(&advice.window_sentence())) }
            (figure(pictures.tolerance.as_ref(), &html! {
                "Too small a tolerance and the loop does not settle in time; too large a one and the frame is lost."
                @if advice.window.high_deg.is_none() { " What the frame bears is not known without " code { "[framing]" } " in the rig file." }
            }))
            div.pair {
                div {
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
        }
    }
}

/// Part by part, what adds up to the distance that a target needs from the seam.
fn bound(advice: &Advice) -> Markup {
    let bound = &advice.bound;
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
                @if !advice.after.arc.no_seam {
                    " The nearest target lies " (angle(advice.after.arc.margin_deg)) " from the advised seam."
                }
            }
        }
    }
}

/// Each limit of the tolerance, in degrees and on the sensor.
fn window(advice: &Advice) -> Markup {
    let window = &advice.window;
    let (limits, wishes) = (&advice.request.limits, &advice.request.wishes);
    let framing = advice.rig.settings().framing;
    let mut rows: Vec<(String, f64)> = Vec::new();
    if let Some(low) = window.low_deg {
        rows.push((
            format!(
                "Least: {} settle within {} solves",
                limit(limits.settle_chance),
                limits.max_solves
            ),
            low,
        ));
    }
    rows.push(("Present".to_owned(), window.present_deg));
    if window.advised_deg != window.present_deg {
        rows.push(("Advised".to_owned(), window.advised_deg));
    }
    if let Some(frame) = &window.limits {
        rows.push((
            format!(
                "Most: {} of the frame lost between two nights",
                limit(wishes.max_lost_area)
            ),
            frame.area_deg,
        ));
        if let Some(mosaic) = frame.mosaic_deg {
            rows.push((
                format!(
                    "Most: {} of a mosaic's overlap left",
                    limit(wishes.mosaic_keep)
                ),
                mosaic,
            ));
        }
        if let (Some(corner), Some(px)) = (frame.corner_deg, wishes.max_corner_px) {
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
    let window = &advice.window;
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
