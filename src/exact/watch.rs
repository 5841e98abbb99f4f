//! Whether to go on, asked now and then.

use std::cell::Cell;
use std::fmt;

/// Steps between two looks: a millisecond or two.
const BETWEEN_LOOKS: u64 = 200_000;

/// Asks whether the user wants to stop, and remembers it.
pub(super) struct Watch<'a> {
    stopped: &'a dyn Fn() -> bool,
    /// Steps since the last look.
    spent: Cell<u64>,
    over: Cell<bool>,
}

impl<'a> Watch<'a> {
    pub(super) fn new(stopped: &'a dyn Fn() -> bool) -> Self {
        Self {
            stopped,
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
            self.over.set(self.over.get() || (self.stopped)());
        }
        self.over.get()
    }

    /// The work is to stop.
    #[inline]
    pub(super) fn over(&self) -> bool {
        self.over.get()
    }
}

impl fmt::Debug for Watch<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Watch")
            .field("spent", &self.spent)
            .field("over", &self.over)
            .finish_non_exhaustive()
    }
}
