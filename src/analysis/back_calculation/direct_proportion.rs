//! Direct proportion: L_i = L S_i/S (Dahl 1907; Lea 1910, cited from memory).

use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// No coefficients, no regression.
pub(crate) struct DirectProportion;

impl Formula for DirectProportion {
    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        Ok(capture.length_mm * annulus.ratio)
    }
}
