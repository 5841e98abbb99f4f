//! Which situations the commands of a session met, as pairs of circumstances (docs/judge.md, "Coverage").

use std::fmt;

use crate::angle::{TURN_DEG, residual_finite};
use crate::controller::Brief;
use crate::plant::Travel;

/// Where a wanted angle lies, seen from the nearer end of the arc.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Inside,
    /// Outside the arc, within its band.
    Band,
    /// Outside both.
    Beyond,
}

/// Whether the upper end of the arc is nearer to a wanted angle, and where the angle lies.
pub(super) fn place(brief: &Brief, wanted_deg: f64) -> (bool, Side) {
    let half_deg = 0.5 * brief.arc_width_deg;
    let mut from_centre_deg = wanted_deg - (brief.arc_start_deg + half_deg);
    if brief.travel == Travel::Endless {
        from_centre_deg = residual_finite(from_centre_deg, TURN_DEG);
    }
    let within = |deg: f64| (-deg..deg).contains(&from_centre_deg);
    let side = match () {
        () if within(half_deg) => Side::Inside,
        () if within(half_deg + brief.band_deg) => Side::Band,
        () => Side::Beyond,
    };
    (from_centre_deg >= 0.0, side)
}

/// The circumstances of a command, each with its values.
const CIRCUMSTANCES: [(&str, &[&str]); 11] = [
    ("nearer end of the arc", &["lower", "upper"]),
    ("wanted angle", &["inside", "in the band", "beyond"]),
    ("residual", &["none yet", "positive", "negative"]),
    ("band", &["none", "some"]),
    ("travel", &["endless", "stops"]),
    ("sense", &["1", "-1"]),
    ("symmetry", &["1", "2", "4"]),
    ("start", &["near", "a turn away"]),
    ("failed solve before", &["no", "yes"]),
    ("command", &["carried out", "refused"]),
    ("flip before", &["no", "yes"]),
];

/// Pairs that never come together, each value as the numbers of its circumstance and of itself.
const IMPOSSIBLE: &[(Value, Value)] = &[
    // Without a band nothing lies in it.
    ((1, 1), (3, 0)),
    // Before the first move nothing was solved.
    ((2, 0), (8, 1)),
    ((2, 0), (10, 1)),
    // Only stops refuse a command, and between them readings count no turns.
    ((4, 0), (9, 1)),
    ((4, 1), (7, 1)),
    ((7, 1), (9, 1)),
    // The stops that refuse a target refuse the first move to it, which folds into the arc.
    ((1, 1), (9, 1)),
    ((2, 1), (9, 1)),
    ((2, 2), (9, 1)),
    ((8, 1), (9, 1)),
    ((9, 1), (10, 1)),
];

type Value = (usize, usize);

/// A command's value of each circumstance.
pub(super) type Situation = [usize; CIRCUMSTANCES.len()];

/// Which pairs of circumstances the commands of a session met.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Coverage {
    /// A bit for every value that came together with this one.
    met: [[u64; 3]; CIRCUMSTANCES.len()],
}

impl Coverage {
    pub(super) fn meet(&mut self, situation: Situation) {
        let all = situation
            .iter()
            .enumerate()
            .fold(0, |bits, (i, value)| bits | bit((i, *value)));
        for (i, value) in situation.into_iter().enumerate() {
            self.met[i][value] |= all;
        }
    }

    /// Adds what another run met.
    pub fn merge(&mut self, other: &Self) {
        let pairs = self
            .met
            .iter_mut()
            .flatten()
            .zip(other.met.iter().flatten());
        pairs.for_each(|(own, other)| *own |= other);
    }

    /// Every pair that a session can meet, and whether this one did.
    #[must_use]
    pub fn pairs(&self) -> Vec<Pair> {
        let all = values().flat_map(|a| values().map(move |b| (a, b)));
        all.filter(|pair| pair.0.0 < pair.1.0 && !IMPOSSIBLE.contains(pair))
            .map(|(a, b)| Pair {
                circumstances: [CIRCUMSTANCES[a.0].0, CIRCUMSTANCES[b.0].0],
                values: [CIRCUMSTANCES[a.0].1[a.1], CIRCUMSTANCES[b.0].1[b.1]],
                met: self.met[a.0][a.1] & bit(b) != 0,
            })
            .collect()
    }

    /// The circumstances, in the order of every table.
    pub fn circumstances() -> impl Iterator<Item = &'static str> {
        CIRCUMSTANCES.iter().map(|c| c.0)
    }
}

/// Two circumstances of one command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pair {
    /// Their names.
    pub circumstances: [&'static str; 2],
    /// Their values.
    pub values: [&'static str; 2],
    /// A command of the session met both.
    pub met: bool,
}

impl fmt::Display for Pair {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ([a, b], [x, y]) = (self.circumstances, self.values);
        write!(f, "{a} {x} with {b} {y}")
    }
}

/// All values of all circumstances.
fn values() -> impl Iterator<Item = Value> {
    let all = CIRCUMSTANCES.iter().enumerate();
    all.flat_map(|(i, (_, values))| (0..values.len()).map(move |v| (i, v)))
}

fn bit((circumstance, value): Value) -> u64 {
    1 << (4 * circumstance + value)
}
