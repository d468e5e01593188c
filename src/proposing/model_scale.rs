//! Written by the bench: see `model`.

use super::model::Model;
use super::selection::{N_EVIDENCE, N_STEP, Tree, Weights};

const EVIDENCE: [f64; N_EVIDENCE] = [0.0; N_EVIDENCE];
const STEP: [f64; N_STEP] = [0.0; N_STEP];
const TREES: [Tree; 0] = [];

/// The fitted model.
pub fn model() -> Model {
    Model {
        weights: Weights { evidence: EVIDENCE, step: STEP, trees: TREES.to_vec() },
        calibration: [0.0, 1.0],
        margin: [-2.5, 0.0, 0.0],
    }
}
