//! The file of a sweep, which grows cell by cell: started new, or continued where it ended.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufReader, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::Path;

use super::cells::{Cells, Fault};
use super::head::Head;
use super::{Gathered, SweepError};
use halfturn_engine::sweep::Shard;

/// What to do with an existing file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Existing {
    /// Leave it and fail.
    Refuse,
    /// Replace it.
    Replace,
    /// Continue at its end.
    Resume,
}

/// A file of a sweep, open at its end. It holds a head and whole cells.
#[derive(Debug)]
pub struct SweepFile {
    name: String,
    file: File,
    done: u64,
}

impl SweepFile {
    /// Opens the file for a head. Also passes the cells that it holds already to `gathered`.
    ///
    /// Cuts off a torn last line and the lines of an incomplete cell. If a stop left only a part of the head, it
    /// starts the file anew.
    ///
    /// # Errors
    /// [`SweepError`]. The file is then unchanged.
    pub fn open(
        path: &Path,
        head: &Head,
        existing: Existing,
        gathered: &mut Gathered,
    ) -> Result<Self, SweepError> {
        let name = path.display().to_string();
        let mut options = OpenOptions::new();
        options.read(true).write(true);
        match existing {
            Existing::Refuse => options.create_new(true),
            Existing::Replace | Existing::Resume => options.create(true),
        };
        let file = options.open(path).map_err(|e| match e.kind() {
            std::io::ErrorKind::AlreadyExists => SweepError::Exists(name.clone()),
            _ => write_failed(&name)(e),
        })?;
        // Some file systems have no locks, and that must not stop the work.
        if let Err(TryLockError::WouldBlock) = file.try_lock() {
            return Err(SweepError::InUse(name));
        }
        let mut out = Self {
            name,
            file,
            done: 0,
        };
        let end = match existing {
            Existing::Resume => out.scan(head, gathered)?,
            Existing::Refuse | Existing::Replace => 0,
        };
        out.cut(end)?;
        if end == 0 {
            out.append(&head.text())?;
        }
        Ok(out)
    }

    /// How many cells the file held when it was opened.
    #[must_use]
    pub fn done(&self) -> u64 {
        self.done
    }

    /// Appends the lines of a cell in one piece.
    ///
    /// # Errors
    /// [`SweepError::Write`].
    pub fn append(&mut self, text: &str) -> Result<(), SweepError> {
        self.file
            .write_all(text.as_bytes())
            .map_err(write_failed(&self.name))
    }

    /// Checks the existing content and returns where its last whole cell ends; 0 without a whole head.
    fn scan(&mut self, head: &Head, gathered: &mut Gathered) -> Result<u64, SweepError> {
        let expected = head.text();
        let read_failed = read_failed(&self.name);
        let mut start = Vec::new();
        std::io::Read::take(&self.file, expected.len() as u64)
            .read_to_end(&mut start)
            .map_err(&read_failed)?;
        if start != expected.as_bytes() {
            if expected.as_bytes().starts_with(&start) {
                return Ok(0);
            }
            return Err(self.not_ours(head));
        }
        let mut end = expected.len() as u64;
        let mut cells = Cells::new(head, BufReader::new(&self.file));
        for cell in head.shard().unwrap_or(Shard::WHOLE).cells(head.cells(), 0) {
            match cells.next(cell) {
                Ok(text) => {
                    gathered.add(text);
                    end += text.len() as u64;
                    self.done += 1;
                }
                Err(Fault::Missing) => return Ok(end),
                Err(Fault::Wrong(problem)) => {
                    return Err(SweepError::Content {
                        file: self.name.clone(),
                        problem,
                    });
                }
                Err(Fault::Io(e)) => return Err(read_failed(e)),
            }
        }
        if cells.at_end().map_err(read_failed)? {
            return Ok(end);
        }
        Err(SweepError::Content {
            file: self.name.clone(),
            problem: "has more lines after its last cell".to_owned(),
        })
    }

    /// Why a file cannot be continued.
    fn not_ours(&mut self, head: &Head) -> SweepError {
        let again = self.file.seek(SeekFrom::Start(0));
        let found = again.and_then(|_| Head::read(&mut BufReader::new(&self.file)));
        let mut place = self.name.clone();
        let problem = match found {
            Err(source) => return read_failed(&self.name)(source),
            Ok(Err(fault)) => {
                place = fault.place(&self.name);
                fault.problem
            }
            Ok(Ok(theirs)) => match head.difference(&theirs) {
                Some(difference) => format!("belongs to another sweep: {difference}"),
                None => {
                    let part = |head: &Head| {
                        head.shard()
                            .map_or_else(|| "all cells".to_owned(), |s| format!("shard {s}"))
                    };
                    format!("is for {}, not for {}", part(&theirs), part(head))
                }
            },
        };
        SweepError::Content {
            file: place,
            problem: format!("{problem}. It stays as it is"),
        }
    }

    /// Drops everything after `end`, and goes there.
    fn cut(&mut self, end: u64) -> Result<(), SweepError> {
        let failed = write_failed(&self.name);
        // A device has no length to cut.
        if self.file.metadata().map_err(&failed)?.len() != end {
            self.file.set_len(end).map_err(&failed)?;
        }
        self.file.seek(SeekFrom::Start(end)).map_err(failed)?;
        Ok(())
    }
}

pub(super) fn write_failed(name: &str) -> impl Fn(std::io::Error) -> SweepError + use<> {
    let file = name.to_owned();
    move |source| SweepError::Write {
        file: file.clone(),
        source,
    }
}

pub(super) fn read_failed(name: &str) -> impl Fn(std::io::Error) -> SweepError + use<> {
    let file = name.to_owned();
    move |source| SweepError::Read {
        file: file.clone(),
        source,
    }
}
