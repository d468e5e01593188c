//! Limits of agreement between two measurements of the same thing, and how repeatable one is.
//!
//! Source: Bland & Altman 1986 (Lancet i:307-310). The paper uses 2 standard deviations in its example; 1.96 is
//! the default here.

use crate::analysis::numerics::distribution::{t_quantile, t_two_sided};

/// The usual multiple of the standard deviation.
pub const USUAL_MULTIPLE: f64 = 1.96;

/// How the difference (first minus second) changes with the mean of the two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Slope of the difference on the mean.
    pub slope: f64,
    /// Standard error of the slope.
    pub se: f64,
    /// Two-sided p of the slope, n - 2 degrees of freedom; `None` where there is no scatter about the line.
    pub p: Option<f64>,
}

/// Limits of agreement, in the unit of the measurements.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitsOfAgreement {
    /// Pairs.
    pub n: u64,
    /// The multiple of the standard deviation.
    pub multiple: f64,
    /// Mean difference, first minus second.
    pub mean: f64,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Standard error of the mean difference, sd/√n.
    pub se_mean: f64,
    /// Standard error of each limit, sd √(3/n).
    pub se_limit: f64,
    /// 95 % t interval of the mean difference.
    pub ci95_mean: Option<[f64; 2]>,
    /// 95 % t interval of the lower limit.
    pub ci95_lower: Option<[f64; 2]>,
    /// 95 % t interval of the upper limit.
    pub ci95_upper: Option<[f64; 2]>,
    /// Within-subject standard deviation √(Σd²/2n).
    pub within_sd: f64,
    /// 1.96 √2 times the within-subject standard deviation: two measurements differ by less in 95 % of cases.
    pub repeatability: f64,
    /// Trend of the difference with the mean; `None` for fewer than three pairs or where all means are alike.
    pub trend: Option<Trend>,
}

/// Limits of agreement of `pairs` (first, second, how often), any one unit; `None` for fewer than two pairs.
pub fn limits_of_agreement(
    pairs: impl Iterator<Item = (f64, f64, u64)> + Clone,
    multiple: f64,
) -> Option<LimitsOfAgreement> {
    let weighted = |value: fn(f64, f64) -> f64| -> f64 {
        pairs.clone().map(|(first, second, count)| value(first, second) * count as f64).sum()
    };
    let n: u64 = pairs.clone().map(|(_, _, count)| count).sum();
    if n < 2 {
        return None;
    }
    let count = n as f64;
    let mean = weighted(|first, second| first - second) / count;
    let squares: f64 =
        pairs.clone().map(|(a, b, count)| (a - b - mean).powi(2) * count as f64).sum();
    let sd = (squares / (count - 1.0)).sqrt();
    let within_sd = (weighted(|first, second| (first - second).powi(2)) / (2.0 * count)).sqrt();
    let (lower, upper) = (mean - multiple * sd, mean + multiple * sd);
    let (se_mean, se_limit) = (sd / count.sqrt(), sd * (3.0 / count).sqrt());
    let t = t_quantile(0.975, count - 1.0);
    let around = |centre: f64, se: f64| t.map(|t| [centre - t * se, centre + t * se]);
    Some(LimitsOfAgreement {
        n,
        multiple,
        mean,
        sd,
        lower,
        upper,
        se_mean,
        se_limit,
        ci95_mean: around(mean, se_mean),
        ci95_lower: around(lower, se_limit),
        ci95_upper: around(upper, se_limit),
        within_sd,
        repeatability: 1.96 * std::f64::consts::SQRT_2 * within_sd,
        trend: trend(pairs, count, mean),
    })
}

fn trend(
    pairs: impl Iterator<Item = (f64, f64, u64)> + Clone,
    n: f64,
    mean_difference: f64,
) -> Option<Trend> {
    if n < 3.0 {
        return None;
    }
    let centre = pairs.clone().map(|(a, b, count)| (a + b) / 2.0 * count as f64).sum::<f64>() / n;
    let mut sums = [0.0; 3];
    for (first, second, count) in pairs {
        let (x, y) = ((first + second) / 2.0 - centre, first - second - mean_difference);
        let products = [x * x, x * y, y * y];
        for (sum, product) in sums.iter_mut().zip(products) {
            *sum += product * count as f64;
        }
    }
    let [xx, xy, yy] = sums;
    if xx <= 0.0 || xx.is_nan() {
        return None;
    }
    let slope = xy / xx;
    let residual = (yy - slope * xy).max(0.0);
    let se = (residual / (n - 2.0) / xx).sqrt();
    let p = if se > 0.0 { t_two_sided(slope / se, n - 2.0) } else { None };
    Some(Trend { slope, se, p })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_counted_twice_is_two_pairs() {
        let single = [(1.0, 2.0, 1), (1.0, 2.0, 1), (4.0, 3.5, 1), (7.0, 7.5, 1)];
        let folded = [(1.0, 2.0, 2), (4.0, 3.5, 1), (7.0, 7.5, 1)];
        let a = limits_of_agreement(single.into_iter(), USUAL_MULTIPLE).unwrap();
        let b = limits_of_agreement(folded.into_iter(), USUAL_MULTIPLE).unwrap();
        assert_eq!(a.n, b.n);
        assert!((a.lower - b.lower).abs() < 1e-12);
        assert!((a.trend.unwrap().slope - b.trend.unwrap().slope).abs() < 1e-12);
    }

    #[test]
    fn one_pair_has_no_limits_and_equal_means_no_trend() {
        assert!(limits_of_agreement([(1.0, 2.0, 1)].into_iter(), USUAL_MULTIPLE).is_none());
        let level = [(1.0, 3.0, 2), (3.0, 1.0, 2)];
        assert!(limits_of_agreement(level.into_iter(), USUAL_MULTIPLE).unwrap().trend.is_none());
    }
}
