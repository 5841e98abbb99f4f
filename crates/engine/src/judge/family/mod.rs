//! The families of scenarios. Each confronts a controller with one hazard of wrap logic.

mod dice;
mod ends;
mod hazard;
mod make;
mod rigs;
mod seam;
mod truth;

use super::case::{Case, Expect};
use super::reference::Reference;
use super::session::play;
use super::subject::InProcess;
use crate::rig::Rule;
use crate::run::Outcome;
pub use hazard::Family;
pub(crate) use make::Maker;
pub(super) use rigs::perfect;
pub use rigs::{Base, TooSteep, graded};

/// The order in which the families take turns. The seam comes twice, because controllers hunt there.
const TURNS: [Family; 16] = [
    Family::Seam,
    Family::Arcs,
    Family::Starts,
    Family::Stops,
    Family::Multiples,
    Family::Notation,
    Family::FirstMove,
    Family::Seam,
    Family::ZeroPoint,
    Family::FarZeroPoint,
    Family::BeyondBand,
    Family::WrongSense,
    Family::PierFlip,
    Family::FailedSolves,
    Family::Forbidden,
    Family::KeepOuts,
];

/// `count` scenarios under a seed, of these families in turn, for a controller that claims this rule. The same arguments give the same scenarios.
///
/// Leaves out a family that has no scenario for the rig. The list is empty if none has.
#[must_use]
pub fn cases(
    base: &Base,
    families: &[Family],
    rule: Option<Rule>,
    seed: u64,
    count: usize,
) -> Vec<Case> {
    /// Failed draws in a row after which the rig counts as having no such scenario.
    const MOST_MISSES: usize = 500;
    let mut out = Vec::with_capacity(count);
    let turns: Vec<Family> = TURNS.into_iter().filter(|f| families.contains(f)).collect();
    let (mut index, mut misses) = (0_usize, 0);
    while out.len() < count && misses < MOST_MISSES && !turns.is_empty() {
        let family = turns[index % turns.len()];
        let mut maker = Maker::new(base, family, seed, index, index / turns.len());
        maker.rule = rule;
        let made = case(family, &mut maker).map(|case| maker.mixed(case));
        match made.map(|case| claimed(case, rule)) {
            Some(case) if base.admits(&case) => {
                out.push(case);
                misses = 0;
            }
            _ => misses += 1,
        }
        index += 1;
    }
    out
}

/// The scenario for a controller that claims a rule. Where that rule does not settle, giving up is right too.
fn claimed(mut case: Case, rule: Option<Rule>) -> Case {
    let Some(rule) = rule else {
        return case;
    };
    case.rule = Some(rule);
    let settles = |case: &Case| {
        play(case, &mut InProcess::new(|| Reference::new(rule)))
            .is_ok_and(|p| p.figures.outcome == Outcome::Settled)
    };
    if case.expect == Expect::Settle && !settles(&case) {
        case.expect = Expect::Either;
    }
    case
}

/// One scenario of a family; `None` if the rig has none.
fn case(family: Family, maker: &mut Maker<'_>) -> Option<Case> {
    match family {
        Family::Seam => seam::seam(maker),
        Family::Arcs => seam::arcs(maker),
        Family::Starts => seam::starts(maker),
        Family::Stops => seam::stops(maker),
        Family::Multiples => ends::multiples(maker),
        Family::Notation => ends::notation(maker),
        Family::FirstMove => ends::first_move(maker),
        Family::ZeroPoint => truth::zero_point(maker),
        Family::FarZeroPoint => truth::far_zero_point(maker),
        Family::BeyondBand => truth::beyond_band(maker),
        Family::WrongSense => truth::wrong_sense(maker),
        Family::PierFlip => truth::pier_flip(maker),
        Family::FailedSolves => truth::failed_solves(maker),
        Family::Forbidden => ends::forbidden(maker),
        Family::KeepOuts => ends::keep_outs(maker),
    }
}
