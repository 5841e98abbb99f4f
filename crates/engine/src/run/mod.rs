//! Scenario -> run: one loop of move, solve and correct (docs/model.md, sections 2 to 6).
//!
//! [`run`] takes a random stream and returns the figures of the run. It knows no clock, file or screen. To watch a
//! run, pass an [`Observer`].

mod draws;
mod figures;
mod hunting;
mod lanes;
mod normal;
mod observer;
mod rig_state;
mod stream;
mod trace;

pub use figures::{Figures, Outcome};
pub use hunting::{MOST_ATTEMPTS, MOST_RUNS, first_hunting_run};
pub use lanes::{run_block, run_block_unless};
pub use normal::{exponential, normal_pair};
pub use observer::{MoveEvent, Observer, SolveEvent, Unobserved};
pub use rig_state::{ConstantRate, FailureRate, RigState};
pub use stream::{Stream, stream};
pub use trace::{Solved, Trace, TraceRow, traced};

use rand::Rng;

use crate::angle::{TURN_DEG, fold_finite, residual_finite};
use crate::controller::{Action, Brief, Command, Controller};
use crate::plant::{PlannedMove, Shaft};
use crate::scenario::Scenario;
use draws::Draws;

/// Commands without a solve after which a controller counts as stuck.
const IDLE_COMMANDS: u32 = 1000;

/// Runs one loop.
///
/// It uses the numbers of the stream in a fixed order. First comes a pair of normal deviates for the zero point, of
/// which the second is unused. Then every turn of the loop takes a pair for its repeatability error and its noise,
/// one uniform deviate for each attempt, and one for the outlier. An earlier loop uses the numbers in this order
/// first, and this loop goes on without the first pair. A source of error that the rig lacks draws nothing;
/// repeatability error and noise count as one source. Two policies on equal streams therefore meet the same luck.
pub fn run<C, R, O>(
    scenario: &Scenario,
    controller: &mut C,
    rng: &mut R,
    observer: &mut O,
) -> Figures
where
    C: Controller,
    R: Rng,
    O: Observer,
{
    let Some(before) = scenario.before() else {
        return run_first(scenario, controller, rng, observer).0;
    };
    let (_, mut rig_state) = run_first(before, &mut before.controller(), rng, &mut Unobserved);
    resume(
        scenario,
        controller,
        rng,
        observer,
        &ConstantRate,
        &mut rig_state,
    )
}

/// Runs one loop from the start of its brief, and also returns the state in which it leaves the rig.
fn run_first<C, R, O>(
    scenario: &Scenario,
    controller: &mut C,
    rng: &mut R,
    observer: &mut O,
) -> (Figures, RigState)
where
    C: Controller,
    R: Rng,
    O: Observer,
{
    let mut draws = Draws::new(rng, scenario.has_normals());
    let mut rig_state = RigState {
        true_zero_deg: scenario.brief.zero_point_deg
            + draws.zero_point_deg(scenario.zero_point_sigma_deg),
        shaft: Shaft::at(scenario.brief.reading_deg),
    };
    let figures = run_from(
        scenario,
        controller,
        draws,
        observer,
        &ConstantRate,
        &mut rig_state,
    );
    (figures, rig_state)
}

/// Runs one loop from where an earlier one ended. It keeps that loop's true zero point and draws none. The controller
/// gets the reading of the shaft.
///
/// It uses the numbers of the stream as [`run`] does, without the first pair.
pub fn resume<C, R, O, W>(
    scenario: &Scenario,
    controller: &mut C,
    rng: &mut R,
    observer: &mut O,
    weather: &W,
    rig_state: &mut RigState,
) -> Figures
where
    C: Controller,
    R: Rng,
    O: Observer,
    W: FailureRate,
{
    let draws = Draws::new(rng, scenario.has_normals());
    run_from(scenario, controller, draws, observer, weather, rig_state)
}

fn run_from<C, R, O, W>(
    scenario: &Scenario,
    controller: &mut C,
    draws: Draws<'_, R>,
    observer: &mut O,
    weather: &W,
    rig_state: &mut RigState,
) -> Figures
where
    C: Controller,
    R: Rng,
    O: Observer,
    W: FailureRate,
{
    let mut action = controller.begin(&Brief {
        reading_deg: rig_state.shaft.reading_deg,
        ..scenario.brief.clone()
    });
    let mut loop_ = Loop {
        scenario,
        draws,
        observer,
        weather,
        true_zero_deg: rig_state.true_zero_deg,
        shaft: rig_state.shaft,
        true_angle_deg: f64::NAN,
        first_command: true,
        idle_commands: 0,
        figures: Figures::start(),
    };
    loop {
        let step = match action {
            Action::Move(command) => loop_.command(controller, command),
            Action::Solve => loop_.solve(controller),
            Action::Done => Err(Outcome::Settled),
            Action::GiveUp => Err(Outcome::GaveUp),
        };
        match step {
            Ok(next) => action = next,
            Err(outcome) => {
                rig_state.shaft = loop_.shaft;
                return loop_.finish(outcome);
            }
        }
    }
}

/// The state of a run between two events.
struct Loop<'a, R, O, W> {
    scenario: &'a Scenario,
    draws: Draws<'a, R>,
    observer: &'a mut O,
    weather: &'a W,
    true_zero_deg: f64,
    shaft: Shaft,
    /// True position angle at the end of the last exposure \[deg\].
    true_angle_deg: f64,
    first_command: bool,
    idle_commands: u32,
    figures: Figures,
}

impl<R: Rng, O: Observer, W: FailureRate> Loop<'_, R, O, W> {
    /// Carries out a command. Returns the outcome if it ends the run.
    #[inline]
    fn command<C: Controller>(
        &mut self,
        controller: &mut C,
        command: Command,
    ) -> Result<Action, Outcome> {
        self.idle_commands += 1;
        if !command.drive_deg.is_finite() || self.idle_commands > IDLE_COMMANDS {
            return Err(Outcome::Faulty);
        }
        let scenario = self.scenario;
        let from_deg = self.shaft.reading_deg;
        // Drawn for every command, moved or not: streams stay in step between policies.
        let repeatability_error_deg = scenario.repeatability_deg * self.draws.repeatability_error();
        let planned = scenario.plant.plan(from_deg, command.drive_deg);
        if planned == PlannedMove::Refused {
            self.observer
                .refused(&command, from_deg, self.figures.elapsed_s);
            return match controller.refused() {
                Action::GiveUp => Err(Outcome::Refused),
                next => Ok(next),
            };
        }
        scenario
            .plant
            .carry_out(&mut self.shaft, &planned, repeatability_error_deg);
        let start_s = self.figures.elapsed_s;
        self.figures.elapsed_s += scenario.plant.duration_s(from_deg, &planned);
        let mut long_swing = false;
        if let PlannedMove::Move { via_deg, to_deg } = planned {
            self.figures.moves += 1;
            let mut at_deg = from_deg;
            for end_deg in via_deg.into_iter().chain([to_deg]) {
                self.leg(at_deg, end_deg);
                at_deg = end_deg;
            }
            long_swing =
                !self.first_command && (to_deg - from_deg).abs() > 0.5 * scenario.period_deg;
            self.figures.long_swings += u32::from(long_swing);
        }
        self.first_command = false;
        self.observer.moved(&MoveEvent {
            command,
            from_deg,
            planned,
            long_swing,
            start_s,
            end_s: self.figures.elapsed_s,
        });
        Ok(controller.moved(self.shaft.reading_deg))
    }

    /// Counts one straight leg of the drive.
    #[inline]
    fn leg(&mut self, from_deg: f64, to_deg: f64) {
        let figures = &mut self.figures;
        let ground = &self.scenario.ground;
        figures.travel_deg += (to_deg - from_deg).abs();
        figures.outside_arc_deg += ground.outside_arc_deg(from_deg, to_deg);
        figures.keep_out_deg += ground.keep_out_deg(from_deg, to_deg);
        let wound_deg = (to_deg - self.scenario.park_deg).abs();
        figures.winding_deg = figures.winding_deg.max(wound_deg);
    }

    /// Exposes and solves, again after failures. Returns the outcome if it ends the run.
    #[inline]
    fn solve<C: Controller>(&mut self, controller: &mut C) -> Result<Action, Outcome> {
        let scenario = self.scenario;
        let solve = &scenario.solve;
        let noise = self.draws.noise();
        let mut failures = 0;
        while self.draws.happens(
            self.weather
                .failure_rate(solve.failure_rate, self.figures.elapsed_s),
        ) {
            failures += 1;
            self.figures.failed_attempts += 1;
            self.figures.elapsed_s += solve.failed_attempt_s();
            self.observer.solve_failed(self.figures.elapsed_s);
            if failures == solve.max_failures {
                return Err(Outcome::Unsolved);
            }
            match controller.solve_failed() {
                Action::Solve => {}
                next => return Ok(next),
            }
        }
        self.idle_commands = 0;
        let exposed_s = self.figures.elapsed_s + solve.exposure_s;
        self.true_angle_deg =
            scenario
                .plant
                .position_angle_deg(&self.shaft, self.true_zero_deg, exposed_s);
        let sigma_deg = if self.draws.happens(solve.outlier_rate) {
            solve.outlier_deg
        } else {
            solve.noise_deg
        };
        let measured_deg = self.true_angle_deg + solve.bias_deg + sigma_deg * noise;
        let measured_deg = fold_finite(measured_deg, 0.0, TURN_DEG);
        self.figures.elapsed_s = exposed_s + solve.solve_s;
        self.figures.solves += 1;
        self.observer.solved(&SolveEvent {
            reading_deg: self.shaft.reading_deg,
            position_angle_deg: measured_deg,
            true_angle_deg: fold_finite(self.true_angle_deg, 0.0, TURN_DEG),
            residual_deg: residual_finite(
                scenario.brief.target_deg - measured_deg,
                scenario.period_deg,
            ),
            end_s: self.figures.elapsed_s,
        });
        match controller.solved(self.shaft.reading_deg, measured_deg) {
            Action::Done => Err(Outcome::Settled),
            _ if self.figures.solves >= scenario.brief.max_solves => Err(Outcome::Unsettled),
            next => Ok(next),
        }
    }

    fn finish(mut self, outcome: Outcome) -> Figures {
        self.figures.outcome = outcome;
        self.figures.overwound = self.scenario.overwinds(self.figures.winding_deg);
        if self.figures.solves > 0 {
            let off_deg = self.scenario.brief.target_deg - self.true_angle_deg;
            let error_deg = residual_finite(off_deg, self.scenario.period_deg);
            self.figures.true_error_deg = Some(error_deg.abs());
        }
        self.figures
    }
}
