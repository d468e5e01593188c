//! Files of published check values, and comparisons that are counted.

use serde_json::Value;

/// The file of that name.
pub fn published(name: &str) -> Value {
    let path = format!("{}/fixtures/published/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// A case by its name.
pub fn case<'a>(file: &'a Value, name: &str) -> &'a Value {
    file["cases"].as_array().unwrap().iter().find(|case| case["name"] == name).unwrap()
}

/// Counts what it compares.
pub struct Compared {
    relative: f64,
    pub count: usize,
}

impl Compared {
    pub fn within(relative: f64) -> Self {
        Self { relative, count: 0 }
    }

    /// Two numbers, or `null` on both sides.
    pub fn number(&mut self, found: &Value, expected: &Value) {
        self.count += 1;
        let Some(wanted) = expected.as_f64() else {
            assert!(expected.is_null() && found.is_null(), "found {found}, expected {expected}");
            return;
        };
        let number = found.as_f64().unwrap_or_else(|| panic!("found {found}, expected {expected}"));
        let allowed = self.relative * if wanted == 0.0 { 1.0 } else { wanted.abs() };
        assert!((number - wanted).abs() <= allowed, "found {found}, expected {expected}");
    }
}
