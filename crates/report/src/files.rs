//! Writing files whole or not at all.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;
use thiserror::Error;

use super::plot::Picture;
use super::sweep::SweepError;

/// Why a file or picture was not made.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ReportError {
    /// The file system said no.
    #[error("{file}: cannot be written: {source}")]
    Write {
        /// The file or folder.
        file: String,
        /// Why.
        source: io::Error,
    },
    /// The name of a picture has no known ending.
    #[error("{file}: the name of a picture must end in .svg or .png")]
    Ending {
        /// The file.
        file: String,
    },
    /// A picture could not be drawn.
    #[error("a picture could not be drawn: {0}")]
    Picture(String),
    /// The file of a sweep is not as it should be.
    #[error(transparent)]
    Sweep(#[from] SweepError),
}

/// The form of a picture, by the ending of its file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PictureFormat {
    /// `.svg`
    Svg,
    /// `.png`
    Png,
}

impl PictureFormat {
    /// The format that a file name asks for.
    ///
    /// # Errors
    /// [`ReportError::Ending`].
    pub fn of(path: &Path) -> Result<Self, ReportError> {
        let ending = path.extension().unwrap_or_default();
        if ending.eq_ignore_ascii_case("svg") {
            Ok(Self::Svg)
        } else if ending.eq_ignore_ascii_case("png") {
            Ok(Self::Png)
        } else {
            Err(ReportError::Ending {
                file: path.display().to_string(),
            })
        }
    }
}

/// Writes a picture in the form that its file name asks for.
///
/// # Errors
/// [`ReportError::Ending`] or [`ReportError::Write`].
pub fn write_picture(path: &Path, picture: &Picture) -> Result<(), ReportError> {
    match PictureFormat::of(path)? {
        PictureFormat::Svg => write_file(path, picture.svg.as_bytes()),
        PictureFormat::Png => write_file(path, &picture.png),
    }
}

impl ReportError {
    fn write(path: &Path, source: io::Error) -> Self {
        Self::Write {
            file: path.display().to_string(),
            source: without_path(source),
        }
    }
}

/// Where the bytes for a path go.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Landing {
    /// To a regular file, or one that is not there yet, at the end of all links: written beside it and
    /// renamed, so that it is whole or as before.
    File(PathBuf),
    /// Straight into what is there, such as a pipe or a device.
    Stream,
}

/// Writes a file by way of a temporary one beside it; links are followed, and what is no regular file,
/// such as a pipe, is written to directly.
///
/// # Errors
/// [`ReportError::Write`]; a file that stood at `path` before is then still there.
pub fn write_file(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    let failed = |source| ReportError::write(path, source);
    match landing(path).map_err(failed)? {
        Landing::Stream => std::fs::OpenOptions::new()
            .write(true)
            .open(path)
            .and_then(|mut stream| stream.write_all(bytes))
            .map_err(failed),
        Landing::File(path) => {
            let mut file = temporary(&path).map_err(failed)?;
            file.write_all(bytes).map_err(failed)?;
            file.persist(path).map_err(|e| failed(e.error))?;
            Ok(())
        }
    }
}

/// Writes a file that must not be there yet.
///
/// # Errors
/// [`ReportError::Write`]; what is at `path` is then as it was.
pub fn write_new_file(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    let failed = |source| ReportError::write(path, source);
    let mut file = temporary(path).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.persist_noclobber(path).map_err(|e| failed(e.error))?;
    Ok(())
}

/// Checks, without a trace, that [`write_file`] can write to this path.
///
/// # Errors
/// [`ReportError::Write`].
pub fn probe_file(path: &Path) -> Result<(), ReportError> {
    let failed = |source| ReportError::write(path, source);
    match landing(path).map_err(failed)? {
        Landing::Stream => Ok(()), // opening a pipe may wait for its reader
        Landing::File(path) => temporary(&path).map(drop).map_err(failed),
    }
}

/// Checks, without a trace, that [`write_files`] can write files of these names into this folder.
///
/// # Errors
/// [`ReportError::Write`].
pub fn probe_folder(dir: &Path, names: &[&str]) -> Result<(), ReportError> {
    let failed = |source| ReportError::write(dir, source);
    // The nearest folder that is there, in which the others will be made.
    let mut there = dir;
    let found = loop {
        match std::fs::metadata(in_dir(there)) {
            Ok(found) => break found,
            Err(e) if e.kind() == io::ErrorKind::NotFound => {}
            Err(e) => return Err(failed(e)),
        }
        match there.parent() {
            // A link to nowhere is there, though its goal is not.
            Some(parent) if !there.is_symlink() => there = parent,
            _ => return Err(failed(io::ErrorKind::NotFound.into())),
        }
    };
    if !found.is_dir() {
        let problem = if there == dir {
            "it is a file, not a folder".to_owned()
        } else {
            format!("{} is a file, not a folder", there.display())
        };
        return Err(failed(io::Error::other(problem)));
    }
    temporary(&in_dir(there).join("x"))
        .map(drop)
        .map_err(failed)?;
    names.iter().try_for_each(|name| {
        let path = dir.join(name);
        landing(&path)
            .map(drop)
            .map_err(|source| ReportError::write(&path, source))
    })
}

/// Follows the links of a path to where the bytes go.
fn landing(path: &Path) -> io::Result<Landing> {
    /// More links than this go round in a circle.
    const MOST_LINKS: usize = 40;
    if path.as_os_str().is_empty() {
        return Err(io::Error::other("the name is empty"));
    }
    match std::fs::metadata(path) {
        Ok(found) if found.is_dir() => Err(io::Error::other("it is a folder, not a file")),
        Ok(found) if !found.is_file() => Ok(Landing::Stream),
        Ok(_) => path.canonicalize().map(Landing::File),
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            let mut path = path.to_path_buf();
            for _ in 0..MOST_LINKS {
                match std::fs::read_link(&path) {
                    Ok(goal) => path = folder_of(&path).join(goal),
                    Err(_) => break,
                }
            }
            Ok(Landing::File(path))
        }
        Err(e) => Err(e),
    }
}

/// An empty file beside `path`, gone when dropped, to be put in its place when it is written whole.
pub(super) fn temporary(path: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".halfturn-");
    readable_by_all(&mut builder);
    builder.tempfile_in(folder_of(path))
}

fn folder_of(path: &Path) -> &Path {
    in_dir(path.parent().unwrap_or(path))
}

/// The empty path is the present folder.
fn in_dir(dir: &Path) -> &Path {
    if dir.as_os_str().is_empty() {
        Path::new(".")
    } else {
        dir
    }
}

/// An error without the name of the temporary file, which the user does not know.
fn without_path(error: io::Error) -> io::Error {
    match error.kind() {
        io::ErrorKind::NotFound => io::Error::other("its folder is not there"),
        io::ErrorKind::NotADirectory => io::Error::other("its folder is a file"),
        io::ErrorKind::Other => error,
        kind if error.raw_os_error().is_none() => kind.into(),
        _ => error,
    }
}

/// A temporary file is private; a report is not.
#[cfg(unix)]
fn readable_by_all(builder: &mut tempfile::Builder<'_, '_>) {
    use std::os::unix::fs::PermissionsExt as _;
    builder.permissions(std::fs::Permissions::from_mode(0o644));
}

#[cfg(not(unix))]
fn readable_by_all(_: &mut tempfile::Builder<'_, '_>) {}

/// Writes files into a folder, which is made if it is not there.
///
/// # Errors
/// [`ReportError::Write`] for the first file that fails; those before it are there, whole.
pub fn write_files(dir: &Path, files: Vec<(String, Vec<u8>)>) -> Result<(), ReportError> {
    std::fs::create_dir_all(dir).map_err(|source| ReportError::write(dir, source))?;
    for (name, bytes) in files {
        write_file(&dir.join(name), &bytes)?;
    }
    Ok(())
}
