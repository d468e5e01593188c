//! Weights of the choice among candidates.
//!
//! Made by `cargo bench --bench truth -- --fit --n 10` on invented pictures (training seeds only, all styles and the
//! three readable grades), by conditional maximum likelihood with a small penalty on large weights; add `--list`
//! for the measure on each style left out of its own fit.

use super::selection::{N_EVIDENCE, N_STEP, Weights};

const SCALE_EVIDENCE: [f64; N_EVIDENCE] = [
    -0.774, -0.278, 0.239, -0.586, -0.001, -0.604, -0.312, 0.107, 0.577, 1.499, 0.713, 0.063,
    0.811, 0.161, 0.487, 0.732,
];
const SCALE_STEP: [f64; N_STEP] = [
    0.848, -1.065, 0.617, -2.147, -1.134, -1.315, -0.555, -0.637, -0.088, -0.132, 0.011, -0.111,
    0.010, -1.360, -0.896, 1.024,
];
const OTOLITH_EVIDENCE: [f64; N_EVIDENCE] = [
    -0.825, 0.482, 0.136, -0.579, 1.274, -0.320, -0.068, 1.091, 0.019, 0.347, 0.092, 0.725, -0.211,
    -0.282, 0.294, -0.691,
];
const OTOLITH_STEP: [f64; N_STEP] = [
    0.976, -1.048, 0.690, -1.576, -1.294, -1.974, -0.658, -0.834, -0.998, 0.143, -0.227, -0.126,
    -0.307, -1.166, -0.716, 0.561,
];

/// For scales.
pub fn scale_weights() -> Weights {
    Weights { evidence: SCALE_EVIDENCE, step: SCALE_STEP }
}

/// For otoliths.
pub fn otolith_weights() -> Weights {
    Weights { evidence: OTOLITH_EVIDENCE, step: OTOLITH_STEP }
}
