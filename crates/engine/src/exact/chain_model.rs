//! What the chain of one scenario is made of, prepared once: noise, grids, and what cannot be held.

use thiserror::Error;

use super::gauss::{Ladder, PieceEnd, density};
use super::legendre::Legendre;
use super::precision::Precision;
use super::reading_grid::ReadingGrid;
use super::watch::Question;
use super::zero_points::even;
use crate::angle::residual_finite;
use crate::plant::PlannedMove;
use crate::scenario::Scenario;

/// A feature of a rig that the exact method does not hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum Unsupported {
    /// The state would need the time.
    #[error("a field that rotates while the loop runs (loop.field_rotation_deg_per_s)")]
    FieldRotation,
    /// Where it begins is a distribution.
    #[error("a loop that begins where another ended")]
    AfterAnother,
    /// The offset within the backlash would be a second continuous variable.
    #[error(
        "corrections smaller than the backlash of a drive without steps, or with steps much finer than its noise \
         (loop.tolerance_deg * loop.correction against drive.backlash_deg)"
    )]
    CorrectionsWithinBacklash,
    /// The way of the first leg would matter.
    #[error(
        "a one-sided approach whose overrun does not take up the backlash of a drive without steps, or with outliers \
         (loop.overrun_deg)"
    )]
    ShortOverrun,
    /// The same repeatability error is measured again without anything to smooth it.
    #[error("repeated solves without noise and without a move (solve.noise_deg = 0)")]
    RepeatedWithoutNoise,
    /// Nothing smooths the grid of zero points.
    #[error("outliers without any noise (solve.outlier_rate)")]
    OutliersAlone,
    /// The grid would be too large.
    #[error(
        "noise this small beside drive.zero_point_sigma_deg, the step or the repeatability, with more than {} nodes",
        ChainModel::MOST_NODES
    )]
    TooFine,
    /// The loop spreads over too many places.
    #[error(
        "a loop that spreads over too many places, as with a wrong sense or outliers. Try --precision map"
    )]
    TooLarge,
    /// Nothing is in the way: the caller wanted to stop.
    #[error("stopped")]
    Stopped,
}

/// One part of a mixture of normal errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Part {
    pub(super) share: f64,
    pub(super) sigma_deg: f64,
    /// Of a ladder with the steps of the drive.
    pub(super) bend: f64,
}

/// A repeatability error, or a zero point, on its grid: the error \[deg\] and its weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    pub(super) error_deg: f64,
    pub(super) weight: f64,
}

impl Node {
    /// No error, for certain.
    pub(super) const NONE: Self = Self {
        error_deg: 0.0,
        weight: 1.0,
    };
}

/// Everything that does not change from one zero point to the next.
#[derive(Debug)]
pub(super) struct ChainModel<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) precision: Precision,
    /// Errors beyond this end are not followed.
    pub(super) reach_end: PieceEnd,
    /// Target less believed zero point, folded once \[deg\].
    pub(super) target_deg: f64,
    pub(super) sense: f64,
    /// Turn of the drive for a residual of one degree, with its sign.
    pub(super) answer: f64,
    /// Errors of a measured residual after a real move; without its repeatability error where repeatability errors are held apart.
    pub(super) noise: Vec<Part>,
    /// The mixture where nothing has moved yet.
    pub(super) still_noise: Vec<Part>,
    /// Repeatability errors that are held apart; one of no error where repeatability error and noise are one error.
    pub(super) repeatability_errors: Vec<Node>,
    /// Zero points.
    pub(super) zero_points: Vec<Node>,
    /// Distance of neighbours among them \[deg\].
    pub(super) zero_spacing_deg: f64,
    pub(super) grid: ReadingGrid,
    /// For what outliers throw far from the target, and how far that is \[deg\].
    pub(super) far: Option<(ReadingGrid, f64)>,
    /// Whether to stop.
    pub(super) question: Question<'a>,
}

impl<'a> ChainModel<'a> {
    /// Most nodes of a grid of zero points.
    pub(super) const MOST_NODES: usize = 400_000;

    /// Most repeatability errors times passes in a row.
    const MOST_CELLS: usize = 4096;

    /// Most places that one correction may lead to.
    const MOST_PLACES: f64 = 4000.0;

    /// # Errors
    /// [`Unsupported`] names the feature that is in the way.
    pub(super) fn new(
        scenario: &'a Scenario,
        precision: Precision,
        stopped: &'a (dyn Fn() -> bool + Sync),
    ) -> Result<Self, Unsupported> {
        let plant = &scenario.plant;
        let controller = scenario.controller();
        if scenario.before().is_some() {
            return Err(Unsupported::AfterAnother);
        }
        if plant.turns_the_field() {
            return Err(Unsupported::FieldRotation);
        }
        let answer = controller.answer(scenario.brief.sense);
        let step_deg = plant.step_deg();
        let repeatability_error_deg = scenario.repeatability_deg;
        let may_stay = may_stay(scenario);
        let apart = repeatability_error_deg > 0.0 && (controller.confirm() > 1 || may_stay);
        let noise = mixture(scenario, if apart { 0.0 } else { repeatability_error_deg });
        let still_noise = mixture(scenario, 0.0);
        let sigma_deg = least(&noise);
        let starts_still = scenario
            .plant
            .plan(scenario.brief.reading_deg, scenario.drive_angle_deg())
            == PlannedMove::Still;
        let unsmoothed = apart || starts_still && repeatability_error_deg > 0.0;
        if unsmoothed && least(&still_noise) == 0.0 {
            return Err(Unsupported::RepeatedWithoutNoise);
        }
        if sigma_deg == 0.0 && noise.len() > 1 {
            return Err(Unsupported::OutliersAlone);
        }
        let mut model = Self {
            scenario,
            precision,
            reach_end: PieceEnd::at(precision.reach),
            target_deg: residual_finite(
                scenario.brief.target_deg - scenario.brief.zero_point_deg,
                scenario.period_deg,
            ),
            sense: plant.sky_sense(),
            answer,
            noise,
            still_noise,
            repeatability_errors: vec![Node::NONE],
            zero_points: vec![Node::NONE],
            zero_spacing_deg: 0.0,
            grid: ReadingGrid::Lattice { step_deg },
            far: None,
            question: Question(stopped),
        };
        if sigma_deg == 0.0 {
            return Ok(model);
        }
        model.lay_nets(sigma_deg, may_stay)?;
        // Passes in a row narrow what smooths: the product of so many probabilities.
        let confirm = f64::from(controller.confirm()).sqrt();
        let smooth_deg = if apart {
            let harmonic = 1.0 / libm::hypot(1.0 / repeatability_error_deg, confirm / sigma_deg);
            model.repeatability_errors = even(
                repeatability_error_deg,
                precision.spacing * harmonic,
                precision.reach,
            )?;
            libm::hypot(repeatability_error_deg, sigma_deg / confirm)
        } else if starts_still {
            least(&model.still_noise).min(sigma_deg) / confirm
        } else {
            sigma_deg / confirm
        };
        if model.repeatability_errors.len() * controller.confirm() as usize > Self::MOST_CELLS {
            return Err(Unsupported::TooFine);
        }
        // On a coarse lattice the same readings come back, and several errors in a row must agree.
        let coarse = step_deg > 0.5 * answer.abs() * sigma_deg;
        let spacing = if coarse { 0.75 } else { 1.0 } * precision.spacing;
        model.zero_spacing_deg = spacing * smooth_deg.min(scenario.zero_point_sigma_deg);
        model.zero_points = even(
            scenario.zero_point_sigma_deg,
            model.zero_spacing_deg,
            precision.reach,
        )?;
        Ok(model)
    }

    /// Chooses where readings can stand.
    fn lay_nets(&mut self, sigma_deg: f64, may_stay: bool) -> Result<(), Unsupported> {
        let plant = &self.scenario.plant;
        let (step_deg, backlash_deg) = (plant.step_deg(), plant.backlash_deg());
        let answer = self.answer.abs();
        let goal_sigma_deg = answer * sigma_deg;
        // Both are held on a lattice only, where the place in the backlash is a lattice as well.
        let short_overrun = plant.one_sided()
            && backlash_deg > 0.0
            && plant.overrun_deg() < backlash_deg + 2.0 * step_deg;
        let least_move_deg = answer * self.scenario.brief.tolerance_deg - step_deg;
        let short_move = !plant.one_sided() && backlash_deg > 0.0 && least_move_deg < backlash_deg;
        let within_backlash = short_overrun || short_move;
        let not_held = if short_overrun {
            Unsupported::ShortOverrun
        } else {
            Unsupported::CorrectionsWithinBacklash
        };
        let fine = step_deg < 0.25 * goal_sigma_deg && !may_stay;
        let panels = |width_deg, step_deg| ReadingGrid::Panels {
            width_deg,
            rule: Legendre::new(self.precision.panel_nodes),
            step_deg,
        };
        if step_deg == 0.0 && within_backlash {
            return Err(not_held);
        }
        self.grid = if fine && !within_backlash {
            panels(2.0 * goal_sigma_deg, step_deg)
        } else if 2.0 * self.precision.reach * goal_sigma_deg > Self::MOST_PLACES * step_deg {
            return Err(Unsupported::TooFine);
        } else {
            ReadingGrid::Lattice { step_deg }
        };
        let wide_deg = self.noise.iter().map(|p| p.sigma_deg).fold(0.0, f64::max);
        if wide_deg > 4.0 * sigma_deg {
            if within_backlash {
                return Err(not_held);
            }
            // Anything nearer to the target may pass the next solve.
            let near_deg =
                self.scenario.brief.tolerance_deg + 12.0 * sigma_deg + plant.worst_error_deg();
            self.far = Some((panels(answer * wide_deg, 0.0), near_deg));
        }
        Ok(())
    }

    /// Nothing but the zero point is uncertain.
    pub(super) fn noiseless(&self) -> bool {
        self.noise[0].sigma_deg == 0.0
    }

    /// Distance of zero points where the figures change slowly with them \[deg\]; `None` where they may change quickly
    /// anywhere, or where there would be little to gain.
    pub(super) fn wide_spacing_deg(&self) -> Option<f64> {
        if self.lattice_is_coarse() || self.zero_spacing_deg == 0.0 {
            return None;
        }
        let plant = &self.scenario.plant;
        let slopes = plant
            .periodic()
            .iter()
            .map(|p| (p.amplitude_deg * p.cycles).to_radians().abs());
        let changes = self.left_over() + slopes.sum::<f64>();
        let slow_deg = self.zero_spacing_deg / changes;
        let wide_deg =
            slow_deg.min(0.25 * self.precision.spacing * self.scenario.zero_point_sigma_deg);
        (wide_deg > 2.0 * self.zero_spacing_deg).then_some(wide_deg)
    }

    /// The figures repeat, as functions of the zero point, with every step.
    pub(super) fn lattice_is_coarse(&self) -> bool {
        let smooth_deg = self.answer.abs() * self.noise[0].sigma_deg;
        self.scenario.plant.step_deg() > 0.75 * smooth_deg
    }

    /// The share of a residual that a correction leaves.
    pub(super) fn left_over(&self) -> f64 {
        let turned = self.scenario.plant.shaft_angle_deg(self.answer, 0.0);
        (1.0 - self.sense * turned).abs()
    }

    /// Times of moves that lie apart by so much look like one \[s\].
    pub(super) fn time_gap_s(&self) -> f64 {
        let gap_deg = self.wide_spacing_deg().unwrap_or(0.0);
        let turn = PlannedMove::Move {
            via_deg: None,
            to_deg: self.answer.abs() * gap_deg,
        };
        let plant = &self.scenario.plant;
        plant.duration_s(0.0, &turn) - plant.overhead_s()
    }

    /// Solves may follow each other without a move between them.
    pub(super) fn may_repeat(&self) -> bool {
        self.scenario.controller().confirm() > 1 || may_stay(self.scenario)
    }

    /// Mass that is no longer followed: less on a finer grid, whose zero points have less each.
    pub(super) fn least_mass(&self) -> f64 {
        let sigma_deg = self.scenario.zero_point_sigma_deg;
        let most = if self.zero_points.len() == 1 {
            1.0
        } else {
            self.zero_spacing_deg / sigma_deg * density(0.0)
        };
        self.precision.least_mass * most
    }

    /// Repeatability errors are held apart from the noise.
    pub(super) fn repeatability_errors_apart(&self) -> bool {
        self.repeatability_errors.len() > 1
    }
}

/// A correction may round to no step at all.
fn may_stay(scenario: &Scenario) -> bool {
    let answer = scenario.controller().answer(scenario.brief.sense).abs();
    answer * scenario.brief.tolerance_deg < 0.5 * scenario.plant.step_deg()
}

/// The errors of a measured residual, on top of a repeatability error.
fn mixture(scenario: &Scenario, repeatability_error_deg: f64) -> Vec<Part> {
    let solve = &scenario.solve;
    let answer = scenario.controller().answer(scenario.brief.sense).abs();
    let part = |share, noise_deg| {
        let sigma_deg = libm::hypot(repeatability_error_deg, noise_deg);
        Part {
            share,
            sigma_deg,
            bend: Ladder::bend(scenario.plant.step_deg() / (answer * sigma_deg)),
        }
    };
    let mut parts = vec![
        part(1.0 - solve.outlier_rate, solve.noise_deg),
        part(solve.outlier_rate, solve.outlier_deg),
    ];
    parts.retain(|p| p.share > 0.0);
    if parts.iter().all(|p| p.sigma_deg == parts[0].sigma_deg) {
        parts.truncate(1);
        parts[0].share = 1.0;
    }
    parts
}

fn least(parts: &[Part]) -> f64 {
    parts
        .iter()
        .map(|p| p.sigma_deg)
        .fold(f64::INFINITY, f64::min)
}

impl crate::plant::Plant {
    /// A bound of all errors of the mechanics over a period, gain and backlash included \[deg\].
    fn worst_error_deg(&self) -> f64 {
        let periodic: f64 = self.periodic().iter().map(|p| p.amplitude_deg.abs()).sum();
        let gain = (self.shaft_angle_deg(1.0, 0.0) - 1.0).abs() * 360.0;
        2.0 * periodic + gain + self.backlash_deg()
    }
}

/// Target less true angle with the believed zero point and a perfect repeatability error, wrapped \[deg\].
pub(super) fn bare_residual_deg(model: &ChainModel, output_deg: f64) -> f64 {
    let plant = &model.scenario.plant;
    let mut shaft_deg = plant.shaft_angle_deg(output_deg, 0.0);
    for p in plant.periodic() {
        shaft_deg += crate::plant::periodic_error_deg(p, output_deg);
    }
    residual_finite(
        model.target_deg - model.sense * shaft_deg,
        model.scenario.period_deg,
    )
}
