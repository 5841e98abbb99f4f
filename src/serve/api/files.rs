//! Rig and targets files: text that the browser read, and text that it will save. Nothing touches the disk here.

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
    /// Name of the file, for messages.
    name: String,
    text: String,
}

/// `POST /api/rig/read`: the rig of a file.
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
    /// The file that it came from, whose comments are kept.
    text: String,
}

/// `POST /api/rig/write`: the file of a rig, and the rig with all its keys.
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

/// `POST /api/targets/read`: the targets of a file.
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

/// So many targets have room on the page.
pub(super) fn check_shown(targets: usize) -> Result<(), ApiError> {
    if targets <= MOST_TARGETS {
        return Ok(());
    }
    Err(ApiError::too_much(format!(
        "there are {targets} targets; the page shows at most {MOST_TARGETS}: `halfturn advise` takes more"
    )))
}

/// The position angles of targets that the page may show \[deg\].
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

/// `POST /api/targets/write`: the file of targets.
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
