//! Do groups grow alike? Likelihood ratio of Kimura 1980 and residual-sum F of Chen, Jackson & Harvey 1992 (both from
//! memory). Both assume one residual variance in all groups.

use crate::analysis::numerics::distribution::{chi_squared_upper, f_upper};
use crate::analysis::numerics::least_squares::{Minimum, Stopping, minimise};

use super::GrowthError;
use super::cells::{Observation, Sample};
use super::curve::{Curve, MAX_PARAMETERS, Row};
use super::fit::{Fit, FitSettings, fit, fixed_values};
use super::guards::Guards;
use super::objective::{Objective, Part};

/// One hypothesis.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// "same Linf", or "all the same".
    pub hypothesis: String,
    /// Residual sum of squares under it.
    pub rss: f64,
    /// Chi-square of Kimura 1980: -N ln(RSS separate / RSS constrained).
    pub chi2: f64,
    /// Constraints.
    pub df: usize,
    /// Probability of a chi-square as large under the hypothesis.
    pub p: Option<f64>,
    /// F of Chen, Jackson & Harvey 1992; `None` without residual degrees of freedom.
    pub f: Option<f64>,
    /// Its degrees of freedom.
    pub f_df: [usize; 2],
    /// Its probability.
    pub f_p: Option<f64>,
    /// Parameters of each group under the hypothesis.
    pub rows: Vec<Row>,
    /// The constrained search ended on a minimum inside the guards.
    pub converged: bool,
}

/// Separate fits, and the hypotheses that some or all of their parameters are the same.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupComparison {
    /// Separate fits, in the order given.
    pub fits: Vec<Fit>,
    /// Sum of their residual sums of squares.
    pub rss_separate: f64,
    /// Rows in all.
    pub n: usize,
    /// One hypothesis per free parameter, then all of them together.
    pub comparisons: Vec<Comparison>,
}

/// Fits each group by itself and tests each shared parameter.
///
/// # Errors
/// [`GrowthError`]: fewer than two groups, or a group that cannot be fitted.
pub fn compare_groups(
    curve: Curve,
    groups: &[Vec<Observation>],
    settings: &FitSettings,
) -> Result<GroupComparison, GrowthError> {
    if groups.len() < 2 {
        return Err(GrowthError::OneGroup { found: groups.len() });
    }
    let settings = FitSettings { start: None, ..settings.clone() };
    let fits = groups
        .iter()
        .map(|group| fit(curve, group, &settings))
        .collect::<Result<Vec<Fit>, GrowthError>>()?;
    let pooled_rows: Vec<Observation> = groups.iter().flatten().copied().collect();
    let pooled = Sample::new(&pooled_rows, settings.error)?;
    // The pooled curve is the start for all that is shared.
    let pooled_fit = fit(curve, &pooled_rows, &settings)?;
    let fixed = fixed_values(curve, &settings.fixed)?;
    let guards = if settings.guarded { Guards::of(curve, &pooled) } else { Guards::none() };
    let bench = Bench {
        curve,
        fits: &fits,
        fixed,
        guards,
        pooled: pooled_fit.row(),
        rss_separate: fits.iter().map(|fit| fit.rss).sum(),
        n: pooled.n,
    };
    let free: Vec<usize> = (0..curve.n_parameters()).filter(|i| fixed[*i].is_none()).collect();
    let mut comparisons: Vec<Comparison> = Vec::new();
    if free.len() > 1 {
        for index in &free {
            let name = curve.parameter_names().get(*index).copied().unwrap_or_default();
            comparisons.push(bench.test(format!("same {name}"), &[*index]));
        }
    }
    comparisons.push(bench.test("all the same".to_owned(), &free));
    let (rss_separate, n) = (bench.rss_separate, bench.n);
    Ok(GroupComparison { rss_separate, n, comparisons, fits })
}

struct Bench<'a> {
    curve: Curve,
    fits: &'a [Fit],
    fixed: [Option<f64>; MAX_PARAMETERS],
    guards: Guards,
    pooled: Row,
    rss_separate: f64,
    n: usize,
}

impl Bench<'_> {
    fn test(&self, hypothesis: String, shared: &[usize]) -> Comparison {
        let objective = self.objective(shared);
        let (end, converged) = self.solve(&objective, shared);
        let n_groups = self.fits.len();
        let df = shared.len() * (n_groups - 1);
        let n_free: usize = self.fits.iter().map(Fit::n_free).sum();
        let df2 = self.n.saturating_sub(n_free);
        let chi2 = (self.n as f64 * (end.rss / self.rss_separate).ln()).max(0.0);
        let f = (df2 > 0 && self.rss_separate > 0.0).then(|| {
            ((end.rss - self.rss_separate) / df as f64).max(0.0) / (self.rss_separate / df2 as f64)
        });
        Comparison {
            hypothesis,
            rss: end.rss,
            chi2,
            df,
            p: chi_squared_upper(chi2, df as f64),
            f,
            f_df: [df, df2],
            f_p: f.and_then(|f| f_upper(f, df as f64, df2 as f64)),
            rows: objective.parts.iter().map(|part| part.row(&end.at)).collect(),
            converged,
        }
    }

    /// Shared parameters first, then those of each group.
    fn objective(&self, shared: &[usize]) -> Objective<'_> {
        let mut next = shared.len();
        let parts = self
            .fits
            .iter()
            .map(|fit| {
                let mut base = [0.0; MAX_PARAMETERS];
                let mut free = Vec::new();
                let fixed = self.fixed.iter().take(self.curve.n_parameters());
                for (parameter, (given, slot)) in fixed.zip(&mut base).enumerate() {
                    if let Some(value) = given {
                        *slot = *value;
                    } else if let Some(position) = shared.iter().position(|s| *s == parameter) {
                        free.push((parameter, position));
                    } else {
                        free.push((parameter, next));
                        next += 1;
                    }
                }
                Part { cells: &fit.sample.cells, base, free }
            })
            .collect();
        let error = self.fits.first().map(|fit| fit.error).unwrap_or_default();
        Objective { curve: self.curve, error, parts, n_free: next }
    }

    /// The best of two starts: each group's own values with shared ones averaged, and the pooled curve for all.
    fn solve(&self, objective: &Objective<'_>, shared: &[usize]) -> (Minimum, bool) {
        let limits = objective.limits(&self.guards);
        let own = |group: usize, parameter: usize| {
            if shared.contains(&parameter) {
                self.fits.iter().map(|fit| fit.row()[parameter]).sum::<f64>()
                    / self.fits.len() as f64
            } else {
                self.fits.get(group).map_or(0.0, |fit| fit.row()[parameter])
            }
        };
        let start = |value: &dyn Fn(usize, usize) -> f64| {
            let mut at = vec![0.0; objective.n_free];
            for (group, part) in objective.parts.iter().enumerate() {
                for &(parameter, position) in &part.free {
                    at[position] = value(group, parameter);
                }
            }
            at
        };
        let first = minimise(objective, &start(&own), &limits, Stopping::FINE);
        let pooled = |_: usize, parameter: usize| self.pooled[parameter];
        let second = minimise(objective, &start(&pooled), &limits, Stopping::FINE);
        let better_second = !first.rss.is_finite()
            || (second.rss.is_finite() && second.rss < first.rss * (1.0 - 1e-12));
        let best = if better_second { second } else { first };
        let converged = best.converged && !best.on_bound.contains(&true);
        (best, converged)
    }
}
