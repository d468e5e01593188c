//! The parabola by least squares, and the test whether it fits better than the line.

use super::NumericsError;
use super::distribution::f_upper;
use super::multiple::MultipleFit;
use super::regression::Line;
use super::{checked_pairs, mean};

/// y = c0 + c1 x + c2 x squared, by least squares.
#[derive(Debug, Clone, PartialEq)]
pub struct Quadratic {
    /// Pairs fitted.
    pub n: usize,
    /// Constant, coefficient of x, coefficient of x squared.
    pub coefficients: [f64; 3],
    /// Their standard errors.
    pub standard_errors: [f64; 3],
    /// Residual sum of squares.
    pub rss: f64,
    /// Residual standard deviation on n - 3 degrees of freedom.
    pub residual_sd: f64,
    /// Share of the sum of squares about the mean explained; `None` where all y are alike.
    pub r_squared: Option<f64>,
}

impl Quadratic {
    /// Fits the parabola. x is centred and scaled first, so that x and its square hardly overlap.
    ///
    /// # Errors
    /// [`NumericsError`] for fewer than 4 pairs or three different x, columns of unequal length, or values that
    /// are not finite.
    pub fn fit(x: &[f64], y: &[f64]) -> Result<Self, NumericsError> {
        checked_pairs(x, y, 4)?;
        let m = mean(x).unwrap_or_default();
        let s = x.iter().map(|x| (x - m).abs()).fold(0.0, f64::max);
        if s <= 0.0 {
            return Err(NumericsError::NoSpread);
        }
        let u: Vec<f64> = x.iter().map(|x| (x - m) / s).collect();
        let uu: Vec<f64> = u.iter().map(|u| u * u).collect();
        let fit = MultipleFit::fit(&[&u, &uu], y)?;
        // From powers of u = (x - m)/s back to powers of x: the rows of this matrix.
        let back = [
            [1.0, -m / s, (m / s).powi(2)],
            [0.0, 1.0 / s, -2.0 * m / (s * s)],
            [0.0, 0.0, 1.0 / (s * s)],
        ];
        let scaled = [fit.intercept, fit.coefficients[0], fit.coefficients[1]];
        let coefficients = back.map(|row| row.iter().zip(&scaled).map(|(a, b)| a * b).sum());
        let standard_errors = back.map(|row| {
            let mut variance = 0.0;
            for (i, a) in row.iter().enumerate() {
                for (j, b) in row.iter().enumerate() {
                    variance += a * b * fit.covariance[(i, j)];
                }
            }
            variance.max(0.0).sqrt()
        });
        Ok(Self {
            n: fit.n,
            coefficients,
            standard_errors,
            rss: fit.rss,
            residual_sd: fit.residual_sd,
            r_squared: fit.r_squared(),
        })
    }

    /// The parabola at `x`.
    pub fn at(&self, x: f64) -> f64 {
        let [c0, c1, c2] = self.coefficients;
        c0 + x * (c1 + x * c2)
    }

    /// Its slope at `x`.
    pub fn slope_at(&self, x: f64) -> f64 {
        self.coefficients[1] + 2.0 * self.coefficients[2] * x
    }
}

/// Does a parabola fit better than the line?
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LackOfFit {
    /// F on 1 and `df` degrees of freedom.
    pub f: f64,
    /// Denominator degrees of freedom, n - 3.
    pub df: usize,
    /// P(F >= f).
    pub p: f64,
}

/// F test of the added square: (RSS1 - RSS2)/(RSS2/(n - 3)). `None` where either cannot be fitted or nothing
/// is left over.
pub fn lack_of_fit(x: &[f64], y: &[f64]) -> Option<LackOfFit> {
    let line = Line::fit(x, y).ok()?;
    let curve = Quadratic::fit(x, y).ok()?;
    let df = curve.n.checked_sub(3).filter(|df| *df > 0)?;
    let f = (line.rss - curve.rss).max(0.0) / (curve.rss / df as f64);
    Some(LackOfFit { f, df, p: f_upper(f, 1.0, df as f64)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_parabola_is_found() {
        let x = [1.0, 2.0, 3.0, 5.0, 8.0];
        let y: Vec<f64> = x.iter().map(|x| 2.0 - 3.0 * x + 0.5 * x * x).collect();
        let curve = Quadratic::fit(&x, &y).unwrap();
        for (found, expected) in curve.coefficients.iter().zip([2.0, -3.0, 0.5]) {
            assert!((found - expected).abs() < 1e-12);
        }
        assert!((curve.slope_at(3.0)).abs() < 1e-12);
    }

    #[test]
    fn two_different_x_are_not_enough() {
        let fit = Quadratic::fit(&[1.0, 1.0, 2.0, 2.0], &[1.0, 2.0, 3.0, 4.0]);
        assert_eq!(fit, Err(NumericsError::NoSpread));
    }
}
