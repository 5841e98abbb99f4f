//! A controller, asked like a function: where does it go from a reading when a solve asks for an angle?
//!
//! Nothing is pretended. Each question is a run from its beginning: the drive has a step of one cell of the grid and no
//! other error, the solver measures what makes the controller want the angle, and the run ends with an exact solve.

use std::collections::HashMap;

use super::super::case::Case;
use super::super::session::{REFUSED, within_a_turn};
use super::super::subject::{Answer, Event, Subject};
use super::{MarginError, SOLVES};
use crate::angle::{TURN_DEG, fold_finite};
use crate::plant::{PlannedMove, Travel};
use crate::sample::Monitor;
use crate::scenario::Scenario;

/// Answers in a row after which a controller that neither solves nor ends is taken to be stuck.
const MOST_ANSWERS: u32 = 20;

/// Readings that a search can hold.
const MOST_PLACES: usize = 20_000;

/// Questions that are asked a second time, to see whether the answers depend on anything else.
const ASKED_AGAIN: usize = 64;

/// Where the controller goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    /// To another place, by a long swing or without.
    To { place: usize, swings: bool },
    /// It ends the run.
    Ends,
}

/// A place: a reading of the drive, less whole turns if they do not matter.
#[derive(Debug)]
struct Place {
    /// Wanted cells that led there from the beginning.
    path: Vec<i64>,
    /// The answers so far, by the wanted cell.
    ways: Vec<Option<Way>>,
}

/// Asks one controller on one grid.
pub(super) struct Asker<'a, S: ?Sized> {
    subject: &'a mut S,
    monitor: &'a dyn Monitor,
    scenario: Scenario,
    grid_deg: f64,
    /// Wanted cells from the start of the arc, either way.
    reach: i64,
    places: Vec<Place>,
    by_cell: HashMap<i64, usize>,
    asked: Vec<(usize, i64)>,
}

impl<'a, S: Subject + ?Sized> Asker<'a, S> {
    /// Begins at the place of the first move, which has number 0.
    pub(super) fn new(
        case: &Case,
        reach: i64,
        subject: &'a mut S,
        monitor: &'a dyn Monitor,
    ) -> Result<Self, MarginError> {
        let mut asker = Self {
            subject,
            monitor,
            scenario: case.scenario()?,
            grid_deg: case.rig.drive.step_deg,
            reach,
            places: Vec::new(),
            by_cell: HashMap::new(),
            asked: Vec::new(),
        };
        let Some((reading_deg, _)) = asker.play(&[])? else {
            return Err(MarginError::Fault(
                "it ends the run before a solve".to_owned(),
            ));
        };
        asker.place(reading_deg, Vec::new());
        Ok(asker)
    }

    /// Where the controller goes from a place when it wants the angle of this cell.
    pub(super) fn ask(&mut self, place: usize, wanted: i64) -> Result<Way, MarginError> {
        let column = (wanted + self.reach) as usize;
        if let Some(way) = self.places[place].ways[column] {
            return Ok(way);
        }
        let way = self.way(place, wanted)?;
        self.asked.push((place, wanted));
        self.places[place].ways[column] = Some(way);
        Ok(way)
    }

    /// Questions that were asked.
    pub(super) fn questions(&self) -> usize {
        self.asked.len()
    }

    /// Asks some questions again.
    ///
    /// # Errors
    /// [`MarginError::Changes`] for another answer.
    pub(super) fn ask_again(&mut self) -> Result<(), MarginError> {
        let stride = self.asked.len().div_ceil(ASKED_AGAIN).max(1);
        let some: Vec<_> = self.asked.iter().copied().step_by(stride).collect();
        for (place, wanted) in some {
            let column = (wanted + self.reach) as usize;
            let before = self.places[place].ways[column];
            if before != Some(self.way(place, wanted)?) {
                return Err(MarginError::Changes);
            }
        }
        Ok(())
    }

    fn way(&mut self, place: usize, wanted: i64) -> Result<Way, MarginError> {
        let mut path = self.places[place].path.clone();
        path.push(wanted);
        if path.len() >= SOLVES as usize || self.places.len() > MOST_PLACES {
            return Err(MarginError::Fault(
                "its commands lead to ever new readings, so the search has no end".to_owned(),
            ));
        }
        Ok(match self.play(&path)? {
            Some((reading_deg, swings)) => Way::To {
                place: self.place(reading_deg, path),
                swings,
            },
            None => Way::Ends,
        })
    }

    /// The number of the place of a reading, a new one if need be.
    fn place(&mut self, reading_deg: f64, path: Vec<i64>) -> usize {
        let reading_deg = match self.scenario.brief.travel {
            Travel::Endless => fold_finite(reading_deg, 0.0, TURN_DEG),
            Travel::Stops { .. } => reading_deg,
        };
        let cell = (reading_deg / self.grid_deg).round() as i64;
        let (places, reach) = (&mut self.places, self.reach);
        *self.by_cell.entry(cell).or_insert_with(|| {
            places.push(Place {
                path,
                ways: vec![None; 2 * reach as usize + 1],
            });
            places.len() - 1
        })
    }

    /// Plays a run whose solves ask for these cells in turn. The reading at which it would solve next, and whether its
    /// last correction was a long swing; `None` if it has ended.
    fn play(&mut self, path: &[i64]) -> Result<Option<(f64, bool)>, MarginError> {
        if self.monitor.cancelled() {
            return Err(MarginError::Stopped);
        }
        self.monitor.done(1);
        let brief = self.scenario.brief.clone();
        let mut at = (brief.reading_deg, false);
        let mut answer = self.answer(&Event::Begin(&brief))?;
        for wanted in path.iter().map(Some).chain([None]) {
            match self.until_solve(answer, at.0)? {
                Some(next) => at = next,
                None => return Ok(None),
            }
            let Some(wanted) = wanted else { break };
            answer = self.solved(at.0, brief.arc_start_deg + *wanted as f64 * self.grid_deg)?;
        }
        self.end(at.0)?;
        Ok(Some(at))
    }

    /// Ends the run in good order: the solves find no error.
    fn end(&mut self, reading_deg: f64) -> Result<(), MarginError> {
        for _ in 0..MOST_ANSWERS {
            match self.solved(reading_deg, reading_deg)? {
                Answer::Done | Answer::GiveUp(_) => return Ok(()),
                Answer::Solve => {}
                Answer::Move(_) => break,
            }
        }
        self.subject.reset();
        Ok(())
    }

    /// A solve that makes the controller want an angle of the drive.
    fn solved(&mut self, reading_deg: f64, wanted_deg: f64) -> Result<Answer, MarginError> {
        let brief = &self.scenario.brief;
        let measured_deg = brief.target_deg - brief.sense * (wanted_deg - reading_deg);
        self.answer(&Event::Solved {
            reading_deg,
            position_angle_deg: fold_finite(measured_deg, 0.0, TURN_DEG),
        })
    }

    /// Carries out commands until the controller solves: the reading there, and whether a command was a long swing.
    fn until_solve(
        &mut self,
        mut answer: Answer,
        mut at_deg: f64,
    ) -> Result<Option<(f64, bool)>, MarginError> {
        let mut swings = false;
        for _ in 0..MOST_ANSWERS {
            let drive_deg = match answer {
                Answer::Solve => return Ok(Some((at_deg, swings))),
                Answer::Done | Answer::GiveUp(_) => return Ok(None),
                Answer::Move(drive_deg) if drive_deg.is_finite() => drive_deg,
                Answer::Move(drive_deg) => {
                    return Err(MarginError::Fault(format!("it commands {drive_deg}")));
                }
            };
            let drive_deg = within_a_turn(self.scenario.brief.travel, drive_deg);
            let event = match self.scenario.plant.plan(at_deg, drive_deg) {
                PlannedMove::Refused => Event::Refused { why: REFUSED },
                PlannedMove::Still => Event::Moved {
                    reading_deg: at_deg,
                },
                PlannedMove::Move { to_deg, .. } => {
                    swings |= (to_deg - at_deg).abs() > 0.5 * self.scenario.period_deg;
                    at_deg = to_deg;
                    Event::Moved {
                        reading_deg: to_deg,
                    }
                }
            };
            answer = self.answer(&event)?;
        }
        Err(MarginError::Fault(
            "it neither solves nor ends the run".to_owned(),
        ))
    }

    fn answer(&mut self, event: &Event<'_>) -> Result<Answer, MarginError> {
        Ok(self.subject.answer(event)?)
    }
}
