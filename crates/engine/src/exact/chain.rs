//! The Markov chain of one zero point: its places, found as they are reached, and the rows between them.

use super::chain_model::ChainModel;
use super::net::{NONE, Net};
use super::pieces::Piece;
use super::place::DrivePlace;
use super::transition::{Entry, TransitionRow};
use super::watch::Watch;
use crate::angle::AngleSpan;
use crate::angle::residual_finite;

/// The chain of one zero point.
#[derive(Debug)]
pub(super) struct Chain<'a> {
    pub(super) model: &'a ChainModel<'a>,
    /// Whether to go on.
    pub(super) watch: Watch<'a>,
    /// Error of the zero point \[deg\].
    zero_error_deg: f64,
    pub(super) net: Net,
    /// The places of this zero point, by their numbers in the net.
    places: Vec<u32>,
    /// The number here of every place of the net, or [`NONE`].
    numbers: Vec<u32>,
    /// The first row of each place, or [`NONE`] where no solve has been made yet.
    first_rows: Vec<u32>,
    rows: Vec<TransitionRow>,
    /// What the rows lead to, one after another.
    pub(super) entries: Vec<Entry>,
    /// Moves from place to place that were found and followed, at all zero points.
    pub(super) work: u64,
    /// The angles that corrections wanted, at any zero point so far \[deg\]; `None` once one wanted to leave the arc.
    pub(super) wanted: Option<AngleSpan>,
    /// Room for the pieces of a correction.
    pub(super) pieces: Vec<Piece>,
}

impl<'a> Chain<'a> {
    pub(super) fn new(model: &'a ChainModel<'a>) -> Self {
        Self {
            model,
            watch: Watch::new(model.question),
            zero_error_deg: 0.0,
            net: Net::default(),
            places: Vec::new(),
            numbers: Vec::new(),
            first_rows: Vec::new(),
            rows: Vec::new(),
            entries: Vec::new(),
            work: 0,
            wanted: Some(AngleSpan::NOTHING),
            pieces: Vec::new(),
        }
    }

    /// Begins anew with another zero point, at a place that gets the number 0: the same for all zero points.
    pub(super) fn restart(&mut self, zero_error_deg: f64, start: DrivePlace) {
        self.zero_error_deg = zero_error_deg;
        for place in self.places.drain(..) {
            self.numbers[place as usize] = NONE;
        }
        self.first_rows.clear();
        self.rows.clear();
        self.entries.clear();
        self.net.begin(self.model, start);
        self.number(0);
    }

    /// Places known so far.
    pub(super) fn len(&self) -> usize {
        self.places.len()
    }

    pub(super) fn at(&self, place: usize) -> DrivePlace {
        self.net.at(self.places[place])
    }

    /// The number here of a place of the net.
    #[inline]
    pub(super) fn number(&mut self, place: u32) -> u32 {
        let at = place as usize;
        match self.numbers.get(at) {
            Some(number) if *number != NONE => *number,
            _ => self.add(place),
        }
    }

    #[cold]
    fn add(&mut self, place: u32) -> u32 {
        let number = self.places.len() as u32;
        self.numbers.resize(self.net.len(), NONE);
        self.numbers[place as usize] = number;
        self.places.push(place);
        self.first_rows.push(NONE);
        number
    }

    /// Repeatability errors that are told apart at a place.
    pub(super) fn repeatability_errors(&self, place: usize) -> usize {
        if self.at(place).seated {
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
        if self.at(place).seated {
            let node = self.model.repeatability_errors[repeatability_error];
            (node.error_deg, node.weight)
        } else {
            (0.0, 1.0)
        }
    }

    /// Number of the first row of a place: one for each repeatability error, made when first asked for.
    #[inline]
    pub(super) fn rows_from(&mut self, place: usize) -> usize {
        match self.first_rows[place] {
            NONE => self.make_rows(place),
            row => row as usize,
        }
    }

    fn make_rows(&mut self, place: usize) -> usize {
        let model = self.model;
        let net_place = self.places[place];
        let noise = if self.net.at(net_place).seated {
            &model.noise
        } else {
            &model.still_noise
        };
        let bare_deg = self.net.bare_residual_deg(net_place);
        let period_deg = model.scenario.period_deg;
        let first = self.rows.len();
        self.first_rows[place] = first as u32;
        for repeatability_error in 0..self.repeatability_errors(place) {
            let off_deg = self.zero_error_deg
                + model.sense * self.repeatability_error(place, repeatability_error).0;
            let true_deg = residual_finite(bare_deg - off_deg, period_deg);
            let mean_deg = residual_finite(true_deg - model.scenario.solve.bias_deg, period_deg);
            // Past the limit nothing is used any more.
            let mut row = if self.over() {
                TransitionRow::default()
            } else {
                self.row(net_place, mean_deg, noise)
            };
            row.true_residual_deg = true_deg;
            let work = 10 * row.entries.len() as u64;
            self.work += work;
            self.watch.spend(work + 10);
            self.rows.push(row);
        }
        first
    }

    /// The limit of the work is passed, or the user wants to stop: nothing that follows is used.
    #[inline]
    pub(super) fn over(&self) -> bool {
        self.work > self.model.precision.most_work || self.watch.over()
    }

    pub(super) fn get(&self, row: usize) -> &TransitionRow {
        &self.rows[row]
    }

    /// Counts runs at a row.
    #[inline]
    pub(super) fn count(&mut self, row: usize, share: f64) {
        self.rows[row].counted += share;
    }

    /// The rows that were made, each with whether its place has a repeatability error.
    pub(super) fn rows(&self) -> impl Iterator<Item = (&TransitionRow, bool)> {
        let made = (0..self.len()).filter(|place| self.first_rows[*place] != NONE);
        made.flat_map(move |place| {
            let first = self.first_rows[place] as usize;
            let rows = &self.rows[first..first + self.repeatability_errors(place)];
            rows.iter().map(move |row| (row, self.at(place).seated))
        })
    }

    /// Where a row leads.
    #[inline]
    pub(super) fn entries_of(&self, row: &TransitionRow) -> &[Entry] {
        &self.entries[row.entries.clone()]
    }
}
