//! What the page begins with: a server's, or the one inside a report.

use std::path::Path;

use super::args::Common;
use super::inputs::Named;
use super::reply::Failure;
use halfturn_answers::{MOST_SEED, MOST_TARGETS, PageStart, start};
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::Target;

/// The page with its engine, as one file.
const ONE_FILE: &str = include_str!("../../reports/halfturn.html");

/// The first thing in it that begins nothing by itself.
const WORKER: &str = "<script type=\"text/plain\" id=\"worker\">";

/// The start of the page with this rig and list, given by these files, if the page has room for them.
pub(super) fn page_start(
    common: &Common,
    (rig, rig_text, rig_file): (Rig, String, Option<&Path>),
    (targets, targets_file): (Named<Vec<Target>>, Option<&Path>),
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
        targets_file: file_name(targets_file),
        rig,
        targets: targets.value,
        seed: common.seed(),
    })
}

/// The one file, so that it begins with what is given. `door.js` of the one file reads it.
pub(super) fn one_file(given: &PageStart) -> String {
    // No text can end the block.
    let json = start(given).to_string().replace('<', "\\u003c");
    let block = format!("<script type=\"application/json\" id=\"given\">{json}</script>\n{WORKER}");
    ONE_FILE.replacen(WORKER, &block, 1)
}

/// The last part of a path, under which a page shows and saves a file.
fn file_name(path: Option<&Path>) -> Option<String> {
    Some(path?.file_name()?.to_string_lossy().into_owned())
}
