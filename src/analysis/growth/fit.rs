//! Fitting one curve to one sample.
//!
//! Several starts are followed and their sums of squares compared; a fit is never accepted on the word of the optimiser
//! alone. Covariance s² (JᵀWJ)⁻¹ with s² = RSS/(n - p); Wald limits with Student's t on n - p (Bates & Watts 1988, from
//! memory). ln Lik = -(n/2)(ln 2π + ln(RSS/n) + 1) + Σ ln w / 2; AICc counts the variance as a parameter (Burnham &
//! Anderson 2002, from memory).

use crate::analysis::numerics::distribution::t_quantile;
use crate::analysis::numerics::least_squares::{Minimum, Stopping, minimise};
use crate::analysis::numerics::symmetric::inverse;

use super::GrowthError;
use super::cells::{ErrorModel, Observation, Sample};
use super::curve::{Curve, MAX_PARAMETERS, Row};
use super::guards::Guards;
use super::objective::Objective;
use super::starts::starts;
use super::warning::{self, Warning};

/// How to fit.
#[derive(Debug, Clone, PartialEq)]
pub struct FitSettings {
    /// How lengths scatter.
    pub error: ErrorModel,
    /// Parameters held at a value.
    pub fixed: Vec<(String, f64)>,
    /// One start to use instead of all others: a value for each parameter of the curve, in order.
    pub start: Option<Vec<f64>>,
    /// Whether guards hold the parameters to sensible ranges.
    pub guarded: bool,
}

impl Default for FitSettings {
    fn default() -> Self {
        Self { error: ErrorModel::Additive, fixed: Vec::new(), start: None, guarded: true }
    }
}

/// One parameter of a fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameter {
    /// Name, as in the formula.
    pub name: &'static str,
    /// Value.
    pub estimate: f64,
    /// Standard error; `None` when fixed, or when the fit does not identify the parameters.
    pub se: Option<f64>,
    /// Wald 95 % limits.
    pub ci95: Option<[f64; 2]>,
    /// Held at a given value.
    pub is_fixed: bool,
    /// Ended on a guard: not identified.
    pub on_bound: bool,
}

/// A fitted curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The curve.
    pub curve: Curve,
    /// The error model.
    pub error: ErrorModel,
    /// Rows used.
    pub n: usize,
    /// Fish used.
    pub n_fish: usize,
    /// Parameters in the order of the curve.
    pub parameters: Vec<Parameter>,
    /// Covariance of the free parameters, row by row; `None` when not identified.
    pub covariance: Option<Vec<f64>>,
    /// Residual sum of squares (of logarithms with multiplicative error).
    pub rss: f64,
    /// Residual degrees of freedom, n - p.
    pub df: usize,
    /// Residual standard deviation; `None` without degrees of freedom.
    pub residual_sd: Option<f64>,
    /// Log-likelihood of the fitted response; `None` for a perfect fit.
    pub log_likelihood: Option<f64>,
    /// Akaike's criterion for small samples; `None` when n <= k + 1.
    pub aicc: Option<f64>,
    /// The search ended on a minimum.
    pub converged: bool,
    /// Starts followed.
    pub starts_tried: usize,
    /// Starts that ended within a millionth of the best sum of squares.
    pub starts_agreeing: usize,
    /// What to know before using it.
    pub warnings: Vec<Warning>,
    pub(super) sample: Sample,
    pub(super) fixed: [Option<f64>; MAX_PARAMETERS],
    pub(super) guards: Guards,
}

/// Fits a curve to lengths at age.
///
/// # Errors
/// [`GrowthError`]: a bad row, too few ages, an unknown or badly fixed parameter, no usable start.
pub fn fit(
    curve: Curve,
    observations: &[Observation],
    settings: &FitSettings,
) -> Result<Fit, GrowthError> {
    let sample = Sample::new(observations, settings.error)?;
    let fixed = fixed_values(curve, &settings.fixed)?;
    let n_free = (0..curve.n_parameters()).filter(|i| fixed[*i].is_none()).count();
    check_size(curve, &sample, n_free)?;
    let guards = if settings.guarded { Guards::of(curve, &sample) } else { Guards::none() };
    let (rows, no_asymptote) = match &settings.start {
        Some(start) => (vec![given_start(start, &fixed)], false),
        None => starts(curve, settings.error, &sample, &fixed),
    };
    let objective = Objective::single(curve, settings.error, &sample.cells, &fixed);
    let limits = objective.limits(&guards);
    let ends: Vec<Minimum> = rows
        .iter()
        .map(|row| minimise(&objective, &objective.free_of(row), &limits, Stopping::FINE))
        .filter(|end| end.rss.is_finite())
        .collect();
    let best = ends
        .iter()
        .min_by(|a, b| a.rss.total_cmp(&b.rss).then(b.converged.cmp(&a.converged)))
        .ok_or(GrowthError::NoStart { curve: curve.word() })?
        .clone();
    // The starts meet in one minimum; among equals take one that has settled.
    let close = |end: &&Minimum| end.rss <= best.rss * (1.0 + 1e-6) + 1e-12;
    let settled =
        ends.iter().filter(close).find(|end| end.converged && end.rss <= best.rss * (1.0 + 1e-9));
    let chosen =
        if best.converged { best.clone() } else { settled.cloned().unwrap_or(best.clone()) };
    let agreeing = ends.iter().filter(close).count();
    let row = normalised(curve, objective.row_of(&chosen.at), &fixed);
    let mut fit = assemble(curve, settings.error, sample.clone(), &chosen, row, fixed, guards);
    (fit.starts_tried, fit.starts_agreeing) = (rows.len(), agreeing);
    fit.warnings = warning::of_fit(&fit, no_asymptote);
    Ok(fit)
}

pub(super) fn fixed_values(
    curve: Curve,
    given: &[(String, f64)],
) -> Result<[Option<f64>; MAX_PARAMETERS], GrowthError> {
    if let Curve::Francis { young, old } = curve
        && !(young.is_finite() && old.is_finite() && young < old)
    {
        return Err(GrowthError::BadFrancisAges { young, old });
    }
    let mut fixed = [None; MAX_PARAMETERS];
    for (name, value) in given {
        let index = curve.parameter(name).ok_or_else(|| GrowthError::UnknownParameter {
            name: name.clone(),
            curve: curve.word(),
            known: curve.parameter_names().join(", "),
        })?;
        let positive = matches!(name.as_str(), "Linf" | "K" | "omega");
        if !value.is_finite() || (positive && *value <= 0.0) {
            return Err(GrowthError::BadFixedValue { name: name.clone(), found: *value });
        }
        fixed[index] = Some(*value);
    }
    Ok(fixed)
}

fn check_size(curve: Curve, sample: &Sample, n_free: usize) -> Result<(), GrowthError> {
    if n_free == 0 {
        return Err(GrowthError::NothingFree { curve: curve.word() });
    }
    let found = sample.cells.ages.len();
    if found < n_free || sample.n <= n_free {
        return Err(GrowthError::TooFewAges { found, rows: sample.n, parameters: n_free });
    }
    Ok(())
}

fn given_start(start: &[f64], fixed: &[Option<f64>; MAX_PARAMETERS]) -> Row {
    let mut row = [0.0; MAX_PARAMETERS];
    for (index, value) in row.iter_mut().enumerate() {
        *value = fixed[index].or(start.get(index).copied()).unwrap_or(0.0);
    }
    row
}

/// The seasonal wave is the same with amplitude -C half a year on; report C >= 0 and 0 <= ts < 1.
fn normalised(curve: Curve, mut row: Row, fixed: &[Option<f64>; MAX_PARAMETERS]) -> Row {
    if curve == Curve::Somers && fixed[4].is_none() {
        if row[3] < 0.0 && fixed[3].is_none() {
            row[3] = -row[3];
            row[4] += 0.5;
        }
        row[4] = row[4].rem_euclid(1.0);
    }
    row
}

fn assemble(
    curve: Curve,
    error: ErrorModel,
    sample: Sample,
    minimum: &Minimum,
    row: Row,
    fixed: [Option<f64>; MAX_PARAMETERS],
    guards: Guards,
) -> Fit {
    let n_free = minimum.at.len();
    let df = sample.n.saturating_sub(n_free);
    let variance = (df > 0).then(|| minimum.rss / df as f64);
    let identified = minimum.converged && !minimum.on_bound.contains(&true);
    let mut covariance = identified
        .then(|| inverse(&minimum.jtj, n_free))
        .flatten()
        .zip(variance)
        .map(|(inverse, s2)| inverse.into_iter().map(|value| value * s2).collect::<Vec<f64>>());
    // A wave turned by half a year changes the sign of its covariances with C.
    if curve == Curve::Somers && n_free == MAX_PARAMETERS && minimum.at[3] < 0.0 {
        for other in [0, 1, 2, 4] {
            if let Some(covariance) = covariance.as_mut() {
                covariance[3 * n_free + other] *= -1.0;
                covariance[other * n_free + 3] *= -1.0;
            }
        }
    }
    let t = t_quantile(0.975, df as f64);
    let mut position = 0;
    let parameters = curve
        .parameter_names()
        .iter()
        .enumerate()
        .map(|(index, name)| {
            let is_fixed = fixed[index].is_some();
            let at = position;
            position += usize::from(!is_fixed);
            let se = covariance
                .as_ref()
                .filter(|_| !is_fixed)
                .and_then(|c| c.get(at * n_free + at))
                .map(|variance| variance.sqrt());
            let ci95 = se.zip(t).map(|(se, t)| [row[index] - t * se, row[index] + t * se]);
            let on_bound = !is_fixed && minimum.on_bound.get(at) == Some(&true);
            Parameter { name, estimate: row[index], se, ci95, is_fixed, on_bound }
        })
        .collect();
    let log_likelihood = log_likelihood(minimum.rss, &sample);
    Fit {
        curve,
        error,
        n: sample.n,
        n_fish: sample.n_fish,
        parameters,
        covariance,
        rss: minimum.rss,
        df,
        residual_sd: variance.map(f64::sqrt),
        log_likelihood,
        aicc: log_likelihood.and_then(|value| aicc(value, n_free + 1, sample.n)),
        converged: minimum.converged,
        starts_tried: 1,
        starts_agreeing: 1,
        warnings: Vec::new(),
        sample,
        fixed,
        guards,
    }
}

fn log_likelihood(rss: f64, sample: &Sample) -> Option<f64> {
    let n = sample.n as f64;
    let value =
        -0.5 * n * (std::f64::consts::TAU.ln() + (rss / n).ln() + 1.0) + 0.5 * sample.log_weights;
    value.is_finite().then_some(value)
}

/// AIC with its small-sample term, k parameters with the variance counted; `None` when n <= k + 1.
pub(super) fn aicc(log_likelihood: f64, k: usize, n: usize) -> Option<f64> {
    let spare = n.checked_sub(k + 1).filter(|spare| *spare > 0)? as f64;
    let k = k as f64;
    Some(-2.0 * log_likelihood + 2.0 * k + 2.0 * k * (k + 1.0) / spare)
}

impl Fit {
    /// All parameter values in the order of the curve.
    pub fn row(&self) -> Row {
        let mut row = [0.0; MAX_PARAMETERS];
        for (value, parameter) in row.iter_mut().zip(&self.parameters) {
            *value = parameter.estimate;
        }
        row
    }

    /// A parameter by name.
    pub fn parameter(&self, name: &str) -> Option<&Parameter> {
        self.parameters.iter().find(|parameter| parameter.name == name)
    }

    /// Number of free parameters.
    pub fn n_free(&self) -> usize {
        self.parameters.iter().filter(|parameter| !parameter.is_fixed).count()
    }

    /// Distinct ages in the sample.
    pub fn n_ages(&self) -> usize {
        self.sample.cells.ages.len()
    }

    /// Youngest and oldest age of the sample, years.
    pub fn age_range(&self) -> (f64, f64) {
        self.sample.cells.age_range()
    }

    /// Correlation of the `i`-th and `j`-th free parameters.
    pub fn correlation(&self, i: usize, j: usize) -> Option<f64> {
        let (covariance, n) = (self.covariance.as_ref()?, self.n_free());
        let at = |row: usize, column: usize| covariance.get(row * n + column).copied();
        Some(at(i, j)? / (at(i, i)? * at(j, j)?).sqrt())
    }

    /// Covariance of functions of the free parameters, by their derivatives (the delta method): `gradient` over the free
    /// parameters in order.
    pub fn delta_variance(&self, gradient: &[f64]) -> Option<f64> {
        let (covariance, n) = (self.covariance.as_ref()?, self.n_free());
        let mut sum = 0.0;
        for (i, left) in gradient.iter().enumerate().take(n) {
            for (j, right) in gradient.iter().enumerate().take(n) {
                sum += left * right * covariance.get(i * n + j)?;
            }
        }
        Some(sum)
    }

    pub(super) fn objective(&self) -> Objective<'_> {
        Objective::single(self.curve, self.error, &self.sample.cells, &self.fixed)
    }
}
