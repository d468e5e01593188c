//! Control charts of batches and the interval of a share.
//!
//! Sources: Shewhart 1931; Montgomery, Introduction to Statistical Quality Control (individuals and p charts, d2 =
//! 1.128 for moving ranges of two); Wilson 1927 (J. Am. Stat. Assoc. 22:209-212).

/// d2, the mean range of two standard normal values, as the tables print it.
const D2_OF_TWO: f64 = 1.128;
/// The standard normal quantile at 97.5 %.
const Z_95: f64 = 1.959_963_984_540_054;

/// An individuals chart, as of the mean CV of successive batches.
#[derive(Debug, Clone, PartialEq)]
pub struct IndividualsChart {
    /// Mean of the values.
    pub centre: f64,
    /// Mean of the differences between neighbours.
    pub mean_moving_range: f64,
    /// Mean moving range over 1.128.
    pub sigma: f64,
    /// Upper limit, centre plus three sigma.
    pub upper: f64,
    /// Lower limit, centre minus three sigma; below 0 it means nothing for a CV.
    pub lower: f64,
    /// Positions, from 0, of values outside the limits.
    pub outside: Vec<usize>,
}

/// The chart of `values` in order of time, any unit; `None` for fewer than two or one that is not a number.
pub fn individuals_chart(values: &[f64]) -> Option<IndividualsChart> {
    if values.len() < 2 || values.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let centre = values.iter().sum::<f64>() / values.len() as f64;
    let ranges = values.iter().zip(values.iter().skip(1)).map(|(a, b)| (b - a).abs());
    let mean_moving_range = ranges.sum::<f64>() / (values.len() - 1) as f64;
    let sigma = mean_moving_range / D2_OF_TWO;
    let (upper, lower) = (centre + 3.0 * sigma, centre - 3.0 * sigma);
    let outside = outside(values.iter().map(|value| (*value, [lower, upper])));
    Some(IndividualsChart { centre, mean_moving_range, sigma, upper, lower, outside })
}

/// A p chart, as of the exact agreement of successive batches.
#[derive(Debug, Clone, PartialEq)]
pub struct ShareChart {
    /// Share over all batches.
    pub centre: f64,
    /// Share in each batch; `None` for an empty batch.
    pub shares: Vec<Option<f64>>,
    /// Limits of each batch, p̄ ± 3√(p̄(1 - p̄)/n), kept within 0 and 1; `None` for an empty batch.
    pub limits: Vec<Option<[f64; 2]>>,
    /// Positions, from 0, of batches outside their limits.
    pub outside: Vec<usize>,
}

/// The chart of batches (fish, fish that agree) in order of time; `None` without fish or where more agree than
/// there are.
pub fn share_chart(batches: &[(u64, u64)]) -> Option<ShareChart> {
    let all: u64 = batches.iter().map(|(n, _)| n).sum();
    if all == 0 || batches.iter().any(|(n, agree)| agree > n) {
        return None;
    }
    let centre = batches.iter().map(|(_, agree)| agree).sum::<u64>() as f64 / all as f64;
    let some = |n: u64, value: f64| (n > 0).then_some(value);
    let shares: Vec<Option<f64>> =
        batches.iter().map(|(n, agree)| some(*n, *agree as f64 / *n as f64)).collect();
    let half = |n: u64| some(n, 3.0 * (centre * (1.0 - centre) / n as f64).sqrt());
    let limits: Vec<Option<[f64; 2]>> = batches
        .iter()
        .map(|(n, _)| half(*n).map(|half| [(centre - half).max(0.0), (centre + half).min(1.0)]))
        .collect();
    let charted = shares.iter().zip(&limits);
    // An empty batch lies nowhere, so it is not outside.
    let outside = outside(
        charted
            .map(|(share, limits)| (share.unwrap_or(centre), limits.unwrap_or([centre, centre]))),
    );
    Some(ShareChart { centre, shares, limits, outside })
}

/// The 95 % Wilson interval of a share; `None` without trials or where successes exceed them.
pub fn wilson_interval(successes: u64, trials: u64) -> Option<[f64; 2]> {
    if trials == 0 || successes > trials {
        return None;
    }
    let (n, z2) = (trials as f64, Z_95 * Z_95);
    let share = successes as f64 / n;
    let centre = (share + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = Z_95 * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt() / (1.0 + z2 / n);
    // At the ends the interval touches 0 or 1 exactly; rounding must not carry it beyond.
    let low = if successes == 0 { 0.0 } else { centre - half };
    let high = if successes == trials { 1.0 } else { centre + half };
    Some([low, high])
}

fn outside(points: impl Iterator<Item = (f64, [f64; 2])>) -> Vec<usize> {
    points
        .enumerate()
        .filter(|(_, (value, [lower, upper]))| value < lower || value > upper)
        .map(|(index, _)| index)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_jump_stands_outside_both_charts() {
        let mut values = vec![5.0, 5.1, 4.9, 5.0, 5.1, 4.9, 5.0, 5.1];
        values.push(9.0);
        assert_eq!(individuals_chart(&values).unwrap().outside, [8]);
        let chart = share_chart(&[(50, 45), (50, 44), (0, 0), (50, 46), (50, 20)]).unwrap();
        assert_eq!(chart.outside, [4]);
        assert_eq!((chart.shares[2], chart.limits[2]), (None, None));
    }

    #[test]
    fn what_cannot_be_charted_is_none() {
        assert!(individuals_chart(&[5.0]).is_none());
        assert!(individuals_chart(&[5.0, f64::NAN]).is_none());
        assert!(share_chart(&[(3, 4)]).is_none());
        assert!(wilson_interval(1, 0).is_none());
    }
}
