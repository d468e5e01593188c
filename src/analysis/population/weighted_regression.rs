//! The catch curve as a weighted line: ln(catch) on age from the peak on.
//!
//! Ages from the peak, all older ages kept, weighted (recommended by Smith et al. 2012, N. Am. J. Fish. Manage.
//! 32:956-967, abstract). Weights are the fitted ln(catch) of the unweighted line (Maceina & Bettoli 1998, from memory),
//! those not above 0 set to the least positive one.

use crate::analysis::numerics::distribution::t_quantile;
use crate::analysis::numerics::regression::Line;
use crate::analysis::numerics::{NumericsError, checked_pairs};

/// A weighted line of ln(catch) on age.
#[derive(Debug, Clone, PartialEq)]
pub struct CatchLine {
    /// Ages used: those with catch, from the first one on.
    pub ages: Vec<u32>,
    /// ln(catch) at each.
    pub ln_catch: Vec<f64>,
    /// Weight of each.
    pub weights: Vec<f64>,
    /// Ages from the first to the oldest without catch, which cannot enter.
    pub n_without_catch: usize,
    /// Instantaneous total mortality: minus the slope.
    pub z: f64,
    /// Standard error of Z.
    pub z_se: f64,
    /// 95 % limits of Z by Student's t; `None` where it has no quantile.
    pub z_ci95: Option<[f64; 2]>,
    /// ln(catch) at age 0.
    pub intercept: f64,
    /// ln(catch) less the line, at each age.
    pub residuals: Vec<f64>,
    /// Externally studentised residuals; `None` for fewer than 4 ages or an exact line.
    pub studentised: Vec<Option<f64>>,
}

impl CatchLine {
    /// The weighted line of `catch` (age, number; ages each once) from `first_age` on.
    ///
    /// # Errors
    /// [`NumericsError`] for fewer than 3 ages with catch.
    pub fn fit(catch: &[(u32, f64)], first_age: u32) -> Result<Self, NumericsError> {
        let (ages, ln_catch) = points(catch, first_age);
        let weights = weights(&ages, &ln_catch)?;
        Self::with_weights(ages, ln_catch, weights, first_age)
    }

    /// The line without weights, for comparison.
    ///
    /// # Errors
    /// As [`CatchLine::fit`].
    pub fn fit_unweighted(catch: &[(u32, f64)], first_age: u32) -> Result<Self, NumericsError> {
        let (ages, ln_catch) = points(catch, first_age);
        let weights = vec![1.0; ages.len()];
        Self::with_weights(ages, ln_catch, weights, first_age)
    }

    /// ln(catch) by the line.
    pub fn ln_catch_at(&self, age: u32) -> f64 {
        self.intercept - self.z * f64::from(age)
    }

    /// Annual survival S = exp(-Z).
    pub fn survival(&self) -> f64 {
        (-self.z).exp()
    }

    /// Annual mortality A = 1 - S.
    pub fn annual_mortality(&self) -> f64 {
        1.0 - self.survival()
    }

    fn with_weights(
        ages: Vec<u32>,
        ln_catch: Vec<f64>,
        weights: Vec<f64>,
        first_age: u32,
    ) -> Result<Self, NumericsError> {
        let x: Vec<f64> = ages.iter().copied().map(f64::from).collect();
        checked_pairs(&x, &ln_catch, 3)?;
        let total: f64 = weights.iter().sum();
        let mean_of = |values: &[f64]| -> f64 {
            weights.iter().zip(values).map(|(w, value)| w * value).sum::<f64>() / total
        };
        let (x_mean, y_mean) = (mean_of(&x), mean_of(&ln_catch));
        let sxx: f64 = weights.iter().zip(&x).map(|(w, x)| w * (x - x_mean).powi(2)).sum();
        let sxy: f64 = weights
            .iter()
            .zip(x.iter().zip(&ln_catch))
            .map(|(w, (x, y))| w * (x - x_mean) * (y - y_mean))
            .sum();
        let slope = sxy / sxx;
        let residuals: Vec<f64> =
            x.iter().zip(&ln_catch).map(|(x, y)| y - y_mean - slope * (x - x_mean)).collect();
        let rss: f64 = weights.iter().zip(&residuals).map(|(w, e)| w * e * e).sum();
        let df = (x.len() - 2) as f64;
        let z_se = (rss / df / sxx).sqrt();
        let half_width = t_quantile(0.975, df).map(|t| t * z_se);
        let studentised = weights
            .iter()
            .zip(x.iter().zip(&residuals))
            .map(|(w, (x, e))| {
                let room = 1.0 - w * (1.0 / total + (x - x_mean).powi(2) / sxx);
                let without = (rss - w * e * e / room) / (df - 1.0);
                let can = df > 1.0 && room > 1e-12 && without > 0.0;
                can.then(|| w.sqrt() * e / (without * room).sqrt())
            })
            .collect();
        let span = ages.last().map_or(0, |oldest| (oldest - first_age) as usize + 1);
        Ok(Self {
            n_without_catch: span.saturating_sub(ages.len()),
            ages,
            ln_catch,
            weights,
            z: -slope,
            z_se,
            z_ci95: half_width.map(|half| [-slope - half, -slope + half]),
            intercept: y_mean - slope * x_mean,
            residuals,
            studentised,
        })
    }
}

fn points(catch: &[(u32, f64)], first_age: u32) -> (Vec<u32>, Vec<f64>) {
    let mut used: Vec<(u32, f64)> =
        catch.iter().copied().filter(|(age, n)| *age >= first_age && *n > 0.0).collect();
    used.sort_by_key(|(age, _)| *age);
    used.into_iter().map(|(age, n)| (age, n.ln())).unzip()
}

fn weights(ages: &[u32], ln_catch: &[f64]) -> Result<Vec<f64>, NumericsError> {
    let x: Vec<f64> = ages.iter().copied().map(f64::from).collect();
    let line = Line::fit(&x, ln_catch)?;
    let fitted: Vec<f64> = x.iter().map(|x| line.at(*x)).collect();
    let least = fitted.iter().copied().filter(|w| *w > 0.0).min_by(f64::total_cmp);
    // Where the whole line lies below 0 no age deserves more weight than another.
    Ok(match least {
        Some(least) => fitted.into_iter().map(|w| if w > 0.0 { w } else { least }).collect(),
        None => vec![1.0; ages.len()],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_line_is_found_whatever_the_weights() {
        let catch: Vec<(u32, f64)> =
            (3..9).map(|age| (age, (6.0 - 0.5 * f64::from(age)).exp())).collect();
        let found = CatchLine::fit(&catch, 3).unwrap();
        assert!((found.z - 0.5).abs() < 1e-12 && (found.intercept - 6.0).abs() < 1e-12);
    }

    #[test]
    fn ages_without_catch_are_dropped_and_counted() {
        let catch = [(2, 90.0), (3, 40.0), (4, 0.0), (5, 9.0), (7, 2.0)];
        let found = CatchLine::fit(&catch, 2).unwrap();
        assert_eq!((found.ages.as_slice(), found.n_without_catch), (&[2, 3, 5, 7][..], 2));
    }

    #[test]
    fn weights_are_above_zero() {
        let catch = [(2, 0.9), (3, 2.5), (4, 0.4), (5, 0.3), (6, 0.2)];
        let found = CatchLine::fit(&catch, 2).unwrap();
        assert!(found.weights.iter().all(|weight| *weight > 0.0), "{:?}", found.weights);
        let all_below = [(2, 0.9), (3, 0.5), (4, 0.4)];
        assert_eq!(CatchLine::fit(&all_below, 2).unwrap().weights, [1.0; 3]);
    }

    #[test]
    fn two_ages_make_no_line() {
        assert!(CatchLine::fit(&[(2, 9.0), (3, 4.0)], 2).is_err());
    }
}
