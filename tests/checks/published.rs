//! Reading the published check values in `fixtures/published/`.

use std::path::Path;

use serde_json::Value;

/// A fixture file of check values.
pub struct Published(Value);

impl Published {
    /// Reads `fixtures/published/NAME`.
    pub fn read(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/published").join(name);
        let text = std::fs::read_to_string(&path).unwrap();
        Self(serde_json::from_str(&text).unwrap())
    }

    /// The case of that name: an object with `input` and `expected`.
    pub fn case(&self, name: &str) -> &Value {
        let cases = self.0["cases"].as_array().unwrap();
        cases.iter().find(|case| case["name"] == name).unwrap()
    }
}

/// An array of numbers.
pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

/// An array of whole numbers.
pub fn indices(value: &Value) -> Vec<usize> {
    value.as_array().unwrap().iter().map(|v| v.as_u64().unwrap() as usize).collect()
}

/// Asserts that both have the same length and agree within `tolerance`; returns how many were compared.
pub fn compare(what: &str, found: &[f64], expected: &[f64], tolerance: f64) -> usize {
    assert_eq!(found.len(), expected.len(), "{what}");
    for (i, (a, b)) in found.iter().zip(expected).enumerate() {
        assert!((a - b).abs() <= tolerance, "{what}, value {i}: {a} instead of {b}");
    }
    found.len()
}
