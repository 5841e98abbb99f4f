//! A sweep as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::{Map, Value};

use super::gathered::Gathered;
use super::head::Head;
use super::merge::Merged;
use crate::result::{Format, Version, as_json};

/// The table of a sweep.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct SweepResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// Digest of the request, as in the table.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    request_digest: String,
    /// Digest of the rig.
    #[cfg_attr(feature = "schema", schemars(with = "&str", regex(pattern = halfturn_engine::schema::DIGEST)))]
    rig_digest: Option<&'a str>,
    /// Seed of the random numbers.
    #[cfg_attr(feature = "schema", schemars(with = "u64"))]
    seed: Option<u64>,
    /// Runs of each rule in each cell.
    #[cfg_attr(feature = "schema", schemars(with = "u64", range(min = 1)))]
    trials: Option<u64>,
    /// Position angle of the target \[deg\]; `None` if it varies.
    target_deg: Option<f64>,
    /// The axes.
    #[cfg_attr(feature = "schema", schemars(length(min = 1, max = 2)))]
    vary: Vec<VariedKey<'a>>,
    /// The rules, in the order of the rows.
    #[cfg_attr(
        feature = "schema",
        schemars(with = "&[halfturn_engine::rig::Rule]", length(min = 1))
    )]
    rules: &'a [String],
    /// The shard, as I/N; `None` for all cells.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = "^[0-9]+/[0-9]+$")))]
    shard: Option<String>,
    /// Number of cells of the whole sweep.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    cells: u64,
    /// Number of cells in the table.
    cells_done: u64,
    /// Number of shards that were merged; only from `merge`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "u64", range(min = 1)))]
    shards: Option<u64>,
    /// The rows of the table.
    rows: Vec<SweepRow>,
}

/// One axis.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct VariedKey<'a> {
    /// Dotted path of the key, or target.
    key: &'a str,
    /// First value, in the unit of the key.
    #[cfg_attr(feature = "schema", schemars(with = "f64"))]
    from: Option<f64>,
    /// Last value, in the unit of the key.
    #[cfg_attr(feature = "schema", schemars(with = "f64"))]
    to: Option<f64>,
    /// Number of values, both ends included.
    #[cfg_attr(feature = "schema", schemars(with = "u64", range(min = 1)))]
    count: Option<u64>,
}

impl<'a> VariedKey<'a> {
    /// Splits `key=from:to:count`.
    fn read(text: &'a str) -> Self {
        let (key, range) = text.split_once('=').unwrap_or((text, ""));
        let mut parts = range.split(':');
        let mut number = || parts.next().and_then(|p| p.parse().ok());
        Self {
            key,
            from: number(),
            to: number(),
            count: parts.next().and_then(|p| p.parse().ok()),
        }
    }
}

/// A row of the table, by the names of its columns.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SweepRow(Map<String, Value>);

impl SweepRow {
    fn read(head: &Head, line: &str) -> Self {
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
        Self(
            fields
                .map(|(name, f)| (name.to_owned(), value(f)))
                .collect(),
        )
    }
}

/// Rows of a sweep, from their lines.
#[must_use]
pub fn sweep_rows(head: &Head, lines: &[impl AsRef<str>]) -> Vec<SweepRow> {
    let row = |line: &_| SweepRow::read(head, AsRef::as_ref(line));
    lines.iter().map(row).collect()
}

/// The result of `sweep` with `cells_done` finished cells.
#[must_use]
pub fn sweep_json(head: &Head, cells_done: u64, gathered: &Gathered) -> Value {
    as_json(&result(head, cells_done, gathered))
}

/// The result of `merge`.
#[must_use]
pub fn merge_json(merged: &Merged, gathered: &Gathered) -> Value {
    as_json(&SweepResult {
        shards: Some(merged.shards),
        ..result(&merged.head, merged.head.cells(), gathered)
    })
}

fn result<'a>(head: &'a Head, cells_done: u64, gathered: &'a Gathered) -> SweepResult<'a> {
    let number = |name: &str| head.asked(name).and_then(|v| v.parse().ok());
    SweepResult {
        format: Format,
        version: Version,
        request_digest: head.digest(),
        rig_digest: head.asked("rig"),
        seed: number("seed"),
        trials: number("trials"),
        target_deg: head.asked("target_deg").and_then(|t| t.parse().ok()),
        vary: head.asked_all("vary").map(VariedKey::read).collect(),
        rules: gathered.rules(),
        shard: head.shard().map(|s| s.to_string()),
        cells: head.cells(),
        cells_done,
        shards: None,
        rows: sweep_rows(head, gathered.rows()),
    }
}

#[cfg(feature = "schema")]
mod schemas {
    use std::borrow::Cow;

    use halfturn_engine::rig::Rule;
    use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
    use serde_json::{Map, Value, json};

    use super::SweepRow;
    use crate::sweep::line::figures;

    impl JsonSchema for SweepRow {
        fn schema_name() -> Cow<'static, str> {
            "SweepRow".into()
        }
        fn json_schema(generator: &mut SchemaGenerator) -> Schema {
            let mut kind = |name: &str| match name {
                "rule" => json!(generator.subschema_for::<Rule>()),
                "symmetry" => json!({ "enum": [1, 2, 4] }),
                "trials" => json!({ "type": "integer", "minimum": 0 }),
                _ if ["_rate", "_low", "_high"]
                    .iter()
                    .any(|end| name.ends_with(end)) =>
                {
                    json!({ "type": "number", "minimum": 0, "maximum": 1 })
                }
                _ => json!({ "type": ["number", "null"], "minimum": 0 }),
            };
            let mut columns: Map<String, Value> = figures()
                .map(|name| (name.to_owned(), kind(name)))
                .collect();
            columns.insert(
                "cell".to_owned(),
                json!({ "type": "integer", "minimum": 0 }),
            );
            columns.insert("target_deg".to_owned(), json!({ "type": "number" }));
            let names: Vec<&String> = columns.keys().collect();
            // The rows have one or two varied keys.
            json_schema!({
                "type": "object",
                "description": "A row of the table, by the names of its columns, and of the varied keys; null for an empty field.",
                "required": names,
                "properties": columns,
                "patternProperties": {
                    "^(target|format|[a-z_]+(\\.[a-z_0-9]+)+)$": { "type": "number" },
                },
                "additionalProperties": false,
                "minProperties": names.len() + 1,
                "maxProperties": names.len() + 2,
            })
        }
    }
}
