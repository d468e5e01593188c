//! Two methods side by side. The gap between the scale- and the body-proportional lengths shows the smallest
//! uncertainty that comes of choosing a hypothesis (Francis 1990, J. Fish Biol. 36:883-902, cited from memory).

use std::collections::{HashMap, HashSet};

use super::LengthsResult;

/// Mean lengths at one age by both methods, over the fish that have both.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedAge {
    /// Age.
    pub age: usize,
    /// Fish with both lengths.
    pub n: usize,
    /// Mean by the first method, mm.
    pub first_mm: f64,
    /// Mean by the second, mm.
    pub second_mm: f64,
}

/// The largest difference of one fish at one annulus.
#[derive(Debug, Clone, PartialEq)]
pub struct LargestDifference {
    /// The fish's key.
    pub fish: String,
    /// Annulus from 1.
    pub annulus: usize,
    /// Length by the first method, mm.
    pub first_mm: f64,
    /// Length by the second, mm.
    pub second_mm: f64,
}

impl LargestDifference {
    /// First minus second, mm.
    pub fn difference_mm(&self) -> f64 {
        self.first_mm - self.second_mm
    }
}

/// Two results of one sample side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodComparison {
    /// Means at each age.
    pub by_age: Vec<ComparedAge>,
    /// Largest difference; `None` where no fish has lengths by both.
    pub largest: Option<LargestDifference>,
    /// Keys of fish only the first method could use.
    pub only_first: Vec<String>,
    /// Keys of fish only the second method could use.
    pub only_second: Vec<String>,
}

/// Compares two results fish by fish (matched by key), over fish that have lengths by both.
pub fn compare_methods(first: &LengthsResult, second: &LengthsResult) -> MethodComparison {
    let by_key: HashMap<&str, &[f64]> =
        second.fish.iter().map(|fish| (fish.key.as_str(), fish.lengths_mm.as_slice())).collect();
    let mut columns: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut largest: Option<LargestDifference> = None;
    for fish in &first.fish {
        let other = by_key.get(fish.key.as_str()).copied().unwrap_or_default();
        for (index, (a, b)) in fish.lengths_mm.iter().zip(other).enumerate() {
            if columns.len() == index {
                columns.push(Vec::new());
            }
            if let Some(column) = columns.get_mut(index) {
                column.push((*a, *b));
            }
            if largest.as_ref().is_none_or(|known| (a - b).abs() > known.difference_mm().abs()) {
                largest = Some(LargestDifference {
                    fish: fish.key.clone(),
                    annulus: index + 1,
                    first_mm: *a,
                    second_mm: *b,
                });
            }
        }
    }
    MethodComparison {
        by_age: columns
            .iter()
            .enumerate()
            .map(|(index, pairs)| compared(index + 1, pairs))
            .collect(),
        largest,
        only_first: only_in(first, second),
        only_second: only_in(second, first),
    }
}

fn compared(age: usize, pairs: &[(f64, f64)]) -> ComparedAge {
    let n = pairs.len() as f64;
    ComparedAge {
        age,
        n: pairs.len(),
        first_mm: pairs.iter().map(|pair| pair.0).sum::<f64>() / n,
        second_mm: pairs.iter().map(|pair| pair.1).sum::<f64>() / n,
    }
}

fn only_in(one: &LengthsResult, other: &LengthsResult) -> Vec<String> {
    let known: HashSet<&str> = other.fish.iter().map(|fish| fish.key.as_str()).collect();
    let missing = one.fish.iter().filter(|fish| !known.contains(fish.key.as_str()));
    missing.map(|fish| fish.key.clone()).collect()
}
