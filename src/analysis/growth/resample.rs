//! The bootstrap over fish: all rows of a fish are drawn together (Efron & Tibshirani 1993, from memory; for repeated
//! lengths of one fish, Vaughan & Burton 1994, from memory).

use crate::analysis::numerics::bootstrap::{PercentileInterval, percentile_interval, replicates};
use crate::analysis::numerics::least_squares::{StepLimits, Stopping, minimise};
use crate::analysis::numerics::splitmix::SplitMix64;
use crate::domain::progress::{Progress, Stopped};

use super::cells::Cells;
use super::curve::{Curve, Row};
use super::fit::Fit;
use super::objective::Objective;
use super::separable::separable;

/// One parameter over the replicates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BootstrapParameter {
    /// Its name.
    pub name: &'static str,
    /// Median and percentile limits; `None` when every refit failed.
    pub interval: Option<PercentileInterval>,
}

/// A finished bootstrap.
#[derive(Debug, Clone, PartialEq)]
pub struct Bootstrap {
    /// Replicates asked for.
    pub replicates: usize,
    /// Refits that did not converge, had too few ages, or ended on a guard. They are left out of the limits, which
    /// therefore are too narrow when many failed.
    pub failed: usize,
    /// The seed.
    pub seed: u64,
    /// Free parameters in order.
    pub parameters: Vec<BootstrapParameter>,
    /// Parameter values of each successful replicate.
    pub rows: Vec<Row>,
}

impl Bootstrap {
    /// Said where so many refits failed that the limits cannot be trusted: more than one in twenty (common practice, no
    /// source).
    pub fn warning(&self) -> Option<String> {
        (self.failed * 20 > self.replicates).then(|| {
            format!(
                "{} of {} resampled fits failed or ran to a guard and are left out: the limits are too narrow; fix a parameter or \
                 use a simpler curve",
                self.failed, self.replicates
            )
        })
    }
}

/// Refits the curve to `count` samples of fish drawn with replacement, on all cores; the same for any number of them.
///
/// # Errors
/// [`Stopped`] when someone asked to stop.
pub fn bootstrap(
    fit: &Fit,
    count: usize,
    seed: u64,
    progress: &Progress,
) -> Result<Bootstrap, Stopped> {
    let limits = fit.objective().limits(&fit.guards);
    let start = fit.objective().free_of(&fit.row());
    let drawn = replicates(count, seed, progress, |random| refit(fit, &start, &limits, random))?;
    let rows: Vec<Row> = drawn.into_iter().flatten().collect();
    let parameters = fit
        .parameters
        .iter()
        .enumerate()
        .filter(|(_, parameter)| !parameter.is_fixed)
        .map(|(index, parameter)| BootstrapParameter {
            name: parameter.name,
            interval: percentile_interval(
                rows.iter().map(|row| near(fit.curve, index, row[index], parameter.estimate)),
            ),
        })
        .collect();
    Ok(Bootstrap { replicates: count, failed: count - rows.len(), seed, parameters, rows })
}

/// The start of winter as a day near the estimate, not a year off.
fn near(curve: Curve, index: usize, value: f64, estimate: f64) -> f64 {
    if curve == Curve::Somers && index == 4 {
        estimate + (value - estimate + 0.5).rem_euclid(1.0) - 0.5
    } else {
        value
    }
}

fn refit(fit: &Fit, start: &[f64], limits: &StepLimits, random: &mut SplitMix64) -> Option<Row> {
    let cells = draw(fit, random);
    if cells.weights.iter().filter(|weight| **weight > 0.0).count() < start.len() {
        return None;
    }
    if let Some(row) = separable(fit, &cells) {
        return Some(row);
    }
    let objective = Objective::single(fit.curve, fit.error, &cells, &fit.fixed);
    let end = minimise(&objective, start, limits, Stopping::QUICK);
    (end.converged && !end.on_bound.contains(&true)).then(|| objective.row_of(&end.at))
}

/// The cells of as many fish as there are, drawn with replacement. Ages left without fish keep weight 0.
fn draw(fit: &Fit, random: &mut SplitMix64) -> Cells {
    let n_cells = fit.sample.cells.ages.len();
    let (mut weights, mut means) = (vec![0.0; n_cells], vec![0.0; n_cells]);
    for _ in 0..fit.sample.n_fish {
        for &(cell, response, weight) in fit.sample.fish_rows(random.next_below(fit.sample.n_fish))
        {
            weights[cell as usize] += weight;
            means[cell as usize] += weight * response;
        }
    }
    for (mean, weight) in means.iter_mut().zip(&weights) {
        if *weight > 0.0 {
            *mean /= weight;
        }
    }
    // The scatter within ages is a constant of the fit; that of the sample gives the size to judge convergence by.
    Cells { ages: fit.sample.cells.ages.clone(), weights, means, within: fit.sample.cells.within }
}
