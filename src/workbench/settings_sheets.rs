//! How headings of field sheets were matched before, so that the next survey with the same headings need not be matched.

use std::collections::HashMap;

use serde_json::{Map, Value, json};

/// Sets of headings remembered; the oldest go first.
const MAX_SHEETS: usize = 50;

/// Matchings by the set of headings they are for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SheetMemory {
    /// Headings in their order, and the meaning of those that have one.
    sheets: Vec<(Vec<String>, HashMap<String, String>)>,
}

impl SheetMemory {
    /// The matching of a sheet with exactly these headings.
    pub fn of(&self, headings: &[String]) -> Option<&HashMap<String, String>> {
        self.sheets.iter().find(|(known, _)| known == headings).map(|(_, matching)| matching)
    }

    /// Remembers a matching.
    pub fn remember(&mut self, headings: &[String], matching: HashMap<String, String>) {
        self.sheets.retain(|(known, _)| known != headings);
        self.sheets.push((headings.to_vec(), matching));
        let surplus = self.sheets.len().saturating_sub(MAX_SHEETS);
        self.sheets.drain(..surplus);
    }

    /// What a settings file holds; what is not understood is passed over.
    pub fn from_json(value: &Value) -> Self {
        let words = |value: &Value| -> Option<Vec<String>> {
            value.as_array()?.iter().map(|one| Some(one.as_str()?.to_owned())).collect()
        };
        let matching = |value: &Value| -> Option<HashMap<String, String>> {
            let pairs = value.as_object()?.iter();
            pairs.map(|(heading, one)| Some((heading.clone(), one.as_str()?.to_owned()))).collect()
        };
        let sheets = value.as_array().into_iter().flatten().filter_map(|one| {
            Some((words(one.get("headings")?)?, matching(one.get("meanings")?)?))
        });
        Self { sheets: sheets.take(MAX_SHEETS).collect() }
    }

    /// The same for the settings file, in the order of the headings.
    pub fn to_json(&self) -> Value {
        let of = |(headings, matching): &(Vec<String>, HashMap<String, String>)| {
            let meanings: Map<String, Value> = headings
                .iter()
                .filter_map(|heading| Some((heading.clone(), json!(matching.get(heading)?))))
                .collect();
            json!({"headings": headings, "meanings": meanings})
        };
        Value::Array(self.sheets.iter().map(of).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_matching_comes_back_for_the_same_headings_alone() {
        let headings = ["Env", "Len"].map(str::to_owned).to_vec();
        let matching = HashMap::from([("Env".to_owned(), "fish".to_owned())]);
        let mut memory = SheetMemory::default();
        memory.remember(&headings, HashMap::new());
        memory.remember(&headings, matching.clone());
        let back = SheetMemory::from_json(&memory.to_json());
        assert_eq!(back, memory);
        assert_eq!(back.of(&headings), Some(&matching));
        assert_eq!(back.of(&headings[..1]), None);
        assert_eq!(SheetMemory::from_json(&json!([{"headings": 3}, "x"])), SheetMemory::default());
        for n in 0..60 {
            memory.remember(&[n.to_string()], HashMap::new());
        }
        assert_eq!(memory.sheets.len(), MAX_SHEETS);
    }
}
