//! Reads the table of a sweep back, cell by cell, in constant memory.

use std::io::{BufRead, Read as _};

use super::head::{Head, LONGEST_LINE};
use super::line;

/// Why reading the next cell failed.
#[derive(Debug)]
pub enum Fault {
    /// The file ends before the cell or inside it.
    Missing,
    /// A line does not belong there, for the reason in the text.
    Wrong(String),
    /// The reader failed.
    Io(std::io::Error),
}

/// Reads the cells of a file after its head.
#[derive(Debug)]
pub struct Cells<R> {
    reader: R,
    rules: Vec<&'static str>,
    axes: usize,
    text: String,
}

impl<R: BufRead> Cells<R> {
    /// The cells of a file with this head. The reader must stand at the first row.
    #[must_use]
    pub fn new(head: &Head, reader: R) -> Self {
        Self {
            reader,
            rules: head.rules().into_iter().map(Into::into).collect(),
            axes: head.asked_all("vary").count(),
            text: String::new(),
        }
    }

    /// The lines of the next cell, which must be number `cell`.
    ///
    /// # Errors
    /// [`Fault`] if the cell is missing, incomplete or another one.
    pub fn next(&mut self, cell: u64) -> Result<&str, Fault> {
        self.text.clear();
        for rule in &self.rules {
            let start = self.text.len();
            let mut bytes = std::mem::take(&mut self.text).into_bytes();
            self.reader
                .by_ref()
                .take(LONGEST_LINE)
                .read_until(b'\n', &mut bytes)
                .map_err(Fault::Io)?;
            let whole = bytes.len() > start && bytes.ends_with(b"\n");
            let too_long = (bytes.len() - start) as u64 == LONGEST_LINE;
            if !whole && !too_long {
                return Err(Fault::Missing);
            }
            let wrong = || {
                Fault::Wrong(format!(
                    "where cell {cell}, {rule} belongs, it has another line"
                ))
            };
            self.text = String::from_utf8(bytes).map_err(|_| wrong())?;
            let line = self.text[start..].trim_end_matches('\n');
            let found = line::read(line, self.axes).ok_or_else(wrong)?;
            if found.cell != cell || found.rule != *rule {
                return Err(wrong());
            }
        }
        Ok(&self.text)
    }

    /// Whether nothing follows.
    ///
    /// # Errors
    /// A failure of the reader.
    pub fn at_end(&mut self) -> std::io::Result<bool> {
        Ok(self.reader.fill_buf()?.is_empty())
    }
}
