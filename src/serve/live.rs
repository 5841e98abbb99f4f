//! Work that a moved handle waits for: on its own threads, a few pieces at a time, each with a deadline.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, oneshot};
use tokio::time::timeout;

use super::lock;
use halfturn_engine::sample::Monitor;

/// How long the work for one request may take. Whatever is not finished by then is left out.
const TIME: Duration = Duration::from_secs(3);

/// Requests at work at once.
const AT_ONCE: usize = 4;

/// Most requests that may wait for their turn, and how long: a page asks again, and a request has to end.
const MOST_WAITING: usize = 256;
const LONGEST_WAIT: Duration = Duration::from_secs(10);

/// The threads, and the requests that wait for them.
///
/// Every slot has its own threads. On shared ones, work that waits for its parts would start another request
/// meanwhile, and answer after both. A slot's threads start when that many requests are at work at once for the first
/// time.
#[derive(Debug)]
pub(super) struct Live {
    threads: usize,
    slots: Arc<Semaphore>,
    idle: Arc<Mutex<Vec<Arc<ThreadPool>>>>,
    waiting: AtomicUsize,
}

/// Why a request has no result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoResult {
    /// Too many requests wait.
    Busy,
    /// The work broke, which is an error of the program.
    Broken,
}

impl Live {
    /// With this number of threads for each slot; 0 for all cores.
    pub(super) fn new(threads: usize) -> Result<Self, ThreadPoolBuildError> {
        Ok(Self {
            threads,
            slots: Arc::new(Semaphore::new(AT_ONCE)),
            idle: Arc::new(Mutex::new(vec![pool(threads)?])),
            waiting: AtomicUsize::new(0),
        })
    }

    /// Does the work and waits for it. If nobody waits any more, the work must stop, and keeps its slot until it
    /// does.
    pub(super) async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Deadline) -> T + Send + 'static,
    ) -> Result<T, NoResult> {
        let queued = Queued::join(&self.waiting).ok_or(NoResult::Busy)?;
        let permit = timeout(LONGEST_WAIT, Arc::clone(&self.slots).acquire_owned()).await;
        let Ok(Ok(permit)) = permit else {
            return Err(NoResult::Busy);
        };
        drop(queued);
        let slot = self.slot(permit).map_err(|_| NoResult::Busy)?;
        let deadline = Deadline::after(TIME);
        let _gone = StopOnDrop(Arc::clone(&deadline.stopped));
        let (answer, result) = oneshot::channel();
        Arc::clone(&slot.pool).spawn(move || {
            // The slot belongs to the work: a client that leaves does not free it while the work goes on.
            let _slot = slot;
            // Perhaps nobody listens any more.
            let _ = answer.send(std::panic::catch_unwind(std::panic::AssertUnwindSafe(
                || work(&deadline),
            )));
        });
        match result.await {
            Ok(Ok(value)) => Ok(value),
            _ => Err(NoResult::Broken),
        }
    }

    /// Idle threads, or new ones.
    fn slot(&self, permit: OwnedSemaphorePermit) -> Result<Slot, ThreadPoolBuildError> {
        let idle = lock(&self.idle).pop();
        Ok(Slot {
            pool: idle.map_or_else(|| pool(self.threads), Ok)?,
            idle: Arc::clone(&self.idle),
            _permit: permit,
        })
    }
}

/// A pool with this number of threads; 0 for all cores.
fn pool(threads: usize) -> Result<Arc<ThreadPool>, ThreadPoolBuildError> {
    let pool = ThreadPoolBuilder::new().num_threads(threads);
    let pool = pool.thread_name(|i| format!("live {i}"));
    pool.build().map(Arc::new)
}

/// Room for the work of one request.
struct Slot {
    pool: Arc<ThreadPool>,
    idle: Arc<Mutex<Vec<Arc<ThreadPool>>>>,
    /// Freed after the threads are given back.
    _permit: OwnedSemaphorePermit,
}

impl Drop for Slot {
    fn drop(&mut self) {
        lock(&self.idle).push(Arc::clone(&self.pool));
    }
}

/// A place among the waiting requests.
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

/// Ends the work when the request is dropped, for example because the client has left.
struct StopOnDrop(Arc<AtomicBool>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// The deadline of a piece of work.
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

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use super::*;

    fn runtime() -> tokio::runtime::Runtime {
        tokio::runtime::Builder::new_multi_thread()
            .worker_threads(1)
            .enable_all()
            .build()
            .expect("a runtime")
    }

    #[test]
    fn who_hangs_up_stops_the_work_but_keeps_the_slot_until_it_has_stopped() {
        let live = Arc::new(Live::new(1).expect("threads"));
        let (begun, has_begun) = mpsc::channel();
        let (end, may_end) = mpsc::channel::<()>();
        runtime().block_on(async {
            let own = Arc::clone(&live);
            let request = tokio::spawn(async move {
                own.run(move |deadline: &Deadline| {
                    begun.send(()).expect("somebody listens");
                    while !deadline.cancelled() {
                        std::thread::yield_now();
                    }
                    may_end.recv().expect("a word");
                })
                .await
            });
            has_begun.recv().expect("it begins");
            request.abort();
            let _ = request.await;
            assert_eq!(live.slots.available_permits(), AT_ONCE - 1);
            end.send(()).expect("it listens");
            let all = timeout(TIME, live.slots.acquire_many(AT_ONCE as u32)).await;
            assert!(all.is_ok(), "the slot comes back with the end of the work");
        });
    }

    /// A page that asks one request at a time uses one set of threads, however often it asks.
    #[test]
    fn threads_are_started_for_requests_at_once() {
        let live = Live::new(1).expect("threads");
        let sets = || lock(&live.idle).len();
        runtime().block_on(async {
            for _ in 0..3 {
                assert_eq!(live.run(|_| 7).await, Ok(7));
                // The slot comes back a moment after the answer.
                let all = live.slots.acquire_many(AT_ONCE as u32).await;
                assert!(all.is_ok() && sets() == 1, "{}", sets());
            }
            let met = Arc::new(std::sync::Barrier::new(2));
            let meet = || {
                let met = Arc::clone(&met);
                live.run(move |_| met.wait().is_leader())
            };
            let (one, other) = tokio::join!(meet(), meet());
            assert_ne!(one, other);
            let all = live.slots.acquire_many(AT_ONCE as u32).await;
            assert!(all.is_ok() && sets() == 2, "{}", sets());
        });
    }

    #[test]
    fn work_that_breaks_gives_its_slot_back() {
        let live = Live::new(1).expect("threads");
        runtime().block_on(async {
            for _ in 0..2 * AT_ONCE {
                let broken = live.run(|_| -> u32 { panic!("a fault, for the test") });
                assert_eq!(broken.await, Err(NoResult::Broken));
            }
            assert_eq!(live.run(|_| 7).await, Ok(7));
        });
    }
}
