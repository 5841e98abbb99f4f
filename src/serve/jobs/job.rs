//! One piece of long work: what was asked, how far it is, and what came out.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::lock;
use super::work::Work;
use crate::sample::Monitor;

/// A page that has not asked after its job for so long has gone. Browsers let the clocks of a hidden page tick
/// once a minute.
const GONE: Duration = Duration::from_secs(150);

/// Longest time that a job may run.
const LONGEST: Duration = Duration::from_secs(900);

/// Most rows in one answer.
const MOST_ROWS: usize = 4000;

/// How far a job is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Phase {
    /// Others come first.
    Waiting,
    /// It runs.
    Running,
    /// It came to its end.
    Done,
    /// It was stopped; rows that it made are there.
    Stopped,
    /// It could not be done.
    Failed,
}

impl Phase {
    fn name(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Running => "running",
            Self::Done => "done",
            Self::Stopped => "stopped",
            Self::Failed => "failed",
        }
    }

    /// Nothing more will come.
    pub(super) fn ended(self) -> bool {
        matches!(self, Self::Done | Self::Stopped | Self::Failed)
    }
}

/// What came out so far.
#[derive(Debug, Default)]
pub(super) struct Outcome {
    /// Rows of a sweep, as they are done.
    pub(super) rows: Vec<Value>,
    /// The result of work that has one.
    pub(super) result: Value,
    /// The report of an advice.
    pub(super) report: Option<String>,
    /// Why it failed.
    pub(super) problem: Option<String>,
}

/// A job.
#[derive(Debug)]
pub(super) struct Job {
    pub(super) id: String,
    pub(super) work: Work,
    born: Instant,
    /// When its page last asked after it, and when it was begun, in milliseconds after its birth.
    seen_ms: AtomicU64,
    begun_ms: AtomicU64,
    done: AtomicU64,
    stop: AtomicBool,
    phase: Mutex<Phase>,
    pub(super) outcome: Mutex<Outcome>,
}

impl Job {
    pub(super) fn new(id: String, work: Work) -> Self {
        Self {
            id,
            work,
            born: Instant::now(),
            seen_ms: AtomicU64::new(0),
            begun_ms: AtomicU64::new(u64::MAX),
            done: AtomicU64::new(0),
            stop: AtomicBool::new(false),
            phase: Mutex::new(Phase::Waiting),
            outcome: Mutex::default(),
        }
    }

    fn age_ms(&self) -> u64 {
        u64::try_from(self.born.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    pub(super) fn phase(&self) -> Phase {
        *lock(&self.phase)
    }

    pub(super) fn enter(&self, phase: Phase) {
        if phase == Phase::Running {
            self.begun_ms.store(self.age_ms(), Ordering::Relaxed);
        }
        *lock(&self.phase) = phase;
    }

    /// Asks it to stop.
    pub(super) fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// How it is, with the rows from number `from` on; `before` is how many come before it.
    pub(super) fn told(&self, from: usize, before: Option<usize>) -> Value {
        self.seen_ms.store(self.age_ms(), Ordering::Relaxed);
        // The phase first: where it has ended, the outcome is whole.
        let phase = self.phase();
        let outcome = lock(&self.outcome);
        let rows = outcome.rows.iter().skip(from).take(MOST_ROWS);
        json!({
            "id": self.id,
            "kind": self.work.kind(),
            "phase": phase.name(),
            "before": before,
            "done": self.done.load(Ordering::Relaxed),
            "of": self.work.runs(),
            "rows_from": from,
            "rows_total": outcome.rows.len(),
            "rows": rows.collect::<Vec<_>>(),
            "problem": outcome.problem,
            "result": if phase.ended() { &outcome.result } else { &Value::Null },
            "has_report": outcome.report.is_some(),
        })
    }
}

impl Monitor for Job {
    fn done(&self, runs: u64) {
        self.done.fetch_add(runs, Ordering::Relaxed);
    }

    fn cancelled(&self) -> bool {
        let age = self.age_ms();
        let since = |then: &AtomicU64| {
            Duration::from_millis(age.saturating_sub(then.load(Ordering::Relaxed)))
        };
        self.stop.load(Ordering::Relaxed)
            || since(&self.seen_ms) > GONE
            || since(&self.begun_ms) > LONGEST
    }
}
