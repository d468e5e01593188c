//! The condition of a whole sample: relative weight by length category, Fulton's factor, size structure.

use super::condition::{
    CategoryCondition, ConditionError, LengthCategories, SizeStructure, StandardWeight, fulton_k,
    relative_weight_by_category, size_structure,
};

/// Condition of one sample.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionSummary {
    /// Fish with a length and a weight.
    pub n_weighed: usize,
    /// The standard used; `None` where none was entered, and then there is no relative weight.
    pub standard: Option<StandardWeight>,
    /// Fish too short for the standard.
    pub n_below_minimum: usize,
    /// Fish with a relative weight.
    pub n_relative: usize,
    /// Mean relative weight of all of them; `None` without any.
    pub mean_relative_weight: Option<f64>,
    /// The same by length category; empty without categories.
    pub by_category: Vec<CategoryCondition>,
    /// Mean Fulton factor; `None` without weighed fish. Comparable only at like lengths.
    pub mean_fulton_k: Option<f64>,
    /// Size structure of all measured fish; `None` without categories.
    pub size_structure: Option<SizeStructure>,
    /// Where the categories come from.
    pub categories_source: Option<String>,
}

/// Summarises (length mm, weight g) of one species; a fish without weight counts in the size structure only.
///
/// # Errors
/// [`ConditionError`]: a value not above 0, or categories that do not rise.
pub fn summarise_condition(
    fish: &[(f64, Option<f64>)],
    standard: Option<&StandardWeight>,
    categories: Option<&LengthCategories>,
) -> Result<ConditionSummary, ConditionError> {
    let weighed: Vec<(f64, f64)> =
        fish.iter().filter_map(|(length, weight)| weight.map(|weight| (*length, weight))).collect();
    let mut fulton = Vec::with_capacity(weighed.len());
    let (mut relative, mut n_below_minimum) = (Vec::new(), 0);
    for (length, weight) in &weighed {
        fulton.push(fulton_k(*length, *weight)?);
        if let Some(standard) = standard {
            match standard.relative_weight(*length, *weight)? {
                Some(value) => relative.push((*length, value)),
                None => n_below_minimum += 1,
            }
        }
    }
    let lengths: Vec<f64> = fish.iter().map(|(length, _)| *length).collect();
    Ok(ConditionSummary {
        n_weighed: weighed.len(),
        standard: standard.cloned(),
        n_below_minimum,
        n_relative: relative.len(),
        mean_relative_weight: mean(relative.iter().map(|(_, value)| *value)),
        by_category: categories
            .map(|categories| relative_weight_by_category(&relative, categories))
            .unwrap_or_default(),
        mean_fulton_k: mean(fulton.into_iter()),
        size_structure: categories.map(|c| size_structure(&lengths, c)).transpose()?,
        categories_source: categories.map(|categories| categories.source.clone()),
    })
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0usize), |(sum, n), value| (sum + value, n + 1));
    (n > 0).then(|| sum / n as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_and_unweighed_fish_are_counted_apart() {
        let standard = StandardWeight {
            species: "walleye".to_owned(),
            intercept: -5.0,
            slope: 3.0,
            minimum_mm: 150.0,
            source: "test".to_owned(),
        };
        let fish = [(200.0, Some(80.0)), (100.0, Some(9.0)), (300.0, None)];
        let found = summarise_condition(&fish, Some(&standard), None).unwrap();
        assert_eq!((found.n_weighed, found.n_below_minimum, found.n_relative), (2, 1, 1));
        // Ws at 200 mm is 10^(-5 + 3 log10 200) = 80 g.
        assert!((found.mean_relative_weight.unwrap() - 100.0).abs() < 1e-9);
        assert!((found.mean_fulton_k.unwrap() - 0.95).abs() < 1e-12);
        assert!(found.size_structure.is_none());
    }
}
