//! The parts that the JSON of every command has.

use serde::{Serialize, Serializer};
use serde_json::Value;

/// Version of the program.
const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Version of a format.
pub(crate) struct Format<const N: u32>;

impl<const N: u32> Serialize for Format<N> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u32(N)
    }
}

/// Version of the program.
pub(crate) struct Version;

impl Serialize for Version {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(VERSION)
    }
}

/// A result as JSON, with its keys in alphabetical order.
pub(crate) fn as_json(result: &impl Serialize) -> Value {
    serde_json::to_value(result).expect("an object of numbers and texts")
}

/// `None` for infinity and NaN, which JSON does not have.
pub(crate) fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}

#[cfg(feature = "schema")]
mod schemas {
    use std::borrow::Cow;

    use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

    use super::{Format, Version};

    impl<const N: u32> JsonSchema for Format<N> {
        fn schema_name() -> Cow<'static, str> {
            "Format".into()
        }
        fn inline_schema() -> bool {
            true
        }
        fn json_schema(_: &mut SchemaGenerator) -> Schema {
            json_schema!({ "const": N })
        }
    }

    impl JsonSchema for Version {
        fn schema_name() -> Cow<'static, str> {
            "Version".into()
        }
        fn inline_schema() -> bool {
            true
        }
        fn json_schema(_: &mut SchemaGenerator) -> Schema {
            json_schema!({ "type": "string", "pattern": "^[0-9]+\\.[0-9]+\\.[0-9]+" })
        }
    }
}
