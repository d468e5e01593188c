//! Tail probabilities that the tests of agreement use; `None` where they do not exist.

use statrs::distribution::{ChiSquared, Continuous, ContinuousCDF, StudentsT};
use statrs::function::erf::erfc;

/// The standard normal quantile at 97.5 %.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// P(X >= x) for chi-square with `df` degrees of freedom.
pub fn chi_squared_upper(x: f64, df: f64) -> Option<f64> {
    let chi = ChiSquared::new(df).ok()?;
    (x.is_finite() && x >= 0.0).then(|| chi.sf(x))
}

/// P(|Z| >= |z|) for the standard normal.
pub fn normal_two_sided(z: f64) -> Option<f64> {
    z.is_finite().then(|| erfc(z.abs() / std::f64::consts::SQRT_2))
}

/// P(|T| >= |t|) for Student's t with `df` degrees of freedom.
pub fn t_two_sided(t: f64, df: f64) -> Option<f64> {
    let student = StudentsT::new(0.0, 1.0, df).ok()?;
    t.is_finite().then(|| (2.0 * student.sf(t.abs())).min(1.0))
}

/// The value Student's t with `df` degrees of freedom stays below with probability 97.5 %.
pub fn t_95(df: f64) -> Option<f64> {
    let student = StudentsT::new(0.0, 1.0, df).ok()?;
    let mut quantile = student.inverse_cdf(0.975);
    // The library's inverse stops early; two Newton steps give full digits.
    for _ in 0..2 {
        quantile += (student.sf(quantile) - 0.025) / student.pdf(quantile);
    }
    quantile.is_finite().then_some(quantile)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Printed tables: t(0.975) 12.706, 2.228 and 2.042 for 1, 10 and 30 df; chi-square 3.841 (1 df) at 5 %.
    #[test]
    fn quantiles_match_the_printed_tables() {
        for (df, expected) in [(1.0, 12.706), (10.0, 2.228), (30.0, 2.042)] {
            let found = t_95(df).unwrap();
            assert!((found - expected).abs() < 0.0005, "{df}: {found}");
            assert!((t_two_sided(found, df).unwrap() - 0.05).abs() < 1e-12);
        }
        assert!((chi_squared_upper(3.841, 1.0).unwrap() - 0.05).abs() < 5e-5);
        assert!((normal_two_sided(Z_95).unwrap() - 0.05).abs() < 1e-14);
    }

    #[test]
    fn what_does_not_exist_is_none() {
        assert_eq!(t_two_sided(f64::NAN, 3.0), None);
        assert_eq!(t_95(0.0), None);
        assert_eq!(chi_squared_upper(1.0, 0.0), None);
    }
}
