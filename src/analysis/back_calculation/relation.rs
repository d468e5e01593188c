//! The relation between length and radius at capture, fitted once per sample: one pair for each fish.

use crate::analysis::numerics::NumericsError;
use crate::analysis::numerics::diagnostics::{BreuschPagan, breusch_pagan, line_diagnostics};
use crate::analysis::numerics::distribution::t_quantile;
use crate::analysis::numerics::geometric_mean::GeometricMeanLine;
use crate::analysis::numerics::multiple::MultipleFit;
use crate::analysis::numerics::quadratic::{LackOfFit, Quadratic, lack_of_fit};
use crate::analysis::numerics::regression::Line;

use super::BackCalculationError;
use super::method::InterceptLine;
use super::sample::Measured;

/// What is predicted from what. Using one direction for the other hypothesis is an error (Francis 1990).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Length from radius: body-proportional forms, and Fraser-Lee by custom.
    LengthOnRadius,
    /// Radius from length: scale-proportional forms.
    RadiusOnLength,
}

impl Direction {
    /// The words used in files: `length-on-radius` or `radius-on-length`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::LengthOnRadius => "length-on-radius",
            Self::RadiusOnLength => "radius-on-length",
        }
    }
}

/// The shape of the relation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A straight line.
    Line,
    /// A straight line between natural logarithms.
    LogLog,
    /// A parabola.
    Quadratic,
    /// A plane in length and age at capture.
    LineWithAge,
}

impl Shape {
    /// The word used in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Line => "line",
            Self::LogLog => "log-log",
            Self::Quadratic => "quadratic",
            Self::LineWithAge => "line-with-age",
        }
    }
}

/// A fitted relation, in mm and µm (natural logarithms of them for [`Shape::LogLog`]).
#[derive(Debug, Clone, PartialEq)]
pub struct Relation {
    /// What is predicted from what.
    pub direction: Direction,
    /// Its shape.
    pub shape: Shape,
    /// Ordinary least squares, or the geometric-mean line.
    pub line: InterceptLine,
    /// Coefficient of the predictor.
    pub slope: f64,
    /// Constant.
    pub intercept: f64,
    /// Coefficient of the predictor squared; `None` unless a parabola.
    pub quadratic: Option<f64>,
    /// Coefficient of age at capture; `None` unless age is in the relation.
    pub per_year: Option<f64>,
    /// Standard error of the slope.
    pub slope_se: Option<f64>,
    /// Standard error of the constant; the geometric-mean line has none.
    pub intercept_se: Option<f64>,
    /// Share of the sum of squares about the mean explained.
    pub r_squared: Option<f64>,
    /// Residual standard deviation; the geometric-mean line has none.
    pub residual_sd: Option<f64>,
    /// Fish in the relation.
    pub n: usize,
    /// Shortest and longest fish, mm.
    pub length_range_mm: [f64; 2],
    /// Smallest and largest total radius, µm.
    pub radius_range_um: [f64; 2],
    /// Does a parabola fit better than the line (between the logarithms for [`Shape::LogLog`])?
    pub lack_of_fit: Option<LackOfFit>,
    /// Does residual spread change along the line?
    pub breusch_pagan: Option<BreuschPagan>,
    /// Keys of fish that bend the line or stand far from it: worth a look, never left out for that.
    pub worth_a_look: Vec<String>,
}

impl Relation {
    /// The line or parabola at a value of the predictor, for drawing it and its residuals: mm at a radius in µm, or µm
    /// at a length in mm. `None` with age in the relation, where one predictor does not say it all.
    pub fn at(&self, predictor: f64) -> Option<f64> {
        match self.shape {
            Shape::Line | Shape::Quadratic => {
                let square = self.quadratic.unwrap_or_default();
                Some(self.intercept + predictor * (self.slope + predictor * square))
            }
            Shape::LogLog => Some((self.intercept + self.slope * predictor.ln()).exp()),
            Shape::LineWithAge => None,
        }
    }
}

/// 95 % limits of a fitted line at one value of the predictor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineLimits {
    /// Of the mean.
    pub mean95: [f64; 2],
    /// Of a single fish.
    pub single95: [f64; 2],
}

impl Relation {
    /// The limits of a least-squares line, by Student's t on n - 2: s sqrt(1/n + (x - mean x)²/Sxx) for the mean, with 1
    /// more under the root for a single fish. `None` for other shapes and lines.
    pub fn limits_at(&self, predictor: f64) -> Option<LineLimits> {
        if self.shape != Shape::Line || self.line != InterceptLine::LeastSquares || self.n < 3 {
            return None;
        }
        let (s, n) = (self.residual_sd.filter(|s| *s > 0.0)?, self.n as f64);
        let (slope_se, intercept_se) = (self.slope_se?, self.intercept_se?);
        // The two standard errors hold the spread and the mean of the predictor, which is positive.
        let sxx = (s / slope_se).powi(2);
        let mean = (((intercept_se / s).powi(2) - 1.0 / n).max(0.0) * sxx).sqrt();
        let share = 1.0 / n + (predictor - mean).powi(2) / sxx;
        let (t, at) = (t_quantile(0.975, n - 2.0)?, self.at(predictor)?);
        let around = |half: f64| [at - half, at + half];
        Some(LineLimits {
            mean95: around(t * s * share.sqrt()),
            single95: around(t * s * (1.0 + share).sqrt()),
        })
    }
}

/// The pairs a relation is fitted to.
pub(crate) struct Pairs<'a> {
    lengths_mm: Vec<f64>,
    radii_um: Vec<f64>,
    ages: Vec<f64>,
    keys: Vec<&'a str>,
    /// Coefficients alone are wanted: no tests of the fit and no fish worth a look.
    is_bare: bool,
}

impl<'a> Pairs<'a> {
    pub(crate) fn of(measured: &'a [Measured<'a>]) -> Self {
        Self {
            lengths_mm: measured.iter().map(|fish| fish.length_mm).collect(),
            radii_um: measured.iter().map(|fish| fish.radius_um).collect(),
            ages: measured.iter().map(|fish| fish.age() as f64).collect(),
            keys: measured.iter().map(|fish| fish.fish.key.as_str()).collect(),
            is_bare: false,
        }
    }

    /// Pairs of one of many refits, of which only the coefficients are used.
    pub(crate) fn bare(lengths_mm: Vec<f64>, radii_um: Vec<f64>, ages: Vec<f64>) -> Self {
        Self { lengths_mm, radii_um, ages, keys: Vec::new(), is_bare: true }
    }

    pub(crate) fn lengths_mm(&self) -> &[f64] {
        &self.lengths_mm
    }

    pub(crate) fn radii_um(&self) -> &[f64] {
        &self.radii_um
    }

    fn predictor_and_response(&self, direction: Direction) -> (&[f64], &[f64]) {
        match direction {
            Direction::LengthOnRadius => (&self.radii_um, &self.lengths_mm),
            Direction::RadiusOnLength => (&self.lengths_mm, &self.radii_um),
        }
    }

    /// A straight line by ordinary least squares.
    pub(crate) fn line(&self, direction: Direction) -> Result<Relation, BackCalculationError> {
        let (x, y) = self.predictor_and_response(direction);
        self.rising(self.straight(x, y, direction, Shape::Line)?)
    }

    /// A straight line between natural logarithms.
    pub(crate) fn log_log(&self, direction: Direction) -> Result<Relation, BackCalculationError> {
        let (x, y) = self.predictor_and_response(direction);
        let ln = |values: &[f64]| values.iter().map(|value| value.ln()).collect::<Vec<_>>();
        self.rising(self.straight(&ln(x), &ln(y), direction, Shape::LogLog)?)
    }

    /// The geometric-mean line of length on radius.
    pub(crate) fn geometric_mean(&self) -> Result<Relation, BackCalculationError> {
        let (x, y) = self.predictor_and_response(Direction::LengthOnRadius);
        let ordinary = self.straight(x, y, Direction::LengthOnRadius, Shape::Line)?;
        let line = GeometricMeanLine::fit(x, y).map_err(refused)?;
        self.rising(Relation {
            line: InterceptLine::GeometricMean,
            slope: line.slope,
            intercept: line.intercept,
            slope_se: Some(line.slope_se),
            intercept_se: None,
            residual_sd: None,
            ..ordinary
        })
    }

    /// A parabola. Whether it rises where it is used is for the method to check.
    pub(crate) fn quadratic(&self, direction: Direction) -> Result<Relation, BackCalculationError> {
        let (x, y) = self.predictor_and_response(direction);
        let curve = Quadratic::fit(x, y).map_err(refused)?;
        let [intercept, slope, square] = curve.coefficients;
        let [intercept_se, slope_se, _] = curve.standard_errors;
        Ok(Relation {
            quadratic: Some(square),
            slope_se: Some(slope_se),
            intercept_se: Some(intercept_se),
            r_squared: curve.r_squared,
            residual_sd: Some(curve.residual_sd),
            lack_of_fit: if self.is_bare { None } else { lack_of_fit(x, y) },
            ..self.plain(direction, Shape::Quadratic, slope, intercept)
        })
    }

    /// Radius on length and age at capture.
    pub(crate) fn with_age(&self) -> Result<Relation, BackCalculationError> {
        let fit =
            MultipleFit::fit(&[&self.lengths_mm, &self.ages], &self.radii_um).map_err(refused)?;
        let slope = fit.coefficients.first().copied().unwrap_or_default();
        self.rising(Relation {
            per_year: fit.coefficients.get(1).copied(),
            slope_se: fit.standard_error(1),
            intercept_se: fit.standard_error(0),
            r_squared: fit.r_squared(),
            residual_sd: Some(fit.residual_sd),
            ..self.plain(Direction::RadiusOnLength, Shape::LineWithAge, slope, fit.intercept)
        })
    }

    fn straight(
        &self,
        x: &[f64],
        y: &[f64],
        direction: Direction,
        shape: Shape,
    ) -> Result<Relation, BackCalculationError> {
        let line = Line::fit(x, y).map_err(refused)?;
        if self.is_bare {
            return Ok(self.plain(direction, shape, line.slope, line.intercept));
        }
        let worth_a_look = line_diagnostics(&line, x, y)
            .iter()
            .zip(&self.keys)
            .filter(|(pair, _)| pair.worth_a_look)
            .map(|(_, key)| (*key).to_owned())
            .collect();
        Ok(Relation {
            slope_se: Some(line.slope_se),
            intercept_se: Some(line.intercept_se),
            r_squared: line.r_squared,
            residual_sd: Some(line.residual_sd),
            lack_of_fit: lack_of_fit(x, y),
            breusch_pagan: breusch_pagan(&line, x, y).ok(),
            worth_a_look,
            ..self.plain(direction, shape, line.slope, line.intercept)
        })
    }

    fn plain(&self, direction: Direction, shape: Shape, slope: f64, intercept: f64) -> Relation {
        Relation {
            direction,
            shape,
            line: InterceptLine::LeastSquares,
            slope,
            intercept,
            quadratic: None,
            per_year: None,
            slope_se: None,
            intercept_se: None,
            r_squared: None,
            residual_sd: None,
            n: self.lengths_mm.len(),
            length_range_mm: range(&self.lengths_mm),
            radius_range_um: range(&self.radii_um),
            lack_of_fit: None,
            breusch_pagan: None,
            worth_a_look: Vec::new(),
        }
    }

    fn rising(&self, relation: Relation) -> Result<Relation, BackCalculationError> {
        if relation.slope > 0.0 {
            return Ok(relation);
        }
        Err(BackCalculationError::NotRising {
            direction: relation.direction.word(),
            radii_um: relation.radius_range_um,
        })
    }
}

fn range(values: &[f64]) -> [f64; 2] {
    values.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], value| {
        [low.min(*value), high.max(*value)]
    })
}

fn refused(error: NumericsError) -> BackCalculationError {
    match error {
        NumericsError::TooFew { needed, found } => {
            BackCalculationError::TooFewFish { needed, found }
        }
        other => BackCalculationError::Fit(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Limits of a line by hand: x 1, 2, 3, 6 and y 2, 3, 5, 8 give slope 17/14, s² = 2/7 / 2 about the mean (3, 4.5).
    #[test]
    fn limits_of_a_line_by_hand() {
        let pairs = Pairs {
            lengths_mm: vec![2.0, 3.0, 5.0, 8.0],
            radii_um: vec![1.0, 2.0, 3.0, 6.0],
            ages: vec![1.0; 4],
            keys: vec!["a", "b", "c", "d"],
            is_bare: false,
        };
        let line = pairs.line(Direction::LengthOnRadius).unwrap();
        // Sxx = 14, Sxy = 17, Syy = 21: RSS = 21 - 17²/14 = 5/14, s² = 5/28.
        let (s, t) = ((5.0_f64 / 28.0).sqrt(), 4.302_652_729_749_46);
        let found = line.limits_at(5.0).unwrap();
        let at = 4.5 + 2.0 * 17.0 / 14.0;
        let half = t * s * (0.25_f64 + 4.0 / 14.0).sqrt();
        assert!((found.mean95[0] - (at - half)).abs() < 1e-9, "{found:?} {at} {half}");
        let single = t * s * (1.25_f64 + 4.0 / 14.0).sqrt();
        assert!((found.single95[1] - (at + single)).abs() < 1e-9);
        assert_eq!(pairs.geometric_mean().unwrap().limits_at(5.0), None);
    }
}
