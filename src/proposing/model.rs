//! The fitted model of the choice among candidates.
//!
//! Made by `cargo bench --bench truth -- --fit --write src/proposing --n 8` (scales: see DEVELOPERS.md) on invented pictures (training seeds
//! only, all styles and the three readable grades): weights by conditional maximum likelihood with a small penalty on
//! large ones, then small trees grown on what the weights leave unexplained (gradient boosting of a conditional random
//! field: Dietterich, Ashenfelter & Bulatov 2004, from memory). Probabilities are brought to observed shares on styles
//! left out of the fit (logistic calibration: Platt 1999, from memory). `--leave-one-style-out` measures each style by
//! a model that never saw it.

use super::selection::Weights;

/// Everything fitted for one structure.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// Of the choice.
    pub weights: Weights,
    /// Calibrated log odds are the first number plus the second times the log odds of the choice.
    pub calibration: [f64; 2],
    /// For an annulus at the margin: see `AxisReading::margin_numbers`.
    pub margin: [f64; 3],
}

impl Model {
    /// The share of annuli among candidates of a like probability of the choice.
    pub fn calibrated(&self, probability: f64) -> f64 {
        let p = probability.clamp(1e-6, 1.0 - 1e-6);
        let log_odds = self.calibration[0] + self.calibration[1] * (p / (1.0 - p)).ln();
        1.0 / (1.0 + (-log_odds).exp())
    }
}

/// For scales.
pub fn scale_model() -> Model {
    super::model_scale::model()
}

/// For otoliths.
pub fn otolith_model() -> Model {
    super::model_otolith::model()
}
