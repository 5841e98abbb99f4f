//! The Markov chain of one zero point: its places, found as they are reached, and the rows between them.

use rustc_hash::FxHashMap;

use super::chain_model::{ChainModel, bare_residual_deg};
use super::pieces::Piece;
use super::place::DrivePlace;
use super::reading_grid::Number;
use super::transition::TransitionRow;
use crate::angle::AngleSpan;
use crate::angle::residual_finite;

/// The chain of one zero point.
#[derive(Debug)]
pub(super) struct Chain<'a> {
    pub(super) model: &'a ChainModel<'a>,
    /// Error of the zero point \[deg\].
    zero_error_deg: f64,
    places: Vec<DrivePlace>,
    numbers: FxHashMap<(Number, u64), u32>,
    /// What is known of each place once it has been needed.
    known: Vec<Option<Known>>,
    rows: Vec<TransitionRow>,
    /// Moves from place to place that were found and followed, at all zero points.
    pub(super) work: u64,
    /// The angles that corrections wanted, at any zero point so far \[deg\]; `None` once one wanted to leave the arc.
    pub(super) wanted: Option<AngleSpan>,
    /// Room for the pieces of a correction.
    pub(super) pieces: Vec<Piece>,
}

/// A place that a solve has been made at.
#[derive(Debug, Clone, Copy)]
struct Known {
    /// The first row.
    row: u32,
    /// Target less true angle with the believed zero point and a perfect repeatability error, wrapped \[deg\].
    off_deg: f64,
}

impl<'a> Chain<'a> {
    pub(super) fn new(model: &'a ChainModel<'a>) -> Self {
        Self {
            model,
            zero_error_deg: 0.0,
            places: Vec::new(),
            numbers: FxHashMap::default(),
            known: Vec::new(),
            rows: Vec::new(),
            work: 0,
            wanted: Some(AngleSpan::NOTHING),
            pieces: Vec::new(),
        }
    }

    /// Begins anew with another zero point, at a place that gets the number 0.
    pub(super) fn restart(&mut self, zero_error_deg: f64, start: DrivePlace) {
        self.zero_error_deg = zero_error_deg;
        self.places.clear();
        self.numbers.clear();
        self.known.clear();
        self.rows.clear();
        self.places.push(start);
        self.known.push(None);
    }

    /// Places known so far.
    pub(super) fn len(&self) -> usize {
        self.places.len()
    }

    pub(super) fn at(&self, place: usize) -> DrivePlace {
        self.places[place]
    }

    /// The number of a place in the chain.
    pub(super) fn place(&mut self, number: Number, reading_deg: f64, output_deg: f64) -> u32 {
        let next = self.places.len() as u32;
        let key = (number, output_deg.to_bits());
        let place = *self.numbers.entry(key).or_insert(next);
        if place == next {
            self.places.push(DrivePlace {
                reading_deg,
                output_deg,
                seated: true,
            });
            self.known.push(None);
        }
        place
    }

    /// Repeatability errors that are told apart at a place.
    pub(super) fn repeatability_errors(&self, place: usize) -> usize {
        if self.places[place].seated {
            self.model.repeatability_errors.len()
        } else {
            1
        }
    }

    /// The repeatability error of one of them, and its probability.
    pub(super) fn repeatability_error(
        &self,
        place: usize,
        repeatability_error: usize,
    ) -> (f64, f64) {
        if self.places[place].seated {
            let node = self.model.repeatability_errors[repeatability_error];
            (node.error_deg, node.weight)
        } else {
            (0.0, 1.0)
        }
    }

    /// Number of the first row of a place: one for each repeatability error, made when first asked for.
    #[inline]
    pub(super) fn rows_from(&mut self, place: usize) -> usize {
        match self.known[place] {
            Some(known) => known.row as usize,
            None => self.make_rows(place),
        }
    }

    fn make_rows(&mut self, place: usize) -> usize {
        let model = self.model;
        let from = self.places[place];
        let noise = if from.seated {
            &model.noise
        } else {
            &model.still_noise
        };
        let first = self.rows.len();
        self.known[place] = Some(Known {
            row: first as u32,
            off_deg: bare_residual_deg(model, from.output_deg),
        });
        for repeatability_error in 0..self.repeatability_errors(place) {
            let true_deg = self.true_residual_deg(place, repeatability_error);
            let bias_deg = model.scenario.solve.bias_deg;
            let mean_deg = residual_finite(true_deg - bias_deg, model.scenario.period_deg);
            // Past the limit nothing is used any more.
            let row = if self.over() {
                TransitionRow::default()
            } else {
                self.row(from, mean_deg, noise)
            };
            let work = 10 * row.entries.len() as u64;
            self.work += work;
            model.watch.spend(work + 10);
            self.rows.push(row);
        }
        first
    }

    /// The limit of the work is passed, or the user wants to stop: nothing that follows is used.
    #[inline]
    pub(super) fn over(&self) -> bool {
        self.work > self.model.precision.most_work || self.model.watch.over()
    }

    pub(super) fn get(&self, row: usize) -> &TransitionRow {
        &self.rows[row]
    }

    /// Target less true angle at a place with a repeatability error, wrapped \[deg\]; the place has rows.
    #[inline]
    pub(super) fn true_residual_deg(&self, place: usize, repeatability_error: usize) -> f64 {
        let known = self.known[place].map_or(0.0, |known| known.off_deg);
        let off_deg = self.zero_error_deg
            + self.model.sense * self.repeatability_error(place, repeatability_error).0;
        residual_finite(known - off_deg, self.model.scenario.period_deg)
    }
}
