//! Writing files whole or not at all.

use std::io::Write as _;
use std::path::Path;

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
        source: std::io::Error,
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

/// Writes a file by way of a temporary one beside it.
///
/// # Errors
/// [`ReportError::Write`]; what stood at `path` before is then still there.
pub fn write_file(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    let failed = |source| ReportError::Write {
        file: path.display().to_string(),
        source,
    };
    let mut file = temporary_beside(path).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.persist(path).map_err(|e| failed(e.error))?;
    Ok(())
}

/// A temporary file in the folder of `path`, to be put in its place when it is written whole.
pub(super) fn temporary_beside(path: &Path) -> std::io::Result<NamedTempFile> {
    let dir = match path.parent() {
        Some(dir) if !dir.as_os_str().is_empty() => dir,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".halfturn-");
    readable_by_all(&mut builder);
    builder.tempfile_in(dir)
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
    std::fs::create_dir_all(dir).map_err(|source| ReportError::Write {
        file: dir.display().to_string(),
        source,
    })?;
    for (name, bytes) in files {
        write_file(&dir.join(name), &bytes)?;
    }
    Ok(())
}
