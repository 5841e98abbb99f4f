//! The first lines of the file of a sweep: the request, as comments, and the names of the columns.

use std::io::BufRead;

use super::line::columns;
use halfturn_engine::rig::{Rule, escape_controls, refusal};
use halfturn_engine::sweep::{FORMAT, Shard, SweepRequest, digest};

/// Longest line that is read \[bytes\].
pub(super) const LONGEST_LINE: u64 = 64 * 1024;

const MOST_LINES: usize = 32;

/// Why the first lines of a file are no head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeadFault {
    /// The line at fault; `None` if no single line is.
    line: Option<u32>,
    /// What is wrong, in words.
    pub problem: String,
}

impl HeadFault {
    fn whole(problem: impl Into<String>) -> Self {
        Self {
            line: None,
            problem: problem.into(),
        }
    }

    /// The file, with the line at fault if there is one.
    #[must_use]
    pub fn place(&self, file: &str) -> String {
        self.line
            .map_or_else(|| file.to_owned(), |line| format!("{file}:{line}"))
    }
}

/// The head of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// The program that made the rows. Another version may make others.
    program: String,
    /// The request, one line for each part.
    request: Vec<String>,
    /// The shard that the file holds; `None` for a file of all cells.
    shard: Option<Shard>,
    /// The line with the names of the columns.
    columns: String,
}

impl Head {
    /// The head of a file that this program writes.
    #[must_use]
    pub fn of(request: &SweepRequest, shard: Option<Shard>) -> Self {
        Self {
            program: format!("halfturn {}", env!("CARGO_PKG_VERSION")),
            request: request.lines(),
            shard,
            columns: columns(request.grid()),
        }
    }

    /// The head of the same sweep with all cells.
    #[must_use]
    pub fn whole(&self) -> Self {
        Self {
            shard: None,
            ..self.clone()
        }
    }

    /// The shard that the file holds.
    #[must_use]
    pub fn shard(&self) -> Option<Shard> {
        self.shard
    }

    /// The digest of the request.
    #[must_use]
    pub fn digest(&self) -> String {
        digest(&self.request)
    }

    /// The part of the request with this name: the text after `name: `.
    #[must_use]
    pub fn asked(&self, name: &str) -> Option<&str> {
        self.asked_all(name).next()
    }

    /// As [`Head::asked`], for a name that can occur twice.
    pub fn asked_all<'a>(&'a self, name: &str) -> impl Iterator<Item = &'a str> {
        let start = format!("{name}: ");
        self.request
            .iter()
            .filter_map(move |line| line.strip_prefix(&start))
    }

    /// Number of cells of the whole sweep.
    #[must_use]
    pub fn cells(&self) -> u64 {
        self.asked("cells")
            .and_then(|n| n.parse().ok())
            .unwrap_or(0)
    }

    /// The rules of every cell, in the order of their lines.
    #[must_use]
    pub fn rules(&self) -> Vec<Rule> {
        let names = self.asked("rules").unwrap_or_default();
        names
            .split(',')
            .filter_map(|name| name.parse().ok())
            .collect()
    }

    /// The names of the columns.
    pub fn columns(&self) -> impl Iterator<Item = &str> {
        self.columns.split(',')
    }

    /// The lines of the head.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = format!("# halfturn sweep, format {FORMAT}\n");
        let mut add = |line: &str| {
            out.push_str("# ");
            out.push_str(line);
            out.push('\n');
        };
        add(&format!("program: {}", self.program));
        add(&format!("request: {}", self.digest()));
        for line in &self.request {
            add(line);
        }
        if let Some(shard) = self.shard {
            add(&format!("shard {shard}"));
        }
        out.push_str(&self.columns);
        out.push('\n');
        out
    }

    /// Reads a head and leaves the reader at the first row.
    ///
    /// # Errors
    /// What is wrong, or a failure of the reader.
    pub fn read(reader: &mut impl BufRead) -> std::io::Result<Result<Self, HeadFault>> {
        let mut comments = Vec::new();
        let columns = loop {
            let mut line = Vec::new();
            std::io::Read::take(&mut *reader, LONGEST_LINE).read_until(b'\n', &mut line)?;
            let Some(line) = String::from_utf8(line)
                .ok()
                .and_then(|l| l.strip_suffix('\n').map(str::to_owned))
            else {
                let problem = "it does not begin like the table of a sweep";
                return Ok(Err(HeadFault::whole(problem)));
            };
            match line.strip_prefix("# ") {
                Some(comment) if comments.len() < MOST_LINES => comments.push(comment.to_owned()),
                _ => break line,
            }
        };
        Ok(Self::from_comments(comments, columns))
    }

    fn from_comments(comments: Vec<String>, columns: String) -> Result<Self, HeadFault> {
        let mut comments = comments.into_iter();
        let first = comments.next().unwrap_or_default();
        let Some(format) = first.strip_prefix("halfturn sweep, format ") else {
            return Err(HeadFault::whole("is not the table of a sweep"));
        };
        if format != FORMAT.to_string() {
            let shown = escape_controls(&format.chars().take(60).collect::<String>());
            let allowed = refusal(format.parse().ok(), FORMAT);
            return Err(HeadFault {
                line: Some(1),
                problem: format!("format = {shown}: {allowed}"),
            });
        }
        let (mut program, mut stated, mut shard) = (None, None, None);
        let mut request = Vec::new();
        for line in comments {
            if let Some(text) = line.strip_prefix("program: ") {
                program = Some(text.to_owned());
            } else if let Some(text) = line.strip_prefix("request: ") {
                stated = Some(text.to_owned());
            } else if let Some(text) = line.strip_prefix("shard ") {
                shard = Some(
                    Shard::read(text).map_err(|e| HeadFault::whole(format!("its shard {e}")))?,
                );
            } else {
                request.push(line);
            }
        }
        let head = Self {
            program: program.unwrap_or_default(),
            request,
            shard,
            columns,
        };
        if stated != Some(head.digest()) || head.cells() == 0 || head.rules().is_empty() {
            let problem = "its first lines are damaged: they don't match their digest";
            return Err(HeadFault::whole(problem));
        }
        Ok(head)
    }

    /// The first difference to another head, in words; shards play no part.
    #[must_use]
    pub fn difference(&self, other: &Self) -> Option<String> {
        let own = self.whole().text();
        let theirs = other.whole().text();
        // The digests differ with any other line, and that line says more.
        let telling = |text: &'static str| move |line: &&str| !line.starts_with(text);
        let own: Vec<&str> = own.lines().filter(telling("# request")).collect();
        let theirs: Vec<&str> = theirs.lines().filter(telling("# request")).collect();
        let pairs = own.iter().zip(&theirs);
        let differs = pairs
            .map(|(a, b)| (*a, *b))
            .find(|(a, b)| a != b)
            .or_else(|| (own.len() != theirs.len()).then_some(("other lines", "other lines")))?;
        let shown = |line: &str| line.trim_start_matches("# ").to_owned();
        Some(format!(
            "it has \"{}\", not \"{}\"",
            shown(differs.1),
            shown(differs.0)
        ))
    }
}
