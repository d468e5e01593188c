//! Weights of the choice among candidates.
//!
//! Made by `cargo bench --bench truth -- --fit --n 12` on invented pictures (training seeds only, all styles and the
//! three readable grades), by conditional maximum likelihood with a small penalty on large weights; add `--list`
//! for the measure on each style left out of its own fit.

use super::selection::{N_EVIDENCE, N_STEP, Weights};

const SCALE_EVIDENCE: [f64; N_EVIDENCE] = [
    -1.094, -0.128, 0.355, 0.168, -0.067, -0.689, -0.541, 0.155, 0.212, -0.132, 0.641, 0.113,
    1.265, 0.213, 0.374, 0.721,
];
const SCALE_STEP: [f64; N_STEP] = [
    0.816, -1.069, 0.654, -1.997, -0.923, -1.139, -0.578, -0.885, -0.167, -0.007, 0.084, -0.001,
    0.015, -1.132, -0.710, 1.026,
];
const OTOLITH_EVIDENCE: [f64; N_EVIDENCE] = [
    -0.794, 0.315, 0.054, -0.648, 1.374, -0.247, 0.010, 0.817, 0.095, 0.355, -0.073, 0.803, -0.167,
    -0.382, 0.526, -0.698,
];
const OTOLITH_STEP: [f64; N_STEP] = [
    0.957, -0.988, 0.746, -1.561, -1.178, -1.967, -0.621, -0.878, -1.035, 0.208, -0.117, -0.158,
    -0.237, -1.340, -0.776, 0.712,
];

/// For an annulus at the margin of a scale: see `AxisReading::margin_numbers`.
pub const SCALE_MARGIN: [f64; 3] = [-2.5, 0.8, 0.5];
/// For an annulus at the margin of an otolith.
pub const OTOLITH_MARGIN: [f64; 3] = [-2.5, 0.8, 0.5];

/// For scales.
pub fn scale_weights() -> Weights {
    Weights { evidence: SCALE_EVIDENCE, step: SCALE_STEP }
}

/// For otoliths.
pub fn otolith_weights() -> Weights {
    Weights { evidence: OTOLITH_EVIDENCE, step: OTOLITH_STEP }
}
