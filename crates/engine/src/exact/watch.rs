//! Whether to go on, asked now and then.

use std::cell::Cell;
use std::fmt;

/// Steps between two looks: a millisecond or two.
const BETWEEN_LOOKS: u64 = 200_000;

/// Whether the user wants to stop.
#[derive(Clone, Copy)]
pub(super) struct Question<'a>(pub(super) &'a (dyn Fn() -> bool + Sync));

impl fmt::Debug for Question<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Question")
    }
}

/// Asks, and remembers the answer.
#[derive(Debug)]
pub(super) struct Watch<'a> {
    question: Question<'a>,
    /// Steps since the last look.
    spent: Cell<u64>,
    over: Cell<bool>,
}

impl<'a> Watch<'a> {
    pub(super) fn new(question: Question<'a>) -> Self {
        Self {
            question,
            spent: Cell::new(0),
            over: Cell::new(false),
        }
    }

    /// Counts steps; true once the work is to stop, and from then on.
    #[inline]
    pub(super) fn spend(&self, steps: u64) -> bool {
        let spent = self.spent.get() + steps;
        self.spent.set(spent);
        if spent >= BETWEEN_LOOKS {
            self.spent.set(0);
            if !self.over.get() {
                self.over.set(self.question.0());
            }
        }
        self.over.get()
    }

    /// The work is to stop.
    #[inline]
    pub(super) fn over(&self) -> bool {
        self.over.get()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU32, Ordering::Relaxed};

    use crate::exact::{Precision, Unsupported, solve_long_run_unless, solve_unless};
    use crate::rig::{DEMO_RIG, Rig, read};
    use crate::scenario::{Policy, Scenario};

    /// Rigs whose solution takes many looks, along each of the ways through the method.
    fn slow() -> Vec<Rig> {
        let rig = |set: &[&str]| {
            let set: Vec<String> = set.iter().map(|&s| s.to_owned()).collect();
            read(DEMO_RIG, "demo", &set).expect("a valid rig")
        };
        vec![
            rig(&["loop.tolerance_deg=0.1", "loop.confirm=2"]),
            // Nothing but the zero point is uncertain.
            rig(&[
                "solve.noise_deg=0",
                "solve.outlier_rate=0",
                "drive.repeatability_deg=0",
                "loop.max_solves=10000",
                "loop.tolerance_deg=0.01",
            ]),
        ]
    }

    #[test]
    fn a_solution_stops_at_the_look_that_says_so() {
        let mut long_runs = 0;
        for rig in slow() {
            let scenario = Scenario::new(&rig, Policy::of(&rig), 0.0);
            for stop_at in [1, 2, 5] {
                let looks = AtomicU32::new(0);
                let stopped = || looks.fetch_add(1, Relaxed) + 1 >= stop_at;
                let found = solve_unless(&scenario, Precision::FULL, &stopped);
                assert_eq!(found.err(), Some(Unsupported::Stopped));
                assert_eq!(
                    looks.load(Relaxed),
                    stop_at,
                    "it goes on, or looks too seldom"
                );
                looks.store(0, Relaxed);
                let found = solve_long_run_unless(&scenario, Precision::FULL, &stopped);
                // The long run may be found before so many looks.
                assert!(looks.load(Relaxed) <= stop_at, "it goes on");
                if looks.load(Relaxed) == stop_at {
                    assert_eq!(found.err(), Some(Unsupported::Stopped));
                    long_runs += 1;
                }
            }
        }
        assert!(long_runs > 0);
    }
}
