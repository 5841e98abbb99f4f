//! Types and tables -> the schemas of docs/schemas.

use schemars::generate::SchemaSettings;
use schemars::transform::{Transform, transform_subschemas};
use schemars::{JsonSchema, Schema};
use serde_json::Value;

use crate::advice_json::AdviceResult;
use crate::any_target_json::AnyTargetResult;
use crate::batch_json::BatchResult;
use crate::check_json::CheckResult;
use crate::fit::{FitPlanResult, FitResult};
use crate::judge::{JudgeResult, ScenariosFile, VectorsResult};
use crate::sky::{FieldResult, FitsResult, NightResult, PanelsResult};
use crate::sweep::SweepResult;
use crate::trace_json::TraceResult;
use halfturn_engine::advise::Certificate;
use halfturn_engine::judge::protocol::Line;
use halfturn_engine::rig::rig_schema;

/// Every generated schema, with its name.
#[must_use]
pub fn made_schemas() -> Vec<(&'static str, Value)> {
    vec![
        ("rig", rig_schema()),
        written::<VectorsResult<'_>>(
            "vectors",
            "Test vectors of the wrap rules of a camera rotator",
        ),
        read::<Certificate>(
            "certificate",
            "Certificate of an advice (advice.toml, seen as JSON)",
        ),
        read::<ScenariosFile>("scenarios", "File of scenarios of judge"),
        written::<AdviceResult<'_>>("advise", "Result of advise (summary.json, --json)"),
        written::<AnyTargetResult<'_>>(
            "advise-any-target",
            "Result of advise for any target (any-target.json, --json)",
        ),
        written::<CheckResult<'_>>("advise-check", "Result of advise --check --json"),
        written::<BatchResult<'_>>("batch", "Result of batch --json"),
        written::<TraceResult<'_>>("trace", "Result of trace --json"),
        written::<SweepResult<'_>>("sweep", "Result of sweep --json and merge --json"),
        written::<JudgeResult<'_>>("judge", "Result of judge --json"),
        open::<Line>("judge-event", "A line that judge writes to a controller"),
        written::<FitResult<'_>>("fit", "Result of fit --json"),
        written::<FitPlanResult<'_>>("fit-plan", "Result of fit --plan --json"),
        written::<PanelsResult<'_>>("sky-panels", "Result of sky panels --json"),
        written::<FitsResult<'_>>("sky-fits", "Result of sky fits --json"),
        written::<NightResult<'_>>("sky-night", "Result of sky night --json"),
        written::<FieldResult<'_>>("sky-field-rotation", "Result of sky field-rotation --json"),
    ]
}

type Made = (&'static str, Value);

/// A schema of something that the program writes: no other keys.
fn written<T: JsonSchema>(name: &'static str, title: &str) -> Made {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    made::<T>(settings, Tidy { strict: true }, name, title)
}

/// A schema of something that the program reads: no other keys, but some are optional.
fn read<T: JsonSchema>(name: &'static str, title: &str) -> Made {
    let settings = SchemaSettings::draft2020_12();
    made::<T>(settings, Tidy { strict: true }, name, title)
}

/// A schema of something that may get more keys in later versions.
fn open<T: JsonSchema>(name: &'static str, title: &str) -> Made {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    made::<T>(settings, Tidy { strict: false }, name, title)
}

fn made<T: JsonSchema>(
    settings: SchemaSettings,
    tidy: Tidy,
    name: &'static str,
    title: &str,
) -> Made {
    let settings = settings.with_transform(tidy);
    let mut schema = settings.into_generator().into_root_schema_for::<T>();
    schema.insert("$id".to_owned(), format!("{name}.schema.json").into());
    schema.insert("title".to_owned(), title.into());
    (name, schema.into())
}

/// Turns comments into descriptions and Rust's integer types into ranges.
#[derive(Debug, Clone, Copy)]
struct Tidy {
    /// Whether other keys are forbidden.
    strict: bool,
}

impl Transform for Tidy {
    fn transform(&mut self, schema: &mut Schema) {
        // The schema of the rig comes from the table of keys.
        if schema.get("$id").is_some() {
            return;
        }
        if let Some(Value::String(text)) = schema.get_mut("description") {
            *text = plain(text);
        }
        let most = match schema.remove("format").as_ref().and_then(Value::as_str) {
            Some("uint32") => Some(u64::from(u32::MAX)),
            Some("uint64") => Some(u64::MAX),
            _ => None,
        };
        if let Some(most) = most.filter(|_| schema.get("maximum").is_none()) {
            schema.insert("maximum".to_owned(), most.into());
        }
        // Anything beside a reference only narrows it.
        if schema.get("$ref").is_some() {
            return;
        }
        if self.strict && schema.get("properties").is_some() {
            schema.insert("additionalProperties".to_owned(), false.into());
        }
        transform_subschemas(self, schema);
    }
}

/// The first paragraph of a comment as plain text.
fn plain(comment: &str) -> String {
    let first = comment.split("\n\n").next().unwrap_or_default();
    let marks = [
        ("\n", " "),
        ("\\[", "["),
        ("\\]", "]"),
        ("[`", ""),
        ("`]", ""),
        ("`None`", "null"),
        ("`", ""),
    ];
    let text = marks
        .iter()
        .fold(first.to_owned(), |text, (from, to)| text.replace(from, to));
    text.trim_end_matches('.').to_owned()
}
