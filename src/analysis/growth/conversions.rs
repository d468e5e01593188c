//! From one von Bertalanffy form to another, and numbers derived from them.

use super::curve::{Curve, MAX_PARAMETERS, Row};

/// Parameters of the t0 form. Lengths in any unit, K per year, t0 in years.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VonBertalanffy {
    /// Limiting length.
    pub linf: f64,
    /// Rate at which length approaches it, per year.
    pub k: f64,
    /// Age at which the curve is 0, years.
    pub t0: f64,
}

impl VonBertalanffy {
    /// Length at age 0: Linf (1 - exp(K t0)).
    pub fn l0(&self) -> f64 {
        -self.linf * (self.k * self.t0).exp_m1()
    }

    /// K Linf, length per year (Gallucci & Quinn 1979).
    pub fn omega(&self) -> f64 {
        self.k * self.linf
    }

    /// log10 K + 2 log10 Linf, for comparing growth among populations (Pauly & Munro 1984, from memory). Depends on
    /// the length unit.
    pub fn phi_prime(&self) -> f64 {
        self.k.log10() + 2.0 * self.linf.log10()
    }

    /// Age at which a share (0 to 1, not included) of Linf is reached, years.
    pub fn age_at_share(&self, share: f64) -> f64 {
        self.t0 - (-share).ln_1p() / self.k
    }

    fn value(&self, t: f64) -> f64 {
        -self.linf * (-self.k * (t - self.t0)).exp_m1()
    }

    /// The parameters of another von Bertalanffy form; `None` for curves that are none.
    pub fn to_form(&self, curve: Curve) -> Option<Row> {
        let mut row = [0.0; MAX_PARAMETERS];
        let values = match curve {
            Curve::VonBertalanffy | Curve::Somers => [self.linf, self.k, self.t0],
            Curve::VonBertalanffyL0 => [self.linf, self.k, self.l0()],
            Curve::GallucciQuinn => [self.omega(), self.k, self.t0],
            Curve::Francis { young, old } => {
                [self.value(young), self.value(0.5 * (young + old)), self.value(old)]
            }
            Curve::Gompertz | Curve::Logistic | Curve::Richards => return None,
        };
        row[..3].copy_from_slice(&values);
        Some(row)
    }
}

/// The t0 form of a fitted von Bertalanffy curve in any form; `None` for other curves, or where the parameters describe no
/// limiting length (or L0 is not below it).
pub fn von_bertalanffy_of(curve: Curve, parameters: &Row) -> Option<VonBertalanffy> {
    let [a, k, c, ..] = *parameters;
    match curve {
        Curve::VonBertalanffy | Curve::Somers => Some(VonBertalanffy { linf: a, k, t0: c }),
        Curve::VonBertalanffyL0 => {
            let t0 = (-c / a).ln_1p() / k;
            t0.is_finite().then_some(VonBertalanffy { linf: a, k, t0 })
        }
        Curve::GallucciQuinn => Some(VonBertalanffy { linf: a / k, k, t0: c }),
        Curve::Francis { young, old } => from_francis(young, old, parameters),
        Curve::Gompertz | Curve::Logistic | Curve::Richards => None,
    }
}

/// K = -2 ln r/(psi - phi), Linf = l_phi + (l_psi - l_phi)/(1 - r²), t0 = phi + ln((Linf - l_phi)/Linf)/K.
pub(super) fn from_francis(young: f64, old: f64, parameters: &Row) -> Option<VonBertalanffy> {
    let [l_phi, l_chi, l_psi, ..] = *parameters;
    let r = (l_psi - l_chi) / (l_chi - l_phi);
    if !(r > 0.0 && r < 1.0) {
        return None;
    }
    let k = -2.0 * r.ln() / (old - young);
    let linf = l_phi + (l_psi - l_phi) / (1.0 - r * r);
    let t0 = young + ((linf - l_phi) / linf).ln() / k;
    t0.is_finite().then_some(VonBertalanffy { linf, k, t0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_comes_back() {
        let truth = VonBertalanffy { linf: 500.0, k: 0.3, t0: -0.4 };
        for curve in [
            Curve::VonBertalanffy,
            Curve::VonBertalanffyL0,
            Curve::GallucciQuinn,
            Curve::Francis { young: 1.0, old: 8.0 },
        ] {
            let row = truth.to_form(curve).unwrap();
            let back = von_bertalanffy_of(curve, &row).unwrap();
            assert!((back.linf - 500.0).abs() < 1e-9, "{curve:?}");
            assert!((back.k - 0.3).abs() < 1e-12 && (back.t0 + 0.4).abs() < 1e-12, "{curve:?}");
            assert!((curve.value(3.3, &row) - truth.value(3.3)).abs() < 1e-9);
        }
        assert!(truth.to_form(Curve::Gompertz).is_none());
    }

    #[test]
    fn a_straight_line_has_no_asymptote() {
        let curve = Curve::Francis { young: 1.0, old: 3.0 };
        assert!(von_bertalanffy_of(curve, &[100.0, 200.0, 300.0, 0.0, 0.0]).is_none());
    }
}
