//! The places where a command may end, and the moves between them. No zero point changes these, so they are kept from
//! one to the next.

use rustc_hash::FxHashMap;

use super::chain_model::{ChainModel, bare_residual_deg};
use super::place::DrivePlace;
use super::reading_grid::Number;
use super::row::Swing;
use super::transition::Added;

/// Places and moves, found as they are needed.
#[derive(Debug, Default)]
pub(super) struct Net {
    places: Vec<NetPlace>,
    numbers: FxHashMap<(Number, u64), u32>,
    /// Places and moves that are kept.
    size: usize,
}

/// A place, and the moves from there.
#[derive(Debug)]
struct NetPlace {
    at: DrivePlace,
    /// Target less true angle with the believed zero point and a perfect repeatability error, wrapped \[deg\].
    bare_residual_deg: f64,
    moves: Vec<Moves>,
}

/// Moves from one place that have their kind in common.
#[derive(Debug)]
struct Moves {
    kind: MovesKind,
    /// Number of the reading where the first of them ends.
    first: Number,
    moves: Vec<Option<Move>>,
}

/// What moves from a place must have in common so that no two of them end at the same number.
#[derive(Debug, Clone, Copy, PartialEq)]
struct MovesKind {
    /// Whole periods between what was wanted and the goal \[deg\].
    shift_deg: f64,
    up: bool,
    long: bool,
    far: bool,
}

/// A move from one place to another.
#[derive(Debug, Clone, Copy)]
pub(super) struct Move {
    /// Number of the place in the net.
    pub(super) place: u32,
    /// By the bits of an entry.
    pub(super) kind: u8,
    /// What it adds for certain.
    pub(super) added: Added,
}

/// Where the moves of one kind are kept.
#[derive(Debug, Clone, Copy)]
pub(super) struct MovesAt {
    place: usize,
    kind: usize,
}

impl Net {
    /// A net of more places and moves than this is begun anew.
    const MOST: usize = 1_000_000;

    /// Begins anew, at a place that gets the number 0, unless what is kept still serves.
    pub(super) fn begin(&mut self, model: &ChainModel, start: DrivePlace) {
        if self.places.is_empty() || self.size > Self::MOST || model.noiseless() {
            *self = Self::default();
            self.add(model, start);
        }
    }

    /// Number of places.
    pub(super) fn len(&self) -> usize {
        self.places.len()
    }

    pub(super) fn at(&self, place: u32) -> DrivePlace {
        self.places[place as usize].at
    }

    /// Target less true angle with the believed zero point and a perfect repeatability error, wrapped \[deg\].
    pub(super) fn bare_residual_deg(&self, place: u32) -> f64 {
        self.places[place as usize].bare_residual_deg
    }

    fn add(&mut self, model: &ChainModel, at: DrivePlace) {
        self.size += 1;
        self.places.push(NetPlace {
            at,
            bare_residual_deg: bare_residual_deg(model, at.output_deg),
            moves: Vec::new(),
        });
    }

    /// The number of a place that a move has led to.
    pub(super) fn place(
        &mut self,
        model: &ChainModel,
        number: Number,
        reading_deg: f64,
        output_deg: f64,
    ) -> u32 {
        let next = self.places.len() as u32;
        let key = (number, output_deg.to_bits());
        let place = *self.numbers.entry(key).or_insert(next);
        if place == next {
            let at = DrivePlace {
                reading_deg,
                output_deg,
                seated: true,
            };
            self.add(model, at);
        }
        place
    }

    /// Where the moves of a swing are kept.
    pub(super) fn moves_of(&mut self, swing: &Swing, far: bool) -> MovesAt {
        let kind = MovesKind {
            shift_deg: swing.shift_deg,
            up: swing.up,
            long: swing.long,
            far,
        };
        let place = swing.place as usize;
        let moves = &mut self.places[place].moves;
        let found = moves.iter().position(|m| m.kind == kind);
        MovesAt {
            place,
            kind: found.unwrap_or_else(|| {
                moves.push(Moves {
                    kind,
                    first: 0,
                    moves: Vec::new(),
                });
                moves.len() - 1
            }),
        }
    }

    /// The move that ends at the reading of a number, if it is known.
    #[inline]
    pub(super) fn known(&self, at: MovesAt, number: Number) -> Option<Move> {
        let moves = &self.places[at.place].moves[at.kind];
        *moves.moves.get((number - moves.first) as usize)?
    }

    /// Keeps a move.
    #[cold]
    pub(super) fn keep(&mut self, at: MovesAt, number: Number, found: Move) {
        let Moves { first, moves, .. } = &mut self.places[at.place].moves[at.kind];
        let before = moves.len();
        if moves.is_empty() {
            *first = number;
        }
        if number < *first {
            let missing = (*first - number) as usize;
            moves.splice(0..0, std::iter::repeat_n(None, missing));
            *first = number;
        }
        let i = (number - *first) as usize;
        if i >= moves.len() {
            moves.resize(i + 1, None);
        }
        moves[i] = Some(found);
        self.size += moves.len() - before;
    }
}
