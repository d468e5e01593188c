//! Weights of the choice among candidates.

use super::selection::{N_EVIDENCE, N_STEP, Weights};

/// For scales.
pub fn scale_weights() -> Weights {
    let mut w = Weights { evidence: [0.0; N_EVIDENCE], step: [0.0; N_STEP] };
    w.evidence = [-4.0, 1.2, 0.6, 0.6, -0.3, 0.3, 0.3, 0.3, 0.4, 0.3, 0.0, 0.5, 0.5, 0.2, 0.0, 0.0];
    w.step = [0.0, -0.2, 0.0, -0.5, 0.0, -1.0, -1.0, -1.0, 0.0, 0.0, 0.0, -1.0, 0.0, -1.0, -1.0, -3.0];
    w
}

/// For otoliths.
pub fn otolith_weights() -> Weights {
    let mut w = Weights { evidence: [0.0; N_EVIDENCE], step: [0.0; N_STEP] };
    w.evidence = [-1.0, 0.5, 0.7, 0.4, 0.4, 0.0, 0.6, 0.4, 0.5, 0.6, 0.2, 0.3, 0.5, 0.5, 0.0, 0.0];
    w.step = [0.0, -0.2, 0.0, -0.5, 0.0, -1.0, -1.0, -1.0, 0.0, 0.0, 0.0, -1.0, 0.0, -1.0, -1.0, -3.0];
    w
}
