//! How the figures were found, and what they leave out.

use halfturn_engine::advise::Advice;
use halfturn_engine::verdict::Fault;
use halfturn_engine::wording::{grouped, limit};

use super::provenance::Provenance;
use crate::document::{Block, Document, Line, Span};

pub(super) fn add(advice: &Advice, made: &Provenance, out: &mut Document) {
    let limits = &advice.request.limits;
    let trials = grouped(advice.request.batch.trials);
    let code = |text: &str| Line::from(Span::Code(text.to_owned()));
    let facts = [
        (
            "Safe",
            Line::new(format!(
                "At most {} of the runs hunt, run out of solves, find no solution, are refused, turn through a keep-out or wind the cable too far, and at least {} settle within {} solves. A target hunts if more than {} of the runs swing to the other end of the arc and back.",
                limit(limits.max_fault),
                limit(limits.settle_chance),
                limits.max_solves,
                limit(Fault::Hunting.certain_from(limits))
            )),
        ),
        (
            "Method",
            format!(
                "Each target's loop is solved exactly where that is possible, else run {trials} times. The advised settings are then run {trials} times at every target with fresh random numbers. Intervals cover 95 % (shares: score intervals of Wilson 1927, J. Am. Stat. Assoc. 22, 209). Seed {}.",
                advice.request.batch.seed
            )
            .into(),
        ),
        (
            "Files",
            format!("{} and {}, halfturn {}", made.rig_file, made.targets_file, made.version).into(),
        ),
        ("Again", code(&made.command)),
        ("Rig, SHA-256", code(&advice.rig.digest())),
        ("Advised rig, SHA-256", code(&advice.advised_rig.digest())),
    ];
    let facts = facts.map(|(term, line)| (term.to_owned(), line));
    let mut blocks = vec![Block::Facts(facts.to_vec())];
    let own = match &advice.uncertain {
        Some(u) => format!("The rotator's errors are those of {}. What it does on another night or with another load, the log does not say.", u.log),
        None => "The rotator's errors are those of the rig file. If they are wrong, so is the advice. No measurements of a real rotator stand behind the model.".to_owned(),
    };
    let rest = [
        "Every run starts at the parking reading. After a meridian flip it goes on where the drive stands. The model leaves out drift of the zero point in the night, and what the loop learns from earlier targets.",
        "Mechanics are gain, periodic error, backlash, step and repeatability. The model leaves out cable pull, temperature, flexure and wind.",
        "The noise of a plate solve is independent from solve to solve.",
        "Keep-outs are counted, not blocked: the simulated rotator turns through them, and so may yours.",
    ];
    blocks.push(Block::Items(
        std::iter::once(own.into())
            .chain(rest.map(Line::from))
            .collect(),
    ));
    out.add(Block::folded(
        "computed",
        "How this was computed, and its limits",
        blocks,
    ));
}
