//! The test of normality of Shapiro & Wilk 1965, in the approximation of Royston 1995 (Appl. Statist. 44:547-551,
//! algorithm AS R94; its constants from memory; the results agree with scipy 1.17.1).

use statrs::distribution::{ContinuousCDF, Normal};

use super::{NumericsError, mean};

/// Result of the test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapiroWilk {
    /// The statistic W, 0 to 1; 1 for a perfectly normal sample.
    pub w: f64,
    /// Probability of so small a W in a normal sample.
    pub p: f64,
}

/// Tests 3 to 5000 values.
///
/// # Errors
/// [`NumericsError`] for fewer than 3 values, values that are not finite, or no spread; more than 5000 values are
/// outside the approximation and give [`NumericsError::TooMany`].
pub fn shapiro_wilk(values: &[f64]) -> Result<ShapiroWilk, NumericsError> {
    super::checked_pairs(values, values, 3)?;
    let n = values.len();
    if n > 5000 {
        return Err(NumericsError::TooMany { most: 5000, found: n });
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let centre = mean(&sorted).unwrap_or_default();
    let squares: f64 = sorted.iter().map(|value| (value - centre).powi(2)).sum();
    let spread = sorted.last().zip(sorted.first()).map_or(0.0, |(high, low)| high - low);
    if spread <= 1e-12 * centre.abs() || squares <= 0.0 {
        return Err(NumericsError::NoSpread);
    }
    let top: f64 = weights(n)?.iter().zip(&sorted).map(|(weight, value)| weight * value).sum();
    let w = (top * top / squares).min(1.0);
    Ok(ShapiroWilk { w, p: p_value(w, n)? })
}

fn standard_normal() -> Result<Normal, NumericsError> {
    Normal::new(0.0, 1.0).map_err(|_| NumericsError::NoSpread)
}

/// Weights of the ordered values: rising, antisymmetric, of unit length.
fn weights(n: usize) -> Result<Vec<f64>, NumericsError> {
    let half = n / 2;
    if n == 3 {
        return Ok(vec![-0.5_f64.sqrt(), 0.0, 0.5_f64.sqrt()]);
    }
    let normal = standard_normal()?;
    // Expected normal scores of the upper half, largest first.
    let scores: Vec<f64> =
        (1..=half).map(|i| -normal.inverse_cdf((i as f64 - 0.375) / (n as f64 + 0.25))).collect();
    let sum_squares = 2.0 * scores.iter().map(|score| score * score).sum::<f64>();
    let length = sum_squares.sqrt();
    let root = 1.0 / (n as f64).sqrt();
    let first = polynomial(&[0.0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056], root)
        + scores[0] / length;
    let mut upper = vec![first];
    let (fixed, phi) = if n > 5 {
        let second = polynomial(&[0.0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633], root)
            + scores[1] / length;
        upper.push(second);
        let rest = sum_squares - 2.0 * scores[0].powi(2) - 2.0 * scores[1].powi(2);
        (2, rest / (1.0 - 2.0 * first * first - 2.0 * second * second))
    } else {
        (1, (sum_squares - 2.0 * scores[0].powi(2)) / (1.0 - 2.0 * first * first))
    };
    upper.extend(scores.iter().skip(fixed).map(|score| score / phi.sqrt()));
    let mut all: Vec<f64> = upper.iter().map(|weight| -weight).collect();
    if n % 2 == 1 {
        all.push(0.0);
    }
    all.extend(upper.iter().rev());
    Ok(all)
}

fn p_value(w: f64, n: usize) -> Result<f64, NumericsError> {
    if n == 3 {
        // Exact for three values.
        let p = 6.0 / std::f64::consts::PI * (w.sqrt().asin() - 0.75_f64.sqrt().asin());
        return Ok(p.clamp(0.0, 1.0));
    }
    let size = n as f64;
    let mut y = (1.0 - w).max(f64::MIN_POSITIVE).ln();
    let (m, s) = if n <= 11 {
        let gamma = polynomial(&[-2.273, 0.459], size);
        if y >= gamma {
            return Ok(0.0);
        }
        y = -(gamma - y).ln();
        (
            polynomial(&[0.544, -0.39978, 0.025054, -6.714e-4], size),
            polynomial(&[1.3822, -0.77857, 0.062767, -0.0020322], size).exp(),
        )
    } else {
        let x = size.ln();
        (
            polynomial(&[-1.5861, -0.31082, -0.083751, 0.0038915], x),
            polynomial(&[-0.4803, -0.082676, 0.0030302], x).exp(),
        )
    };
    Ok(standard_normal()?.sf((y - m) / s))
}

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, coefficient| sum * x + coefficient)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_have_unit_length_and_are_antisymmetric() {
        for n in [3, 4, 5, 6, 11, 12, 101] {
            let weights = weights(n).unwrap();
            let length: f64 = weights.iter().map(|weight| weight * weight).sum();
            assert!((length - 1.0).abs() < 1e-9, "{n}: {length}");
            assert!(weights.iter().zip(weights.iter().rev()).all(|(a, b)| (a + b).abs() < 1e-12));
        }
    }

    #[test]
    fn skewed_values_are_told_from_normal_ones() {
        let skewed: Vec<f64> = (1..30).map(|i| (0.3 * f64::from(i)).exp()).collect();
        assert!(shapiro_wilk(&skewed).unwrap().p < 1e-4);
        let normal = standard_normal().unwrap();
        let even: Vec<f64> = (1..30).map(|i| normal.inverse_cdf(f64::from(i) / 30.0)).collect();
        assert!(shapiro_wilk(&even).unwrap().p > 0.9);
        assert_eq!(shapiro_wilk(&[2.0; 5]), Err(NumericsError::NoSpread));
    }
}
