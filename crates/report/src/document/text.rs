//! A document for a terminal or a file.

use unicode_width::UnicodeWidthStr as _;

use super::html::shape;
use super::wrap::{bound, wrapped};
use super::{Block, Column, Document, Line, Span, Table};
use halfturn_engine::rig::escape_controls;
use halfturn_engine::verdict::TargetState;

/// How to write a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Screen {
    /// Columns of the terminal; `None` for no line breaks within a paragraph.
    pub width: Option<usize>,
    /// Whether states are coloured.
    pub colour: bool,
    /// Whether folded blocks are shown too.
    pub details: bool,
}

/// Blanks before the second line of a point.
const INDENT: &str = "  ";

/// No column of words becomes narrower than this.
const LEAST_COLUMN: usize = 12;

/// Blanks between columns.
const GAP: usize = 2;

impl Document {
    /// The document as text; every line ends with a line feed.
    #[must_use]
    pub fn text(&self, screen: Screen) -> String {
        let mut out = String::new();
        blocks(&self.0, screen, &mut out);
        out
    }
}

fn blocks(blocks: &[Block], screen: Screen, out: &mut String) {
    for block in blocks {
        let (text, alone) = match block {
            Block::OnPage(_) | Block::Figure(..) => continue,
            Block::Folded(_) if !screen.details => continue,
            Block::Folded(fold) => {
                separate(out);
                out.push_str(&heading(&fold.title));
                self::blocks(&fold.blocks, screen, out);
                out.push('\n');
                continue;
            }
            Block::Heading(_, title) => (heading(title), true),
            Block::Para(line) | Block::Lead(line) | Block::Note(line) => {
                (item("", line, screen), false)
            }
            Block::Items(lines) => (lines.iter().map(|l| point(l, screen)).collect(), true),
            Block::Facts(facts) => {
                let fact = |(term, line): &(String, Line)| {
                    let mut spans = vec![Span::Text(format!("{term}: "))];
                    spans.extend(line.0.iter().cloned());
                    item(INDENT, &Line(spans), screen)
                };
                (facts.iter().map(fact).collect(), true)
            }
            Block::Table(table) => (self::table(table, screen), true),
            Block::Code(code) => {
                let lines = code
                    .lines()
                    .map(|line| format!("{INDENT}{}\n", escape_controls(line)));
                (lines.collect(), true)
            }
            // A terminal is short, and the first line stands for all.
            Block::Caution(title, lines) => {
                let shown = if screen.details { lines.len() } else { 1 };
                let mut spans = vec![Span::Text(format!("{title}:"))];
                for line in lines.iter().take(shown) {
                    spans.push(Span::Text(" ".to_owned()));
                    spans.extend(line.0.iter().cloned());
                }
                (item("", &Line(spans), screen), false)
            }
        };
        if alone {
            separate(out);
        }
        out.push_str(&text);
        if alone && !matches!(block, Block::Heading(..)) {
            out.push('\n');
        }
    }
    while out.ends_with("\n\n") {
        out.pop();
    }
}

/// Adds an empty line, unless one is there or nothing stands above.
fn separate(out: &mut String) {
    if !out.is_empty() && !out.ends_with("\n\n") {
        out.push('\n');
    }
}

fn heading(title: &str) -> String {
    format!("{}\n", title.to_uppercase())
}

/// A point of a list. The shape of a state replaces the dash.
fn point(line: &Line, screen: Screen) -> String {
    match line.0.first() {
        Some(Span::Shape(_) | Span::State(_)) => item(INDENT, line, screen),
        _ => {
            let dash = Span::Text("- ".to_owned());
            let spans = std::iter::once(dash).chain(line.0.iter().cloned());
            item(INDENT, &Line(spans.collect()), screen)
        }
    }
}

/// A line broken into lines. All but the first are indented.
fn item(indent: &str, line: &Line, screen: Screen) -> String {
    let text = plain(line);
    let rows = match screen.width {
        Some(width) => {
            let room = width.saturating_sub(indent.len().max(INDENT.len()));
            wrapped(&text, room.max(LEAST_COLUMN), 0)
        }
        None => vec![text],
    };
    let rows = rows.join(&format!("\n{INDENT}{indent}"));
    format!("{indent}{}\n", finished(&rows, line, screen))
}

/// The text of a line, without colour.
fn plain(line: &Line) -> String {
    line.0.iter().map(span).collect()
}

fn span(span: &Span) -> String {
    match span {
        Span::Text(text) => bound(&escape_controls(text)),
        // The name of a file may hold anything.
        Span::Strong(text) | Span::Name(text) | Span::Code(text) => escape_controls(text),
        Span::Shape(state) => shape(*state).1.to_owned(),
        Span::State(state) => format!("{} {state}", shape(*state).1),
        Span::Range(low, high) => format!(" [{low}, {high}]"),
    }
}

/// The text as printed: non-breaking spaces become plain ones, and shapes get their colour.
fn finished(text: &str, line: &Line, screen: Screen) -> String {
    let mut text = text.replace('\u{a0}', " ");
    if screen.colour {
        for span in &line.0 {
            if let Span::Shape(state) | Span::State(state) = span {
                let shape = shape(*state).1;
                text = text.replacen(shape, &format!("{}{shape}\x1b[0m", colour(*state)), 1);
            }
        }
    }
    text
}

/// Green for safe, yellow for a risk, red for a fault, in the terminal's own shades (ECMA-48, SGR).
fn colour(state: TargetState) -> &'static str {
    match state {
        TargetState::Safe => "\x1b[32m",
        TargetState::AtRisk => "\x1b[33m",
        _ => "\x1b[31m",
    }
}

/// The table with aligned columns. If it is wider than the screen, the widest columns of words are broken.
fn table(table: &Table, screen: Screen) -> String {
    let mut out = match table.title.as_str() {
        "" => String::new(),
        title => item("", &title.into(), screen),
    };
    let name = |c: &Column| match c.unit {
        "" => c.name.clone(),
        unit => format!("{} {unit}", c.name).trim().to_owned(),
    };
    let names: Vec<Line> = table.columns.iter().map(|c| name(c).into()).collect();
    let cells = |row: &[Line]| -> Vec<usize> { row.iter().map(|c| plain(c).width()).collect() };
    let mut widths = cells(&names);
    for row in &table.rows {
        for (width, cell) in widths.iter_mut().zip(cells(row)) {
            *width = (*width).max(cell);
        }
    }
    if let Some(most) = screen.width {
        narrow(&mut widths, &table.columns, most);
    }
    let mut groups = String::new();
    let mut at = 0;
    for (i, (column, width)) in table.columns.iter().zip(&widths).enumerate() {
        let first = i == 0 || table.columns[i - 1].group != column.group;
        if first && !column.group.is_empty() {
            groups.push_str(&" ".repeat(at - groups.width().min(at)));
            groups.push_str(column.group);
        }
        at += width + GAP;
    }
    if !groups.is_empty() {
        out.push_str(&format!("{groups}\n"));
    }
    if names.iter().any(|name| !name.is_empty()) {
        out.push_str(&row(&names, &widths, &table.columns, screen));
    }
    for cells in &table.rows {
        out.push_str(&row(cells, &widths, &table.columns, screen));
    }
    out
}

/// Takes width away from the widest columns of words until the table fits.
fn narrow(widths: &mut [usize], columns: &[Column], most: usize) {
    let total = |w: &[usize]| w.iter().sum::<usize>() + GAP * w.len().saturating_sub(1);
    while total(widths) > most {
        let widest = (0..widths.len())
            .filter(|i| columns[*i].words && widths[*i] > LEAST_COLUMN)
            .max_by_key(|i| widths[*i]);
        match widest {
            Some(i) => widths[i] -= 1,
            None => break,
        }
    }
}

/// The cells of a row, on as many lines as the tallest needs.
fn row(cells: &[Line], widths: &[usize], columns: &[Column], screen: Screen) -> String {
    let broken: Vec<Vec<String>> = cells
        .iter()
        .zip(widths)
        .map(|(cell, width)| wrapped(&plain(cell), (*width).max(1), 0))
        .collect();
    let height = broken.iter().map(Vec::len).max().unwrap_or(0);
    let mut out = String::new();
    for i in 0..height {
        let mut line = String::new();
        for (((cell, rows), width), column) in cells.iter().zip(&broken).zip(widths).zip(columns) {
            let text = rows.get(i).map_or("", String::as_str);
            let gap = " ".repeat(width.saturating_sub(text.width()));
            let text = match i {
                0 => finished(text, cell, screen),
                _ => text.replace('\u{a0}', " "),
            };
            let (before, after) = if column.words {
                ("", gap.as_str())
            } else {
                (gap.as_str(), "")
            };
            line.extend([before, &text, after, "  "]);
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Fold;

    fn sample() -> Document {
        let mut table = Table::new(
            "",
            vec![
                Column::words("Target"),
                Column {
                    group: "now",
                    ..Column::words("Its verdict")
                },
                Column {
                    group: "now",
                    ..Column::numbers("Time", "s")
                },
            ],
        );
        table.row(vec![
            Line::from("NGC 7000 North America Nebula"),
            Span::State(TargetState::Hunts).into(),
            "9.5".into(),
        ]);
        let fold = Fold {
            id: "more",
            open: true,
            title: "More".to_owned(),
            blocks: vec![Block::Para("Folded words.".into())],
        };
        Document(vec![
            Block::Lead("One of two targets hunts because of its place.".into()),
            Block::Table(table),
            Block::Folded(fold),
        ])
    }

    #[test]
    fn a_table_is_aligned_and_a_fold_needs_details() {
        let text = sample().text(Screen::default());
        let want = "One of two targets hunts because of its place.\n\n\
            \x20                              now\n\
            Target                         Its verdict  Time s\n\
            NGC 7000 North America Nebula  ◆ hunts         9.5\n";
        assert_eq!(text, want);
        let details = Screen {
            details: true,
            ..Screen::default()
        };
        assert_eq!(
            sample().text(details),
            format!("{want}\nMORE\nFolded words.\n")
        );
    }

    #[test]
    fn no_line_is_wider_than_the_screen() {
        for width in [34, 40, 60, 80] {
            let screen = Screen {
                width: Some(width),
                details: true,
                ..Screen::default()
            };
            let text = sample().text(screen);
            assert!(
                text.lines().all(|line| line.width() <= width),
                "{width}: {text}"
            );
            // Breaking loses no word.
            for word in ["because", "place.", "America", "Nebula", "9.5", "Folded"] {
                assert!(text.contains(word), "{width}: {word}");
            }
        }
    }

    #[test]
    fn colour_marks_states_and_nothing_else() {
        let screen = Screen {
            colour: true,
            ..Screen::default()
        };
        let text = sample().text(screen);
        assert!(
            text.contains("\x1b[31m◆\x1b[0m hunts         9.5"),
            "{text}"
        );
        assert_eq!(text.matches('\x1b').count(), 2);
    }
}
