//! Bounds that only guard: a parameter that ends on one is reported as not identified.

use super::cells::Sample;
use super::curve::{Curve, MAX_PARAMETERS, Row};

/// Least and greatest value of each parameter.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Guards {
    pub(super) lower: Row,
    pub(super) upper: Row,
}

impl Guards {
    /// No guards.
    pub(super) const fn none() -> Self {
        Self { lower: [f64::NEG_INFINITY; MAX_PARAMETERS], upper: [f64::INFINITY; MAX_PARAMETERS] }
    }

    /// Linf between half and five times the largest length, K times the greatest age between 0.01 and 50, t0 between -10
    /// and the youngest age, and wide ones for the rest (common practice, no source).
    pub(super) fn of(curve: Curve, sample: &Sample) -> Self {
        let mut guards = Self::none();
        for (index, name) in curve.parameter_names().iter().enumerate() {
            let (lower, upper) = range(name, sample);
            guards.lower[index] = lower;
            guards.upper[index] = upper;
        }
        guards
    }
}

fn range(name: &str, sample: &Sample) -> (f64, f64) {
    let (youngest, oldest) = sample.cells.age_range();
    let (largest, span) = (sample.largest, oldest.max(1e-3));
    match name {
        "Linf" => (0.5 * largest, 5.0 * largest),
        "K" => (0.01 / span, 50.0 / span),
        "t0" => (-10.0, youngest),
        "L0" => (-largest, largest),
        "omega" => (0.005 * largest / span, 250.0 * largest / span),
        "l_phi" | "l_chi" | "l_psi" => (-largest, 5.0 * largest),
        "ti" => (-10.0, 2.0 * oldest),
        "C" => (-3.0, 3.0),
        "ts" => (-3.0, 4.0),
        "d" => (-1.0, 10.0),
        _ => (f64::NEG_INFINITY, f64::INFINITY),
    }
}
