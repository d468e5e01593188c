//! The geometric-mean (reduced major axis) line.

use super::NumericsError;
use super::distribution::t_quantile;
use super::regression::Line;

/// A geometric-mean line y = intercept + slope x.
///
/// Slope sign(r) s_y/s_x and its standard error: Ricker 1973 (J. Fish. Res. Board Can. 30:409-434). Limits:
/// Jolicoeur & Mosimann 1968; McArdle 1988. All cited from memory; the arithmetic is checked.
#[derive(Debug, Clone, PartialEq)]
pub struct GeometricMeanLine {
    /// Pairs fitted.
    pub n: usize,
    /// Slope, unit of y per unit of x.
    pub slope: f64,
    /// Value at x = 0, unit of y.
    pub intercept: f64,
    /// Standard error of the slope.
    pub slope_se: f64,
    /// Squared correlation.
    pub r_squared: f64,
    /// 95 % limits of the slope; `None` where Student's t has none.
    pub slope_limits95: Option<[f64; 2]>,
}

impl GeometricMeanLine {
    /// Fits the line.
    ///
    /// # Errors
    /// As [`Line::fit`], and where x and y are not correlated at all.
    pub fn fit(x: &[f64], y: &[f64]) -> Result<Self, NumericsError> {
        let line = Line::fit(x, y)?;
        let r = line.r.filter(|r| *r != 0.0).ok_or(NumericsError::NoSpread)?;
        let slope = r.signum() * (line.syy / line.sxx).sqrt();
        let unexplained = (1.0 - line.r_squared.unwrap_or(r * r)).max(0.0) / line.df();
        // F with 1 and n - 2 degrees of freedom is the square of Student's t with n - 2.
        let slope_limits95 = t_quantile(0.975, line.df()).map(|t| {
            let b = t * t * unexplained;
            let ends =
                [slope * ((b + 1.0).sqrt() - b.sqrt()), slope * ((b + 1.0).sqrt() + b.sqrt())];
            [ends[0].min(ends[1]), ends[0].max(ends[1])]
        });
        Ok(Self {
            n: line.n,
            slope,
            intercept: line.y_mean - slope * line.x_mean,
            slope_se: slope.abs() * unexplained.sqrt(),
            r_squared: r * r,
            slope_limits95,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_is_the_same_whichever_axis_is_called_x() {
        let (x, y) = ([1.0, 2.0, 3.0, 5.0], [2.0, 1.5, 4.0, 6.0]);
        let forward = GeometricMeanLine::fit(&x, &y).unwrap();
        let back = GeometricMeanLine::fit(&y, &x).unwrap();
        assert!((forward.slope * back.slope - 1.0).abs() < 1e-14);
        let limits = forward.slope_limits95.unwrap();
        assert!(limits[0] < forward.slope && forward.slope < limits[1]);
    }

    #[test]
    fn a_falling_line_has_ordered_limits() {
        let line = GeometricMeanLine::fit(&[1.0, 2.0, 3.0, 4.0], &[4.0, 3.1, 1.8, 1.0]).unwrap();
        let limits = line.slope_limits95.unwrap();
        assert!(line.slope < 0.0 && limits[0] < limits[1]);
    }
}
