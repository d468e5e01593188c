//! What a person should know about a whole result before using it.

use super::LengthsResult;
use super::method::{Intercept, Method};
use super::relation::{Relation, Shape};
use crate::analysis::numerics::p_words;

/// Fish needed for a usable intercept (common practice, no source).
pub const FEWEST_FISH: usize = 10;
/// Longest over shortest fish needed for a usable intercept (common practice, no source).
pub const LEAST_LENGTH_RATIO: f64 = 2.0;
const SIGNIFICANT: f64 = 0.05;

/// A remark on the sample or its relation; each reads as one clear sentence.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Warning {
    /// Few fish behind a fitted relation.
    #[error(
        "only {n} fish behind the fitted relation: at least {FEWEST_FISH} make a usable intercept"
    )]
    FewFish {
        /// Fish fitted.
        n: usize,
    },
    /// Lengths too much alike.
    #[error(
        "longest over shortest fish is {ratio:.2}: a usable intercept needs at least {LEAST_LENGTH_RATIO:.0}; \
         a published standard intercept is the customary remedy"
    )]
    NarrowLengths {
        /// Longest over shortest.
        ratio: f64,
    },
    /// An intercept below zero.
    #[error("negative intercept: {intercept_mm:.1} mm")]
    NegativeIntercept {
        /// Intercept.
        intercept_mm: f64,
    },
    /// A parabola fits better than the line.
    #[error(
        "the relation is curved (quadratic lack of fit, {}): try a power or quadratic form",
        p_words(*p)
    )]
    Curved {
        /// P value.
        p: f64,
    },
    /// Residual spread changes along the line.
    #[error(
        "residual spread changes along the relation (Breusch-Pagan, {}): look at the residuals",
        p_words(*p)
    )]
    UnevenSpread {
        /// P value.
        p: f64,
    },
    /// Lengths of zero or less.
    #[error("{n} back-calculated lengths are not above 0: the method does not suit this sample")]
    NotPositive {
        /// Lengths.
        n: usize,
    },
    /// Several species in one sample.
    #[error("the sample holds several species ({}): analyse one at a time", species.join(", "))]
    SeveralSpecies {
        /// Species as written.
        species: Vec<String>,
    },
    /// An intercept without a source.
    #[error(
        "the intercept of {intercept_mm} mm was entered without its source: name it before the lengths are reported"
    )]
    NoSource {
        /// Intercept.
        intercept_mm: f64,
    },
    /// Fish without a year class.
    #[error(
        "{n} fish have no year class (no capture date): they are missing from the table by year class"
    )]
    NoYearClass {
        /// Fish.
        n: usize,
    },
}

/// All remarks on a result; `species` are those of the sample, each once.
pub(super) fn warnings(result: &LengthsResult, species: Vec<String>) -> Vec<Warning> {
    let mut found = Vec::new();
    if species.len() > 1 {
        found.push(Warning::SeveralSpecies { species });
    }
    if let Some(relation) = &result.relation {
        found.extend(relation_warnings(relation));
    }
    if let (Method::FraserLee(_), Some(intercept_mm)) = (&result.method, result.intercept_mm)
        && intercept_mm < 0.0
    {
        found.push(Warning::NegativeIntercept { intercept_mm });
    }
    if let Method::FraserLee(Intercept::Given { length, source }) = &result.method
        && source.trim().is_empty()
    {
        found.push(Warning::NoSource { intercept_mm: length.value() });
    }
    let lengths = result.fish.iter().flat_map(|fish| &fish.lengths_mm);
    let n = lengths.filter(|length| **length <= 0.0).count();
    if n > 0 {
        found.push(Warning::NotPositive { n });
    }
    let n = result.fish.iter().filter(|fish| fish.year_class.is_none()).count();
    if n > 0 {
        found.push(Warning::NoYearClass { n });
    }
    found
}

fn relation_warnings(relation: &Relation) -> Vec<Warning> {
    let mut found = Vec::new();
    if relation.n < FEWEST_FISH {
        found.push(Warning::FewFish { n: relation.n });
    }
    let [shortest, longest] = relation.length_range_mm;
    let ratio = longest / shortest;
    if ratio < LEAST_LENGTH_RATIO {
        found.push(Warning::NarrowLengths { ratio });
    }
    let curved = relation.lack_of_fit.filter(|test| test.p < SIGNIFICANT);
    if let Some(test) = curved.filter(|_| relation.shape == Shape::Line) {
        found.push(Warning::Curved { p: test.p });
    }
    if let Some(test) = relation.breusch_pagan.filter(|test| test.p < SIGNIFICANT) {
        found.push(Warning::UnevenSpread { p: test.p });
    }
    found
}
