//! The outcome of a piece of work.

use halfturn_answers::Found;

/// The outcome so far.
#[derive(Debug, Default)]
pub(super) struct JobOutcome {
    /// Rows of a sweep, as lines of its table. As JSON they would take many times the memory.
    pub(super) lines: Vec<Box<str>>,
    /// The result, as JSON; `None` if the work has none.
    pub(super) result: Option<Box<str>>,
    /// The report of an advice.
    pub(super) report: Option<String>,
    /// Why it failed.
    pub(super) problem: Option<String>,
}

impl JobOutcome {
    /// The work has come to its end.
    pub(super) fn found(&mut self, found: Found) {
        self.result = found.result.map(|json| json.to_string().into());
        self.report = found.report;
    }

    /// Its memory, roughly \[bytes\].
    pub(super) fn bytes(&self) -> usize {
        let lines: usize = self
            .lines
            .iter()
            .map(|l| l.len() + size_of::<Box<str>>())
            .sum();
        let text = |text: Option<&str>| text.map_or(0, str::len);
        lines + text(self.result.as_deref()) + text(self.report.as_deref())
    }
}
