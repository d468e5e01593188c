//! Bands about a fitted curve: for the mean by the delta method, for a single fish with the residual variance added.

use crate::analysis::numerics::distribution::t_quantile;

use super::cells::ErrorModel;
use super::curve::MAX_PARAMETERS;
use super::fit::Fit;
use super::objective::response;

/// The curve at one age. With multiplicative error the centre is the median length, and limits are those of the
/// logarithm turned back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Age, years.
    pub age: f64,
    /// Length on the curve.
    pub mean: f64,
    /// Standard error of the mean, on the scale fitted; `None` when the fit does not identify the parameters.
    pub se: Option<f64>,
    /// 95 % confidence limits of the mean.
    pub ci95: Option<[f64; 2]>,
    /// 95 % prediction limits of a single fish.
    pub pi95: Option<[f64; 2]>,
}

/// The curve and its bands at `age`; `None` outside the domain of the curve.
pub fn predict(fit: &Fit, age: f64) -> Option<Band> {
    let mut gradient = [0.0; MAX_PARAMETERS];
    let centre = response(fit.curve, fit.error, age, &fit.row(), &mut gradient)?;
    let free: Vec<f64> = fit
        .parameters
        .iter()
        .zip(gradient)
        .filter(|(parameter, _)| !parameter.is_fixed)
        .map(|(_, slope)| slope)
        .collect();
    let variance = fit.delta_variance(&free);
    let back = |value: f64| match fit.error {
        ErrorModel::Additive => value,
        ErrorModel::Multiplicative => value.exp(),
    };
    let t = t_quantile(0.975, fit.df as f64);
    let limits = |variance: f64| {
        t.map(|t| [back(centre - t * variance.sqrt()), back(centre + t * variance.sqrt())])
    };
    Some(Band {
        age,
        mean: back(centre),
        se: variance.map(f64::sqrt),
        ci95: variance.and_then(limits),
        pi95: variance.zip(fit.residual_sd).and_then(|(variance, sd)| limits(variance + sd * sd)),
    })
}
