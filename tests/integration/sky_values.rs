//! Values of JSON and angles, as the tests of the sky share them.

use serde_json::Value;

pub(crate) fn number(value: &Value, key: &str) -> f64 {
    let found = value[key].as_f64();
    found.unwrap_or_else(|| panic!("{key} in {value}"))
}

pub(crate) fn list(value: &Value) -> &[Value] {
    value.as_array().expect("a list")
}

/// How far two angles are apart \[deg\].
pub(crate) fn apart_deg(a: f64, b: f64) -> f64 {
    apart_modulo_deg(a, b, 360.0)
}

/// The same where a period is nothing \[deg\].
pub(crate) fn apart_modulo_deg(a: f64, b: f64, period: f64) -> f64 {
    halfturn_engine::angle::residual(a - b, period)
        .expect("finite")
        .abs()
}
