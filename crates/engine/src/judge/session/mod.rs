//! One scenario against one subject. The judge plays rig and solver.
//!
//! Drive, backlash and shaft come from the simulator ([`crate::plant`]). Unlike in [`crate::run::run`], random errors
//! are cut and failures scripted, and the controller may do anything.

mod verdict;

use super::case::{Case, CaseError, Expect};
use super::coverage::{Coverage, place};
use super::limits::CUT;
use super::property::{Failure, Property, Remark};
use super::subject::{Answer, Event, Subject, SubjectFault};
use crate::angle::{MOST_ANGLE_DEG, TURN_DEG, fold_finite, residual_finite};
use crate::controller::Command;
use crate::plant::{PlannedMove, Shaft, Travel};
use crate::run::{
    Figures, MoveEvent, Observer as _, Outcome, SolveEvent, Stream, Trace, normal_pair, stream,
};
use crate::scenario::Scenario;
use rand::Rng as _;

/// Allowance for rounding in a comparison of angles \[deg\].
const ROUNDING_DEG: f64 = 1e-6;

/// Answers beyond those that the solves need, after which a controller counts as stuck.
const SPARE_ANSWERS: u32 = 60;

/// Why the drive refuses a command.
pub(super) const REFUSED: &str = "outside the stops";

/// A commanded angle as the drive takes it. An endless drive takes a far one less its whole turns, because the unchecked
/// angle functions lose digits there \[deg\].
pub(super) fn within_a_turn(travel: Travel, drive_deg: f64) -> f64 {
    if travel == Travel::Endless && drive_deg.abs() > MOST_ANGLE_DEG {
        drive_deg.rem_euclid(TURN_DEG)
    } else {
        drive_deg
    }
}

/// A played scenario.
#[derive(Debug, Clone)]
pub struct Played {
    /// The properties that did not hold, in the order of time; empty for a pass.
    pub failures: Vec<Failure>,
    /// What no property forbids, the first of each kind.
    pub remarks: Vec<(Remark, String)>,
    /// A correction was folded.
    pub folds: bool,
    /// Situations that the controller's commands met.
    pub coverage: Coverage,
    /// Figures of the run.
    pub figures: Figures,
    /// The run, move by move.
    pub trace: Trace,
    /// Number of the controller's answers.
    pub answers: u32,
    /// Why the controller did not answer; `None` if it always did.
    pub fault: Option<SubjectFault>,
    /// Whether the judge cut it short or it could not go on. The subject was then restarted.
    pub cut: bool,
}

impl Played {
    /// Whether every property held.
    #[must_use]
    pub fn passed(&self) -> bool {
        self.failures.is_empty()
    }

    /// Whether this property did not hold.
    #[must_use]
    pub fn fails(&self, property: Property) -> bool {
        self.failures.iter().any(|f| f.property == property)
    }
}

/// Plays a scenario.
///
/// # Errors
/// [`CaseError`] if the scenario cannot be played.
pub fn play<S: Subject + ?Sized>(case: &Case, subject: &mut S) -> Result<Played, CaseError> {
    let scenario = case.scenario()?;
    let mut session = CaseSession::new(case, &scenario);
    let mut event = Event::Begin(&scenario.brief);
    let cut = loop {
        let answered = subject.answer(&event);
        session.played.answers += 1;
        let answer = match answered {
            Ok(answer) => answer,
            Err(fault) => {
                session.fault(&event, fault);
                break true;
            }
        };
        let budget = 8 * scenario.brief.max_solves + SPARE_ANSWERS;
        match session.act(&event, &answer) {
            NextStep::Ended => break false,
            NextStep::Cut => break true,
            NextStep::Next(_) if session.played.answers >= budget => {
                session.endless("it goes on without end");
                break true;
            }
            NextStep::Next(next) => event = next,
        }
    };
    if cut {
        subject.reset();
    }
    session.played.cut = cut;
    session.finish();
    Ok(session.played)
}

enum NextStep {
    /// The next event for the controller.
    Next(Event<'static>),
    /// The controller ended the scenario.
    Ended,
    /// The judge ended it.
    Cut,
}

struct CaseSession<'a> {
    case: &'a Case,
    scenario: &'a Scenario,
    shaft: Shaft,
    true_zero_deg: f64,
    repeatability_errors: Stream,
    noises: Stream,
    /// Current true position angle \[deg\].
    true_angle_deg: f64,
    attempts: u32,
    /// Commands that were carried out.
    moves: u32,
    /// Drive angle that the last solve asks for, or the brief before any \[deg\].
    wanted_deg: f64,
    /// Residual of the last solve, in the believed direction of the drive \[deg\].
    residual_deg: Option<f64>,
    refused: bool,
    flipped: bool,
    played: Played,
}

impl<'a> CaseSession<'a> {
    fn new(case: &'a Case, scenario: &'a Scenario) -> Self {
        Self {
            case,
            scenario,
            shaft: Shaft::at(scenario.brief.reading_deg),
            true_zero_deg: scenario.brief.zero_point_deg + case.zero_error_deg,
            // Two streams: one move more or less does not change the errors of the solver.
            repeatability_errors: stream(case.seed, case.index.wrapping_mul(2)),
            noises: stream(case.seed, case.index.wrapping_mul(2).wrapping_add(1)),
            true_angle_deg: f64::NAN,
            attempts: 0,
            moves: 0,
            wanted_deg: scenario.brief.sense
                * (scenario.brief.target_deg - scenario.brief.zero_point_deg),
            residual_deg: None,
            refused: false,
            flipped: false,
            played: Played {
                failures: Vec::new(),
                remarks: Vec::new(),
                folds: false,
                coverage: Coverage::default(),
                figures: Figures::start(),
                trace: Trace::default(),
                answers: 0,
                fault: None,
                cut: false,
            },
        }
    }

    fn act(&mut self, event: &Event<'_>, answer: &Answer) -> NextStep {
        match answer {
            Answer::Move(drive_deg) if !drive_deg.is_finite() => {
                self.fail(Property::Finite, format!("it commands {drive_deg}"));
                self.played.figures.outcome = Outcome::Faulty;
                NextStep::Cut
            }
            Answer::Move(drive_deg) => NextStep::Next(self.command(*drive_deg)),
            Answer::Solve => self.solve(),
            Answer::Done => {
                self.done(event);
                NextStep::Ended
            }
            Answer::GiveUp(why) => {
                self.give_up(event, why);
                NextStep::Ended
            }
        }
    }

    fn command(&mut self, drive_deg: f64) -> Event<'static> {
        let scenario = self.scenario;
        let travel = scenario.brief.travel;
        let command = Command::to(within_a_turn(travel, drive_deg));
        let from_deg = self.shaft.reading_deg;
        let start_s = self.played.figures.elapsed_s;
        let repeatability_error_deg =
            scenario.repeatability_deg * deviate(&mut self.repeatability_errors);
        let planned = scenario.plant.plan(from_deg, command.drive_deg);
        // After a refusal a controller may go where it can.
        if let (Some(rule), false) = (self.case.rule, self.refused) {
            self.check_rule(rule, drive_deg, command.drive_deg);
        }
        self.meet(planned == PlannedMove::Refused);
        if planned == PlannedMove::Refused {
            self.refused = true;
            self.played.trace.refused(&command, from_deg, start_s);
            if let (Expect::Settle, Travel::Stops { lo_deg, hi_deg }) = (self.case.expect, travel) {
                self.fail(
                    Property::Travel,
                    format!("it commands {drive_deg}°. The stops are at {lo_deg}° and {hi_deg}°"),
                );
            }
            return Event::Refused { why: REFUSED };
        }
        scenario
            .plant
            .carry_out(&mut self.shaft, &planned, repeatability_error_deg);
        self.played.figures.elapsed_s += scenario.plant.duration_s(from_deg, &planned);
        let to_deg = self.shaft.reading_deg;
        let correction = self.moves > 0 && self.played.figures.solves > 0;
        let length_deg = (to_deg - from_deg).abs();
        let long_swing = correction && length_deg > 0.5 * scenario.period_deg;
        if let PlannedMove::Move { via_deg, .. } = planned {
            self.moved(from_deg, via_deg, to_deg);
        }
        if long_swing {
            self.long_swing(length_deg);
        }
        if correction {
            self.watch_folds(command.drive_deg, long_swing);
        }
        if let Some(detail) = self.outside_arc(drive_deg, command.drive_deg, correction) {
            if correction && !long_swing && self.case.may_leave() {
                self.remark(Remark::LeavesBand, detail);
            } else {
                self.fail(Property::Arc, detail);
            }
        }
        self.moves += 1;
        self.true_angle_deg = self.angle_deg(self.played.figures.elapsed_s);
        self.played.trace.moved(&MoveEvent {
            command,
            from_deg,
            planned,
            long_swing,
            start_s,
            end_s: self.played.figures.elapsed_s,
        });
        Event::Moved {
            reading_deg: to_deg,
        }
    }

    /// Notes the situation of a command.
    fn meet(&mut self, refused: bool) {
        let brief = &self.scenario.brief;
        let (upper, side) = place(brief, self.wanted_deg);
        let centre_deg = brief.arc_start_deg + 0.5 * brief.arc_width_deg;
        self.played.coverage.meet([
            upper.into(),
            side as usize,
            self.residual_deg
                .map_or(0, |deg| if deg > 0.0 { 1 } else { 2 }),
            (brief.band_deg > 0.0).into(),
            (brief.travel != Travel::Endless).into(),
            (brief.sense < 0.0).into(),
            (brief.symmetry / 2) as usize,
            ((brief.reading_deg - centre_deg).abs() > 0.5 * TURN_DEG).into(),
            (self.played.figures.failed_attempts > 0).into(),
            refused.into(),
            self.flipped.into(),
        ]);
    }

    fn moved(&mut self, from_deg: f64, via_deg: Option<f64>, to_deg: f64) {
        let figures = &mut self.played.figures;
        let ground = &self.scenario.ground;
        figures.moves += 1;
        let mut at_deg = from_deg;
        let mut kept_out_deg = 0.0;
        for end_deg in via_deg.into_iter().chain([to_deg]) {
            figures.travel_deg += (end_deg - at_deg).abs();
            figures.outside_arc_deg += ground.outside_arc_deg(at_deg, end_deg);
            kept_out_deg += ground.keep_out_deg(at_deg, end_deg);
            let wound_deg = (end_deg - self.scenario.brief.reading_deg).abs();
            figures.winding_deg = figures.winding_deg.max(wound_deg);
            at_deg = end_deg;
        }
        figures.keep_out_deg += kept_out_deg;
        if kept_out_deg > ROUNDING_DEG {
            self.fail(
                Property::KeepOut,
                format!("the move from {from_deg:.3}° to {to_deg:.3}° turns {kept_out_deg:.3}° inside a keep-out"),
            );
        }
    }

    fn solve(&mut self) -> NextStep {
        let scenario = self.scenario;
        let solve = &scenario.solve;
        if self.played.figures.solves >= scenario.brief.max_solves {
            self.endless("it asks for another solve");
            return NextStep::Cut;
        }
        let attempt = self.attempts;
        self.attempts += 1;
        if self.case.failing_attempts.contains(&attempt) {
            let figures = &mut self.played.figures;
            figures.failed_attempts += 1;
            figures.elapsed_s += solve.failed_attempt_s();
            self.played.trace.solve_failed(figures.elapsed_s);
            return NextStep::Next(Event::SolveFailed);
        }
        let exposed_s = self.played.figures.elapsed_s + solve.exposure_s;
        self.true_angle_deg = self.angle_deg(exposed_s);
        let nth = self.played.figures.solves as usize;
        let scripted_deg = self.case.solve_errors_deg.get(nth).unwrap_or(&0.0);
        let noise_deg = solve.noise_deg * deviate(&mut self.noises) + scripted_deg;
        let measured_deg = fold_finite(
            self.true_angle_deg + solve.bias_deg + noise_deg,
            0.0,
            TURN_DEG,
        );
        let figures = &mut self.played.figures;
        figures.elapsed_s = exposed_s + solve.solve_s;
        figures.solves += 1;
        let residual_deg = residual_finite(
            scenario.brief.target_deg - measured_deg,
            scenario.period_deg,
        );
        let answer_deg = scenario.brief.sense * residual_deg;
        self.residual_deg = Some(answer_deg);
        self.wanted_deg = self.shaft.reading_deg + answer_deg;
        self.played.trace.solved(&SolveEvent {
            reading_deg: self.shaft.reading_deg,
            position_angle_deg: measured_deg,
            true_angle_deg: fold_finite(self.true_angle_deg, 0.0, TURN_DEG),
            residual_deg,
            end_s: figures.elapsed_s,
        });
        if self.case.flip_after_solves == Some(figures.solves) {
            self.true_zero_deg += 0.5 * TURN_DEG;
            self.flipped = true;
        }
        NextStep::Next(Event::Solved {
            reading_deg: self.shaft.reading_deg,
            position_angle_deg: measured_deg,
        })
    }

    fn angle_deg(&self, at_s: f64) -> f64 {
        self.scenario
            .plant
            .position_angle_deg(&self.shaft, self.true_zero_deg, at_s)
    }

    fn true_error_deg(&self) -> f64 {
        let off_deg = self.scenario.brief.target_deg - self.true_angle_deg;
        residual_finite(off_deg, self.scenario.period_deg).abs()
    }

    fn finish(&mut self) {
        if self.played.figures.solves > 0 {
            self.played.figures.true_error_deg = Some(self.true_error_deg());
        }
    }
}

/// A normal deviate, cut at [`CUT`] sigma.
fn deviate(stream: &mut Stream) -> f64 {
    let (deviate, _) = normal_pair(stream.next_u64(), stream.next_u64());
    deviate.clamp(-CUT, CUT)
}
