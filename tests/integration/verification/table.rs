//! The matrix as rows: tables in Markdown, with the headings above them.

/// Words between backticks, with blocks of code left out.
pub(super) fn quoted(line: &str) -> impl Iterator<Item = &str> {
    line.split('`').skip(1).step_by(2)
}

/// Lines outside of fenced blocks, with their numbers.
pub(super) fn prose(page: &str) -> Vec<(usize, &str)> {
    let mut fenced = false;
    let mut lines = Vec::new();
    for (number, line) in (1..).zip(page.lines()) {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
        } else if !fenced && !line.starts_with("    ") {
            lines.push((number, line));
        }
    }
    lines
}

/// The cells of a row of a table; `\|` is no border.
pub(super) fn cells(line: &str) -> Option<Vec<String>> {
    let inner = line.trim().strip_prefix('|')?.strip_suffix('|')?;
    let guarded = inner.replace("\\|", "\u{1}");
    let cell = |c: &str| c.replace('\u{1}', "|").trim().to_owned();
    Some(guarded.split('|').map(cell).collect())
}

pub(super) struct Row {
    pub(super) line: usize,
    pub(super) part: String,
    pub(super) section: String,
    pub(super) cells: Vec<String>,
}

/// The rows of the matrix, with their headings; what stands before the first one is told about the page itself.
pub(super) fn rows(page: &str) -> Vec<Row> {
    let (mut part, mut section) = (String::new(), String::new());
    let mut rows = Vec::new();
    for (line, written) in prose(page) {
        if let Some(heading) = written.strip_prefix("### ") {
            heading.trim().clone_into(&mut section);
        } else if let Some(heading) = written.strip_prefix("## ") {
            heading.trim().clone_into(&mut part);
            section.clear();
        } else if let Some(cells) = cells(written) {
            let rule = cells
                .iter()
                .all(|c| !c.is_empty() && c.chars().all(|x| x == '-' || x == ':'));
            if !rule && !part.is_empty() && cells[0] != "claim" {
                rows.push(Row {
                    line,
                    part: part.clone(),
                    section: section.clone(),
                    cells,
                });
            }
        }
    }
    rows
}

#[test]
fn a_row_has_its_cells() {
    assert_eq!(
        cells("| a | `b \\| c` | |"),
        Some(["a", "`b | c`", ""].map(str::to_owned).to_vec())
    );
}
