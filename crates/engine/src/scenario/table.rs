//! A CSV table with a header line: its columns, and the fields of each row.

use super::line::fields;
use crate::rig::{InputError, escape_controls};

/// A table with its header read and its rows still to read.
#[derive(Debug)]
pub struct Table<'a> {
    header: TableRow<'a>,
    text: &'a str,
    /// What a row holds, in messages.
    what: &'static str,
}

impl<'a> Table<'a> {
    /// Reads the header. `columns` are the ones that the table may have.
    ///
    /// # Errors
    /// [`InputError`] for a missing header, or a column that is unknown or given twice.
    pub fn read(
        text: &'a str,
        file: &'a str,
        columns: &[&str],
        what: &'static str,
    ) -> Result<Self, InputError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let header = written(text)
            .next()
            .map(|(line, text)| TableRow::new(text, file, line));
        let mut header = header.ok_or_else(|| none(file, what))??;
        header.drop_empty_after(0);
        let known = |c: &String| columns.contains(&c.as_str());
        for (i, column) in header.fields.iter().enumerate() {
            let fault = |problem: String| header.fault(&escape_controls(column), "", problem);
            if column.contains([';', '\t']) {
                let hint = "commas must part the fields, not semicolons or tabs. Save the file as CSV with commas and decimal points";
                return Err(fault(hint.to_owned()));
            }
            if !known(column) {
                let allowed = columns.join(", ");
                return Err(fault(if header.fields.iter().any(known) {
                    format!("unknown column. Use {allowed}")
                } else {
                    format!("the first line must name the columns. Use {allowed}")
                }));
            }
            if header.fields[..i].contains(column) {
                return Err(fault(
                    "stands twice in the header. Remove one column".to_owned(),
                ));
            }
        }
        Ok(Self { header, text, what })
    }

    /// The place of a column; `None` if the table lacks it.
    pub fn place(&self, name: &str) -> Option<usize> {
        self.header.fields.iter().position(|c| c == name)
    }

    /// The place of a column that the table must have.
    pub fn needed(&self, name: &str) -> Result<usize, InputError> {
        self.place(name).ok_or_else(|| {
            self.header.fault(
                name,
                "",
                "is missing: add this column to the header".to_owned(),
            )
        })
    }

    /// The rows in their order. A row with another number of fields than the header is an error. Empty columns behind
    /// the last and rows of commas, which spreadsheets write, are skipped.
    pub fn rows(&self) -> impl Iterator<Item = Result<TableRow<'a>, InputError>> {
        let expected = self.header.fields.len();
        let file = self.header.file;
        let row = move |(line, text)| {
            let mut row = TableRow::new(text, file, line)?;
            if row.fields.len() > 1 && row.fields.iter().all(String::is_empty) {
                return Ok(None);
            }
            row.drop_empty_after(expected);
            let found = row.fields.len();
            if found == expected {
                return Ok(Some(row));
            }
            let columns = if found == 1 { "column" } else { "columns" };
            Err(row.broken(format!(
                "this row has {found} {columns}, but the header has {expected}"
            )))
        };
        let rows = written(self.text).skip(1).map(row);
        rows.filter_map(Result::transpose)
    }

    /// The message for a table without rows.
    pub fn no_rows(&self) -> InputError {
        none(self.header.file, self.what)
    }
}

fn none(file: &str, what: &str) -> InputError {
    let problem = format!("holds no {what}. It needs a header line and at least one row");
    InputError::of_file(file, problem)
}

/// The lines that are neither empty nor comments, with their numbers.
fn written(text: &str) -> impl Iterator<Item = (usize, &str)> {
    lines(text)
        .enumerate()
        .map(|(i, text)| (i + 1, text.trim()))
        .filter(|(_, text)| !text.is_empty() && !text.starts_with('#'))
}

/// The lines of a text, ended by a line feed, a carriage return or both.
fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.split('\n')
        .flat_map(|line| line.strip_suffix('\r').unwrap_or(line).split('\r'))
}

/// The fields of one row.
#[derive(Debug)]
pub struct TableRow<'a> {
    fields: Vec<String>,
    file: &'a str,
    /// Line in the file, from 1.
    pub line: usize,
}

impl<'a> TableRow<'a> {
    fn new(text: &str, file: &'a str, line: usize) -> Result<Self, InputError> {
        let row = |fields| Self { fields, file, line };
        match fields(text) {
            Ok(fields) => Ok(row(fields)),
            Err(problem) => Err(row(Vec::new()).broken(problem.to_owned())),
        }
    }

    /// Drops empty fields at the end, but keeps at least `count` fields.
    fn drop_empty_after(&mut self, count: usize) {
        while self.fields.len() > count && self.fields.last().is_some_and(String::is_empty) {
            self.fields.pop();
        }
    }

    /// A field as it stands.
    pub fn text(&self, column: usize) -> &str {
        self.fields.get(column).map_or("", String::as_str)
    }

    /// A fault of the row as a whole.
    pub fn broken(&self, problem: String) -> InputError {
        InputError {
            line: Some(self.line),
            ..InputError::of_file(self.file, problem)
        }
    }

    /// A fault of one field.
    pub fn fault(&self, key: &str, value: &str, allowed: String) -> InputError {
        InputError {
            file: self.file.to_owned(),
            line: Some(self.line),
            key: key.to_owned(),
            value: if value.is_empty() {
                String::new()
            } else {
                format!("{value:?}")
            },
            allowed,
        }
    }

    /// A number of the row; `None` if the table lacks the column or the field is empty.
    pub fn number(
        &self,
        column: Option<usize>,
        key: &str,
        low: f64,
        high: f64,
    ) -> Result<Option<f64>, InputError> {
        let Some(text) = column.map(|c| self.text(c)).filter(|t| !t.is_empty()) else {
            return Ok(None);
        };
        match text.parse::<f64>() {
            Ok(v) if v >= low && v <= high => Ok(Some(v)),
            _ => Err(self.fault(
                key,
                text,
                format!("must be a number from {low} to {high}, with a decimal point"),
            )),
        }
    }
}
