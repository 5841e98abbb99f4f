//! One piece of long work: the request, its progress, and its outcome.

use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Mutex, OnceLock};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::outcome::JobOutcome;
use crate::serve::lock;
use halfturn_answers::{Watch, Work};
use halfturn_engine::sample::Monitor;

/// If a page has not asked about its job for this long, it is gone. Browsers run the timers of a hidden page only
/// once a minute.
const GONE: Duration = Duration::from_secs(150);

/// Longest time that a job may run.
const LONGEST: Duration = Duration::from_secs(900);

/// Most rows in one answer. As JSON each takes some kilobytes of memory on its way.
const MOST_ROWS: usize = 1000;

/// The phase of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Phase {
    /// Other jobs come first.
    Waiting,
    /// The job runs.
    Running,
    /// The job finished.
    Done,
    /// The job was stopped. Its rows so far are kept.
    Stopped,
    /// The job failed.
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

    /// Whether nothing more will come.
    pub(super) fn ended(self) -> bool {
        matches!(self, Self::Done | Self::Stopped | Self::Failed)
    }
}

#[derive(Debug)]
pub(super) struct Job {
    pub(super) id: String,
    pub(super) work: Work,
    born: Instant,
    /// When its page last asked about it, and when it was started, in milliseconds after its creation.
    seen_ms: AtomicU64,
    begun_ms: AtomicU64,
    done: AtomicU64,
    /// Why the work must stop. Once set, it stays.
    why: OnceLock<&'static str>,
    phase: Mutex<Phase>,
    /// Memory of the outcome, once the job has ended \[bytes\].
    bytes: AtomicUsize,
    pub(super) outcome: Mutex<JobOutcome>,
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
            why: OnceLock::new(),
            phase: Mutex::new(Phase::Waiting),
            bytes: AtomicUsize::new(0),
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
        if phase.ended() {
            let bytes = lock(&self.outcome).bytes();
            self.bytes.store(bytes, Ordering::Relaxed);
        }
        *lock(&self.phase) = phase;
    }

    /// Asks the job to stop.
    pub(super) fn stop(&self) {
        let _ = self.why.set("by you");
    }

    /// Memory of the outcome of an ended job, roughly \[bytes\].
    pub(super) fn bytes(&self) -> usize {
        self.bytes.load(Ordering::Relaxed)
    }

    /// Why the work should stop without a request to do so; `None` if it should go on.
    fn why_to_stop(&self) -> Option<&'static str> {
        let age = self.age_ms();
        let since = |then: &AtomicU64| {
            Duration::from_millis(age.saturating_sub(then.load(Ordering::Relaxed)))
        };
        if since(&self.seen_ms) > GONE {
            Some("because its page closed")
        } else if since(&self.begun_ms) > LONGEST {
            Some("after 15 minutes. The command line has no such limit")
        } else {
            None
        }
    }

    /// The state of the job, with its rows from number `from`. `before` is the number of jobs before it.
    pub(super) fn status(&self, from: usize, before: Option<usize>) -> Value {
        self.seen_ms.store(self.age_ms(), Ordering::Relaxed);
        // The phase first: if it has ended, the outcome is complete.
        let phase = self.phase();
        let outcome = lock(&self.outcome);
        let lines = outcome.lines.get(from..).unwrap_or_default();
        let lines = &lines[..lines.len().min(MOST_ROWS)];
        let result = outcome.result.as_deref().filter(|_| phase.ended());
        let result = result.map_or(Value::Null, |text| {
            serde_json::from_str(text).expect("it was written as JSON")
        });
        json!({
            "id": self.id,
            "kind": self.work.kind(),
            "phase": phase.name(),
            "before": before,
            "done": self.done.load(Ordering::Relaxed),
            "of": self.work.runs(),
            "rows_from": from,
            "rows_total": outcome.lines.len(),
            "rows": self.work.rows(lines),
            "problem": outcome.problem,
            "stopped": self.why.get().filter(|_| phase == Phase::Stopped),
            "result": result,
            "has_report": outcome.report.is_some(),
        })
    }
}

impl Watch for Job {
    fn take(&self, lines: &str) {
        let lines = lines.lines().map(Box::from);
        lock(&self.outcome).lines.extend(lines);
    }
}

impl Monitor for Job {
    fn done(&self, runs: u64) {
        self.done.fetch_add(runs, Ordering::Relaxed);
    }

    fn cancelled(&self) -> bool {
        if self.why.get().is_none()
            && let Some(why) = self.why_to_stop()
        {
            let _ = self.why.set(why);
        }
        self.why.get().is_some()
    }
}
