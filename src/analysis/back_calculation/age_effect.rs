//! Age effect: L_i = -α/β + (L + α/β + (γ/β) T) S_i/S - (γ/β) i with S = α + β L + γ T, T the age at capture, radius
//! on length and age (Morita & Matsuishi 2001, Can. J. Fish. Aquat. Sci. 58:1805-1811, cited from memory).

use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// The plane of **radius on length and age**.
pub(crate) struct AgeEffect {
    /// Constant α, µm.
    pub(crate) constant_um: f64,
    /// β, µm per mm, above 0.
    pub(crate) per_mm: f64,
    /// γ, µm per year.
    pub(crate) per_year: f64,
}

impl Formula for AgeEffect {
    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        let foot_mm = self.constant_um / self.per_mm;
        let yearly_mm = self.per_year / self.per_mm;
        let (age, number) = (capture.age as f64, annulus.number as f64);
        let whole = capture.length_mm + foot_mm + yearly_mm * age;
        Ok(whole * annulus.ratio - foot_mm - yearly_mm * number)
    }
}
