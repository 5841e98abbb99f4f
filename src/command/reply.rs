//! The answer of a command.

use std::path::Path;

use thiserror::Error;

use super::Exit;
use super::args::Common;
use super::streams::is_standard_output;
use halfturn_engine::advise::AdviseError;
use halfturn_engine::rig::InputError;
use halfturn_report::sweep::SweepError;
use halfturn_report::{Block, Document, Line, ReportError, Span, write_file};

/// The text for standard output.
#[derive(Debug, Clone)]
pub enum Said {
    /// For a reader, in a form for the terminal.
    Document(Document),
    /// For another program, byte by byte.
    Raw(String),
}

impl Said {
    /// Adds a note that a file was written, if a reader sees it.
    pub(super) fn wrote(&mut self, path: &Path) {
        if let Self::Document(document) = self {
            document.add(file("Written: ", path));
        }
    }
}

/// A note with the name of a file.
pub(super) fn file(what: &str, path: &Path) -> Block {
    Block::Para(Line::new(what).with(Span::Code(path.display().to_string())))
}

impl From<Document> for Said {
    fn from(document: Document) -> Self {
        Self::Document(document)
    }
}

impl From<String> for Said {
    fn from(text: String) -> Self {
        Self::Raw(text)
    }
}

/// A finished answer.
#[derive(Debug, Clone)]
pub struct Reply {
    /// For standard output.
    pub said: Said,
    /// Whether folded parts of a document are shown too.
    pub details: bool,
    /// Warnings for standard error, one line each.
    pub warnings: Vec<String>,
    /// How the program ends.
    pub exit: Exit,
}

impl Reply {
    /// An answer without bad news.
    #[must_use]
    pub fn done(said: impl Into<Said>) -> Self {
        Self {
            said: said.into(),
            details: false,
            warnings: Vec::new(),
            exit: Exit::Done,
        }
    }

    /// Writes the result as JSON if the user wants it. On standard output it replaces the text.
    pub(super) fn json(
        &mut self,
        common: &Common,
        value: &serde_json::Value,
    ) -> Result<(), ReportError> {
        let Some(path) = &common.json else {
            return Ok(());
        };
        let text = format!("{value:#}\n");
        if is_standard_output(path) {
            self.said = Said::Raw(text);
            Ok(())
        } else {
            write_file(path, text.as_bytes())
        }
    }
}

/// Why a command has no answer.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum Failure {
    /// A file or an override is wrong.
    #[error(transparent)]
    Input(#[from] InputError),
    /// A file cannot be read.
    #[error("{file}: cannot be read: {source}")]
    Read {
        /// The file.
        file: String,
        /// Why.
        source: std::io::Error,
    },
    /// An argument is wrong.
    #[error("{0}")]
    Argument(String),
    /// A report or file cannot be made.
    #[error(transparent)]
    Report(#[from] ReportError),
    /// The threads cannot be started.
    #[error("cannot start the threads: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
    /// The user stopped the work.
    #[error("stopped before the end. Nothing was written")]
    Interrupted,
}

impl Failure {
    /// How the program ends.
    #[must_use]
    pub fn exit(&self) -> Exit {
        match self {
            Self::Interrupted => Exit::Interrupted,
            Self::Input(_)
            | Self::Read { .. }
            | Self::Argument(_)
            | Self::Report(_)
            | Self::Threads(_) => Exit::WrongInput,
        }
    }
}

impl From<SweepError> for Failure {
    fn from(error: SweepError) -> Self {
        Self::Report(error.into())
    }
}

impl From<AdviseError> for Failure {
    fn from(error: AdviseError) -> Self {
        match error {
            AdviseError::Cancelled(_) => Self::Interrupted,
            other => Self::Argument(other.to_string()),
        }
    }
}
