//! Files of check values, and counting comparisons.

use std::path::Path;

use serde_json::Value;

/// One file of check values.
pub struct Published {
    file: Value,
}

impl Published {
    /// Opens `fixtures/published/NAME.json` and insists on a source.
    pub fn open(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fixtures/published")
            .join(format!("{name}.json"));
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path:?}: {e}"));
        let file: Value = serde_json::from_str(&text).unwrap();
        assert!(!file["source"].as_str().unwrap_or_default().is_empty(), "{name} names no source");
        Self { file }
    }

    /// All cases.
    pub fn cases(&self) -> &[Value] {
        self.file["cases"].as_array().unwrap()
    }

    /// The case of that name.
    pub fn case(&self, name: &str) -> &Value {
        self.cases()
            .iter()
            .find(|case| case["name"] == name)
            .unwrap_or_else(|| panic!("no case {name}"))
    }

    /// Its relative tolerance, or that of the whole file.
    pub fn relative(&self, case: &Value) -> f64 {
        case["tolerance"]["relative"]
            .as_f64()
            .or_else(|| self.file["tolerance"]["relative"].as_f64())
            .unwrap()
    }
}

/// Compares numbers and counts them, so that a test can insist on how many it compared.
pub struct Comparison {
    relative: f64,
    pub compared: usize,
}

impl Comparison {
    pub fn within(relative: f64) -> Self {
        Self { relative, compared: 0 }
    }

    /// Relative to the expected value; absolute where that is 0.
    pub fn number(&mut self, what: &str, found: f64, expected: &Value) {
        let expected = expected.as_f64().unwrap_or_else(|| panic!("{what}: no expected number"));
        let allowed = self.relative * if expected == 0.0 { 1.0 } else { expected.abs() };
        assert!(
            (found - expected).abs() <= allowed,
            "{what}: found {found}, expected {expected}, allowed {allowed:e}"
        );
        self.compared += 1;
    }

    pub fn numbers(&mut self, what: &str, found: &[f64], expected: &Value) {
        let expected = expected.as_array().unwrap_or_else(|| panic!("{what}: no expected list"));
        assert_eq!(found.len(), expected.len(), "{what}: number of values");
        for (index, (found, expected)) in found.iter().zip(expected).enumerate() {
            self.number(&format!("{what}[{index}]"), *found, expected);
        }
    }

    pub fn count(&mut self, what: &str, found: usize, expected: &Value) {
        assert_eq!(Some(found as u64), expected.as_u64(), "{what}");
        self.compared += 1;
    }
}

/// A list of numbers.
pub fn floats(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

/// A list of whole numbers.
pub fn indices(value: &Value) -> Vec<usize> {
    value.as_array().unwrap().iter().map(|number| number.as_u64().unwrap() as usize).collect()
}

/// Asserts that both have the same length and agree within an absolute tolerance; returns how many were compared.
pub fn compare(what: &str, found: &[f64], expected: &[f64], tolerance: f64) -> usize {
    assert_eq!(found.len(), expected.len(), "{what}");
    for (index, (found, expected)) in found.iter().zip(expected).enumerate() {
        assert!(
            (found - expected).abs() <= tolerance,
            "{what}[{index}]: found {found}, expected {expected}"
        );
    }
    found.len()
}
