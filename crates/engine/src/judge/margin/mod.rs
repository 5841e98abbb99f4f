//! How far a controller is from hunting: the smallest swing error under which an opponent can make it swing for ever
//! (docs/judge.md, "How far from hunting").
//!
//! The swing error is the most by which the errors of two solves of a run can differ. The zero point is off by whatever
//! suits the opponent.

mod ask;
mod game;

use super::case::{Case, CaseError, Expect};
use super::family::{Base, Family, perfect};
use super::session::{Played, play};
use super::subject::{FaultKind, Subject, SubjectFault};
use crate::rig::{RigSettings, Rule, TravelKind};
use crate::sample::Monitor;
use ask::Asker;
use game::{Lasso, hunts};

/// Part of the arc from its end to the target, and to the farthest wanted angle on either side of the end.
const REACH: f64 = 1.0 / 16.0;

/// The search ends where a swing error has so many cells of the grid.
const FINEST: f64 = 32.0;

/// The finest cell of any grid \[deg\].
const FINEST_DEG: f64 = 1.0 / 1024.0;

/// Good solves of a run.
const SOLVES: u32 = 60;

/// What is known of one end of the arc.
#[derive(Debug, Clone)]
pub struct EndMargin {
    /// The run starts at the upper end of the arc.
    pub upper: bool,
    /// Up to this swing error the controller cannot be made to hunt, on this grid \[deg\].
    pub safe_deg: f64,
    /// The smallest swing error that was found to make it hunt \[deg\]; `None` if none was found.
    pub hunts_deg: Option<f64>,
    /// One cell of the grid \[deg\].
    pub grid_deg: f64,
    /// Runs that were played.
    pub questions: usize,
    /// The search came to its end.
    pub complete: bool,
    /// A scenario in which it hunts, and its run.
    pub cycle: Option<(Case, Played)>,
}

/// Why there is no margin.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MarginError {
    /// The rig allows no such scenario.
    #[error(transparent)]
    Scenario(#[from] CaseError),
    /// The controller failed.
    #[error("{0}")]
    Fault(String),
    /// It is no function of what it is told in the run.
    #[error(
        "the controller answers differently to the same question: its next command must follow from the brief, the reading and the last solve"
    )]
    Changes,
    /// The cycle stopped when it was played.
    #[error(
        "the controller remembers: the cycle has {expected} long swings in {SOLVES} solves if every answer follows from the reading and the last solve, and {seen} when it is played"
    )]
    Remembers {
        /// Long swings that the answers lead to.
        expected: usize,
        /// Long swings of the run.
        seen: u32,
    },
    /// The user stopped it.
    #[error("stopped")]
    Stopped,
}

impl From<SubjectFault> for MarginError {
    fn from(fault: SubjectFault) -> Self {
        match fault.kind {
            FaultKind::Stopped => Self::Stopped,
            _ => Self::Fault(fault.detail),
        }
    }
}

/// The margin at either end of the arc. `tell` hears every improvement.
///
/// A stop leaves the best bounds so far, not `complete`.
///
/// # Errors
/// [`MarginError`] if the controller cannot be asked like a function.
pub fn margin<S: Subject + ?Sized>(
    base: &Base,
    rule: Option<Rule>,
    subject: &mut S,
    monitor: &dyn Monitor,
    mut tell: impl FnMut(&EndMargin),
) -> Result<[EndMargin; 2], MarginError> {
    let mut end = |upper| {
        let mut search = Search {
            rig: rig(base, rule),
            found: EndMargin {
                upper,
                safe_deg: 0.0,
                hunts_deg: None,
                grid_deg: 0.0,
                questions: 0,
                complete: false,
                cycle: None,
            },
            tell: &mut tell,
        };
        match search.run(subject, monitor) {
            Ok(()) => search.found.complete = true,
            Err(MarginError::Stopped) => {}
            Err(error) => return Err(error),
        }
        Ok(search.found)
    };
    Ok([end(false)?, end(true)?])
}

/// The rig of the game: what the controller is to believe, and no error but the step.
fn rig(base: &Base, rule: Option<Rule>) -> RigSettings {
    let mut rig = match base {
        Base::Graded => {
            let mut rig = RigSettings::default();
            rig.wrap.rule = Rule::HysteresisBand;
            rig.wrap.symmetry = Some(2);
            rig.wrap.band_deg = 2.0;
            rig.loop_.tolerance_deg = 0.25;
            rig
        }
        Base::Rig(rig) => (**rig).clone(),
    };
    perfect(&mut rig);
    rig.drive.sense = rig.loop_.believed_sense;
    rig.loop_.max_solves = SOLVES;
    rig.keep_out.clear();
    let symmetry = rig.wrap.rule.default_symmetry();
    rig.wrap.symmetry.get_or_insert(symmetry);
    // Only a whole turn is an arc of its own; a claimed half circle gets the band of the brief all the same.
    match (rule, rig.wrap.rule) {
        (Some(Rule::FullCircle), _) => rig.wrap.rule = Rule::FullCircle,
        (Some(_), Rule::FullCircle) => rig.wrap.rule = Rule::HysteresisBand,
        _ => {}
    }
    rig
}

struct Search<'a> {
    rig: RigSettings,
    found: EndMargin,
    tell: &'a mut dyn FnMut(&EndMargin),
}

impl Search<'_> {
    /// Grid after grid, each finer and nearer to the end of the arc, until the swing error has enough cells.
    fn run<S: Subject + ?Sized>(
        &mut self,
        subject: &mut S,
        monitor: &dyn Monitor,
    ) -> Result<(), MarginError> {
        // Far enough for the swings of a band of the brief, and never so far that a wanted angle means another framing.
        let wide_deg = 2.0 * (self.rig.wrap.band_deg + self.rig.loop_.tolerance_deg);
        let width_deg = self.rig.wrap.arc_width_deg();
        let mut reach_deg = (REACH * width_deg).max(wide_deg).min(0.25 * width_deg);
        let mut grid_deg = cell_deg(2.0 * reach_deg);
        let mut lasso = None;
        loop {
            let coarser = self.found.clone();
            let Some(found) = self.level(grid_deg, reach_deg, subject, monitor)? else {
                // Nothing at all, or what hunts on a coarse grid alone.
                if coarser.hunts_deg.is_some() {
                    let questions = self.found.questions;
                    self.found = EndMargin {
                        questions,
                        ..coarser
                    };
                }
                break;
            };
            lasso = Some(found);
            let hunts_deg = self.found.hunts_deg.unwrap_or_default();
            let finer_deg = cell_deg(hunts_deg.max(FINEST * FINEST_DEG));
            if finer_deg >= grid_deg {
                break;
            }
            reach_deg = reach_deg.min(2.0 * hunts_deg.max(grid_deg));
            grid_deg = finer_deg;
        }
        lasso.map_or(Ok(()), |lasso| self.replay(&lasso, subject))
    }

    /// The smallest window on one grid, at most as wide as that of the grid before; `None` if no such window hunts.
    fn level<S: Subject + ?Sized>(
        &mut self,
        grid_deg: f64,
        reach_deg: f64,
        subject: &mut S,
        monitor: &dyn Monitor,
    ) -> Result<Option<Lasso>, MarginError> {
        let reach = (reach_deg / grid_deg) as i64;
        let case = self.case(grid_deg);
        let mut asker = Asker::new(&case, reach, subject, monitor)?;
        let before = self.found.questions;
        let mut best = None;
        // Windows of so many cells: the first does not hunt, the second does, or is one too wide to be looked at.
        let before_deg = self.found.hunts_deg.unwrap_or(f64::INFINITY);
        let most = (2 * reach).min((before_deg / grid_deg).round() as i64);
        let (mut safe, mut wide) = (-1, most + 1);
        let mut cells = wide - 1;
        while wide - safe > 1 {
            let mut lasso = None;
            for low in -reach..=reach - cells {
                lasso = hunts(&mut asker, low, low + cells)?;
                self.found.questions = before + asker.questions();
                if lasso.is_some() {
                    break;
                }
            }
            match lasso {
                Some(lasso) => {
                    wide = cells;
                    best = Some(lasso);
                    self.found.hunts_deg = Some(cells as f64 * grid_deg);
                }
                None => safe = cells,
            }
            // Until this grid has a safe window, that of the grid before counts.
            let narrower = self
                .found
                .hunts_deg
                .is_some_and(|h| h <= self.found.safe_deg);
            if safe >= 0 || narrower || self.found.grid_deg == 0.0 {
                self.found.safe_deg = safe.max(0) as f64 * grid_deg;
                self.found.grid_deg = grid_deg;
            }
            (self.tell)(&self.found);
            cells = safe + (wide - safe) / 2;
        }
        asker.ask_again()?;
        Ok(best)
    }

    /// The scenario of a grid. The run starts where its target is believed to be: near one end of the arc.
    fn case(&self, grid_deg: f64) -> Case {
        let mut rig = self.rig.clone();
        let (start_deg, width_deg) = (rig.wrap.arc_start_deg, rig.wrap.arc_width_deg());
        let share = if self.found.upper { 1.0 - REACH } else { REACH };
        let mut drive_deg = start_deg + share * width_deg;
        if let (TravelKind::Stops, Some(lo_deg), Some(hi_deg)) = (
            rig.drive.travel,
            rig.drive.stop_from_deg,
            rig.drive.stop_to_deg,
        ) {
            drive_deg = drive_deg.clamp(lo_deg, hi_deg);
        }
        rig.drive.step_deg = grid_deg;
        rig.drive.park_deg = drive_deg;
        Case {
            family: Family::Seam,
            expect: Expect::Settle,
            target_deg: rig.drive.zero_point_deg + rig.drive.sense.factor() * drive_deg,
            zero_error_deg: 0.0,
            failing_attempts: Vec::new(),
            flip_after_solves: None,
            solve_errors_deg: Vec::new(),
            rule: None,
            free_corrections: true,
            seed: 0,
            index: 0,
            rig,
        }
    }

    /// Plays the cycle as a scenario, with the errors that it needs and no others.
    fn replay<S: Subject + ?Sized>(
        &mut self,
        lasso: &Lasso,
        subject: &mut S,
    ) -> Result<(), MarginError> {
        let grid_deg = self.found.grid_deg;
        let mut case = self.case(grid_deg);
        let drive = &case.rig.drive;
        let sense = drive.sense.factor();
        let start_deg = case.rig.wrap.arc_start_deg;
        let forever = lasso.beginning.iter().chain(lasso.cycle.iter().cycle());
        let wanted_deg = |cell: &i64| start_deg + *cell as f64 * grid_deg;
        let all = lasso.beginning.iter().chain(&lasso.cycle);
        let ends = all.clone().min().zip(all.max());
        let middle_deg = ends.map_or(start_deg, |(a, b)| 0.5 * (wanted_deg(a) + wanted_deg(b)));
        case.solve_errors_deg = forever
            .take(SOLVES as usize)
            .map(|cell| sense * (middle_deg - wanted_deg(cell)))
            .collect();
        case.zero_error_deg = sense * (drive.park_deg - middle_deg);
        // The last solve has no answer.
        let rounds =
            (SOLVES as usize - 1).saturating_sub(lasso.beginning.len()) / lasso.cycle.len();
        let expected = rounds * lasso.swings;
        let played = play(&case, subject)?;
        if let Some(fault) = played.fault {
            return Err(fault.into());
        }
        let seen = played.figures.long_swings;
        if (seen as usize) < expected {
            return Err(MarginError::Remembers { expected, seen });
        }
        // Two rounds show it.
        let shown = lasso.beginning.len() + 2 * lasso.cycle.len() + 1;
        case.solve_errors_deg.truncate(shown);
        case.rig.loop_.max_solves = case.solve_errors_deg.len() as u32;
        let played = play(&case, subject)?;
        self.found.cycle = Some((case, played));
        Ok(())
    }
}

/// The largest power of two that divides a span into enough cells \[deg\].
fn cell_deg(span_deg: f64) -> f64 {
    let mut cell_deg = 1.0;
    while cell_deg > span_deg / FINEST {
        cell_deg *= 0.5;
    }
    cell_deg
}
