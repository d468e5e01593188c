//! How sure a Fraser-Lee or direct-proportion length is, to first order (JCGM 100:2008, section 5).
//!
//! Marks lie at p_0 (focus), p_i, p_e (edge), independent of each other; S_i = p_i - p_0 and S = p_e - p_0, so the error
//! of the focus enters both radii. With g_i = (L - a)/S and g_e = -(L - a) S_i/S^2:
//! Var(L_i) = (g_i σ)^2 + (g_e σ)^2 + ((g_i + g_e) σ_0)^2 + (S_i/S σ_L)^2 + ((1 - S_i/S) σ_a)^2.
//!
//! Lengths at neighbouring annuli share focus, edge, length and intercept, so their errors are correlated.

use crate::domain::units::{Micrometres, Millimetres};

/// Standard deviations of what goes into a length.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct InputErrors {
    /// Of a mark, annulus or edge, along the axis.
    pub mark: Micrometres,
    /// Of the focus along the axis.
    pub focus: Micrometres,
    /// Of the length at capture.
    pub length: Millimetres,
    /// Of the intercept; 0 for direct proportion. A published standard intercept has no published error.
    pub intercept: Millimetres,
}

/// What one length owes to each source, as variance, mm squared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LengthVariance {
    /// The mark of this annulus.
    pub annulus_mark: f64,
    /// The mark of the edge.
    pub edge_mark: f64,
    /// The focus.
    pub focus: f64,
    /// Length at capture.
    pub length: f64,
    /// Intercept.
    pub intercept: f64,
}

impl LengthVariance {
    /// All sources together, mm squared.
    pub fn total(&self) -> f64 {
        self.parts().iter().map(|(_, variance)| variance).sum()
    }

    /// Standard error of the length.
    pub fn standard_error(&self) -> Millimetres {
        Millimetres(self.total().sqrt())
    }

    /// Share of each source, by name; `None` where no source has an error.
    pub fn shares(&self) -> Option<[(&'static str, f64); 5]> {
        let total = self.total();
        (total > 0.0).then(|| self.parts().map(|(source, variance)| (source, variance / total)))
    }

    fn parts(&self) -> [(&'static str, f64); 5] {
        [
            ("annulus mark", self.annulus_mark),
            ("edge mark", self.edge_mark),
            ("focus", self.focus),
            ("length at capture", self.length),
            ("intercept", self.intercept),
        ]
    }
}

/// Variance of the length at each annulus of a fish. At the edge itself only marks and length at capture are left.
///
/// `radius` is the total radius, above 0; `intercept` is 0 for direct proportion.
pub fn fraser_lee_variance(
    (length, radius): (Millimetres, Micrometres),
    annuli: &[Micrometres],
    intercept: Millimetres,
    errors: &InputErrors,
) -> Vec<LengthVariance> {
    let per_um = (length - intercept).value() / radius.value();
    annuli
        .iter()
        .map(|annulus| {
            let ratio = *annulus / radius;
            let (at_annulus, at_edge) = (per_um, -per_um * ratio);
            let square = |value: f64| value * value;
            LengthVariance {
                annulus_mark: square(at_annulus * errors.mark.value()),
                edge_mark: square(at_edge * errors.mark.value()),
                focus: square((at_annulus + at_edge) * errors.focus.value()),
                length: square(ratio * errors.length.value()),
                intercept: square((1.0 - ratio) * errors.intercept.value()),
            }
        })
        .collect()
}

/// Repeatability of a mark from repeated readings with equal counts: the within-subject standard deviation
/// sqrt(sum of d^2/(2n)) over n pairs of radii. `None` without pairs.
pub fn mark_error_from_pairs(pairs: &[(Micrometres, Micrometres)]) -> Option<Micrometres> {
    if pairs.is_empty() {
        return None;
    }
    let squares: f64 = pairs.iter().map(|(one, other)| (*one - *other).value().powi(2)).sum();
    Some(Micrometres((squares / (2.0 * pairs.len() as f64)).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_focus_error_drops_out_at_the_edge_and_marks_do_not() {
        let errors = InputErrors {
            mark: Micrometres(20.0),
            focus: Micrometres(15.0),
            length: Millimetres(2.0),
            intercept: Millimetres(6.0),
        };
        let (length, radius) = (Millimetres(300.0), Micrometres(2000.0));
        let at_edge =
            fraser_lee_variance((length, radius), &[radius], Millimetres(55.0), &errors)[0];
        assert_eq!((at_edge.focus, at_edge.intercept), (0.0, 0.0));
        assert!(at_edge.annulus_mark > 0.0 && at_edge.length == 4.0);
    }

    #[test]
    fn repeatability_by_hand() {
        let pairs =
            [(Micrometres(10.0), Micrometres(12.0)), (Micrometres(20.0), Micrometres(16.0))];
        assert_eq!(mark_error_from_pairs(&pairs), Some(Micrometres(5f64.sqrt())));
        assert_eq!(mark_error_from_pairs(&[]), None);
    }

    #[test]
    fn no_errors_have_no_shares() {
        let (length, radius) = (Millimetres(300.0), Micrometres(2000.0));
        let none = InputErrors::default();
        let found =
            fraser_lee_variance((length, radius), &[Micrometres(500.0)], Millimetres(0.0), &none);
        assert_eq!(found[0].shares(), None);
    }
}
