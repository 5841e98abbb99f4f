//! Long work for the page: one job at a time on its own threads, the others in a queue that is fair between pages.

mod fair;
mod job;
mod outcome;

pub(super) use fair::Full;

use std::collections::VecDeque;
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;

use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};
use serde_json::Value;

use super::lock;
use fair::Fair;
use halfturn_answers::Work;
use halfturn_engine::sample::Monitor as _;
use job::{Job, Phase};

/// Most ended jobs whose outcome is kept, and the memory that all of them may take \[bytes\].
const MOST_KEPT: usize = 32;
const MOST_KEPT_BYTES: usize = 16 * 1024 * 1024;

/// All jobs. Dropping it ends its thread.
#[derive(Debug)]
pub(super) struct Jobs {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<QueueState>,
    news: Condvar,
}

#[derive(Debug, Default)]
struct QueueState {
    queue: Fair<Arc<Job>>,
    /// Waiting and running jobs, and ended ones in the order in which they ended.
    known: VecDeque<Arc<Job>>,
    closed: bool,
}

impl Jobs {
    /// Jobs on this number of threads. 0 means all cores but one, which stays free for a moved handle.
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
        let thread = std::thread::spawn(move || work_off(&own, &pool));
        Ok(Self {
            shared,
            thread: Some(thread),
        })
    }

    /// Takes a job for a page and returns the job's name.
    pub(super) fn submit(&self, page: &str, work: Work) -> Result<String, Full> {
        let id = random_name();
        let job = Arc::new(Job::new(id.clone(), work));
        let mut state = lock(&self.shared.state);
        state.queue.push(page, Arc::clone(&job))?;
        state.known.push_back(job);
        drop(state);
        self.shared.news.notify_all();
        Ok(id)
    }

    /// The state of a job, with its rows from number `from`; `None` if no job has this name.
    pub(super) fn status(&self, id: &str, from: usize) -> Option<Value> {
        let state = lock(&self.shared.state);
        let job = state.find(id)?;
        let before = state.queue.before(|j| j.id == id);
        drop(state);
        Some(job.status(from, before))
    }

    /// The report of a job, with this page in it; `None` if it has none.
    pub(super) fn report(&self, id: &str, one_file: Option<&str>) -> Option<String> {
        let job = lock(&self.shared.state).find(id)?;
        let report = lock(&job.outcome).report.clone()?;
        Some(match one_file {
            Some(one_file) => job.work.with_engine(&report, one_file),
            None => report,
        })
    }

    /// Stops a job. False if no job has this name.
    pub(super) fn stop(&self, id: &str) -> bool {
        let mut state = lock(&self.shared.state);
        let Some(job) = state.find(id) else {
            return false;
        };
        job.stop();
        if state.queue.remove(|j| j.id == id).is_some() {
            job.enter(Phase::Stopped);
            state.put_last(&job);
        }
        true
    }

    /// Stops all jobs and takes no more.
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
        // The thread reports its errors as those of a job.
        let _ = self.thread.take().map(JoinHandle::join);
    }
}

impl QueueState {
    fn find(&self, id: &str) -> Option<Arc<Job>> {
        self.known.iter().find(|j| j.id == id).cloned()
    }

    /// Moves a job that has ended behind the others.
    fn put_last(&mut self, job: &Arc<Job>) {
        if let Some(place) = self.known.iter().position(|j| Arc::ptr_eq(j, job))
            && let Some(job) = self.known.remove(place)
        {
            self.known.push_back(job);
        }
        self.make_room();
    }

    /// Forgets the oldest ended jobs if they are too many or too large, but keeps the youngest. The queue limits the
    /// waiting ones.
    fn make_room(&mut self) {
        let ended = || self.known.iter().filter(|j| j.phase().ended());
        let (mut count, mut bytes) = (ended().count(), ended().map(|j| j.bytes()).sum::<usize>());
        self.known.retain(|job| {
            let full = count > MOST_KEPT || bytes > MOST_KEPT_BYTES;
            let go = full && count > 1 && job.phase().ended();
            if go {
                count -= 1;
                bytes -= job.bytes();
            }
            !go
        });
    }
}

/// Does one job after another until no more may come.
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
            lock(&shared.state).put_last(&job);
            continue;
        }
        let work = || pool.install(|| job.work.run(&*job));
        let ended = std::panic::catch_unwind(std::panic::AssertUnwindSafe(work));
        job.enter(match ended {
            Ok(Ok(Some(found))) => {
                lock(&job.outcome).found(found);
                Phase::Done
            }
            Ok(Ok(None)) => Phase::Stopped,
            Ok(Err(problem)) => {
                lock(&job.outcome).problem = Some(problem);
                Phase::Failed
            }
            Err(_) => {
                lock(&job.outcome).problem = Some("a fault in the program".to_owned());
                Phase::Failed
            }
        });
        lock(&shared.state).put_last(&job);
    }
}

/// A name that cannot be guessed.
fn random_name() -> String {
    let mut bytes = [0; 16];
    // Without a source of randomness the names still differ, but are not secret.
    if getrandom::fill(&mut bytes).is_err() {
        use std::hash::{BuildHasher as _, RandomState};
        bytes = u128::from(RandomState::new().hash_one(0)).to_le_bytes();
    }
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfturn_engine::method::Method;
    use halfturn_engine::rig::{Rule, read};
    use halfturn_engine::sample::Batch;
    use halfturn_engine::sweep::{Axis, Grid, SweepRequest};

    fn job(id: &str) -> Arc<Job> {
        job_of(id, 1)
    }

    fn job_of(id: &str, trials: u64) -> Arc<Job> {
        let rig = read("", "default", &[]).expect("a valid rig");
        let axis = Axis::read("target=0:1:2", &rig).expect("an axis");
        let grid = Grid::new(vec![axis]).expect("a grid");
        let batch = Batch { trials, seed: 1 };
        let rules = vec![Rule::HalfCircle];
        let request = SweepRequest::new(rig, grid, rules, batch, Method::MonteCarlo, None);
        let work = Work::Sweep(Box::new(request.expect("a request")));
        Arc::new(Job::new(id.to_owned(), work))
    }

    /// An ended job with an outcome of this many bytes.
    fn ended(id: usize, bytes: usize) -> Arc<Job> {
        let job = job(&id.to_string());
        lock(&job.outcome).report = Some("x".repeat(bytes));
        job.enter(Phase::Done);
        job
    }

    fn kept(state: &QueueState) -> Vec<&str> {
        state.known.iter().map(|j| j.id.as_str()).collect()
    }

    /// Shows (serve): ended jobs are kept within a number and a size. With: `what_is_kept_is_bounded_in_bytes`. Source:
    /// none: own rule.
    #[test]
    fn the_oldest_ended_jobs_are_forgotten_and_no_waiting_one() {
        let mut state = QueueState::default();
        state.known.push_back(job("waits"));
        state.known.extend((0..MOST_KEPT).map(|i| ended(i, 10)));
        state.known.extend((0..MOST_KEPT).map(|_| job("waits too")));
        state.make_room();
        assert_eq!(
            state.known.len(),
            1 + 2 * MOST_KEPT,
            "waiting ones do not count"
        );
        state.known.push_back(ended(99, 10));
        state.make_room();
        let kept = kept(&state);
        assert!(!kept.contains(&"0") && kept.contains(&"1") && kept.contains(&"99"));
        assert_eq!(kept.len(), 1 + 2 * MOST_KEPT);
    }

    #[test]
    fn what_is_kept_is_bounded_in_bytes() {
        let mut state = QueueState::default();
        state
            .known
            .extend((0..4).map(|i| ended(i, MOST_KEPT_BYTES / 3)));
        state.make_room();
        assert_eq!(kept(&state), ["1", "2", "3"]);
        state.known.push_back(ended(4, 2 * MOST_KEPT_BYTES));
        state.make_room();
        assert_eq!(kept(&state), ["4"], "the youngest stays, however large");
    }

    /// Even in the middle of a job.
    #[test]
    fn the_thread_ends_with_the_jobs() {
        for busy in [false, true] {
            let jobs = Jobs::new(1).expect("threads");
            if busy {
                let long = job_of("long", 1_000_000_000);
                lock(&jobs.shared.state).known.push_back(Arc::clone(&long));
                let queued = lock(&jobs.shared.state).queue.push("page", long.clone());
                assert!(queued.is_ok());
                jobs.shared.news.notify_all();
                while long.phase() != Phase::Running {
                    std::thread::yield_now();
                }
            }
            let shared = Arc::clone(&jobs.shared);
            drop(jobs);
            assert_eq!(Arc::strong_count(&shared), 1, "the thread has let go of it");
        }
    }

    #[test]
    fn a_stopped_job_says_why() {
        let job = job("a");
        job.stop();
        assert!(job.cancelled());
        job.enter(Phase::Stopped);
        assert_eq!(job.status(0, None)["stopped"], "by you");
        assert_eq!(ended(1, 1).status(0, None)["stopped"], Value::Null);
    }
}
