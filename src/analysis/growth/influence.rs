//! How few fish a parameter rests on: the influence of each row, and what limits from resampling must be widened by.
//!
//! To first order row i moves the parameters by u = (JᵀWJ)⁻¹ J_i w r. Resampled spread is that of the sum of u, and its
//! error is governed by the few rows with large u, the old fish of a limiting length as a rule: Satterthwaite's degrees
//! of freedom of a sum of squares of normal deviates, 3 (sum u²)²/sum u⁴ (from the fourth moment 3 sigma⁴; worked out
//! here). A row of leverage h pulls the curve to itself, so that its residual is too small by (1 - h) (the HC2 rule of
//! MacKinnon & White 1985, from memory). The campaign of lakes with known truth shows what this mends.

use crate::analysis::numerics::symmetric::inverse;

use super::curve::MAX_PARAMETERS;
use super::fit::Fit;
use super::objective::response;

/// What one free parameter rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Support {
    /// Degrees of freedom that its resampled spread is worth; at least 2, at most rows less parameters.
    pub df: f64,
    /// By how much that spread is too small for the pull of each row on the curve; 1 or more.
    pub inflation: f64,
}

/// The support of each free parameter, in order, by rows of age, length and weight that the fit was made from. Empty
/// where the fit identifies no parameters.
pub fn supports(fit: &Fit, rows: &[(f64, f64, f64)]) -> Vec<Support> {
    let n = fit.n_free();
    let (Some(covariance), Some(sd)) = (&fit.covariance, fit.residual_sd) else {
        return Vec::new();
    };
    let Some(bread) = inverse(covariance, n).and_then(|jtj| inverse(&jtj, n)) else {
        return Vec::new();
    };
    let free: Vec<usize> = (0..fit.parameters.len())
        .filter(|index| fit.parameters.get(*index).is_some_and(|one| !one.is_fixed))
        .collect();
    let (mut square, mut mended, mut fourth) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
    for &(age, length, weight) in rows {
        let mut gradient = [0.0; MAX_PARAMETERS];
        let at = fit.row();
        let Some(fitted) = response(fit.curve, fit.error, age, &at, &mut gradient) else {
            continue;
        };
        let residual = fit.error.response(length) - fitted;
        // The covariance is s² times the inverse: one division by s² gives it back.
        let direction: Vec<f64> = (0..n)
            .map(|i| {
                let sum = free.iter().enumerate().map(|(j, index)| {
                    bread.get(i * n + j).copied().unwrap_or(0.0) * gradient[*index]
                });
                sum.sum::<f64>() / (sd * sd)
            })
            .collect();
        let leverage: f64 = weight
            * free
                .iter()
                .zip(&direction)
                .map(|(index, along)| gradient[*index] * along)
                .sum::<f64>();
        for (i, along) in direction.iter().enumerate() {
            let u2 = (along * weight * residual).powi(2);
            square[i] += u2;
            mended[i] += u2 / (1.0 - leverage).max(0.05);
            fourth[i] += u2 * u2;
        }
    }
    let most = (rows.len() as f64 - n as f64).max(2.0);
    square
        .iter()
        .zip(&mended)
        .zip(&fourth)
        .map(|((square, mended), fourth)| Support {
            df: (3.0 * square * square / fourth).clamp(2.0, most),
            inflation: (mended / square).sqrt().max(1.0),
        })
        .filter(|one| one.df.is_finite() && one.inflation.is_finite())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::growth::{Curve, FitSettings, Observation, fit};

    fn rows(old: usize) -> Vec<(f64, f64, f64)> {
        let young = (0..120usize).map(|i| (1.0 + (i % 4) as f64, i));
        let aged = (0..old).map(|i| (9.0 + (i % 3) as f64, i * 7));
        young
            .chain(aged)
            .map(|(age, i)| {
                let scatter = 1.0 + 0.08 * ((i * 37 % 21) as f64 - 10.0) / 6.0;
                (age, 500.0 * (1.0 - (-0.3 * (age + 0.2)).exp()) * scatter, 1.0)
            })
            .collect()
    }

    #[test]
    fn a_limiting_length_rests_on_the_old_fish() {
        let df = |old: usize| {
            let rows = rows(old);
            let observations: Vec<Observation> = rows
                .iter()
                .enumerate()
                .map(|(fish, row)| Observation::single(row.0, row.1, fish))
                .collect();
            let fit = fit(Curve::VonBertalanffy, &observations, &FitSettings::default()).unwrap();
            let found = supports(&fit, &rows);
            assert_eq!(found.len(), 3);
            assert!(found[0].inflation > 1.0 && found[0].inflation < 1.5);
            found[0].df
        };
        assert!(df(5) < 20.0 && df(60) > 2.0 * df(5), "{} {}", df(5), df(60));
    }
}
