//! Numbers as JSON, digit for digit.

use serde_json::value::RawValue;

/// A decimal as it is written; `None` where it is no number that JSON has.
pub(crate) fn decimal(text: &str) -> Option<Box<RawValue>> {
    RawValue::from_string(text.to_owned()).ok()
}

/// A number as the shortest decimal that is that very number.
pub(crate) fn number(value: f64) -> Option<Box<RawValue>> {
    value.is_finite().then(|| decimal(&value.to_string())).flatten()
}
