//! Tail probabilities and quantiles of the distributions used in tests; `None` where they do not exist.

use statrs::distribution::{ChiSquared, Continuous, ContinuousCDF, FisherSnedecor, StudentsT};

/// P(|T| >= |t|) for Student's t with `df` degrees of freedom.
pub fn t_two_sided(t: f64, df: f64) -> Option<f64> {
    let student = StudentsT::new(0.0, 1.0, df).ok()?;
    t.is_finite().then(|| (2.0 * student.sf(t.abs())).min(1.0))
}

/// The value that Student's t with `df` degrees of freedom stays below with probability `p` (0 < p < 1).
pub fn t_quantile(p: f64, df: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    if p < 0.5 {
        return t_quantile(1.0 - p, df).map(|quantile| -quantile);
    }
    let student = StudentsT::new(0.0, 1.0, df).ok()?;
    let mut quantile = student.inverse_cdf(p);
    // The library's inverse stops early; two Newton steps give full digits.
    for _ in 0..2 {
        quantile += (student.sf(quantile) - (1.0 - p)) / student.pdf(quantile);
    }
    quantile.is_finite().then_some(quantile)
}

/// P(F >= f) with `df1` and `df2` degrees of freedom.
pub fn f_upper(f: f64, df1: f64, df2: f64) -> Option<f64> {
    let fisher = FisherSnedecor::new(df1, df2).ok()?;
    (f.is_finite() && f >= 0.0).then(|| fisher.sf(f))
}

/// P(X >= x) for chi-square with `df` degrees of freedom.
pub fn chi_squared_upper(x: f64, df: f64) -> Option<f64> {
    let chi = ChiSquared::new(df).ok()?;
    (x.is_finite() && x >= 0.0).then(|| chi.sf(x))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student's t: 2.228 for 10 degrees of freedom and 12.706 for 1 at 97.5 % (any printed table).
    #[test]
    fn t_quantiles_match_the_printed_table() {
        for (df, expected) in [(1.0, 12.706), (10.0, 2.228), (30.0, 2.042)] {
            let found = t_quantile(0.975, df).unwrap();
            assert!((found - expected).abs() < 0.0005, "{df}: {found}");
            assert!((t_two_sided(found, df).unwrap() - 0.05).abs() < 1e-12);
        }
        assert_eq!(t_quantile(0.025, 10.0), t_quantile(0.975, 10.0).map(|q| -q));
    }

    /// Chi-square 3.841 (1 df) and F 4.96 (1, 10 df) at 5 % (any printed table).
    #[test]
    fn upper_tails_match_the_printed_table() {
        assert!((chi_squared_upper(3.841, 1.0).unwrap() - 0.05).abs() < 5e-5);
        assert!((f_upper(4.9646, 1.0, 10.0).unwrap() - 0.05).abs() < 5e-6);
    }

    #[test]
    fn what_does_not_exist_is_none() {
        assert_eq!(t_two_sided(f64::NAN, 3.0), None);
        assert_eq!(t_quantile(0.975, 0.0), None);
        assert_eq!(f_upper(f64::INFINITY, 1.0, 3.0), None);
    }
}
