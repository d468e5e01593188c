//! The straight line by ordinary least squares, and the line through the origin.

use super::distribution::{t_quantile, t_two_sided};
use super::{NumericsError, checked_pairs, mean};

/// A least-squares line y = intercept + slope x, with what its error estimates need.
///
/// Sums are taken about the means; raw sums lose digits (the certified Pontius set shows it).
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Pairs fitted.
    pub n: usize,
    /// Mean of x.
    pub x_mean: f64,
    /// Mean of y.
    pub y_mean: f64,
    /// Sum of squares of x about its mean.
    pub sxx: f64,
    /// Sum of squares of y about its mean.
    pub syy: f64,
    /// Slope, unit of y per unit of x.
    pub slope: f64,
    /// Value of the line at x = 0, unit of y.
    pub intercept: f64,
    /// Residual sum of squares.
    pub rss: f64,
    /// Residual standard deviation on n - 2 degrees of freedom.
    pub residual_sd: f64,
    /// Standard error of the slope.
    pub slope_se: f64,
    /// Standard error of the intercept.
    pub intercept_se: f64,
    /// Correlation of x and y; `None` where all y are alike.
    pub r: Option<f64>,
    /// Share of the sum of squares about the mean that the line explains; `None` where all y are alike.
    pub r_squared: Option<f64>,
}

/// 95 % limits of the two coefficients of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineLimits {
    /// Limits of the slope.
    pub slope: [f64; 2],
    /// Limits of the intercept.
    pub intercept: [f64; 2],
}

impl Line {
    /// Fits y on x by ordinary least squares.
    ///
    /// # Errors
    /// [`NumericsError`] for fewer than 3 pairs, columns of unequal length, values that are not finite, or no
    /// spread in x.
    pub fn fit(x: &[f64], y: &[f64]) -> Result<Self, NumericsError> {
        checked_pairs(x, y, 3)?;
        let n = x.len();
        let (x_mean, y_mean) = (mean(x).unwrap_or_default(), mean(y).unwrap_or_default());
        let about = |values: &[f64], centre: f64| -> f64 {
            values.iter().map(|value| (value - centre).powi(2)).sum()
        };
        let (sxx, syy) = (about(x, x_mean), about(y, y_mean));
        let sxy: f64 = x.iter().zip(y).map(|(x, y)| (x - x_mean) * (y - y_mean)).sum();
        // Relative to the values themselves: rounding alone leaves a trace of spread in equal values.
        if sxx <= 1e-24 * x_mean.powi(2) * n as f64 {
            return Err(NumericsError::NoSpread);
        }
        let slope = sxy / sxx;
        let rss: f64 =
            x.iter().zip(y).map(|(x, y)| ((y - y_mean) - slope * (x - x_mean)).powi(2)).sum();
        let residual_sd = (rss / (n - 2) as f64).sqrt();
        Ok(Self {
            n,
            x_mean,
            y_mean,
            sxx,
            syy,
            slope,
            intercept: y_mean - slope * x_mean,
            rss,
            residual_sd,
            slope_se: residual_sd / sxx.sqrt(),
            intercept_se: residual_sd * (1.0 / n as f64 + x_mean.powi(2) / sxx).sqrt(),
            r: (syy > 0.0).then(|| sxy / (sxx * syy).sqrt()),
            r_squared: (syy > 0.0).then(|| 1.0 - rss / syy),
        })
    }

    /// Residual degrees of freedom.
    pub fn df(&self) -> f64 {
        (self.n - 2) as f64
    }

    /// The line at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.y_mean + self.slope * (x - self.x_mean)
    }

    /// y minus the line, pair by pair.
    pub fn residuals(&self, x: &[f64], y: &[f64]) -> Vec<f64> {
        x.iter().zip(y).map(|(x, y)| y - self.at(*x)).collect()
    }

    /// Adjusted share explained: 1 - (RSS/(n - 2))/(Syy/(n - 1)).
    pub fn adjusted_r_squared(&self) -> Option<f64> {
        (self.syy > 0.0).then(|| 1.0 - (self.rss / self.df()) / (self.syy / (self.n - 1) as f64))
    }

    /// Slope over its standard error; `None` where the line fits exactly.
    pub fn slope_t(&self) -> Option<f64> {
        (self.slope_se > 0.0).then(|| self.slope / self.slope_se)
    }

    /// Two-sided p of a slope of zero.
    pub fn slope_p(&self) -> Option<f64> {
        t_two_sided(self.slope_t()?, self.df())
    }

    /// 95 % limits of slope and intercept, by Student's t on n - 2 degrees of freedom.
    pub fn limits95(&self) -> Option<LineLimits> {
        let t = t_quantile(0.975, self.df())?;
        let around = |centre: f64, se: f64| [centre - t * se, centre + t * se];
        Some(LineLimits {
            slope: around(self.slope, self.slope_se),
            intercept: around(self.intercept, self.intercept_se),
        })
    }
}

/// A least-squares line through the origin, y = slope x.
#[derive(Debug, Clone, PartialEq)]
pub struct LineThroughOrigin {
    /// Pairs fitted.
    pub n: usize,
    /// Slope, unit of y per unit of x.
    pub slope: f64,
    /// Standard error of the slope.
    pub slope_se: f64,
    /// Residual standard deviation on n - 1 degrees of freedom.
    pub residual_sd: f64,
    /// 1 - RSS/sum of y squared: about zero, not about the mean, as NIST certifies it.
    pub r_squared_about_zero: f64,
}

impl LineThroughOrigin {
    /// Fits y = slope x by ordinary least squares.
    ///
    /// # Errors
    /// [`NumericsError`] for fewer than 2 pairs, columns of unequal length, values that are not finite, or only
    /// zeros.
    pub fn fit(x: &[f64], y: &[f64]) -> Result<Self, NumericsError> {
        checked_pairs(x, y, 2)?;
        let xx: f64 = x.iter().map(|x| x * x).sum();
        let yy: f64 = y.iter().map(|y| y * y).sum();
        if xx <= 0.0 || yy <= 0.0 {
            return Err(NumericsError::NoSpread);
        }
        let slope = x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>() / xx;
        let rss: f64 = x.iter().zip(y).map(|(x, y)| (y - slope * x).powi(2)).sum();
        let residual_sd = (rss / (x.len() - 1) as f64).sqrt();
        Ok(Self {
            n: x.len(),
            slope,
            slope_se: residual_sd / xx.sqrt(),
            residual_sd,
            r_squared_about_zero: 1.0 - rss / yy,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_without_scatter_is_found_and_has_no_test() {
        let line = Line::fit(&[1.0, 2.0, 4.0], &[5.0, 7.0, 11.0]).unwrap();
        assert_eq!((line.slope, line.intercept, line.rss), (2.0, 3.0, 0.0));
        assert_eq!((line.slope_t(), line.slope_p()), (None, None));
    }

    #[test]
    fn what_cannot_be_fitted_is_refused() {
        assert_eq!(
            Line::fit(&[1.0, 2.0], &[1.0, 2.0]),
            Err(NumericsError::TooFew { needed: 3, found: 2 })
        );
        assert_eq!(Line::fit(&[0.1; 5], &[1.0, 2.0, 3.0, 4.0, 5.0]), Err(NumericsError::NoSpread));
        assert_eq!(
            Line::fit(&[1.0, f64::NAN, 2.0], &[1.0; 3]),
            Err(NumericsError::NotFinite { index: 2 })
        );
        assert!(Line::fit(&[1.0, 2.0, 3.0], &[1.0]).is_err());
        assert!(LineThroughOrigin::fit(&[0.0, 0.0], &[1.0, 2.0]).is_err());
    }

    #[test]
    fn equal_y_have_no_correlation() {
        let line = Line::fit(&[1.0, 2.0, 3.0], &[4.0; 3]).unwrap();
        assert_eq!((line.r, line.r_squared, line.slope), (None, None, 0.0));
    }
}
