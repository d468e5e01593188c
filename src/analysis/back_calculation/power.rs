//! Power forms: L_i = L (S_i/S)^(1/v) with ln S on ln L (scale-proportional), and L_i = L (S_i/S)^v with ln L on
//! ln S (body-proportional; Monastyrsky 1930; Bagenal & Tesch 1978, cited from memory).
//!
//! A prediction of the mean on the raw scale would need a factor for the scatter of the logarithms; it cancels in
//! the ratio.

use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// Both power forms: only the exponent differs.
pub(crate) struct Power {
    /// Exponent of the ratio of radii, above 0.
    exponent: f64,
}

impl Power {
    /// From the slope v of **ln radius on ln length**.
    pub(crate) fn scale_proportional(v: f64) -> Self {
        Self { exponent: 1.0 / v }
    }

    /// From the slope v of **ln length on ln radius**.
    pub(crate) fn body_proportional(v: f64) -> Self {
        Self { exponent: v }
    }
}

impl Formula for Power {
    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        Ok(capture.length_mm * annulus.ratio.powf(self.exponent))
    }
}
