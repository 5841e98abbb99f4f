//! How the numbers were found, and what they leave out.

use maud::{Markup, html};

use super::words::{self, number, share, whole};
use super::{Made, exact};
use crate::advise::Advice;
use crate::report::ExactTarget;
use crate::summary::Rate;
use crate::wording::grouped;

pub(super) fn computed(advice: &Advice, made: &Made, solved: &[ExactTarget]) -> Markup {
    let batch = advice.request.batch;
    let limit = advice.request.limits.max_hunting;
    let trials = whole(&grouped(batch.trials));
    let settings = if advice.before.policy == advice.after.policy {
        ""
    } else {
        ", present and advised"
    };
    html! {
        section id="computed" {
            h2 { "The proof: how it was computed" }
            p {
                "Every target was simulated " (trials) " times under each setting" (settings)
                ", and every rule as often at the target shown. Each run draws its own zero point, seating errors and solve noise, "
                "and goes through the loop move by move as docs/model.md, the model in the program's sources, lays down. "
                "Run by run all settings and targets meet the same random numbers, so differences between them are not luck; "
                "nor are the verdicts on different targets independent of each other."
            }
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
                "Intervals are 95\u{a0}% ones. Those of rates are score intervals (E.\u{a0}B.\u{a0}Wilson, 1927, Journal of the American Statistical Association 22, 209); "
                "those of means use the normal distribution, those of quantiles the order of the values. "
                "They cover the luck of a finite number of runs, not what the model leaves out or the rig file gets wrong."
            }
            p {
                "A target is " strong { "safe" } " when the upper end of its hunting rate's interval is at most " (words::limit(limit))
                ", and it " strong { "will hunt" } " when the lower end is above " (words::limit((10.0 * limit).min(0.5)))
                ". Between the two, or where more runs than " (words::limit(limit)) " end on failed solves or turn through a keep-out, it is " strong { "at risk" }
                ". It is " strong { "out of reach" } " when commands outside the stops are refused."
            }
            p {
                "None seen is not never: if none of " (trials) " runs hunts, the rate is still only known to be below "
                (share(Rate::of(0, batch.trials).high)) ", the upper end of its interval."
            }
            (exact::section(advice, solved))
        }
    }
}

pub(super) fn neglected(advice: &Advice) -> Markup {
    html! {
        section id="neglected" {
            h2 { "What is neglected" }
            ul {
                li {
                    @if let Some(u) = &advice.uncertain {
                        "The rotator's errors are those of " (u.log) ". What they do outside it, on another night or with another load, it does not say."
                    } @else {
                        "The rotator's errors are those of the rig file. Nobody has measured them here; if they are wrong, so is the advice."
                    }
                }
                li {
                    "Every run is a first target after set-up: it starts at the parking angle and draws the error of the zero point once. "
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
