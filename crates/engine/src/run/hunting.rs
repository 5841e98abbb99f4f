//! The search for a run that hunts, as an example to show.

use super::{Unobserved, run, stream};
use crate::scenario::Scenario;

/// Most runs that the search tries.
pub const MOST_RUNS: u64 = 1_000_000;

/// Most attempts to solve in all these runs, which take a few seconds.
pub const MOST_ATTEMPTS: u64 = 20_000_000;

/// Attempts between two looks at `stopped`: some milliseconds.
const BETWEEN_LOOKS: u64 = 50_000;

/// Number of the first run of a seed that hunts under the model's own controller.
///
/// # Errors
/// The number of runs searched without success, up to [`MOST_RUNS`], [`MOST_ATTEMPTS`] or until `stopped`.
pub fn first_hunting_run(
    scenario: &Scenario,
    seed: u64,
    stopped: impl Fn() -> bool,
) -> Result<u64, u64> {
    let (mut attempts, mut looked) = (0, 0);
    for trial in 0..MOST_RUNS {
        if attempts >= looked + BETWEEN_LOOKS {
            looked = attempts;
            if stopped() {
                return Err(trial);
            }
        }
        if attempts >= MOST_ATTEMPTS {
            return Err(trial);
        }
        let figures = run(
            scenario,
            &mut scenario.controller(),
            &mut stream(seed, trial),
            &mut Unobserved,
        );
        if figures.hunting() {
            return Ok(trial);
        }
        attempts += u64::from(figures.solves) + u64::from(figures.failed_attempts);
    }
    Err(MOST_RUNS)
}
