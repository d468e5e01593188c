//! Fraser-Lee: L_i = a + (L - a) S_i/S (Fraser 1916; Lee 1920, cited from memory).

use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// The intercept is all it needs, wherever it comes from.
pub(crate) struct FraserLee {
    /// Intercept a, mm.
    pub(crate) intercept_mm: f64,
}

impl Formula for FraserLee {
    fn admit(&self, capture: &Capture) -> Result<(), Reason> {
        if self.intercept_mm < capture.length_mm {
            return Ok(());
        }
        Err(Reason::InterceptNotBelowLength {
            intercept_mm: self.intercept_mm,
            length_mm: capture.length_mm,
        })
    }

    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        Ok(self.intercept_mm + (capture.length_mm - self.intercept_mm) * annulus.ratio)
    }
}
