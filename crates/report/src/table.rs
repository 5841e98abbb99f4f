//! Rows of text in columns.

use unicode_width::UnicodeWidthStr as _;

/// Rows of cells below a header.
pub(super) struct Table {
    rows: Vec<Vec<String>>,
}

impl Table {
    pub(super) fn add_row<C: Into<String>>(&mut self, cells: impl IntoIterator<Item = C>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }
}

/// A table with these columns.
pub(super) fn table(header: &[&str]) -> Table {
    Table {
        rows: vec![header.iter().map(|&name| name.to_owned()).collect()],
    }
}

/// The table as lines without blanks at their ends; the columns in `left` are aligned to the left.
pub(super) fn lines(table: Table, left: &[usize]) -> String {
    let rows = table.rows;
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.width()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in &rows {
        let mut line = String::new();
        for (i, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let gap = " ".repeat(width - cell.width());
            let cell = cell.as_str();
            let (before, after) = if left.contains(&i) {
                ("", gap.as_str())
            } else {
                (gap.as_str(), "")
            };
            line.extend([before, cell, after, "  "]);
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}
