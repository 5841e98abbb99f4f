//! Where the sky commands write.

use std::path::Path;

use super::super::args::Common;
use super::super::fit::spare;
use super::super::outputs::{Outputs, spare_inputs};
use super::super::reply::{Failure, Said};
use super::super::streams::is_standard_output;
use halfturn_report::write_file;

pub(super) fn check_outputs(
    common: &Common,
    option: &str,
    path: Option<&Path>,
    force: bool,
    read: &[Option<&Path>],
) -> Result<(), Failure> {
    Outputs::default().check(common, read)?;
    let Some(path) = path else { return Ok(()) };
    spare_inputs(option, path, read)?;
    spare(path, force)
}

/// Writes a file and adds a note, or shows the text on standard output.
pub(super) fn write_or_show(path: &Path, file: String, said: &mut Said) -> Result<(), Failure> {
    if is_standard_output(path) {
        *said = Said::Raw(file);
    } else {
        write_file(path, file.as_bytes())?;
        said.wrote(path);
    }
    Ok(())
}
