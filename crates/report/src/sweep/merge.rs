//! Shards -> one file, the same as that of a sweep in one piece. Memory grows with the number of shards, not with
//! their length.

use std::fs::File;
use std::io::{BufReader, BufWriter, Read, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

use super::cells::{Cells, Fault};
use super::file::{read_failed, write_failed};
use super::head::Head;
use super::{Gathered, SweepError};
use crate::files::{Landing, landing, temporary};
use halfturn_engine::sweep::Shard;

/// What was merged.
#[derive(Debug, Clone)]
pub struct Merged {
    /// The head of the new file.
    pub head: Head,
    /// Number of its shards.
    pub shards: u64,
}

/// One shard, read in turns with the others.
struct Part {
    name: String,
    shard: Shard,
    head: Head,
    cells: Cells<BufReader<Reopened>>,
}

/// A file that is open only during a read. A sweep can have more shards than a program may have open files.
#[derive(Debug)]
struct Reopened {
    path: PathBuf,
    at: u64,
}

impl Read for Reopened {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let mut file = File::open(&self.path)?;
        file.seek(SeekFrom::Start(self.at))?;
        let read = file.read(buffer)?;
        self.at += read as u64;
        Ok(read)
    }
}

/// Merges the shards of a sweep into a file, which is either complete or not there.
///
/// # Errors
/// [`SweepError`], with nothing written, for the first file that is no shard, belongs to another sweep, comes twice,
/// or is missing or incomplete. Also if `out` is one of the shards, or exists and must not be replaced.
pub fn merge(
    out: &Path,
    replace: bool,
    shards: &[PathBuf],
    gathered: &mut Gathered,
) -> Result<Merged, SweepError> {
    let out_name = out.display().to_string();
    let same = |shard: &PathBuf| match (out.canonicalize(), shard.canonicalize()) {
        (Ok(out), Ok(shard)) => out == shard,
        _ => false,
    };
    if shards.iter().any(same) {
        return Err(content(&out_name, "is one of the shards".to_owned()));
    }
    if out.exists() && !replace {
        let problem = "exists already. Add --force to replace it";
        return Err(content(&out_name, problem.to_owned()));
    }
    let mut parts = shards
        .iter()
        .map(|p| open(p))
        .collect::<Result<Vec<_>, _>>()?;
    parts.sort_by_key(|part| part.shard.number);
    let whole = belong_together(&parts)?;
    gathered.begin(&whole)?;

    let failed = write_failed(&out_name);
    let Landing::File(place) = landing(out).map_err(&failed)? else {
        return Err(content(&out_name, "is no file. Name one".to_owned()));
    };
    let mut writer = BufWriter::new(temporary(&place).map_err(&failed)?);
    let mut write = |text: &str| writer.write_all(text.as_bytes()).map_err(&failed);
    write(&whole.text())?;
    let of = parts.len() as u64;
    for cell in 0..whole.cells() {
        let part = &mut parts[(cell % of) as usize];
        let name = &part.name;
        let text = part.cells.next(cell).map_err(|fault| match fault {
            Fault::Missing => content(
                name,
                format!("is not complete: cell {cell} is missing. Run it again with --resume"),
            ),
            Fault::Wrong(problem) => content(name, problem),
            Fault::Io(source) => read_failed(name)(source),
        })?;
        write(text)?;
        gathered.add(text);
    }
    for part in &mut parts {
        if !part.cells.at_end().map_err(read_failed(&part.name))? {
            let problem = "has more lines after its last cell".to_owned();
            return Err(content(&part.name, problem));
        }
    }
    let temporary = writer.into_inner().map_err(|e| failed(e.into_error()))?;
    temporary.persist(place).map_err(|e| failed(e.error))?;
    Ok(Merged {
        head: whole,
        shards: of,
    })
}

fn content(name: &str, problem: String) -> SweepError {
    SweepError::Content {
        file: name.to_owned(),
        problem,
    }
}

fn open(path: &Path) -> Result<Part, SweepError> {
    let name = path.display().to_string();
    let file = Reopened {
        path: path.to_owned(),
        at: 0,
    };
    let mut reader = BufReader::new(file);
    let head = Head::read(&mut reader)
        .map_err(read_failed(&name))?
        .map_err(|fault| content(&fault.place(&name), fault.problem))?;
    let shard = head.shard().ok_or_else(|| {
        let problem = "is no shard: it has no line \"# shard I/N\"".to_owned();
        content(&name, problem)
    })?;
    Ok(Part {
        shard,
        cells: Cells::new(&head, reader),
        head,
        name,
    })
}

/// Checks that the parts, sorted by number, are all the shards of one sweep, and returns the head of the whole.
fn belong_together(parts: &[Part]) -> Result<Head, SweepError> {
    let refuse = |problem: String| Err(SweepError::Shards(problem));
    let Some(first) = parts.first() else {
        return refuse("no shard to merge".to_owned());
    };
    for part in parts {
        if let Some(difference) = first.head.difference(&part.head) {
            let problem = format!("belongs to another sweep than {}: {difference}", first.name);
            return Err(content(&part.name, problem));
        }
        if part.shard.of != first.shard.of {
            return refuse(format!(
                "{} is shard {}, but {} is shard {}. Merge shards of one sweep",
                first.name, first.shard, part.name, part.shard
            ));
        }
    }
    for pair in parts.windows(2) {
        if pair[0].shard == pair[1].shard {
            return refuse(format!(
                "shard {} is there twice: {} and {}",
                pair[0].shard, pair[0].name, pair[1].name
            ));
        }
    }
    let of = first.shard.of;
    let numbers = parts.iter().map(|p| p.shard.number);
    // In ascending order, the first number that is not at its place shows a gap.
    let gap = (1..).zip(numbers).find(|(place, number)| place != number);
    let missing = gap.map_or(parts.len() as u64 + 1, |(place, _)| place);
    if missing <= of {
        let missing = Shard {
            number: missing,
            of,
        };
        let others = of - parts.len() as u64 - 1;
        return refuse(match others {
            0 => format!("shard {missing} is missing"),
            n => format!("shard {missing} is missing, and {n} more"),
        });
    }
    Ok(first.head.whole())
}
