//! What every method offers: may this fish be used, and which length belongs to a radius.

use super::exclusion::Reason;

/// A fish at capture, as the formulas see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Capture {
    /// Length at capture, mm.
    pub(crate) length_mm: f64,
    /// Total radius, µm.
    pub(crate) radius_um: f64,
    /// Age at capture, whole years.
    pub(crate) age: usize,
}

/// One annulus, as the formulas see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Annulus {
    /// Number from 1.
    pub(crate) number: usize,
    /// Its radius over the total radius, above 0 and below 1.
    pub(crate) ratio: f64,
}

impl Annulus {
    /// Its radius on a fish, µm.
    pub(crate) fn radius_um(self, capture: &Capture) -> f64 {
        self.ratio * capture.radius_um
    }
}

/// One method, its coefficients known.
pub(crate) trait Formula {
    /// Checks that hold for the fish as a whole.
    fn admit(&self, _capture: &Capture) -> Result<(), Reason> {
        Ok(())
    }

    /// Length at an annulus, mm.
    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason>;

    /// True where the length is an extrapolation beyond what the method knows.
    fn extrapolates(&self, _capture: &Capture, _annulus: Annulus) -> bool {
        false
    }
}
