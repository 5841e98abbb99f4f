//! Checks of the output paths, before any work.

use std::path::{Path, PathBuf};

use super::args::Common;
use super::reply::Failure;
use super::streams::is_standard_output;
use halfturn_report::{probe_file, probe_folder};

/// Where a command will write.
#[derive(Default)]
pub(super) struct Outputs<'a> {
    /// The table of a sweep. Its writer has its own rules for an existing file.
    pub(super) table: Option<&'a Path>,
    /// The folder for files with these names, and the option that gave it.
    pub(super) folder: Option<(&'static str, &'a Path, &'a [&'a str])>,
    /// A picture.
    pub(super) plot: Option<&'a Path>,
    /// JUnit XML.
    pub(super) junit: Option<&'a Path>,
}

impl Outputs<'_> {
    /// Refuses paths that cannot be written, and paths that would overwrite an input of the same command.
    pub(super) fn check(&self, common: &Common, inputs: &[Option<&Path>]) -> Result<(), Failure> {
        let inputs = Inputs::of(inputs);
        if let Some(path) = self.table {
            inputs.spare("the table", path)?;
        }
        if let Some((option, dir, names)) = self.folder {
            for name in names {
                inputs.spare(option, &dir.join(name))?;
            }
            probe_folder(dir, names)?;
        }
        let json = common.json.as_deref().filter(|p| !is_standard_output(p));
        let files = [
            ("--json", json),
            ("--plot", self.plot),
            ("--junit", self.junit),
        ];
        for (option, path) in files {
            let Some(path) = path else { continue };
            inputs.spare(option, path)?;
            // The folder of the report is made before the JSON is written.
            let made = self
                .folder
                .is_some_and(|(_, dir, _)| path.parent() == Some(dir) && !dir.exists());
            if !made {
                probe_file(path)?;
            }
        }
        Ok(())
    }
}

/// Refuses an output that is an input of the same command.
pub(super) fn spare_inputs(
    option: &str,
    path: &Path,
    inputs: &[Option<&Path>],
) -> Result<(), Failure> {
    Inputs::of(inputs).spare(option, path)
}

/// The inputs of a command, by the paths that the file system uses.
struct Inputs(Vec<PathBuf>);

impl Inputs {
    fn of(paths: &[Option<&Path>]) -> Self {
        let known = paths.iter().flatten().filter(|p| p.is_file());
        Self(known.filter_map(|p| p.canonicalize().ok()).collect())
    }

    /// Refuses an output that is one of the inputs.
    fn spare(&self, option: &str, path: &Path) -> Result<(), Failure> {
        match path.canonicalize() {
            Ok(known) if self.0.contains(&known) => Err(Failure::Argument(format!(
                "{}: is an input of this command, and {option} would overwrite it. Name another file",
                path.display()
            ))),
            _ => Ok(()), // what is not there is overwritten by nobody
        }
    }
}
