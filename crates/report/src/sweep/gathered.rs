//! The rows of a sweep that are kept for its table, its picture and its JSON.

use super::error::{MOST_GATHERED, SweepError};
use super::head::Head;
use super::line;
use halfturn_engine::summary::Rate;

/// How often one rule hunts in one cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Index of the rule.
    pub rule: usize,
    /// The varied values.
    pub values: Vec<f64>,
    /// Share of the runs with two or more long swings.
    pub hunting: Rate,
}

/// The cells in which runs hunt least and most.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Extremes {
    /// Number of cells.
    pub cells: u64,
    /// Number of cells in which any run hunts.
    pub with_hunting: u64,
    /// The lowest rate, and the values of the first cell that has it; `None` without cells.
    pub least: Option<(f64, Vec<f64>)>,
    /// The highest rate, and the values of the first cell that has it; `None` without cells.
    pub greatest: Option<(f64, Vec<f64>)>,
}

impl Extremes {
    /// Adds a cell.
    fn add(&mut self, values: &[f64], rate: f64) {
        self.cells += 1;
        self.with_hunting += u64::from(rate > 0.0);
        if self.least.as_ref().is_none_or(|(least, _)| rate < *least) {
            self.least = Some((rate, values.to_vec()));
        }
        if self.greatest.as_ref().is_none_or(|(most, _)| rate > *most) {
            self.greatest = Some((rate, values.to_vec()));
        }
    }
}

/// The rows of a sweep as they come: their extremes, and all of them if wanted.
#[derive(Debug, Clone, Default)]
pub struct Gathered {
    keep_all: bool,
    rules: Vec<String>,
    axes: usize,
    extremes: Vec<Extremes>,
    entries: Vec<Entry>,
    rows: Vec<String>,
}

impl Gathered {
    /// For a sweep with this head. `keep_all` keeps every row, for a picture or JSON.
    ///
    /// # Errors
    /// [`SweepError::TooMany`] if all rows are wanted and the sweep has more than [`MOST_GATHERED`] cells.
    pub fn new(head: &Head, keep_all: bool) -> Result<Self, SweepError> {
        let mut out = Self::later(keep_all);
        out.begin(head)?;
        Ok(out)
    }

    /// For a sweep whose head is not known yet.
    #[must_use]
    pub fn later(keep_all: bool) -> Self {
        Self {
            keep_all,
            ..Self::default()
        }
    }

    /// Takes the rules and axes from a head.
    ///
    /// # Errors
    /// [`SweepError::TooMany`] if all rows are wanted and the sweep has more than [`MOST_GATHERED`] cells.
    pub(super) fn begin(&mut self, head: &Head) -> Result<(), SweepError> {
        if self.keep_all && head.cells() > MOST_GATHERED {
            return Err(SweepError::TooMany(head.cells()));
        }
        self.rules = head.rules().iter().map(ToString::to_string).collect();
        self.axes = head.asked_all("vary").count();
        self.extremes = vec![Extremes::default(); self.rules.len()];
        Ok(())
    }

    /// Adds the lines of a cell.
    pub fn add(&mut self, text: &str) {
        for text in text.lines() {
            let Some(found) = line::read(text, self.axes) else {
                continue;
            };
            let Some(rule) = self.rules.iter().position(|r| r == found.rule) else {
                continue;
            };
            self.extremes[rule].add(&found.values, found.hunting.rate);
            if self.keep_all {
                self.entries.push(Entry {
                    rule,
                    values: found.values,
                    hunting: found.hunting,
                });
                self.rows.push(text.to_owned());
            }
        }
    }

    /// The names of the rules.
    #[must_use]
    pub fn rules(&self) -> &[String] {
        &self.rules
    }

    /// The extremes of each rule.
    #[must_use]
    pub fn extremes(&self) -> &[Extremes] {
        &self.extremes
    }

    /// Every row, if rows are kept; else empty.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The lines of every row, if rows are kept; else empty.
    #[must_use]
    pub fn rows(&self) -> &[String] {
        &self.rows
    }
}
