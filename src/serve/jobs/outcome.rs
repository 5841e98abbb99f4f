//! What a piece of work comes to.

/// What came out so far.
#[derive(Debug, Default)]
pub(super) struct JobOutcome {
    /// Rows of a sweep, as lines of its table: JSON takes many times the memory.
    pub(super) lines: Vec<Box<str>>,
    /// The result of work that has one, as JSON.
    pub(super) result: Option<Box<str>>,
    /// The report of an advice.
    pub(super) report: Option<String>,
    /// Why it failed.
    pub(super) problem: Option<String>,
}

impl JobOutcome {
    /// What it takes of the memory, about \[bytes\].
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
