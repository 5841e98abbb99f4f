//! Long work for the page: one job at a time on threads of its own, the others in a queue that is fair
//! between pages.

mod fair;
mod job;
mod work;

pub(super) use fair::Full;
pub(super) use work::{Advise, Work};

use std::collections::VecDeque;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};
use serde_json::Value;

use crate::sample::Monitor as _;
use fair::Fair;
use job::{Job, Phase};

/// Jobs of which the outcome is kept.
const MOST_KEPT: usize = 32;

/// A lock that a broken job leaves usable.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// All jobs. Its thread ends with it.
#[derive(Debug)]
pub(super) struct Jobs {
    shared: Arc<Shared>,
}

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<State>,
    news: Condvar,
}

#[derive(Debug, Default)]
struct State {
    queue: Fair<Arc<Job>>,
    /// In the order of their coming; waiting, running and ended ones.
    known: VecDeque<Arc<Job>>,
    closed: bool,
}

impl Jobs {
    /// With so many threads; 0: all cores but one, which a moved handle then finds free.
    pub(super) fn new(threads: usize) -> Result<Self, ThreadPoolBuildError> {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let threads = if threads == 0 {
            cores.saturating_sub(1).max(1)
        } else {
            threads
        };
        let pool = ThreadPoolBuilder::new()
            .num_threads(threads)
            .thread_name(|i| format!("job {i}"))
            .build()?;
        let shared = Arc::new(Shared::default());
        let own = Arc::clone(&shared);
        std::thread::spawn(move || work_off(&own, &pool));
        Ok(Self { shared })
    }

    /// Takes a job for a page; its name.
    pub(super) fn submit(&self, page: &str, work: Work) -> Result<String, Full> {
        let id = random_name();
        let job = Arc::new(Job::new(id.clone(), work));
        let mut state = lock(&self.shared.state);
        state.queue.push(page, Arc::clone(&job))?;
        state.known.push_back(job);
        while state.known.len() > MOST_KEPT {
            // Those that are not at their end are bounded by the queue.
            let Some(oldest) = state.known.iter().position(|j| j.phase().ended()) else {
                break;
            };
            state.known.remove(oldest);
        }
        drop(state);
        self.shared.news.notify_all();
        Ok(id)
    }

    /// How a job is, with its rows from number `from` on.
    pub(super) fn told(&self, id: &str, from: usize) -> Option<Value> {
        let state = lock(&self.shared.state);
        let job = state.find(id)?;
        let before = state.queue.before(|j| j.id == id);
        drop(state);
        Some(job.told(from, before))
    }

    /// The report of a job.
    pub(super) fn report(&self, id: &str) -> Option<String> {
        let job = lock(&self.shared.state).find(id)?;
        lock(&job.outcome).report.clone()
    }

    /// Stops a job; false if there is none of that name.
    pub(super) fn stop(&self, id: &str) -> bool {
        let mut state = lock(&self.shared.state);
        let Some(job) = state.find(id) else {
            return false;
        };
        job.stop();
        if state.queue.remove(|j| j.id == id).is_some() {
            job.enter(Phase::Stopped);
        }
        true
    }

    /// Stops all, and takes no more.
    pub(super) fn stop_all(&self) {
        let mut state = lock(&self.shared.state);
        state.closed = true;
        state.known.iter().for_each(|job| job.stop());
        drop(state);
        self.shared.news.notify_all();
    }
}

impl Drop for Jobs {
    fn drop(&mut self) {
        self.stop_all();
    }
}

impl State {
    fn find(&self, id: &str) -> Option<Arc<Job>> {
        self.known.iter().find(|j| j.id == id).cloned()
    }
}

/// Does one job after another until there are to be no more.
fn work_off(shared: &Shared, pool: &ThreadPool) {
    loop {
        let mut state = lock(&shared.state);
        let job = loop {
            if state.closed {
                return;
            }
            if let Some(job) = state.queue.pop() {
                break job;
            }
            state = shared
                .news
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        };
        job.enter(Phase::Running);
        drop(state);
        if job.cancelled() {
            job.enter(Phase::Stopped);
            continue;
        }
        let work = || pool.install(|| job.work.run(&*job, &job.outcome));
        let ended = std::panic::catch_unwind(std::panic::AssertUnwindSafe(work));
        job.enter(match ended {
            Ok(Ok(true)) => Phase::Done,
            Ok(Ok(false)) => Phase::Stopped,
            Ok(Err(problem)) => {
                lock(&job.outcome).problem = Some(problem);
                Phase::Failed
            }
            Err(_) => {
                lock(&job.outcome).problem = Some("a fault of the program".to_owned());
                Phase::Failed
            }
        });
    }
}

/// A name that cannot be guessed.
fn random_name() -> String {
    let mut bytes = [0; 16];
    // Without a source of randomness the names are still different, only not secret.
    if getrandom::fill(&mut bytes).is_err() {
        use std::hash::{BuildHasher as _, RandomState};
        bytes = u128::from(RandomState::new().hash_one(0)).to_le_bytes();
    }
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}
