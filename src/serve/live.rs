//! Work that a moved handle waits for: on threads of its own, a few at a time, each with a deadline.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};
use tokio::sync::{Semaphore, oneshot};

use crate::sample::Monitor;

/// How long the work for one request may take. What is not done by then is left out.
const TIME: Duration = Duration::from_secs(3);

/// Requests in work at once.
const AT_ONCE: usize = 4;

/// Requests that may wait for their turn.
const MOST_WAITING: usize = 256;

/// The threads, and who waits for them.
#[derive(Debug)]
pub(super) struct Live {
    pool: ThreadPool,
    slots: Semaphore,
    waiting: AtomicUsize,
}

/// Why there is no result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoResult {
    /// Too many wait.
    Busy,
    /// The work broke: a fault of the program.
    Broken,
}

impl Live {
    /// With so many threads; 0: all cores.
    pub(super) fn new(threads: usize) -> Result<Self, ThreadPoolBuildError> {
        let pool = ThreadPoolBuilder::new()
            .num_threads(threads)
            .thread_name(|i| format!("live {i}"))
            .build()?;
        Ok(Self {
            pool,
            slots: Semaphore::new(AT_ONCE),
            waiting: AtomicUsize::new(0),
        })
    }

    /// Does the work and waits for it. It is stopped when nobody waits any more.
    pub(super) async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Deadline) -> T + Send + 'static,
    ) -> Result<T, NoResult> {
        let queued = Queued::join(&self.waiting).ok_or(NoResult::Busy)?;
        let _slot = self.slots.acquire().await.map_err(|_| NoResult::Busy)?;
        drop(queued);
        let deadline = Deadline::after(TIME);
        let _gone = StopOnDrop(Arc::clone(&deadline.stopped));
        let (answer, result) = oneshot::channel();
        self.pool.spawn(move || {
            // Nobody may listen any more.
            let _ = answer.send(std::panic::catch_unwind(std::panic::AssertUnwindSafe(
                || work(&deadline),
            )));
        });
        match result.await {
            Ok(Ok(value)) => Ok(value),
            _ => Err(NoResult::Broken),
        }
    }
}

/// A place among those who wait.
struct Queued<'a>(&'a AtomicUsize);

impl<'a> Queued<'a> {
    fn join(waiting: &'a AtomicUsize) -> Option<Self> {
        let queued = Self(waiting);
        (waiting.fetch_add(1, Ordering::Relaxed) < MOST_WAITING).then_some(queued)
    }
}

impl Drop for Queued<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Ends the work when the request is dropped, as when the client has gone.
struct StopOnDrop(Arc<AtomicBool>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Until when the work may last.
#[derive(Debug)]
pub(super) struct Deadline {
    end: Instant,
    stopped: Arc<AtomicBool>,
}

impl Deadline {
    fn after(time: Duration) -> Self {
        Self {
            end: Instant::now() + time,
            stopped: Arc::new(AtomicBool::new(false)),
        }
    }
}

impl Monitor for Deadline {
    fn done(&self, _: u64) {}

    fn cancelled(&self) -> bool {
        self.stopped.load(Ordering::Relaxed) || Instant::now() >= self.end
    }
}
