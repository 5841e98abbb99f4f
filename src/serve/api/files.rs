//! Rig and targets files: text that the browser read, and text that it will save. Nothing touches the disk here.

use axum::body::Bytes;
use axum::http::HeaderMap;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Answer, Json, body};
use crate::rig::{merged, read};
use crate::scenario::read_targets;
use crate::serve::wire::{WireTarget, check_targets, read_rig, rig_json, targets_csv};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    /// Name of the file, for messages.
    name: String,
    text: String,
}

/// `POST /api/rig/read`: the rig of a file.
pub(super) async fn read_rig_file(headers: HeaderMap, bytes: Bytes) -> Answer {
    let file: FileText = body(&headers, &bytes)?;
    let rig = read(&file.text, &file.name, &[])?;
    Ok(Json(
        json!({ "rig": rig_json(&rig), "digest": rig.digest() }),
    ))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RigText {
    rig: Value,
    /// The file that it came from, whose comments are kept.
    text: String,
}

/// `POST /api/rig/write`: the file of a rig.
pub(super) async fn write_rig_file(headers: HeaderMap, bytes: Bytes) -> Answer {
    let asked: RigText = body(&headers, &bytes)?;
    let rig = read_rig(&asked.rig)?;
    let text = merged(&asked.text, &rig);
    Ok(Json(json!({ "text": text, "digest": rig.digest() })))
}

/// `POST /api/targets/read`: the targets of a file.
pub(super) async fn read_targets_file(headers: HeaderMap, bytes: Bytes) -> Answer {
    let file: FileText = body(&headers, &bytes)?;
    let targets: Vec<WireTarget> = read_targets(&file.text, &file.name)?
        .iter()
        .map(WireTarget::from)
        .collect();
    Ok(Json(json!({ "targets": targets })))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Targets {
    targets: Vec<WireTarget>,
}

/// `POST /api/targets/write`: the file of targets.
pub(super) async fn write_targets_file(headers: HeaderMap, bytes: Bytes) -> Answer {
    let asked: Targets = body(&headers, &bytes)?;
    check_targets(&asked.targets)?;
    Ok(Json(json!({ "text": targets_csv(&asked.targets) })))
}
