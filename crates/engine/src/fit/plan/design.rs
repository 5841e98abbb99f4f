//! What a stop tells, and how far a set of stops is from the wanted accuracy.

use nalgebra::{Matrix2, SMatrix, SVector};

use super::{Goal, Range, Wanted};
use crate::angle::TURN_DEG;
use crate::fit::interval::student;
use crate::fit::model::{BASE, GAIN, base};
use crate::rig::RigSettings;

/// Number of parameters of the mechanics.
const COUNT: usize = BASE + 1;

/// Wanted half width for repeatability and noise, as a share of each.
const SIGMA_SHARE: f64 = 0.6;

/// One stop of a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stop {
    pub(super) at_deg: f64,
    pub(super) up: bool,
    pub(super) solves: u32,
}

/// What is known before the log, and what is wanted.
pub(super) struct Design<'a> {
    pub(super) rig: &'a RigSettings,
    repeatability_error: f64,
    noise: f64,
    pub(super) accuracy_deg: f64,
    /// Student's factor for each number of degrees of freedom, because each takes long to compute. The first, for
    /// none, is just large.
    factors: Vec<f64>,
    /// Combinations of the parameters that the plan must tell.
    wanted: Vec<SVector<f64, COUNT>>,
}

/// Inverse variances of the parameters, and of the two variances of a row.
#[derive(Clone)]
pub(super) struct Information {
    mechanics: SMatrix<f64, COUNT, COUNT>,
    variances: Matrix2<f64>,
    pub(super) stops: usize,
}

impl Design<'_> {
    pub(super) fn of(rig: &RigSettings, wanted: Wanted, range: Range) -> Design<'_> {
        /// Number of readings at which the angles of an arc are checked.
        const LOOKED_AT: u32 = 24;
        let unit = |j: usize| SVector::<f64, COUNT>::from_fn(|i, _| f64::from(u8::from(i == j)));
        let combinations = match wanted.goal {
            Goal::Errors => (0..COUNT).map(unit).collect(),
            Goal::Angles => {
                let share = |i: u32| f64::from(i) / f64::from(LOOKED_AT);
                let (from_deg, to_deg) = (range.from.at_deg, range.to.at_deg);
                let at = |i| from_deg + (to_deg - from_deg) * share(i);
                let angles = (0..=LOOKED_AT)
                    .map(at)
                    .flat_map(|at_deg| [true, false].map(|up| row(rig, at_deg, up)));
                angles.chain([unit(BASE)]).collect()
            }
        };
        /// Enough for the stops of any plan.
        const MOST_FREEDOM: usize = 240;
        /// The noise counts as at least this \[deg\].
        const LEAST_DEG: f64 = 1e-3;
        Design {
            rig,
            repeatability_error: rig.drive.repeatability_deg.powi(2),
            noise: rig.solve.noise_deg.max(LEAST_DEG).powi(2),
            accuracy_deg: wanted.accuracy_deg,
            factors: [20.0]
                .into_iter()
                .chain((1..=MOST_FREEDOM).map(student))
                .collect(),
            wanted: combinations,
        }
    }

    pub(super) fn nothing(&self) -> Information {
        // Almost no information, but enough for an inverse.
        Information {
            mechanics: SMatrix::identity() * 1e-4,
            variances: Matrix2::identity() * (1e-4 / (self.noise * self.noise)),
            stops: 0,
        }
    }

    pub(super) fn add(&self, information: &mut Information, stop: &Stop) {
        let row = row(self.rig, stop.at_deg, stop.up);
        let solves = f64::from(stop.solves);
        let weight = 1.0 / (self.repeatability_error + self.noise / solves);
        information.mechanics += row * row.transpose() * weight;
        let between = 0.5 * weight * weight;
        let within = 0.5 * (solves - 1.0) / (self.noise * self.noise);
        let both = between / solves;
        information.variances += Matrix2::new(between, both, both, both / solves + within);
        information.stops += 1;
    }

    /// Half widths over the wanted ones, squared.
    pub(super) fn excess(&self, information: &Information) -> Excess {
        let mechanics = self.mechanics(information).map(Iterator::collect);
        Excess {
            mechanics: mechanics.unwrap_or_else(|| vec![f64::INFINITY; self.wanted.len()]),
            sigmas: self.sigmas(information),
        }
    }

    /// Whether no half width is above the wanted one. Agrees with [`Design::excess`], but finds a no faster.
    pub(super) fn is_enough(&self, information: &Information) -> bool {
        let mechanics = || self.mechanics(information);
        self.sigmas(information).iter().all(|e| *e <= 1.0)
            && mechanics().is_some_and(|mut all| all.all(|e| e <= 1.0))
    }

    fn mechanics(&self, information: &Information) -> Option<impl Iterator<Item = f64>> {
        let covariance = information.mechanics.try_inverse()?;
        let scale = (self.factor(information) / self.accuracy_deg).powi(2);
        let wanted = self.wanted.iter();
        Some(wanted.map(move |w| w.dot(&(covariance * w)) * scale))
    }

    fn sigmas(&self, information: &Information) -> [f64; 2] {
        let mut sigmas = [f64::INFINITY; 2];
        if let Some(covariance) = information.variances.try_inverse() {
            // The variance of a deviation is that of its square, divided by four times the square. A repeatability
            // error below half the noise matters little.
            let repeatability_error = self.repeatability_error.max(0.25 * self.noise);
            for (j, v) in [repeatability_error, self.noise].into_iter().enumerate() {
                let relative = covariance[(j, j)] / (4.0 * v * v);
                sigmas[j] = relative * (self.factor(information) / SIGMA_SHARE).powi(2);
            }
        }
        sigmas
    }

    fn factor(&self, information: &Information) -> f64 {
        let freedom = information.stops.saturating_sub(COUNT);
        let known = self.factors.get(freedom).copied();
        known.unwrap_or_else(|| student(freedom))
    }

    /// Half the width of the widest interval of the mechanics \[deg\].
    pub(super) fn reached_deg(&self, information: &Information) -> f64 {
        self.excess(information).widest().sqrt() * self.accuracy_deg
    }

    /// The information of all these stops together.
    pub(super) fn total(&self, stops: &[Stop]) -> Information {
        let mut information = self.nothing();
        for stop in stops {
            self.add(&mut information, stop);
        }
        information
    }

    pub(super) fn cost_s(&self, stop: &Stop) -> f64 {
        let solve = &self.rig.solve;
        // A stop also costs about as much time as a degree of travel.
        let stopping_s = self.rig.drive.overhead_s + 1.0 / self.rig.drive.speed_deg_per_s;
        stopping_s + f64::from(stop.solves) * solve.good_attempt_s()
    }
}

/// The row of the model for a stop. All parameters are angles; the gain error counts over half a turn.
fn row(rig: &RigSettings, at_deg: f64, up: bool) -> SVector<f64, COUNT> {
    let slope = if up { -0.5 } else { 0.5 };
    let columns = base(at_deg + slope * rig.drive.backlash_deg);
    let mut row = SVector::from_fn(|j, _| columns.get(j).copied().unwrap_or(slope));
    row[GAIN] *= 2.0 / TURN_DEG;
    row
}

/// How far a design is from the wanted accuracy.
pub(super) struct Excess {
    mechanics: Vec<f64>,
    sigmas: [f64; 2],
}

impl Excess {
    fn widest(&self) -> f64 {
        self.mechanics.iter().copied().fold(0.0, f64::max)
    }

    /// The number to minimise. Going beyond the wanted accuracy is worth little.
    pub(super) fn sum(&self) -> f64 {
        let floor = |e: &f64| e.max(0.2);
        let share = 7.0 / self.mechanics.len() as f64;
        share * self.mechanics.iter().map(floor).sum::<f64>()
            + self.sigmas.iter().map(floor).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::super::range::RangeLimit;
    use super::*;

    /// The mean of four solves has a quarter of the variance of one. Without repeatability error they tell as much
    /// about the mechanics as four stops with one solve each.
    #[test]
    fn solves_in_a_row_are_a_mean() {
        let mut rig = RigSettings::default();
        rig.drive.repeatability_deg = 0.0;
        let range = Range::new(0.0, 360.0, RangeLimit::Turn);
        let wanted = Wanted {
            accuracy_deg: 0.1,
            from_deg: None,
            to_deg: None,
            goal: Goal::Errors,
        };
        let design = Design::of(&rig, wanted, range);
        let stop = |solves| Stop {
            at_deg: 30.0,
            up: true,
            solves,
        };
        let one = design.total(&[stop(4)]).mechanics;
        let four = design.total(&[stop(1); 4]).mechanics;
        assert!((one - four).norm() < 1e-9 * one.norm());
    }
}
