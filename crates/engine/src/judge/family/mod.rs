//! The families of scenarios: each puts one hazard of wrap logic to a controller.

mod dice;
mod ends;
mod make;
mod rigs;
mod seam;
mod truth;

use serde::{Deserialize, Serialize};

use super::case::Case;
pub(crate) use make::Maker;
pub use rigs::{Base, TooSteep, graded};

/// A family of scenarios.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// Targets on and beside both ends of the arc, with a band that is wide enough.
    Seam,
    /// Every symmetry, arc and travel, with targets far enough from the ends of the arc.
    Arcs,
    /// Starts everywhere: in the arc, on its ends, outside, and turns away.
    Starts,
    /// Between stops: from one end to the other, which is far along the line.
    Stops,
    /// Targets at exact multiples of the period from the start of the arc, on a perfect rig.
    Multiples,
    /// Angles written as 360, -0.0 or 720.25.
    Notation,
    /// Two solves are all there are, and backlash that a move there and back leaves: the first move must be right.
    FirstMove,
    /// A zero point that is far off.
    ZeroPoint,
    /// A zero point so far off that the correction leaves the arc and must fold.
    FarZeroPoint,
    /// A believed sense that is wrong.
    WrongSense,
    /// The true zero point turns by half a turn in mid-run.
    PierFlip,
    /// Solves that fail.
    FailedSolves,
    /// Targets that the stops forbid.
    Forbidden,
    /// Keep-out sectors where no correct controller turns.
    KeepOuts,
}

impl Family {
    /// All families, in the order in which they are shown.
    pub const ALL: [Self; 14] = [
        Self::Seam,
        Self::Arcs,
        Self::Starts,
        Self::Stops,
        Self::Multiples,
        Self::Notation,
        Self::FirstMove,
        Self::ZeroPoint,
        Self::FarZeroPoint,
        Self::WrongSense,
        Self::PierFlip,
        Self::FailedSolves,
        Self::Forbidden,
        Self::KeepOuts,
    ];

    /// Its name in tables, files and reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Seam => "seam",
            Self::Arcs => "arcs",
            Self::Starts => "starts",
            Self::Stops => "stops",
            Self::Multiples => "multiples",
            Self::Notation => "notation",
            Self::FirstMove => "first-move",
            Self::ZeroPoint => "zero-point",
            Self::FarZeroPoint => "far-zero-point",
            Self::WrongSense => "wrong-sense",
            Self::PierFlip => "pier-flip",
            Self::FailedSolves => "failed-solves",
            Self::Forbidden => "forbidden",
            Self::KeepOuts => "keep-outs",
        }
    }

    /// The family of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.name() == name)
    }

    /// One scenario of this family, if the rig has any such.
    fn case(self, maker: &mut Maker<'_>) -> Option<Case> {
        match self {
            Self::Seam => seam::seam(maker),
            Self::Arcs => seam::arcs(maker),
            Self::Starts => seam::starts(maker),
            Self::Stops => seam::stops(maker),
            Self::Multiples => ends::multiples(maker),
            Self::Notation => ends::notation(maker),
            Self::FirstMove => ends::first_move(maker),
            Self::ZeroPoint => truth::zero_point(maker),
            Self::FarZeroPoint => truth::far_zero_point(maker),
            Self::WrongSense => truth::wrong_sense(maker),
            Self::PierFlip => truth::pier_flip(maker),
            Self::FailedSolves => truth::failed_solves(maker),
            Self::Forbidden => ends::forbidden(maker),
            Self::KeepOuts => ends::keep_outs(maker),
        }
    }
}

impl std::fmt::Display for Family {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.name())
    }
}

/// The round in which the families take their turns; the seam comes twice, since controllers hunt there.
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
/// A family that a rig has no scenario of is left out; the list is empty where that is so for all.
#[must_use]
pub fn cases(base: &Base, families: &[Family], seed: u64, count: usize) -> Vec<Case> {
    /// Fruitless draws in a row after which the rig is taken to have no such scenarios.
    const MOST_MISSES: usize = 500;
    let mut out = Vec::with_capacity(count);
    let turns: Vec<Family> = TURNS.into_iter().filter(|f| families.contains(f)).collect();
    let (mut index, mut misses) = (0_usize, 0);
    while out.len() < count && misses < MOST_MISSES && !turns.is_empty() {
        let family = turns[index % turns.len()];
        let mut maker = Maker::new(base, family, seed, index, index / turns.len());
        match family.case(&mut maker) {
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
