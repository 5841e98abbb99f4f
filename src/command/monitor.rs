//! Progress on standard error, Ctrl-C, and the thread pool.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::args::Common;
use super::reply::Failure;
use halfturn_engine::sample::Monitor;

/// Exit code after a second Ctrl-C: the user does not want to wait.
const KILLED: i32 = 130;

/// A progress bar that Ctrl-C stops.
pub(super) struct Watch {
    bar: ProgressBar,
    stop: Arc<AtomicBool>,
}

impl Watch {
    /// Adds this many runs to the expected total.
    pub(super) fn expect(&self, runs: u64) {
        self.bar.set_length(runs);
    }

    /// Prints a line above the bar.
    pub(super) fn say(&self, line: &str) {
        self.bar.println(line);
    }

    /// Removes the bar from the screen.
    pub(super) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

impl Monitor for Watch {
    fn done(&self, runs: u64) {
        self.bar.inc(runs);
    }

    fn cancelled(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Does work on a pool with the wanted number of threads, with a progress bar.
pub(super) fn in_pool<T: Send>(
    common: &Common,
    work: impl FnOnce(&Watch) -> T + Send,
) -> Result<T, Failure> {
    let threads = common.threads.map_or(0, usize::from); // 0: all cores
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()?;
    let watch = Watch {
        bar: bar(common.quiet),
        stop: stop_on_ctrl_c(),
    };
    let result = pool.install(|| work(&watch));
    watch.finish();
    Ok(result)
}

fn bar(quiet: bool) -> ProgressBar {
    let target = if quiet {
        ProgressDrawTarget::hidden()
    } else {
        ProgressDrawTarget::stderr() // hidden by itself where it is no terminal
    };
    let style = ProgressStyle::with_template("{bar:30} {percent} % of {len} runs, {eta} left")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::with_draw_target(None, target).with_style(style)
}

fn stop_on_ctrl_c() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    let seen = Arc::clone(&stop);
    on_ctrl_c(move || seen.store(true, Ordering::Relaxed));
    stop
}

/// Calls `told` at the first Ctrl-C. A second one ends the program at once.
pub(super) fn on_ctrl_c(told: impl Fn() + Send + 'static) {
    let seen = AtomicBool::new(false);
    // Without a handler, Ctrl-C ends the program at once. That is safe too, because files are renamed whole.
    let _ = ctrlc::set_handler(move || {
        if seen.swap(true, Ordering::Relaxed) {
            super::judge::end_program();
            std::process::exit(KILLED);
        }
        told();
    });
}
