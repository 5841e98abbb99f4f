//! Writing files completely or not at all.

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
    /// The file or folder cannot be written.
    #[error("{file}: cannot be written: {source}")]
    Write {
        /// The file or folder.
        file: String,
        /// Why.
        source: io::Error,
    },
    /// The name of a picture has no known extension.
    #[error("{file}: the name of a picture must end in .svg or .png")]
    Ending {
        /// The file.
        file: String,
    },
    /// A picture could not be drawn.
    #[error("a picture could not be drawn: {0}")]
    Picture(String),
    /// The file of a sweep is wrong.
    #[error(transparent)]
    Sweep(#[from] SweepError),
}

/// The form of a picture, by the extension of its file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PictureFormat {
    /// `.svg`
    Svg,
    /// `.png`
    Png,
}

impl PictureFormat {
    /// The form that a file name asks for.
    ///
    /// # Errors
    /// [`ReportError::Ending`] for any other extension.
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
        PictureFormat::Png => write_file(path, &picture.png()?),
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
pub(super) enum Landing {
    /// To a regular file, existing or new, after following all links. It is written beside its place and renamed
    /// there: the file is either complete or unchanged.
    File(PathBuf),
    /// Directly to an existing pipe or device.
    Stream,
}

/// Writes a file by way of a temporary one beside it. Follows links. Writes directly to a pipe or device.
///
/// # Errors
/// [`ReportError::Write`]. An older file at `path` is then unchanged.
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

/// Writes a file that must not exist yet.
///
/// # Errors
/// [`ReportError::Write`]. Whatever is at `path` is then unchanged.
pub fn write_new_file(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    let failed = |source| ReportError::write(path, source);
    let mut file = temporary(path).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.persist_noclobber(path).map_err(|e| failed(e.error))?;
    Ok(())
}

/// Checks that [`write_file`] can write to this path, and leaves nothing behind.
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

/// Checks that [`write_files`] can write files with these names into this folder, and leaves nothing behind.
///
/// # Errors
/// [`ReportError::Write`].
pub fn probe_folder(dir: &Path, names: &[&str]) -> Result<(), ReportError> {
    let failed = |source| ReportError::write(dir, source);
    // The nearest existing folder, in which the others will be made.
    let mut there = dir;
    let found = loop {
        match std::fs::metadata(in_dir(there)) {
            Ok(found) => break found,
            Err(e) if e.kind() == io::ErrorKind::NotFound => {}
            Err(e) => return Err(failed(e)),
        }
        match there.parent() {
            // A broken link exists, although its target does not.
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

/// Follows the links of a path to the place of the bytes.
pub(super) fn landing(path: &Path) -> io::Result<Landing> {
    /// With more links than this, they go round in a circle.
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

/// An empty file beside `path`, to be renamed to it once it is complete. Dropping it deletes it.
pub(super) fn temporary(path: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".halfturn-");
    readable_by_all(&mut builder);
    builder.tempfile_in(folder_of(path))
}

fn folder_of(path: &Path) -> &Path {
    in_dir(path.parent().unwrap_or(path))
}

/// The empty path is the current folder.
fn in_dir(dir: &Path) -> &Path {
    if dir.as_os_str().is_empty() {
        Path::new(".")
    } else {
        dir
    }
}

/// The error without the name of the temporary file, which the user does not know.
fn without_path(error: io::Error) -> io::Error {
    match error.kind() {
        io::ErrorKind::NotFound => io::Error::other("its folder does not exist"),
        io::ErrorKind::NotADirectory => io::Error::other("its folder is a file"),
        io::ErrorKind::Other => error,
        kind if error.raw_os_error().is_none() => kind.into(),
        _ => error,
    }
}

/// A temporary file is private, but a report is not.
#[cfg(unix)]
fn readable_by_all(builder: &mut tempfile::Builder<'_, '_>) {
    use std::os::unix::fs::PermissionsExt as _;
    builder.permissions(std::fs::Permissions::from_mode(0o644));
}

#[cfg(not(unix))]
fn readable_by_all(_: &mut tempfile::Builder<'_, '_>) {}

/// Writes files into a folder, and makes the folder if it does not exist.
///
/// # Errors
/// [`ReportError::Write`] for the first file that fails. The files before it are complete.
pub fn write_files(dir: &Path, files: Vec<(String, Vec<u8>)>) -> Result<(), ReportError> {
    std::fs::create_dir_all(dir).map_err(|source| ReportError::write(dir, source))?;
    for (name, bytes) in files {
        write_file(&dir.join(name), &bytes)?;
    }
    Ok(())
}
