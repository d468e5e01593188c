//! Scale-proportional hypothesis, straight line: L_i = -a/b + (L + a/b) S_i/S with S = a + b L, radius on length
//! (Hile 1941; Whitney & Carlander 1956; Francis 1990, J. Fish Biol. 36:883-902, cited from memory).

use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// The line of **radius on length**. The other direction belongs to the body-proportional hypothesis.
pub(crate) struct ScaleProportional {
    /// Intercept a, µm.
    pub(crate) intercept_um: f64,
    /// Slope b, µm per mm, above 0.
    pub(crate) slope_um_per_mm: f64,
}

impl ScaleProportional {
    /// Length at which the line meets radius 0, mm.
    pub(crate) fn length_at_no_radius_mm(&self) -> f64 {
        -self.intercept_um / self.slope_um_per_mm
    }
}

impl Formula for ScaleProportional {
    fn admit(&self, capture: &Capture) -> Result<(), Reason> {
        if self.intercept_um + self.slope_um_per_mm * capture.length_mm > 0.0 {
            return Ok(());
        }
        Err(Reason::NoExpectedRadius { length_mm: capture.length_mm })
    }

    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        let foot_mm = self.length_at_no_radius_mm();
        Ok(foot_mm + (capture.length_mm - foot_mm) * annulus.ratio)
    }
}
