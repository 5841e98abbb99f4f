//! For how many of the rigs that fit a log the advice holds.

use maud::{Markup, html};

use super::words::{rate, share, whole, whole_units};
use halfturn_engine::advise::Advice;
use halfturn_engine::wording::grouped;

/// Most targets in the table.
const MOST_ROWS: usize = 12;

pub(super) fn section(advice: &Advice) -> Markup {
    let Some(u) = &advice.uncertain else {
        return html! {};
    };
    let said = [
        u.weakest_sentence(),
        u.driver_sentence(),
        u.firmer_sentence(),
    ];
    let mut weakest: Vec<_> = u.targets.iter().collect();
    weakest.sort_by(|a, b| a.safe.rate.total_cmp(&b.safe.rate));
    html! {
        section id="uncertain" {
            h2 { "If the rig is not quite as fitted" }
            p { strong { (whole_units(&u.sentence())) } }
            @for sentence in said.iter().filter(|s| !s.is_empty()) {
                p { (whole_units(sentence)) }
            }
            @for sentence in u.untold_sentences() {
                p { (sentence) }
            }
            div.scroll role="region" aria-label="Targets over the drawn rigs" tabindex="0" {
                table {
                    thead {
                        tr {
                            th scope="col" { "Target" }
                            th scope="col" { "Safe" }
                            th scope="col" { "In time" }
                            th scope="col" { "Hunts" }
                            th scope="col" { "On the worst rig" }
                        }
                    }
                    tbody {
                        @for t in weakest.iter().take(MOST_ROWS) {
                            tr {
                                th scope="row" { (t.name) }
                                td { (rate(&t.safe)) }
                                td { (rate(&t.in_time)) }
                                td { (share(t.hunting_mean)) }
                                td { (share(t.hunting_most)) }
                            }
                        }
                    }
                }
            }
            @if weakest.len() > MOST_ROWS {
                p.soft { "The weakest " (MOST_ROWS) " of " (whole(&grouped(weakest.len() as u64))) "; summary.json has all." }
            }
            p.soft {
                "The log leaves the errors of the rig open within their intervals. " (whole(&grouped(u.doubt.draws.into())))
                " rigs were drawn from their joint distribution, and every target judged under each, " (u.found_by.words())
                ": safe and in time are shares of these rigs, with 95\u{a0}% intervals; hunts is the share of all runs. "
                "What the log cannot show, such as a slip that is still to come, is not in it."
            }
        }
    }
}
