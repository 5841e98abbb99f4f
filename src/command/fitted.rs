//! `halfturn advise --uncertain`: the rig from a log, in place of the rig file.

use std::path::{Path, PathBuf};

use super::args::{AdviseArgs, Common};
use super::inputs;
use super::reply::Failure;
use halfturn_engine::fit::{Fit, fit};
use halfturn_engine::rig::{Rig, read};
use halfturn_report::{FITTED_RIG_FILE, fitted_rig};

/// The rig to advise on.
pub(super) struct Subject {
    pub(super) rig: Rig,
    /// The name of its file.
    pub(super) name: String,
    /// The file; `None` for a built-in rig.
    pub(super) file: Option<PathBuf>,
    pub(super) text: String,
    /// The fit behind the rig, and the name of the log; `None` for a rig file.
    pub(super) fitted: Option<(Fit, String)>,
}

/// The rig that the user gave, or the one that a log makes of it.
pub(super) fn subject(args: &AdviseArgs, common: &Common) -> Result<Subject, Failure> {
    let (given, text) = inputs::rig_and_text(args.rig.as_deref(), &common.set)?;
    let Some(path) = &args.uncertain else {
        return Ok(Subject {
            rig: given.value,
            name: given.name,
            file: args.rig.clone(),
            text,
            fitted: None,
        });
    };
    let log = inputs::log(path)?;
    let found = fit(&log.value, given.value.settings())
        .map_err(|e| Failure::Argument(format!("{}: {e}", log.name)))?;
    let made = Rig::new(found.apply(given.value.settings()))
        .map_err(|e| Failure::Argument(format!("the log gives no valid rig: {e}")))?;
    // The advice is for the rig as its file has it, to the last digit, because the report keeps that file.
    let text = fitted_rig(&made, &found, &log.name);
    let file = args.out.join(FITTED_RIG_FILE);
    let name = file.display().to_string();
    Ok(Subject {
        rig: read(&text, &name, &[])?,
        name,
        file: Some(file),
        text,
        fitted: Some((found, log.name)),
    })
}

/// Warnings about a log as the source of a rig.
pub(super) fn warnings(subject: &Subject, rig: Option<&Path>) -> Vec<String> {
    let Some((fit, log)) = &subject.fitted else {
        return Vec::new();
    };
    let mut found: Vec<String> = Vec::new();
    for d in &fit.diagnoses {
        let row = d.row.map_or_else(String::new, |r| format!(" row {r}:"));
        let warning = format!("{log}:{row} {}", d.evidence);
        if !found.contains(&warning) {
            found.push(warning);
        }
    }
    if rig.is_none() {
        found.push(
            "no rig file given: what the log does not show comes from the demo rig".to_owned(),
        );
    }
    found
}
