//! The Ford-Walford line: length one year on against length now. Ford 1933; Walford 1946.

/// The fitted line and what follows from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FordWalford {
    /// Intercept, length unit.
    pub intercept: f64,
    /// Slope, no unit.
    pub slope: f64,
    /// Limiting length; `None` when the slope is not between 0 and 1.
    pub linf: Option<f64>,
    /// Rate per year; `None` with the limiting length.
    pub k: Option<f64>,
    /// Pairs of ages one year apart.
    pub n_pairs: usize,
}

/// Fits the line to mean lengths at ages in rising order, on the pairs one year apart. `None` with fewer than two such
/// pairs or no spread. A slope of 1 or more means that the data carry no asymptote.
pub fn ford_walford(ages: &[f64], mean_lengths: &[f64]) -> Option<FordWalford> {
    let points: Vec<(f64, f64)> = ages.iter().copied().zip(mean_lengths.iter().copied()).collect();
    let pairs: Vec<(f64, f64)> = points
        .windows(2)
        .filter_map(|pair| match pair {
            [now, next] if (next.0 - now.0 - 1.0).abs() < 1e-9 => Some((now.1, next.1)),
            _ => None,
        })
        .collect();
    if pairs.len() < 2 {
        return None;
    }
    let (slope, intercept) = line(&pairs)?;
    // A slope within rounding of 1 is a straight line of growth.
    let usable = slope > 0.0 && slope < 1.0 - 1e-9;
    Some(FordWalford {
        intercept,
        slope,
        linf: usable.then(|| intercept / (1.0 - slope)),
        k: usable.then(|| -slope.ln()),
        n_pairs: pairs.len(),
    })
}

/// Slope and intercept of y on x by least squares; `None` without spread in x.
pub(super) fn line(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let n = points.len() as f64;
    let mean_x = points.iter().map(|point| point.0).sum::<f64>() / n;
    let mean_y = points.iter().map(|point| point.1).sum::<f64>() / n;
    let sxx: f64 = points.iter().map(|point| (point.0 - mean_x).powi(2)).sum();
    let sxy: f64 = points.iter().map(|point| (point.0 - mean_x) * (point.1 - mean_y)).sum();
    if sxx <= 0.0 || sxx.is_nan() {
        return None;
    }
    let slope = sxy / sxx;
    Some((slope, mean_y - slope * mean_x))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_growth_gives_its_parameters() {
        let ages: Vec<f64> = (1..8).map(f64::from).collect();
        let lengths: Vec<f64> =
            ages.iter().map(|age| 400.0 * (1.0 - (-0.35 * (age + 0.2)).exp())).collect();
        let found = ford_walford(&ages, &lengths).unwrap();
        assert!((found.linf.unwrap() - 400.0).abs() < 1e-8);
        assert!((found.k.unwrap() - 0.35).abs() < 1e-10);
    }

    #[test]
    fn a_gap_in_the_ages_makes_no_pair() {
        assert!(ford_walford(&[1.0, 3.0, 5.0], &[1.0, 2.0, 3.0]).is_none());
    }
}
