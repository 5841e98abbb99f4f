//! The families of scenarios. Each confronts a controller with one hazard of wrap logic.

mod dice;
mod ends;
mod hazard;
mod make;
mod rigs;
mod seam;
mod truth;

use super::case::Case;
pub use hazard::Family;
pub(crate) use make::Maker;
pub use rigs::{Base, TooSteep, graded};

/// The order in which the families take turns. The seam comes twice, because controllers hunt there.
const TURNS: [Family; 15] = [
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
    Family::WrongSense,
    Family::PierFlip,
    Family::FailedSolves,
    Family::Forbidden,
    Family::KeepOuts,
];

/// `count` scenarios under a seed, of these families in turn. The same arguments give the same scenarios.
///
/// Leaves out a family that has no scenario for the rig. The list is empty if none has.
#[must_use]
pub fn cases(base: &Base, families: &[Family], seed: u64, count: usize) -> Vec<Case> {
    /// Failed draws in a row after which the rig counts as having no such scenario.
    const MOST_MISSES: usize = 500;
    let mut out = Vec::with_capacity(count);
    let turns: Vec<Family> = TURNS.into_iter().filter(|f| families.contains(f)).collect();
    let (mut index, mut misses) = (0_usize, 0);
    while out.len() < count && misses < MOST_MISSES && !turns.is_empty() {
        let family = turns[index % turns.len()];
        let mut maker = Maker::new(base, family, seed, index, index / turns.len());
        match case(family, &mut maker) {
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
        Family::WrongSense => truth::wrong_sense(maker),
        Family::PierFlip => truth::pier_flip(maker),
        Family::FailedSolves => truth::failed_solves(maker),
        Family::Forbidden => ends::forbidden(maker),
        Family::KeepOuts => ends::keep_outs(maker),
    }
}
