//! What a command has to say, before it is known on what: headings, sentences, tables, code and pictures.
//!
//! A fact is put into words once, in a document; [`text`] writes it for a terminal, [`html`] for a page.

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
    /// A paragraph that answers the question.
    Lead(Line),
    /// A side remark.
    Note(Line),
    /// Points of a list.
    Items(Vec<Line>),
    /// Terms, each with what there is to say about it.
    Facts(Vec<(String, Line)>),
    /// Rows and columns.
    Table(Table),
    /// Lines to copy as they are.
    Code(String),
    /// A picture by the stem of its file, with its caption; on a terminal it is left out.
    Figure(&'static str, String),
    /// What may hurt somebody or the gear.
    Caution(String, Vec<Line>),
    /// Blocks below a title that a reader may not need: a page can fold them, a terminal shows them with `--details`.
    Folded(Fold),
    /// What only a page can show, as markup.
    OnPage(String),
}

/// Blocks below a title.
#[derive(Debug, Clone, PartialEq)]
pub struct Fold {
    /// Anchor on a page.
    pub id: &'static str,
    /// What the blocks are about.
    pub title: String,
    /// A page shows it without being asked.
    pub open: bool,
    /// What it holds.
    pub blocks: Vec<Block>,
}

impl Block {
    /// Blocks below a title that a page shows at once.
    pub fn open(id: &'static str, title: impl Into<String>, blocks: Vec<Self>) -> Self {
        Self::below(id, title, blocks, true)
    }

    /// Blocks below a title that a reader opens.
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
    /// A name that the user gave.
    Name(String),
    /// A command, an option, a key or a file.
    Code(String),
    /// The shape of a state; its colour is no more than a second sign.
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

    /// The same with another piece.
    #[must_use]
    pub fn with(mut self, span: Span) -> Self {
        self.0.push(span);
        self
    }

    /// The same as a sentence of its own: plain text at its start begins with a capital letter.
    pub(crate) fn capital(&self) -> Self {
        let mut line = self.clone();
        if let Some(Span::Text(text)) = line.0.first_mut() {
            *text = halfturn_engine::wording::capital(text);
        }
        line
    }

    /// The same with more plain text.
    #[must_use]
    pub fn text(self, text: impl Into<String>) -> Self {
        self.with(Span::Text(text.into()))
    }

    /// Nothing to show.
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
    /// What the table shows; it may be empty.
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
    /// Unit of its numbers; it may be empty.
    pub unit: &'static str,
    /// It holds words and is aligned to the left; numbers are aligned to the right.
    pub words: bool,
    /// Neighbouring columns of the same group stand below its name; it may be empty.
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

    /// One more row.
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

    /// One more block.
    pub fn add(&mut self, block: Block) {
        self.0.push(block);
    }

    /// One more paragraph, unless it is empty.
    pub fn para(&mut self, line: impl Into<Line>) {
        let line = line.into();
        if !line.is_empty() {
            self.add(Block::Para(line));
        }
    }
}
