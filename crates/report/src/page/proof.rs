//! How the numbers were found, and what they leave out.

use maud::{Markup, html};

use super::Made;
use super::words::{number, whole, whole_units};
use halfturn_engine::advise::Advice;
use halfturn_engine::wording::grouped;

pub(super) fn computed(advice: &Advice, made: &Made) -> Markup {
    let batch = advice.request.batch;
    let trials = whole(&grouped(batch.trials));
    html! {
        section id="computed" {
            h2 { "How this was computed" }
            p {
                "Each target was judged by solving its loop exactly where that is possible, else by running it " (trials) " times. "
                "A solved figure stands between its bounds, a figure of runs between the ends of its 95\u{a0}% interval. "
                "The advised settings were then run " (trials) " times at every target with fresh random numbers."
            }
            p { (whole_units(&advice.proof_sentence())) }
            dl.facts {
                dt { "Runs for every target" }
                dd { (trials) }
                dt { "Seed" }
                dd { (batch.seed) }
                dt { "Targets" }
                dd { (number(advice.before.targets.len())) " from " (made.targets_file) }
                dt { "Rig" }
                dd { (made.rig_file) ", SHA-256 of its settings " code { (advice.rig.digest()) } }
                dt { "Advised rig" }
                dd { "SHA-256 " code { (advice.advised_rig.digest()) } }
                dt { "Program" }
                dd { "halfturn " (made.version) }
                dt { "To repeat it" }
                dd { code { (made.command) } }
            }
            p {
                "Of the intervals those of rates are score intervals (E.\u{a0}B.\u{a0}Wilson, 1927, Journal of the American Statistical Association 22, 209); "
                "those of means use the normal distribution, those of quantiles the order of the values. "
                "They cover the luck of a finite number of runs, not what the model leaves out or the rig file gets wrong."
            }
        }
    }
}

pub(super) fn neglected(advice: &Advice) -> Markup {
    html! {
        section id="neglected" {
            h2 { "Not modelled" }
            ul {
                li {
                    @if let Some(u) = &advice.uncertain {
                        "The rotator's errors are those of " (u.log) ". What they do outside it, on another night or with another load, it does not say."
                    } @else {
                        "The rotator's errors are those of the rig file. Nobody has measured them here; if they are wrong, so is the advice."
                    }
                }
                li {
                    "Every run starts at the parking angle and draws the error of the zero point once. After a meridian flip it goes on where the drive stands. "
                    "Drift of the zero point in the night, and what the loop learns from earlier targets, are not simulated."
                }
                li {
                    "The noise of a plate solve is independent from solve to solve. Errors that stay the same for a while, from seeing or a distorted field, are not."
                }
                li {
                    "Mechanics are gain, periodic error, play, step and seating. Cable pull, temperature, flexure and wind are left out."
                }
                li {
                    "Keep-outs are counted, not blocked: the simulated rotator turns through them, and so may yours."
                }
            }
        }
    }
}
