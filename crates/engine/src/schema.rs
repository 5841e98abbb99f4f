//! What a type alone cannot say in a JSON Schema: ranges, patterns and values of a rig file. `crates/checks` makes
//! docs/schemas with it.

use schemars::{JsonSchema, Schema};
use serde_json::Value;

/// SHA-256, in hexadecimal.
pub const DIGEST: &str = "^[0-9a-f]{64}$";

/// Sets the minimum 0 for every number of a struct.
pub fn not_negative(schema: &mut Schema) {
    bound(schema, &[("minimum", 0)]);
}

/// Sets the range 0 to 1 for every number of a struct.
pub fn shares(schema: &mut Schema) {
    bound(schema, &[("minimum", 0), ("maximum", 1)]);
}

/// Sets the range 0 to 1, without its ends, for every number of a struct.
pub fn shares_between(schema: &mut Schema) {
    bound(schema, &[("exclusiveMinimum", 0), ("exclusiveMaximum", 1)]);
}

/// Puts bounds on the numbers of a struct that have no bounds yet.
fn bound(schema: &mut Schema, bounds: &[(&str, i32)]) {
    let properties = schema.get_mut("properties").and_then(Value::as_object_mut);
    for property in properties.into_iter().flat_map(|p| p.values_mut()) {
        let number = match property.get("items") {
            Some(_) => &mut property["items"],
            None => property,
        };
        let kind = &number["type"];
        let is_number = kind == "number"
            || kind
                .as_array()
                .is_some_and(|kinds| kinds.contains(&"number".into()));
        let bounded = ["minimum", "maximum", "exclusiveMinimum"];
        if is_number && bounded.iter().all(|b| number.get(b).is_none()) {
            for (name, value) in bounds {
                number[*name] = (*value).into();
            }
        }
    }
}

/// A value of a rig file.
#[derive(JsonSchema)]
#[schemars(untagged)]
#[expect(dead_code, reason = "only its schema is used")]
pub(crate) enum KeyValue {
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
    /// Two numbers.
    Span([f64; 2]),
}
