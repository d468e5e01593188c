//! Least squares on several columns.

use nalgebra::{DMatrix, DVector};

use super::{NumericsError, mean};

/// y = intercept + sum of coefficient times column, by least squares.
#[derive(Debug, Clone, PartialEq)]
pub struct MultipleFit {
    /// Rows fitted.
    pub n: usize,
    /// The constant.
    pub intercept: f64,
    /// One coefficient for each column.
    pub coefficients: Vec<f64>,
    /// Residual sum of squares.
    pub rss: f64,
    /// Sum of squares of y about its mean.
    pub syy: f64,
    /// Residual standard deviation on n - columns - 1 degrees of freedom.
    pub residual_sd: f64,
    /// Covariance of the constant (first) and the coefficients.
    pub covariance: DMatrix<f64>,
}

impl MultipleFit {
    /// Fits `y` on `columns`. Columns are centred and scaled, then solved by QR.
    ///
    /// # Errors
    /// [`NumericsError`] for columns of unequal length, too few rows (columns + 2 are needed), values that are
    /// not finite, or columns that repeat one another.
    pub fn fit(columns: &[&[f64]], y: &[f64]) -> Result<Self, NumericsError> {
        let (n, p) = (y.len(), columns.len());
        for column in columns {
            super::checked_pairs(column, y, p + 2)?;
        }
        let y_mean = mean(y).unwrap_or_default();
        let means: Vec<f64> =
            columns.iter().map(|column| mean(column).unwrap_or_default()).collect();
        let norms: Vec<f64> = columns
            .iter()
            .zip(&means)
            .map(|(column, mean)| column.iter().map(|x| (x - mean).powi(2)).sum::<f64>().sqrt())
            .collect();
        if norms.iter().any(|norm| *norm <= 0.0) {
            return Err(NumericsError::NoSpread);
        }
        let design = DMatrix::from_fn(n, p, |i, j| (columns[j][i] - means[j]) / norms[j]);
        let target = DVector::from_iterator(n, y.iter().map(|y| y - y_mean));
        let qr = design.clone().qr();
        let r = qr.r();
        if (0..p).any(|j| r[(j, j)].abs() < 1e-10) {
            return Err(NumericsError::NoSpread);
        }
        let rotated = qr.q().transpose() * &target;
        let scaled = r.solve_upper_triangular(&rotated).ok_or(NumericsError::NoSpread)?;
        let rss = (&target - &design * &scaled).norm_squared();
        let residual_sd = (rss / (n - p - 1) as f64).sqrt();
        let inverse =
            r.solve_upper_triangular(&DMatrix::identity(p, p)).ok_or(NumericsError::NoSpread)?;
        let unit = &inverse * inverse.transpose();
        let variance = residual_sd * residual_sd;
        let slopes = DMatrix::from_fn(p, p, |i, j| variance * unit[(i, j)] / (norms[i] * norms[j]));
        let coefficients: Vec<f64> = (0..p).map(|j| scaled[j] / norms[j]).collect();
        let offset: f64 = coefficients.iter().zip(&means).map(|(b, mean)| b * mean).sum();
        Ok(Self {
            n,
            intercept: y_mean - offset,
            coefficients,
            rss,
            syy: target.norm_squared(),
            residual_sd,
            covariance: with_constant(&slopes, &means, variance / n as f64),
        })
    }

    /// Standard error of the constant (0) or of a coefficient (from 1).
    pub fn standard_error(&self, index: usize) -> Option<f64> {
        self.covariance.get((index, index)).map(|variance| variance.sqrt())
    }

    /// Share of the sum of squares about the mean that is explained; `None` where all y are alike.
    pub fn r_squared(&self) -> Option<f64> {
        (self.syy > 0.0).then(|| 1.0 - self.rss / self.syy)
    }
}

/// Covariance with the constant added in front: the constant is the mean of y minus coefficients times means.
fn with_constant(slopes: &DMatrix<f64>, means: &[f64], mean_variance: f64) -> DMatrix<f64> {
    let p = means.len();
    let means = DVector::from_column_slice(means);
    let against = slopes * &means;
    let constant = mean_variance + means.dot(&against);
    DMatrix::from_fn(p + 1, p + 1, |i, j| match (i, j) {
        (0, 0) => constant,
        (0, k) | (k, 0) => -against[k - 1],
        _ => slopes[(i - 1, j - 1)],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::numerics::regression::Line;

    #[test]
    fn one_column_gives_the_straight_line() {
        let (x, y) = ([1.0, 2.0, 4.0, 7.0], [1.0, 3.0, 4.0, 9.0]);
        let (fit, line) = (MultipleFit::fit(&[&x], &y).unwrap(), Line::fit(&x, &y).unwrap());
        assert!((fit.coefficients[0] - line.slope).abs() < 1e-13);
        assert!((fit.standard_error(0).unwrap() - line.intercept_se).abs() < 1e-13);
        assert!((fit.standard_error(1).unwrap() - line.slope_se).abs() < 1e-13);
    }

    #[test]
    fn a_column_that_repeats_another_is_refused() {
        let x = [1.0, 2.0, 4.0, 7.0, 8.0];
        let double: Vec<f64> = x.iter().map(|x| 2.0 * x).collect();
        assert_eq!(MultipleFit::fit(&[&x, &double], &x), Err(NumericsError::NoSpread));
    }
}
