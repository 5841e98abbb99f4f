//! Rig and targets files: text that the browser read or will save. Nothing here touches the disk.

use std::sync::Arc;

use axum::body::Bytes;
use axum::extract::State;
use axum::http::HeaderMap;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Answer, ApiError, Json, run_queued};
use crate::serve::wire::{
    WireTarget, check_target_deg, check_targets, read_rig, rig_json, targets_csv,
};
use crate::serve::{MOST_TARGETS, Shared};
use halfturn_engine::rig::{read, rewrite_keeping_comments};
use halfturn_engine::scenario::read_targets;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    /// Name of the file in messages.
    name: String,
    text: String,
}

/// `POST /api/rig/read`: text of a rig file -> rig.
pub(super) async fn read_rig_file(
    State(shared): State<Arc<Shared>>,
    headers: HeaderMap,
    bytes: Bytes,
) -> Answer {
    let answer = run_queued(&shared, &headers, bytes, |file: FileText, _| {
        let rig = read(&file.text, &file.name, &[])?;
        Ok(Json(
            json!({ "rig": rig_json(&rig), "digest": rig.digest() }),
        ))
    });
    answer.await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RigText {
    rig: Value,
    /// The text of the file that the rig came from. Its comments are kept.
    text: String,
}

/// `POST /api/rig/write`: rig -> text of its file, and the rig with all its keys.
pub(super) async fn write_rig_file(
    State(shared): State<Arc<Shared>>,
    headers: HeaderMap,
    bytes: Bytes,
) -> Answer {
    let answer = run_queued(&shared, &headers, bytes, |asked: RigText, _| {
        let rig = read_rig(&asked.rig)?;
        let text = rewrite_keeping_comments(&asked.text, &rig);
        Ok(Json(
            json!({ "text": text, "rig": rig_json(&rig), "digest": rig.digest() }),
        ))
    });
    answer.await
}

/// `POST /api/targets/read`: text of a targets file -> targets.
pub(super) async fn read_targets_file(
    State(shared): State<Arc<Shared>>,
    headers: HeaderMap,
    bytes: Bytes,
) -> Answer {
    let answer = run_queued(&shared, &headers, bytes, |file: FileText, _| {
        let targets = read_targets(&file.text, &file.name)?;
        check_shown(targets.len())?;
        let targets: Vec<WireTarget> = targets.iter().map(WireTarget::from).collect();
        Ok(Json(json!({ "targets": targets })))
    });
    answer.await
}

/// Checks that the page has room for this number of targets.
pub(super) fn check_shown(targets: usize) -> Result<(), ApiError> {
    if targets <= MOST_TARGETS {
        return Ok(());
    }
    Err(ApiError::too_much(format!(
        "the file has {targets} targets, but the page shows at most {MOST_TARGETS}. `halfturn advise` takes more"
    )))
}

/// The position angles of the targets \[deg\], if the page has room for them.
pub(super) fn shown_angles(targets: &[WireTarget]) -> Result<Vec<f64>, ApiError> {
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
pub(super) async fn write_targets_file(
    State(shared): State<Arc<Shared>>,
    headers: HeaderMap,
    bytes: Bytes,
) -> Answer {
    let answer = run_queued(&shared, &headers, bytes, |asked: Targets, _| {
        check_shown(asked.targets.len())?;
        check_targets(&asked.targets)?;
        Ok(Json(json!({ "text": targets_csv(&asked.targets) })))
    });
    answer.await
}
