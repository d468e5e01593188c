//! Weights of the choice among candidates.
//!
//! Made by `cargo bench --bench truth -- --fit --n 10` on invented pictures (training seeds only, all styles and the
//! three readable grades), by conditional maximum likelihood with a small penalty on large weights; add `--list`
//! for the measure on each style left out of its own fit.

use super::selection::{N_EVIDENCE, N_STEP, Weights};

const SCALE_EVIDENCE: [f64; N_EVIDENCE] = [
    -0.969, -0.062, 0.293, 0.298, -0.380, -0.488, -0.436, 0.281, 0.432, -0.103, 0.609, 0.267,
    0.644, 0.108, -0.362, 1.335,
];
const SCALE_STEP: [f64; N_STEP] = [
    0.724, -0.990, 0.542, -2.378, -1.186, -1.554, -0.772, -1.040, -0.320, -0.199, 0.331, 0.246,
    -0.052, -0.604, -0.609, 1.061,
];
const OTOLITH_EVIDENCE: [f64; N_EVIDENCE] = [
    -0.768, 0.367, 0.053, -0.574, 1.299, -0.347, -0.106, 1.047, 0.071, 0.361, -0.106, 0.661,
    -0.257, -0.342, 0.564, -0.687,
];
const OTOLITH_STEP: [f64; N_STEP] = [
    0.930, -1.004, 0.687, -1.566, -1.266, -1.982, -0.664, -0.818, -1.000, 0.160, -0.175, -0.128,
    -0.236, -1.175, -0.703, 0.550,
];

/// For an annulus at the margin of a scale: see `AxisReading::margin_numbers`.
pub const SCALE_MARGIN: [f64; 3] = [-2.721, 1.126, 0.285];
/// For an annulus at the margin of an otolith.
pub const OTOLITH_MARGIN: [f64; 3] = [-2.077, 0.397, 0.594];

/// For scales.
pub fn scale_weights() -> Weights {
    Weights { evidence: SCALE_EVIDENCE, step: SCALE_STEP }
}

/// For otoliths.
pub fn otolith_weights() -> Weights {
    Weights { evidence: OTOLITH_EVIDENCE, step: OTOLITH_STEP }
}
