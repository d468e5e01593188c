//! Biological intercept: L_i = L + (S_i - S)(L - L_0)/(S - S_0) (Campana 1990, Can. J. Fish. Aquat. Sci.
//! 47:2219-2227, cited from memory).

use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// The early event all fish share; no regression.
pub(crate) struct BiologicalIntercept {
    /// Length L_0 at the event, mm.
    pub(crate) length_mm: f64,
    /// Radius S_0 at the event, µm.
    pub(crate) radius_um: f64,
}

/// A fish no larger than the event says nothing of growth since.
pub(super) fn admit_after_origin(
    capture: &Capture,
    origin_mm: f64,
    origin_um: f64,
) -> Result<(), Reason> {
    if capture.length_mm <= origin_mm {
        return Err(Reason::LengthWithinOrigin { length_mm: capture.length_mm, origin_mm });
    }
    if capture.radius_um <= origin_um {
        return Err(Reason::RadiusWithinOrigin { total_um: capture.radius_um, origin_um });
    }
    Ok(())
}

impl Formula for BiologicalIntercept {
    fn admit(&self, capture: &Capture) -> Result<(), Reason> {
        admit_after_origin(capture, self.length_mm, self.radius_um)
    }

    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        let rise = (capture.length_mm - self.length_mm) / (capture.radius_um - self.radius_um);
        Ok(capture.length_mm + (annulus.radius_um(capture) - capture.radius_um) * rise)
    }

    fn extrapolates(&self, capture: &Capture, annulus: Annulus) -> bool {
        annulus.radius_um(capture) <= self.radius_um
    }
}
