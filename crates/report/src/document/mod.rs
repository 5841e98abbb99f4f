//! What a command says, independent of where it is shown: headings, sentences, tables, code and pictures.
//!
//! A document puts each fact into words once. [`text`] writes it for a terminal, [`html`] for a page.

mod html;
mod text;
mod wrap;

pub(crate) use html::{Drawn, Pictures};
pub use text::Screen;

use halfturn_engine::verdict::TargetState;

/// Blocks in the order of reading.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Document(pub Vec<Block>);

/// A part of a document.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A heading, and the anchor that a page gives it.
    Heading(&'static str, String),
    /// A paragraph.
    Para(Line),
    /// The paragraph that answers the question.
    Lead(Line),
    /// A side remark.
    Note(Line),
    /// Points of a list.
    Items(Vec<Line>),
    /// Terms, each with its explanation.
    Facts(Vec<(String, Line)>),
    /// Rows and columns.
    Table(Table),
    /// Lines to copy as they are.
    Code(String),
    /// A picture by the stem of its file, with its caption. A terminal leaves it out.
    Figure(&'static str, String),
    /// A hazard for people or gear.
    Caution(String, Vec<Line>),
    /// Blocks below a title that not every reader needs. A page can fold them, a terminal shows them with
    /// `--details`.
    Folded(Fold),
    /// Markup that only a page can show.
    OnPage(String),
}

/// Blocks below a title.
#[derive(Debug, Clone, PartialEq)]
pub struct Fold {
    /// Anchor on a page.
    pub id: &'static str,
    /// The title.
    pub title: String,
    /// Whether a page shows it unfolded.
    pub open: bool,
    /// The blocks.
    pub blocks: Vec<Block>,
}

impl Block {
    /// Blocks below a title that a page shows unfolded.
    pub fn open(id: &'static str, title: impl Into<String>, blocks: Vec<Self>) -> Self {
        Self::below(id, title, blocks, true)
    }

    /// Blocks below a title that a page shows folded.
    pub fn folded(id: &'static str, title: impl Into<String>, blocks: Vec<Self>) -> Self {
        Self::below(id, title, blocks, false)
    }

    fn below(id: &'static str, title: impl Into<String>, blocks: Vec<Self>, open: bool) -> Self {
        Self::Folded(Fold {
            id,
            title: title.into(),
            open,
            blocks,
        })
    }
}

/// A run of text with its marks.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Line(pub Vec<Span>);

/// A piece of a line.
#[derive(Debug, Clone, PartialEq)]
pub enum Span {
    /// Plain text.
    Text(String),
    /// Text that stands out on a page.
    Strong(String),
    /// A name that the user chose.
    Name(String),
    /// A command, an option, a key or a file.
    Code(String),
    /// The shape of a state. Colour only repeats what the shape says.
    Shape(TargetState),
    /// The shape of a state and its words.
    State(TargetState),
    /// The ends of an interval.
    Range(String, String),
}

impl Line {
    /// A line of plain text.
    pub fn new(text: impl Into<String>) -> Self {
        Self(vec![Span::Text(text.into())])
    }

    /// The line with another piece at its end.
    #[must_use]
    pub fn with(mut self, span: Span) -> Self {
        self.0.push(span);
        self
    }

    /// The line as a sentence: plain text at its start begins with a capital letter.
    pub(crate) fn capital(&self) -> Self {
        let mut line = self.clone();
        if let Some(Span::Text(text)) = line.0.first_mut() {
            *text = halfturn_engine::wording::capital(text);
        }
        line
    }

    /// The line with more plain text at its end.
    #[must_use]
    pub fn text(self, text: impl Into<String>) -> Self {
        self.with(Span::Text(text.into()))
    }

    /// Whether the line is empty.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0
            .iter()
            .all(|span| matches!(span, Span::Text(text) if text.is_empty()))
    }
}

impl<T: Into<String>> From<T> for Line {
    fn from(text: T) -> Self {
        Self::new(text)
    }
}

impl From<Span> for Line {
    fn from(span: Span) -> Self {
        Self(vec![span])
    }
}

/// Rows below the names of their columns.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Table {
    /// What the table shows; may be empty.
    pub title: String,
    /// The columns.
    pub columns: Vec<Column>,
    /// The cells, row by row.
    pub rows: Vec<Vec<Line>>,
}

/// A column of a table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// Unit of its numbers; may be empty.
    pub unit: &'static str,
    /// Whether it holds words, aligned to the left. Numbers are aligned to the right.
    pub words: bool,
    /// Name above neighbouring columns that share it; may be empty.
    pub group: &'static str,
}

impl Column {
    /// A column of words.
    pub fn words(name: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            words: true,
            ..Self::default()
        }
    }

    /// A column of numbers with their unit.
    pub fn numbers(name: impl Into<String>, unit: &'static str) -> Self {
        Self {
            name: name.into(),
            unit,
            ..Self::default()
        }
    }
}

impl Table {
    /// A table without rows.
    pub fn new(title: impl Into<String>, columns: Vec<Column>) -> Self {
        Self {
            title: title.into(),
            columns,
            rows: Vec::new(),
        }
    }

    /// Adds a row.
    pub fn row<C: Into<Line>>(&mut self, cells: impl IntoIterator<Item = C>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }
}

impl Document {
    /// A document without blocks.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a block.
    pub fn add(&mut self, block: Block) {
        self.0.push(block);
    }

    /// Adds a paragraph, unless it is empty.
    pub fn para(&mut self, line: impl Into<Line>) {
        let line = line.into();
        if !line.is_empty() {
            self.add(Block::Para(line));
        }
    }
}
