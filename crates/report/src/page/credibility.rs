//! What the numbers are good for, in short; docs/credibility.md has it in full.

use maud::{Markup, html};

use halfturn_engine::advise::Advice;

pub(super) fn section(advice: &Advice) -> Markup {
    let s = advice.rig.settings();
    let named: Vec<&str> = advice
        .bound
        .terms
        .iter()
        .map(|term| term.name)
        .take(3)
        .collect();
    html! {
        section id="credibility" {
            h2 { "Limits" }
            dl.facts {
                dt { "Intended use" }
                dd { "To choose arc, tolerance, band and rule of one rotator before a night. Not to replace limit switches, a check by hand, or the maker's instructions." }
                dt { "Rests on" }
                dd { "The loop model of the program and the errors of the rig file, each taken as given." }
                dt { "Verified" }
                dd { "Against closed forms, a second program written from the model alone, and published intervals and constants; the bound and the advice against runs with other random numbers." }
                dt { "Not validated" }
                dd { "No measurements of a real rotator stand behind this advice. Measure your rig's errors and watch the first runs." }
                dt { "Most sensitive to" }
                dd {
                    @if named.is_empty() {
                        "no error: a long swing leaves none"
                    } @else {
                        (named.join(", "))
                    }
                    @if s.drive.zero_point_sigma_deg > 0.0 {
                        "; for the distance from the seam, the uncertainty of the zero point"
                    }
                    "."
                }
            }
            p.soft { "docs/credibility.md in the program's sources has this in full, in the manner of NASA-STD-7009 on models and simulations." }
        }
    }
}
