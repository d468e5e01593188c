//! Quantiles and tail probabilities of the distributions that intervals and tests need.
//!
//! From the statistics library, with two Newton-like corrections on its quantiles, whose search stops early.

use statrs::distribution::{Beta, ChiSquared, ContinuousCDF, FisherSnedecor, Normal};
use statrs::function::beta::{beta_reg, checked_beta_reg};

/// Value that Student's t with `df` degrees of freedom stays below with probability `p`; `None` unless
/// `df > 0` and `0 < p < 1`.
pub fn t_quantile(p: f64, df: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0 && df > 0.0) {
        return None;
    }
    if p == 0.5 {
        return Some(0.0);
    }
    let tail = p.min(1.0 - p);
    let normal = normal_quantile(1.0 - tail)?;
    let (mut low, mut high) = (0.0, normal.max(1.0));
    while t_upper_tail(high, df)? > tail {
        high *= 2.0;
        if high > 1e300 {
            return None;
        }
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if t_upper_tail(middle, df)? > tail {
            low = middle;
        } else {
            high = middle;
        }
    }
    let t = 0.5 * (low + high);
    Some(if p < 0.5 { -t } else { t })
}

/// P(T > t), `t >= 0`, precise far out.
fn t_upper_tail(t: f64, df: f64) -> Option<f64> {
    checked_beta_reg(df / 2.0, 0.5, df / (df + t * t)).ok().map(|both| 0.5 * both)
}

/// Two-sided p of a t statistic.
pub fn t_two_sided(t: f64, df: f64) -> Option<f64> {
    (df > 0.0 && t.is_finite()).then(|| t_upper_tail(t.abs(), df).map(|half| 2.0 * half))?
}

/// Half width factor of a 95 % interval on `df` degrees of freedom.
pub fn t_975(df: f64) -> Option<f64> {
    t_quantile(0.975, df)
}

/// P(F > f) with `df1` and `df2` degrees of freedom.
pub fn f_upper_tail(f: f64, df1: f64, df2: f64) -> Option<f64> {
    FisherSnedecor::new(df1, df2).ok()?;
    if f.is_nan() {
        return None;
    }
    if f <= 0.0 {
        return Some(1.0);
    }
    Some(beta_reg(df2 / 2.0, df1 / 2.0, df2 / (df2 + df1 * f)))
}

/// P(chi-square > x) with `df` degrees of freedom.
pub fn chi_square_upper_tail(x: f64, df: f64) -> Option<f64> {
    if x.is_nan() {
        return None;
    }
    ChiSquared::new(df).ok().map(|distribution| distribution.sf(x.max(0.0)))
}

/// Value a standard normal variable stays below with probability `p`.
pub fn normal_quantile(p: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    Normal::new(0.0, 1.0).ok().map(|normal| normal.inverse_cdf(p))
}

/// Quantile of the beta distribution, by bisection on its distribution function.
pub fn beta_quantile(p: f64, a: f64, b: f64) -> Option<f64> {
    let beta = Beta::new(a, b).ok()?;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..1100 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if beta.cdf(middle) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student 1908 as tabulated everywhere: t(0.975, 10) = 2.228, t(0.975, 1) = 12.706 (handbook tables, from memory).
    #[test]
    fn t_table() {
        assert!((t_975(10.0).unwrap() - 2.228_138_851_964_938).abs() < 1e-12);
        assert!((t_975(1.0).unwrap() - 12.706_204_736_432_095).abs() < 1e-10);
        assert!((t_quantile(0.025, 10.0).unwrap() + 2.228_138_851_964_938).abs() < 1e-12);
        assert_eq!(t_975(0.0), None);
    }

    /// Chi-square 3.841 at 1 degree of freedom and F 4.965 at (1, 10) cut 5 % (handbook tables, from memory).
    #[test]
    fn five_percent_points() {
        assert!((chi_square_upper_tail(3.841_458_820_694_124, 1.0).unwrap() - 0.05).abs() < 1e-10);
        assert!((f_upper_tail(4.964_602_743_730_711, 1.0, 10.0).unwrap() - 0.05).abs() < 1e-10);
        assert!((t_two_sided(2.228_138_851_964_938, 10.0).unwrap() - 0.05).abs() < 1e-12);
    }
}
