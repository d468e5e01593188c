//! Quantiles that intervals for proportions need.

use statrs::distribution::{Beta, ContinuousCDF, Normal};

/// Value a standard normal variable stays below with probability `p`; `None` unless `0 < p < 1`.
pub fn normal_quantile(p: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    Normal::new(0.0, 1.0).ok().map(|normal| normal.inverse_cdf(p))
}

/// Value a beta variable stays below with probability `p`, by bisection; `None` for shapes not above 0.
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

    /// 1.95996 in any printed table; the beta distribution with shapes 1 and 1 is even, with 2 and 1 it is x squared.
    #[test]
    fn closed_forms() {
        assert!((normal_quantile(0.975).unwrap() - 1.959_963_984_540_054).abs() < 1e-12);
        assert!((beta_quantile(0.3, 1.0, 1.0).unwrap() - 0.3).abs() < 1e-13);
        assert!((beta_quantile(0.25, 2.0, 1.0).unwrap() - 0.5).abs() < 1e-13);
        assert_eq!(normal_quantile(1.0), None);
    }
}
