//! The probabilities of every target without sampling, where they were asked for.

use maud::{Markup, html};

use super::words::number;
use crate::advise::{Advice, Exactly};
use crate::report::ExactTarget;
use crate::report::solved_table::rate;
use crate::summary::Rate;

/// Rows of the table.
const ROWS: usize = 200;

/// The figures of a target, by the name of their column.
type Column = (&'static str, fn(&Exactly) -> Rate);

const COLUMNS: [Column; 3] = [
    ("Settles", |e| e.settled),
    ("Hunts", |e| e.hunting),
    ("Ends badly", |e| e.ended_badly),
];

pub(super) fn section(advice: &Advice, targets: &[ExactTarget]) -> Markup {
    let changed = advice.rig.digest() != advice.advised_rig.digest();
    let times: &[&str] = if changed { &["now", "then"] } else { &["now"] };
    html! {
        @if !targets.is_empty() {
            h3 id="exact" { "Without sampling" }
            p {
                "The same targets solved by the exact method, which follows all runs at once instead of drawing some. "
                "So it knows probabilities far below what " (number(usize::try_from(advice.request.batch.trials).unwrap_or(usize::MAX))) " runs can show. "
                "Ends badly: hunts, does not settle, or turns through a keep-out."
            }
            div.scroll role="region" aria-label="Probabilities without sampling" tabindex="0" {
                table {
                    caption {
                        span {
                            strong { "Probabilities of every target" }
                            @if changed { ", now and then with the advised arc" }
                            ". A grid twice as fine moves a figure by less than its ±."
                            @if targets.len() > ROWS { " The first " (number(ROWS)) " of " (number(targets.len())) "." }
                        }
                    }
                    thead {
                        tr {
                            th scope="col" { "Target" }
                            @for time in times {
                                @for (name, _) in COLUMNS { th scope="col" { (name) " " (time) small { "probability" } } }
                            }
                        }
                    }
                    tbody {
                        @for (name, found) in targets.iter().take(ROWS) {
                            tr {
                                th.target scope="row" { span.name dir="auto" { (name) } }
                                @for found in found.iter().take(times.len()) {
                                    @for (_, of) in COLUMNS {
                                        td { (found.as_ref().map_or_else(|| "not held".to_owned(), |e| rate(of(e)))) }
                                    }
                                }
                            }
                        }
                    }
                }
            }
            p.soft { "“Not held” stands where the exact method does not hold the rig at a target; see docs/exact.md." }
        }
    }
}
