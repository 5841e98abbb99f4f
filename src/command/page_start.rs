//! What the page begins with: a server's, or the one inside a report.

use std::path::{Path, PathBuf};

use super::args::Common;
use super::inputs::Named;
use super::reply::Failure;
use halfturn_answers::{MOST_SEED, MOST_TARGETS, PageStart};
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::Target;

/// The page with its engine, as one file.
pub(crate) const ONE_FILE: &str = include_str!("../../reports/halfturn.html");

/// The start of the page with this rig and list, given by these files, if the page has room for them.
pub(super) fn page_start(
    common: &Common,
    (rig, rig_text, rig_file): (Rig, String, Option<&Path>),
    (targets, targets_files): (Named<Vec<Target>>, &[PathBuf]),
) -> Result<PageStart, Failure> {
    if targets.value.len() > MOST_TARGETS {
        return Err(Failure::Argument(format!(
            "{}: has {} targets, but the page shows at most {MOST_TARGETS}. advise without --with-engine takes more",
            targets.name,
            targets.value.len()
        )));
    }
    if common.seed() > MOST_SEED {
        return Err(Failure::Argument(format!(
            "--seed {}: must be at most {MOST_SEED} here, because browsers round larger numbers",
            common.seed()
        )));
    }
    Ok(PageStart {
        rig_text,
        rig_file: file_name(rig_file),
        targets_file: match targets_files {
            [] => None,
            [one] => file_name(Some(one)),
            _ => Some("targets.csv".to_owned()),
        },
        rig,
        targets: targets.value,
        seed: common.seed(),
    })
}

/// The last part of a path, under which a page shows and saves a file.
fn file_name(path: Option<&Path>) -> Option<String> {
    Some(path?.file_name()?.to_string_lossy().into_owned())
}
