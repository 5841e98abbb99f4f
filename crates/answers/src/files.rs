//! Files of rigs, targets and test vectors: text that the browser read or will save. Nothing here touches the disk.

use serde::Deserialize;
use serde_json::{Value, json};

use crate::wire::{WireTarget, check_target_deg, check_targets, read_rig, rig_json, targets_csv};
use crate::{Answer, MOST_TARGETS, Refusal, asked};
use halfturn_engine::judge::vectors;
use halfturn_engine::rig::{read, rewrite_keeping_comments};
use halfturn_engine::sample::Monitor;
use halfturn_engine::scenario::read_targets;
use halfturn_report::judge::vectors_csv;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    /// Name of the file in messages.
    name: String,
    text: String,
}

/// `POST /api/rig/read`: text of a rig file -> rig.
pub(crate) fn read_rig_file(body: &[u8], _: &dyn Monitor) -> Answer {
    let file: FileText = asked(body)?;
    let rig = read(&file.text, &file.name, &[])?;
    Ok(json!({ "rig": rig_json(&rig), "digest": rig.digest() }))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RigText {
    rig: Value,
    /// The text of the file that the rig came from. Its comments are kept.
    text: String,
}

/// `POST /api/rig/write`: rig -> text of its file, and the rig with all its keys.
pub(crate) fn write_rig_file(body: &[u8], _: &dyn Monitor) -> Answer {
    let asked: RigText = asked(body)?;
    let rig = read_rig(&asked.rig)?;
    let text = rewrite_keeping_comments(&asked.text, &rig);
    Ok(json!({ "text": text, "rig": rig_json(&rig), "digest": rig.digest() }))
}

/// `POST /api/targets/read`: text of a targets file -> targets.
pub(crate) fn read_targets_file(body: &[u8], _: &dyn Monitor) -> Answer {
    let file: FileText = asked(body)?;
    let targets = read_targets(&file.text, &file.name)?;
    check_shown(targets.len())?;
    let targets: Vec<WireTarget> = targets.iter().map(WireTarget::from).collect();
    Ok(json!({ "targets": targets }))
}

/// Checks that the page has room for this number of targets.
pub(crate) fn check_shown(targets: usize) -> Result<(), Refusal> {
    if targets <= MOST_TARGETS {
        return Ok(());
    }
    Err(Refusal::too_much(format!(
        "the file has {targets} targets, but the page shows at most {MOST_TARGETS}. `halfturn advise` takes more"
    )))
}

/// The position angles of the targets \[deg\], if the page has room for them.
pub(crate) fn shown_angles(targets: &[WireTarget]) -> Result<Vec<f64>, Refusal> {
    check_shown(targets.len())?;
    let angle = |t: &WireTarget| Ok(check_target_deg(t.position_angle_deg)?);
    targets.iter().map(angle).collect()
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Targets {
    targets: Vec<WireTarget>,
}

/// `POST /api/targets/write`: targets -> text of their file.
pub(crate) fn write_targets_file(body: &[u8], _: &dyn Monitor) -> Answer {
    let asked: Targets = asked(body)?;
    check_shown(asked.targets.len())?;
    check_targets(&asked.targets)?;
    Ok(json!({ "text": targets_csv(&asked.targets) }))
}

/// `POST /api/vectors`: text of the file of test vectors, as `halfturn vectors` writes it.
pub(crate) fn vectors_file(_: &[u8], _: &dyn Monitor) -> Answer {
    Ok(json!({ "text": vectors_csv(&vectors()) }))
}
