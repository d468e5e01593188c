//! Body-proportional hypothesis, straight line: L_i = L (c + d S_i)/(c + d S) with L = c + d S, length on radius
//! (Whitney & Carlander 1956; Francis 1990, J. Fish Biol. 36:883-902, cited from memory).

use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// The line of **length on radius**. The other direction belongs to the scale-proportional hypothesis.
pub(crate) struct BodyProportional {
    /// Intercept c, mm.
    pub(crate) intercept_mm: f64,
    /// Slope d, mm per µm, above 0.
    pub(crate) slope_mm_per_um: f64,
}

impl BodyProportional {
    /// Expected length at a radius, mm.
    pub(crate) fn expected_mm(&self, radius_um: f64) -> f64 {
        self.intercept_mm + self.slope_mm_per_um * radius_um
    }
}

impl Formula for BodyProportional {
    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        let at_annulus = self.expected_mm(annulus.radius_um(capture));
        Ok(capture.length_mm * at_annulus / self.expected_mm(capture.radius_um))
    }
}
