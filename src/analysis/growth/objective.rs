//! The sum of squares of one or several samples about curves that share parameters or not.

use crate::analysis::numerics::least_squares::{StepLimits, SumOfSquares};

use super::cells::{Cells, ErrorModel};
use super::curve::{Curve, MAX_PARAMETERS, Row};
use super::guards::Guards;

/// One sample, and where each parameter of its curve comes from.
#[derive(Debug, Clone)]
pub(super) struct Part<'a> {
    pub(super) cells: &'a Cells,
    /// Values of the fixed parameters; the free ones are overwritten.
    pub(super) base: Row,
    /// (parameter of the curve, position among the free parameters).
    pub(super) free: Vec<(usize, usize)>,
}

impl Part<'_> {
    pub(super) fn row(&self, at: &[f64]) -> Row {
        let mut row = self.base;
        for &(parameter, position) in &self.free {
            row[parameter] = at[position];
        }
        row
    }
}

/// The sum of squares over all parts.
#[derive(Debug, Clone)]
pub(super) struct Objective<'a> {
    pub(super) curve: Curve,
    pub(super) error: ErrorModel,
    pub(super) parts: Vec<Part<'a>>,
    pub(super) n_free: usize,
}

impl<'a> Objective<'a> {
    /// One sample with some parameters fixed.
    pub(super) fn single(
        curve: Curve,
        error: ErrorModel,
        cells: &'a Cells,
        fixed: &[Option<f64>; MAX_PARAMETERS],
    ) -> Self {
        let mut base = [0.0; MAX_PARAMETERS];
        let mut free = Vec::with_capacity(MAX_PARAMETERS);
        for parameter in 0..curve.n_parameters() {
            match fixed[parameter] {
                Some(value) => base[parameter] = value,
                None => free.push((parameter, free.len())),
            }
        }
        let n_free = free.len();
        Self { curve, error, parts: vec![Part { cells, base, free }], n_free }
    }

    /// The free values of a whole row of the first part.
    pub(super) fn free_of(&self, row: &Row) -> Vec<f64> {
        let mut at = vec![0.0; self.n_free];
        if let Some(part) = self.parts.first() {
            for &(parameter, position) in &part.free {
                at[position] = row[parameter];
            }
        }
        at
    }

    /// The whole row of the first part.
    pub(super) fn row_of(&self, at: &[f64]) -> Row {
        self.parts.first().map_or([0.0; MAX_PARAMETERS], |part| part.row(at))
    }

    /// The limits of the free parameters.
    pub(super) fn limits(&self, guards: &Guards) -> StepLimits {
        let mut limits = StepLimits::none(self.n_free);
        for part in &self.parts {
            for &(parameter, position) in &part.free {
                limits.lower[position] = guards.lower[parameter];
                limits.upper[position] = guards.upper[parameter];
                limits.is_rate[position] = self.curve.is_rate(parameter);
            }
        }
        limits
    }
}

/// Response and its gradient on the scale that is fitted; `false` outside the domain.
pub(super) fn response(
    curve: Curve,
    error: ErrorModel,
    age: f64,
    row: &Row,
    gradient: &mut Row,
) -> Option<f64> {
    let length = curve.value_and_gradient(age, row, gradient);
    match error {
        ErrorModel::Additive => length.is_finite().then_some(length),
        ErrorModel::Multiplicative => {
            if !(length > 0.0 && length.is_finite()) {
                return None;
            }
            for slope in gradient.iter_mut() {
                *slope /= length;
            }
            Some(length.ln())
        }
    }
}

impl SumOfSquares for Objective<'_> {
    fn n_parameters(&self) -> usize {
        self.n_free
    }

    fn normal_equations(&self, at: &[f64], jtj: &mut [f64], jtr: &mut [f64]) -> f64 {
        jtj.fill(0.0);
        jtr.fill(0.0);
        let mut rss = 0.0;
        for part in &self.parts {
            let Some(part_rss) = accumulate(self, part, at, jtj, jtr) else {
                return f64::INFINITY;
            };
            rss += part_rss;
        }
        rss
    }
}

fn accumulate(
    objective: &Objective<'_>,
    part: &Part<'_>,
    at: &[f64],
    jtj: &mut [f64],
    jtr: &mut [f64],
) -> Option<f64> {
    let row = part.row(at);
    let cells = part.cells;
    let n_part = part.free.len();
    let mut matrix = [[0.0; MAX_PARAMETERS]; MAX_PARAMETERS];
    let mut vector = [0.0; MAX_PARAMETERS];
    let mut rss = cells.within;
    for ((&age, &weight), &mean) in cells.ages.iter().zip(&cells.weights).zip(&cells.means) {
        if weight == 0.0 {
            continue;
        }
        let mut gradient = [0.0; MAX_PARAMETERS];
        let fitted = response(objective.curve, objective.error, age, &row, &mut gradient)?;
        let residual = mean - fitted;
        rss += weight * residual * residual;
        for i in 0..n_part {
            let slope = weight * gradient[part.free[i].0];
            vector[i] += slope * residual;
            for j in 0..=i {
                matrix[i][j] += slope * gradient[part.free[j].0];
            }
        }
    }
    for i in 0..n_part {
        let to = part.free[i].1;
        jtr[to] += vector[i];
        for (value, &(_, from)) in matrix[i].iter().zip(&part.free).take(i + 1) {
            jtj[to * objective.n_free + from] += value;
            if to != from {
                jtj[from * objective.n_free + to] += value;
            }
        }
    }
    rss.is_finite().then_some(rss)
}
