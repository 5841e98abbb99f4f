//! Many scenarios against one subject.

use std::collections::BTreeMap;

use super::case::{Case, CaseError};
use super::coverage::Coverage;
use super::family::Family;
use super::property::{Failure, Property, Remark};
use super::session::{Played, play};
use super::subject::{FaultKind, Subject, SubjectFault};
use crate::sample::Monitor;

/// Restarts after which a session ends. A program that dies in every scenario need not do so two thousand times.
pub const MOST_RESTARTS: u32 = 60;

/// Late answers after which a session ends.
pub const MOST_LATE: u32 = 3;

/// The result of one scenario.
#[derive(Debug, Clone)]
pub struct JudgedCase {
    /// The scenario.
    pub case: Case,
    /// Whether the scenario comes from an earlier session.
    pub remembered: bool,
    /// The properties that did not hold; empty for a pass.
    pub failures: Vec<Failure>,
    /// What no property forbids.
    pub remarks: Vec<(Remark, String)>,
    /// A correction was folded.
    pub folds: bool,
    /// Good solves.
    pub solves: u32,
    /// Answers of the controller.
    pub answers: u32,
}

/// The result of a session.
#[derive(Debug, Clone, Default)]
pub struct SuiteOutcome {
    /// Every played scenario, in order.
    pub judged: Vec<JudgedCase>,
    /// Scenarios that were not played because the session ended early.
    pub left_out: usize,
    /// Why it ended early; `None` if it did not.
    pub ended: Option<String>,
    /// How often the controller was restarted.
    pub restarts: u32,
    /// Situations that the commands met.
    pub coverage: Coverage,
    /// Whether the user stopped it.
    pub stopped: bool,
}

impl SuiteOutcome {
    /// Whether all scenarios were played and every property held.
    #[must_use]
    pub fn passed(&self) -> bool {
        self.left_out == 0 && self.judged.iter().all(|j| j.failures.is_empty())
    }

    /// Number of scenarios that failed.
    #[must_use]
    pub fn failed(&self) -> usize {
        self.judged
            .iter()
            .filter(|j| !j.failures.is_empty())
            .count()
    }

    /// For each property that failed: the number of scenarios, and the index of the first.
    #[must_use]
    pub fn by_property(&self) -> BTreeMap<Property, (usize, usize)> {
        let mut out = BTreeMap::new();
        for (i, judged) in self.judged.iter().enumerate() {
            for failure in &judged.failures {
                out.entry(failure.property).or_insert((0, i)).0 += 1;
            }
        }
        out
    }

    /// How many scenarios were remarked upon, and the first of them with what happened there.
    #[must_use]
    pub fn remarks(&self) -> BTreeMap<Remark, (usize, usize, &str)> {
        // Who never folds a correction may let all of them leave the band: that is the rule of folding once.
        let folds = self.judged.iter().any(|j| j.folds);
        let mut out = BTreeMap::new();
        for (i, judged) in self.judged.iter().enumerate() {
            for (remark, detail) in &judged.remarks {
                if folds || *remark != Remark::LeavesBand {
                    out.entry(*remark).or_insert((0, i, detail.as_str())).0 += 1;
                }
            }
        }
        out
    }

    /// The remarks in words, and the situations that the session left out.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        let remarks = self.remarks().into_iter();
        remarks
            .map(|(remark, (count, first, detail))| {
                let number = first + 1;
                let family = self.judged[first].case.family;
                format!(
                    "{remark} in {count} scenarios, first in {number} ({family}): {detail}. {}",
                    remark.why()
                )
            })
            .collect()
    }

    /// For each family: the number of scenarios, and how many failed.
    #[must_use]
    pub fn by_family(&self) -> BTreeMap<Family, (usize, usize)> {
        let mut out = BTreeMap::new();
        for judged in &self.judged {
            let entry = out.entry(judged.case.family).or_insert((0, 0));
            entry.0 += 1;
            entry.1 += usize::from(!judged.failures.is_empty());
        }
        out
    }
}

/// Plays scenarios in their order. The first `remembered` of them come from an earlier session.
///
/// # Errors
/// [`CaseError`] for a scenario that cannot be played, with its index.
pub fn run_session<S: Subject + ?Sized>(
    cases: &[Case],
    remembered: usize,
    subject: &mut S,
    monitor: &dyn Monitor,
) -> Result<SuiteOutcome, (usize, CaseError)> {
    let mut session = SuiteOutcome::default();
    let mut late = 0;
    for (i, case) in cases.iter().enumerate() {
        if monitor.cancelled() {
            session.stopped = true;
        }
        if session.stopped || session.ended.is_some() {
            session.left_out = cases.len() - i;
            break;
        }
        let played = play(case, subject).map_err(|e| (i, e))?;
        monitor.done(1);
        session.coverage.merge(&played.coverage);
        session.restarts += u32::from(played.cut);
        match played.fault {
            Some(SubjectFault {
                kind: FaultKind::Stopped,
                ..
            }) => {
                session.stopped = true;
                session.left_out = cases.len() - i;
                break;
            }
            Some(SubjectFault {
                kind: FaultKind::Late,
                ..
            }) => late += 1,
            _ => {}
        }
        session.judged.push(judged(case, i < remembered, played));
        if late >= MOST_LATE {
            session.ended = Some(format!("{late} answers were late"));
        } else if session.restarts >= MOST_RESTARTS {
            session.ended = Some(format!(
                "the controller started again {} times",
                session.restarts
            ));
        }
    }
    Ok(session)
}

fn judged(case: &Case, remembered: bool, played: Played) -> JudgedCase {
    JudgedCase {
        case: case.clone(),
        remembered,
        solves: played.figures.solves,
        answers: played.answers,
        failures: played.failures,
        remarks: played.remarks,
        folds: played.folds,
    }
}
