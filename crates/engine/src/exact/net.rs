//! The places where a command may end, and the moves between them. No zero point changes these, so they are kept from
//! one to the next.

use std::ops::Range;

use rustc_hash::FxHashMap;

use super::chain_model::{ChainModel, bare_residual_deg};
use super::place::DrivePlace;
use super::reading_grid::Number;
use super::row::Swing;

/// Places and moves, found as they are needed.
#[derive(Debug, Default)]
pub(super) struct Net {
    places: Vec<NetPlace>,
    numbers: FxHashMap<(Number, u64), u32>,
    tables: Vec<Table>,
    /// The moves of all tables.
    moves: Vec<Move>,
}

/// A place.
#[derive(Debug)]
struct NetPlace {
    at: DrivePlace,
    /// Target less true angle with the believed zero point and a perfect repeatability error, wrapped \[deg\].
    bare_residual_deg: f64,
    /// The last table of moves from here, or [`NONE`].
    table: u32,
}

/// Moves from one place that have their kind in common, by the number of the reading where they end.
#[derive(Debug)]
struct Table {
    kind: TableKind,
    /// The one before of the same place, or [`NONE`].
    before: u32,
    first: Number,
    /// Where its moves are kept.
    kept: Range<usize>,
}

/// What moves from a place must have in common so that no two of them end at the same number.
#[derive(Debug, Clone, Copy, PartialEq)]
struct TableKind {
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
    pub(super) time_s: f64,
    pub(super) travel_deg: f64,
    pub(super) outside_arc_deg: f64,
    pub(super) keep_out_deg: f64,
}

impl Move {
    const UNKNOWN: Self = Self {
        place: NONE,
        kind: 0,
        time_s: 0.0,
        travel_deg: 0.0,
        outside_arc_deg: 0.0,
        keep_out_deg: 0.0,
    };
}

/// No number.
pub(super) const NONE: u32 = u32::MAX;

impl Net {
    /// A net of more places and moves than this is begun anew.
    const MOST: usize = 1_000_000;

    /// Room for moves to either side of the first one.
    const ROOM: Number = 12;

    /// Begins anew, at a place that gets the number 0, unless what is kept still serves.
    pub(super) fn begin(&mut self, model: &ChainModel, start: DrivePlace) {
        let size = self.places.len() + self.moves.len();
        if self.places.is_empty() || size > Self::MOST || model.noiseless() {
            self.places.clear();
            self.numbers.clear();
            self.tables.clear();
            self.moves.clear();
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
        self.places.push(NetPlace {
            at,
            bare_residual_deg: bare_residual_deg(model, at.output_deg),
            table: NONE,
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

    /// Number of the table for the moves of a swing.
    pub(super) fn table_of(&mut self, swing: &Swing, far: bool) -> usize {
        let kind = TableKind {
            shift_deg: swing.shift_deg,
            up: swing.up,
            long: swing.long,
            far,
        };
        let last = &mut self.places[swing.place as usize].table;
        let mut table = *last;
        while table != NONE {
            let found = &self.tables[table as usize];
            if found.kind == kind {
                return table as usize;
            }
            table = found.before;
        }
        let before = std::mem::replace(last, self.tables.len() as u32);
        self.tables.push(Table {
            kind,
            before,
            first: 0,
            kept: 0..0,
        });
        self.tables.len() - 1
    }

    /// The move of a table to the reading of a number, if it is known.
    #[inline]
    pub(super) fn known(&self, table: usize, number: Number) -> Option<Move> {
        let Table { first, kept, .. } = &self.tables[table];
        let found = self.moves[kept.clone()].get((number - first) as usize)?;
        (found.place != NONE).then_some(*found)
    }

    /// Keeps a move.
    #[cold]
    pub(super) fn keep(&mut self, table: usize, number: Number, found: Move) {
        let Table { first, kept, .. } = &mut self.tables[table];
        let had = kept.len() as Number;
        let end = *first + had;
        if !(*first..end).contains(&number) {
            // As much more room as there is already.
            let more = Self::ROOM + had;
            let (from, until) = if had == 0 {
                (number - more, number + more)
            } else if number < *first {
                (number - more, end)
            } else {
                (*first, number + more)
            };
            let start = self.moves.len();
            let before = (*first - from) as usize;
            self.moves
                .resize(start + (until - from) as usize, Move::UNKNOWN);
            if had > 0 {
                self.moves.copy_within(kept.clone(), start + before);
            }
            (*first, *kept) = (from, start..self.moves.len());
        }
        self.moves[kept.start + (number - *first) as usize] = found;
    }
}
