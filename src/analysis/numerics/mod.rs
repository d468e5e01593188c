//! Least squares and the tests that go with it, on plain numbers. Each value carries its unit in the caller's name.

pub mod bootstrap;
pub mod diagnostics;
pub mod distribution;
pub mod geometric_mean;
pub mod holm;
pub mod least_squares;
pub mod multiple;
pub mod normal;
pub mod quadratic;
pub mod quantiles;
pub mod regression;
pub mod shapiro_wilk;
pub mod splitmix;
pub mod symmetric;

/// Why numbers could not be fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NumericsError {
    /// Fewer pairs than the fit needs.
    #[error("{needed} pairs are needed for this fit, found {found}")]
    TooFew {
        /// Pairs needed.
        needed: usize,
        /// Pairs given.
        found: usize,
    },
    /// More values than the method is meant for.
    #[error("at most {most} values can be tested, found {found}")]
    TooMany {
        /// Most values.
        most: usize,
        /// Values given.
        found: usize,
    },
    /// Columns of different length.
    #[error("columns of unequal length: {x} and {y} values")]
    Unequal {
        /// Values in the first column.
        x: usize,
        /// Values in the other.
        y: usize,
    },
    /// A value that is not a finite number.
    #[error("value {index} is not a finite number")]
    NotFinite {
        /// Position from 1.
        index: usize,
    },
    /// All x are alike, or one column repeats another.
    #[error("the values do not spread enough to fit a line: measure fish of more different sizes")]
    NoSpread,
}

/// Checks two columns: equal length, at least `needed` pairs, all finite.
pub(crate) fn checked_pairs(x: &[f64], y: &[f64], needed: usize) -> Result<(), NumericsError> {
    if x.len() != y.len() {
        return Err(NumericsError::Unequal { x: x.len(), y: y.len() });
    }
    if x.len() < needed {
        return Err(NumericsError::TooFew { needed, found: x.len() });
    }
    match x.iter().zip(y).position(|(x, y)| !x.is_finite() || !y.is_finite()) {
        Some(index) => Err(NumericsError::NotFinite { index: index + 1 }),
        None => Ok(()),
    }
}

/// Arithmetic mean; `None` without values.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Standard deviation with divisor n - 1; `None` for fewer than two values.
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    let centre = mean(values).filter(|_| values.len() > 1)?;
    let squares: f64 = values.iter().map(|value| (value - centre).powi(2)).sum();
    Some((squares / (values.len() - 1) as f64).sqrt())
}

/// A P value in words: "p = 0.034", or "p < 0.001" where three digits would show nothing.
pub fn p_words(p: f64) -> String {
    if p < 0.001 { "p < 0.001".to_owned() } else { format!("p = {p:.3}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_value_has_no_spread() {
        assert_eq!(standard_deviation(&[3.0]), None);
        assert_eq!(mean(&[]), None);
        assert_eq!(standard_deviation(&[1.0, 3.0]), Some(2f64.sqrt()));
    }
}
