//! One curve refitted to many samples, each from the same start: what simulation of errors needs.

use crate::analysis::numerics::least_squares::{StepLimits, Stopping, minimise};

use super::cells::Cells;
use super::curve::Row;
use super::fit::Fit;
use super::objective::Objective;
use super::separable::separable;

/// Whole ages up to this one are gathered without sorting, years.
const OLDEST_BUCKET: usize = 128;

/// A fitted curve, ready to be fitted again to other lengths from where it stands.
#[derive(Debug)]
pub struct Refit<'a> {
    fit: &'a Fit,
    start: Vec<f64>,
    limits: StepLimits,
}

impl<'a> Refit<'a> {
    /// Refits of `fit`, with its curve, error model, fixed parameters and guards.
    pub fn new(fit: &'a Fit) -> Self {
        let objective = fit.objective();
        Self { fit, start: objective.free_of(&fit.row()), limits: objective.limits(&fit.guards) }
    }

    /// All parameters of the curve through rows of age (years, 0 or more), length (above 0) and weight. `None` where there
    /// are too few ages, where the search does not settle, and where it ends on a guard.
    pub fn to(&self, rows: &[(f64, f64, f64)]) -> Option<Row> {
        let cells = self.gather(rows)?;
        if cells.ages.len() < self.start.len() {
            return None;
        }
        if let Some(row) = separable(self.fit, &cells) {
            return Some(row);
        }
        let objective = Objective::single(self.fit.curve, self.fit.error, &cells, &self.fit.fixed);
        let end = minimise(&objective, &self.start, &self.limits, Stopping::QUICK);
        (end.converged && !end.on_bound.contains(&true)).then(|| objective.row_of(&end.at))
    }

    fn gather(&self, rows: &[(f64, f64, f64)]) -> Option<Cells> {
        let is_sound = |&(age, length, _): &(f64, f64, f64)| {
            age.is_finite() && age >= 0.0 && length.is_finite() && length > 0.0
        };
        if !rows.iter().all(is_sound) {
            return None;
        }
        let is_whole =
            |&(age, ..): &(f64, f64, f64)| age.fract() == 0.0 && age < OLDEST_BUCKET as f64;
        let gathered =
            if rows.iter().all(is_whole) { self.by_whole_age(rows) } else { self.by_age(rows) };
        let (mut ages, mut weights, mut means) = (Vec::new(), Vec::new(), Vec::new());
        for (age, weight, sum) in gathered.into_iter().filter(|(_, weight, _)| *weight > 0.0) {
            ages.push(age);
            weights.push(weight);
            means.push(sum / weight);
        }
        // The scatter within ages is a constant of the fit; that of the first sample gives the size to judge by.
        Some(Cells { ages, weights, means, within: self.fit.sample.cells.within })
    }

    /// Age, weight and weighted sum of responses at each whole age.
    fn by_whole_age(&self, rows: &[(f64, f64, f64)]) -> Vec<(f64, f64, f64)> {
        let mut cells = vec![(0.0, 0.0, 0.0); OLDEST_BUCKET];
        for &(age, length, weight) in rows {
            if let Some(cell) = cells.get_mut(age as usize) {
                cell.0 = age;
                cell.1 += weight;
                cell.2 += weight * self.fit.error.response(length);
            }
        }
        cells
    }

    fn by_age(&self, rows: &[(f64, f64, f64)]) -> Vec<(f64, f64, f64)> {
        let mut sorted: Vec<&(f64, f64, f64)> = rows.iter().collect();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut cells: Vec<(f64, f64, f64)> = Vec::new();
        for &&(age, length, weight) in &sorted {
            let response = self.fit.error.response(length);
            match cells.last_mut() {
                Some(cell) if cell.0 == age => {
                    cell.1 += weight;
                    cell.2 += weight * response;
                }
                _ => cells.push((age, weight, weight * response)),
            }
        }
        cells
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::growth::{Curve, FitSettings, Observation, fit};

    #[test]
    fn a_refit_to_the_same_rows_ends_where_the_fit_did() {
        for shift in [0.0, 0.37] {
            let rows: Vec<(f64, f64, f64)> = (0..60u32)
                .map(|i| {
                    let age = f64::from(1 + i % 9) + shift * f64::from(i % 4);
                    (age, 500.0 * (1.0 - (-0.3 * (age + 0.2)).exp()) + f64::from(i % 7) - 3.0, 1.0)
                })
                .collect();
            let observations: Vec<Observation> = rows
                .iter()
                .enumerate()
                .map(|(fish, row)| Observation::single(row.0, row.1, fish))
                .collect();
            let first = fit(Curve::VonBertalanffy, &observations, &FitSettings::default()).unwrap();
            let again = Refit::new(&first).to(&rows).unwrap();
            for (a, b) in first.row().iter().zip(again) {
                assert!((a - b).abs() <= 1e-6 * a.abs(), "{a} {b}");
            }
            assert_eq!(Refit::new(&first).to(&rows[..2]), None);
            assert_eq!(Refit::new(&first).to(&[(1.0, -3.0, 1.0)]), None);
        }
    }
}
