//! Parabolas. Body-proportional: L_i = L g(S_i)/g(S), g = c + d S + e S squared, length on radius.
//! Scale-proportional: the root of f(L_i) = (S_i/S) f(L), f = a + b L + c L squared, radius on length, on the
//! branch that rises. Special cases of Francis 1990 (J. Fish Biol. 36:883-902, cited from memory).

use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// The parabola of **length on radius**.
pub(crate) struct QuadraticBodyProportional {
    /// Coefficients c, d, e: mm, mm per µm, mm per µm squared.
    pub(crate) coefficients: [f64; 3],
}

impl QuadraticBodyProportional {
    /// Expected length at a radius, mm.
    pub(crate) fn expected_mm(&self, radius_um: f64) -> f64 {
        let [c, d, e] = self.coefficients;
        c + radius_um * (d + radius_um * e)
    }

    /// Does it rise at a radius?
    pub(crate) fn rises_at(&self, radius_um: f64) -> bool {
        let [_, d, e] = self.coefficients;
        d + 2.0 * e * radius_um > 0.0
    }
}

impl Formula for QuadraticBodyProportional {
    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        let at_annulus = self.expected_mm(annulus.radius_um(capture));
        Ok(capture.length_mm * at_annulus / self.expected_mm(capture.radius_um))
    }
}

/// The parabola of **radius on length**.
pub(crate) struct QuadraticScaleProportional {
    /// Coefficients a, b, c: µm, µm per mm, µm per mm squared.
    pub(crate) coefficients: [f64; 3],
}

impl QuadraticScaleProportional {
    fn expected_um(&self, length_mm: f64) -> f64 {
        let [a, b, c] = self.coefficients;
        a + length_mm * (b + length_mm * c)
    }
}

impl Formula for QuadraticScaleProportional {
    fn admit(&self, capture: &Capture) -> Result<(), Reason> {
        let [_, b, c] = self.coefficients;
        let length_mm = capture.length_mm;
        if b + 2.0 * c * length_mm <= 0.0 {
            return Err(Reason::FallingAtCapture { length_mm });
        }
        if self.expected_um(length_mm) <= 0.0 {
            return Err(Reason::NoExpectedRadius { length_mm });
        }
        Ok(())
    }

    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        let [a, b, c] = self.coefficients;
        let target_um = annulus.ratio * self.expected_um(capture.length_mm) - a;
        let discriminant = b * b + 4.0 * c * target_um;
        if discriminant < 0.0 {
            return Err(Reason::NoRoot { annulus: annulus.number });
        }
        let root = discriminant.sqrt();
        // On the rising branch b + 2 c L equals this root. Two equal forms: the first stays exact as c goes to 0.
        if b > 0.0 { Ok(2.0 * target_um / (b + root)) } else { Ok((root - b) / (2.0 * c)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_root_solves_the_equation_and_rises() {
        let capture = Capture { length_mm: 400.0, radius_um: 2900.0, age: 3 };
        for coefficients in [[-780.0, 11.8, -0.0056], [50.0, 7.0, 0.0], [400.0, -0.5, 0.02]] {
            let form = QuadraticScaleProportional { coefficients };
            form.admit(&capture).unwrap();
            let annulus = Annulus { number: 1, ratio: 0.5 };
            let length = form.length_mm(&capture, annulus).unwrap();
            let wanted = 0.5 * form.expected_um(400.0);
            assert!((form.expected_um(length) - wanted).abs() < 1e-9 * wanted);
            assert!(coefficients[1] + 2.0 * coefficients[2] * length > 0.0);
        }
    }

    #[test]
    fn a_parabola_that_never_comes_down_to_the_radius_has_no_root() {
        let form = QuadraticScaleProportional { coefficients: [400.0, -0.5, 0.02] };
        let capture = Capture { length_mm: 400.0, radius_um: 2900.0, age: 3 };
        let annulus = Annulus { number: 1, ratio: 0.01 };
        assert_eq!(form.length_mm(&capture, annulus), Err(Reason::NoRoot { annulus: 1 }));
        let falling = QuadraticScaleProportional { coefficients: [0.0, 8.0, -0.01] };
        assert_eq!(falling.admit(&capture), Err(Reason::FallingAtCapture { length_mm: 400.0 }));
    }
}
