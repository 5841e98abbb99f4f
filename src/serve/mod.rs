//! A local web page over the same calls as the commands.
//!
//! | part | what it does |
//! |---|---|
//! | `connections` | sockets -> requests, with limits in number and time |
//! | `guard` | recognises requests from another site or by another host name |
//! | `gate` | refuses them, and sets the headers of every answer |
//! | `assets` | the files of the page, which are part of the program |
//! | `live` | work that a moved handle waits for: a few at a time, each with a deadline |
//! | `jobs` | long work: a queue that is fair between pages, with progress and stop |
//! | `api` | the addresses; what they answer is in `halfturn-answers` |
//!
//! No request names a file, and nothing is written to the disk. `docs/serve.md` explains the limits.

mod api;
mod assets;
mod connections;
mod gate;
mod guard;
mod jobs;
mod live;
mod locks;
mod shared;

use std::net::SocketAddr;
use std::sync::Arc;

use tokio::net::TcpListener;
use tokio::sync::watch;

use halfturn_answers::PageStart;

use guard::Origins;
use jobs::Jobs;
use live::Live;
use locks::lock;
use shared::Shared;

/// Settings of the server.
#[derive(Debug, Clone)]
pub(crate) struct Settings {
    /// Where to listen.
    pub listen: SocketAddr,
    /// Host names of the page besides the address itself.
    pub names: Vec<String>,
    /// Threads for the work; 0 for all cores.
    pub threads: usize,
    /// The first data of the page.
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

/// Serves until `stop` turns true. Calls `ready` with the address once it listens.
///
/// # Errors
/// [`ServeError`] if the address or the threads are not available.
pub(crate) fn serve(
    settings: Settings,
    stop: watch::Receiver<bool>,
    ready: impl FnOnce(SocketAddr),
) -> Result<(), ServeError> {
    let failed = |e: &dyn std::fmt::Display| ServeError::Threads(e.to_string());
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        // They turn rows into JSON. Every thread keeps memory of its own.
        .max_blocking_threads(2)
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
