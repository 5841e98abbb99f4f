//! The flats of the night.

use maud::{Markup, html};

use super::words::{number, whole_units};
use halfturn_engine::advise::Advice;
use halfturn_engine::wording::degrees;

/// Sets that are listed.
const ROWS: usize = 60;

/// Targets that are named in a row.
const NAMED: usize = 6;

pub(super) fn section(advice: &Advice) -> Markup {
    let sets = &advice.flats.sets;
    html! {
        section id="flats" {
            h2 { "Flats" }
            p {
                "A flat frame belongs to the drive angle that it was taken at: shadows of the camera's side turn with it, those of the telescope do not. "
                (whole_units(&advice.flats_sentence()))
            }
            div.scroll role="region" aria-label="Flats" tabindex="0" {
                table {
                    caption { span { "The fewest sets, with the drive angle in the middle of their targets." } }
                    thead {
                        tr {
                            th scope="col" { "Set" }
                            th scope="col" { "Drive angle" small { "deg" } }
                            th.text scope="col" { "Targets" }
                        }
                    }
                    tbody {
                        @for (i, set) in sets.iter().take(ROWS).enumerate() {
                            tr {
                                th scope="row" { (number(i + 1)) }
                                td { (degrees(set.drive_deg)) }
                                td.names {
                                    (set.targets.iter().take(NAMED).cloned().collect::<Vec<_>>().join(", "))
                                    @if set.targets.len() > NAMED {
                                        " and " (number(set.targets.len() - NAMED)) " more"
                                    }
                                }
                            }
                        }
                    }
                }
            }
            @if sets.len() > ROWS {
                p { "And " (number(sets.len() - ROWS)) " sets more." }
            }
        }
    }
}
