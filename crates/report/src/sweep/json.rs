//! A sweep as JSON. `docs/files.md` explains every key.

use serde_json::{Map, Value, json};

use super::gathered::Gathered;
use super::head::Head;
use super::merge::Merged;
use crate::json::{FORMAT, VERSION};

/// The result of `sweep`, of which `cells_done` cells are done.
#[must_use]
pub fn sweep_json(head: &Head, cells_done: u64, gathered: &Gathered) -> Value {
    let number = |name: &str| head.asked(name).and_then(|v| v.parse::<u64>().ok());
    let vary: Vec<Value> = head.asked_all("vary").map(axis).collect();
    let rows = sweep_rows_json(head, gathered.rows());
    json!({
        "format": FORMAT,
        "version": VERSION,
        "request_digest": head.digest(),
        "rig_digest": head.asked("rig"),
        "seed": number("seed"),
        "trials": number("trials"),
        "target_deg": head.asked("target_deg").and_then(|t| t.parse::<f64>().ok()),
        "vary": vary,
        "rules": gathered.rules(),
        "shard": head.shard().map(|s| s.to_string()),
        "cells": head.cells(),
        "cells_done": cells_done,
        "rows": rows,
    })
}

/// Rows of a sweep, from their lines.
#[must_use]
pub fn sweep_rows_json(head: &Head, lines: &[impl AsRef<str>]) -> Vec<Value> {
    lines.iter().map(|line| row(head, line.as_ref())).collect()
}

/// The result of `merge`.
#[must_use]
pub fn merge_json(merged: &Merged, gathered: &Gathered) -> Value {
    let mut value = sweep_json(&merged.head, merged.head.cells(), gathered);
    value["shards"] = merged.shards.into();
    value
}

/// `key=from:to:count` in parts.
fn axis(text: &str) -> Value {
    let (key, range) = text.split_once('=').unwrap_or((text, ""));
    let parts: Vec<&str> = range.split(':').collect();
    let number = |i: usize| parts.get(i).and_then(|p| p.parse::<f64>().ok());
    let count = parts.get(2).and_then(|p| p.parse::<u64>().ok());
    json!({ "key": key, "from": number(0), "to": number(1), "count": count })
}

/// A line by the names of its columns.
fn row(head: &Head, line: &str) -> Value {
    let value = |field: &str| {
        if field.is_empty() {
            Value::Null
        } else if let Ok(whole) = field.parse::<u64>() {
            whole.into()
        } else if let Ok(number) = field.parse::<f64>() {
            number.into()
        } else {
            field.into()
        }
    };
    let fields = head.columns().zip(line.split(','));
    let object: Map<String, Value> = fields
        .map(|(name, f)| (name.to_owned(), value(f)))
        .collect();
    object.into()
}
