//! A local web page over the same calls as the commands.
//!
//! | part | what it does |
//! |---|---|
//! | `connections` | sockets -> requests, with limits in number and time |
//! | `guard` | refuses requests that another site or another host name caused, and sets the headers of every answer |
//! | `assets` | the files of the page, which are inside the program |
//! | `live` | work that a moved handle waits for: a few at a time, each with a deadline |
//! | `jobs` | long work: a queue that is fair between pages, with progress and stop |
//! | `api` | what the page asks for, as JSON |
//! | `view`, `wire` | what the dial shows; rigs and targets as JSON |
//!
//! Nothing in a request names a file, and nothing is written to the disk. `docs/serve.md` explains the limits.

mod api;
mod assets;
mod connections;
mod guard;
mod jobs;
mod live;
mod view;
mod wire;

use std::net::SocketAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::net::TcpListener;
use tokio::sync::watch;

use guard::Origins;
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::Target;
use jobs::Jobs;
use live::Live;

/// Most targets of a page.
pub(crate) const MOST_TARGETS: usize = 1000;

/// Largest seed of a page: a browser rounds whole numbers above it.
pub(crate) const MOST_SEED: u64 = (1 << 53) - 1;

/// What the page begins with.
#[derive(Debug, Clone)]
pub(crate) struct PageStart {
    /// The text of the rig file, whose comments a saved file keeps.
    pub rig_text: String,
    /// The names of the files that it begins with; `None` for what is built in.
    pub rig_file: Option<String>,
    pub targets_file: Option<String>,
    /// The rig of that text and of the overrides.
    pub rig: Rig,
    /// The targets, at most [`MOST_TARGETS`].
    pub targets: Vec<Target>,
    /// The seed, at most [`MOST_SEED`].
    pub seed: u64,
}

/// How to serve.
#[derive(Debug, Clone)]
pub(crate) struct Settings {
    /// Where to listen.
    pub listen: SocketAddr,
    /// Host names under which the page may be asked for besides the address itself.
    pub names: Vec<String>,
    /// Threads for the work; 0: all cores.
    pub threads: usize,
    /// What the page begins with.
    pub start: PageStart,
}

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ServeError {
    /// The address is taken, or not one of this machine.
    #[error("cannot listen on {address}: {source}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// Why.
        source: std::io::Error,
    },
    /// The threads cannot be started.
    #[error("cannot start the threads: {0}")]
    Threads(String),
}

/// A lock that broken work leaves usable.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What all requests share.
#[derive(Debug)]
struct Shared {
    start: PageStart,
    origins: Origins,
    live: Live,
    jobs: Jobs,
}

/// Serves until `stop` turns true. `ready` is told the address, once it is listened on.
///
/// # Errors
/// [`ServeError`].
pub(crate) fn serve(
    settings: Settings,
    stop: watch::Receiver<bool>,
    ready: impl FnOnce(SocketAddr),
) -> Result<(), ServeError> {
    let failed = |e: &dyn std::fmt::Display| ServeError::Threads(e.to_string());
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|e| failed(&e))?;
    let live = Live::new(settings.threads).map_err(|e| failed(&e))?;
    let jobs = Jobs::new(settings.threads).map_err(|e| failed(&e))?;
    runtime.block_on(async {
        let refused = |source| ServeError::Listen {
            address: settings.listen,
            source,
        };
        let listener = TcpListener::bind(settings.listen).await.map_err(refused)?;
        let address = listener.local_addr().map_err(refused)?;
        let shared = Arc::new(Shared {
            start: settings.start,
            origins: Origins::new(address, &settings.names),
            live,
            jobs,
        });
        ready(address);
        connections::accept(listener, api::router(Arc::clone(&shared)), stop).await;
        shared.jobs.stop_all();
        Ok(())
    })
}
