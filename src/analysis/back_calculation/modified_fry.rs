//! Modified Fry: L_i = a + exp{ln(L_0 - a) + [ln(L - a) - ln(L_0 - a)] [ln S_i - ln S_0]/[ln S - ln S_0]}
//! (Vigliola, Harmelin-Vivien & Meekan 2000, Can. J. Fish. Aquat. Sci. 57:1291-1299, cited from memory).

use super::BackCalculationError;
use super::biological_intercept::admit_after_origin;
use super::exclusion::Reason;
use super::formula::{Annulus, Capture, Formula};

/// The early event all fish share, and the length the curve starts from.
pub(crate) struct ModifiedFry {
    /// Length L_0 at the event, mm.
    pub(crate) length_mm: f64,
    /// Radius S_0 at the event, µm, above 0.
    pub(crate) radius_um: f64,
    /// Start a of the curve, mm, between 0 and L_0.
    pub(crate) intercept_mm: f64,
}

impl Formula for ModifiedFry {
    fn admit(&self, capture: &Capture) -> Result<(), Reason> {
        admit_after_origin(capture, self.length_mm, self.radius_um)
    }

    fn length_mm(&self, capture: &Capture, annulus: Annulus) -> Result<f64, Reason> {
        let above = |length_mm: f64| (length_mm - self.intercept_mm).ln();
        let start = above(self.length_mm);
        let share = (annulus.radius_um(capture) / self.radius_um).ln()
            / (capture.radius_um / self.radius_um).ln();
        Ok(self.intercept_mm + (start + (above(capture.length_mm) - start) * share).exp())
    }

    fn extrapolates(&self, capture: &Capture, annulus: Annulus) -> bool {
        annulus.radius_um(capture) <= self.radius_um
    }
}

/// The fitted curve L = L_0 - b S_0^c + b S^c.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FryCurve {
    /// Coefficient b, mm per µm^c.
    pub b: f64,
    /// Exponent c.
    pub c: f64,
    /// Start of the curve a = L_0 - b S_0^c, mm.
    pub intercept_mm: f64,
    /// Residual sum of squares, mm squared.
    pub rss: f64,
    /// Fish fitted.
    pub n: usize,
}

/// Exponents searched.
const EXPONENTS: std::ops::RangeInclusive<f64> = 0.02..=10.0;
const STEPS: usize = 400;

/// Fits the curve through the event (`origin_mm`, `origin_um`) by least squares on length (after Vigliola & Meekan
/// 2009, cited from memory). Works for any a; whether a is usable is for the caller to judge.
///
/// # Errors
/// [`BackCalculationError::FryFit`] for fewer than 3 fish, or where no exponent between 0.02 and 10 fits best.
pub fn fit_fry_curve(
    lengths_mm: &[f64],
    radii_um: &[f64],
    (origin_mm, origin_um): (f64, f64),
) -> Result<FryCurve, BackCalculationError> {
    let largest_um = radii_um.iter().copied().fold(0.0, f64::max);
    let n = lengths_mm.len().min(radii_um.len());
    if n < 3 || largest_um <= 0.0 || origin_um <= 0.0 {
        return Err(BackCalculationError::FryFit);
    }
    let search = ExponentSearch {
        rises_mm: lengths_mm.iter().map(|length| length - origin_mm).collect(),
        radii: radii_um.iter().map(|radius| radius / largest_um).collect(),
        origin: origin_um / largest_um,
    };
    let c = search.best_exponent().ok_or(BackCalculationError::FryFit)?;
    let (scaled_b, rss) = search.at(c);
    let intercept_mm = origin_mm - scaled_b * search.origin.powf(c);
    Ok(FryCurve { b: scaled_b / largest_um.powf(c), c, intercept_mm, rss, n })
}

/// For a fixed exponent the coefficient is linear, so only the exponent is searched. Radii are relative to the
/// largest, so that no power overflows.
struct ExponentSearch {
    rises_mm: Vec<f64>,
    radii: Vec<f64>,
    origin: f64,
}

impl ExponentSearch {
    /// Best coefficient and residual sum of squares for an exponent.
    fn at(&self, c: f64) -> (f64, f64) {
        let start = self.origin.powf(c);
        let powers = || self.radii.iter().map(|radius| radius.powf(c) - start);
        let top: f64 = powers().zip(&self.rises_mm).map(|(g, rise)| g * rise).sum();
        let b = top / powers().map(|g| g * g).sum::<f64>();
        let rss = powers().zip(&self.rises_mm).map(|(g, rise)| (rise - b * g).powi(2)).sum();
        (b, rss)
    }

    /// Slope of the residual sum of squares in the exponent, up to the factor -2.
    fn gain(&self, c: f64) -> f64 {
        let (b, _) = self.at(c);
        let start = self.origin.powf(c);
        let start_slope = start * self.origin.ln();
        self.radii
            .iter()
            .zip(&self.rises_mm)
            .map(|(radius, rise)| {
                let power = radius.powf(c);
                (rise - b * (power - start)) * b * (power * radius.ln() - start_slope)
            })
            .sum()
    }

    /// Scan on a logarithmic grid, then halve the bracket on the sign of the slope.
    fn best_exponent(&self) -> Option<f64> {
        let (low, high) = (EXPONENTS.start().ln(), EXPONENTS.end().ln());
        let at_step = |i: usize| (low + (high - low) * i as f64 / STEPS as f64).exp();
        let best = (0..=STEPS)
            .map(|i| (i, self.at(at_step(i)).1))
            .filter(|(_, rss)| rss.is_finite())
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(i, _)| i)?;
        if best == 0 || best == STEPS {
            return None;
        }
        let (mut below, mut above) = (at_step(best - 1), at_step(best + 1));
        for _ in 0..100 {
            let middle = 0.5 * (below + above);
            if self.gain(middle) > 0.0 {
                below = middle;
            } else {
                above = middle;
            }
        }
        Some(0.5 * (below + above))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_curve_is_found() {
        let radii: Vec<f64> = (1..12).map(|i| 300.0 * f64::from(i)).collect();
        let lengths: Vec<f64> = radii.iter().map(|s| 12.0 + 0.05 * s.powf(1.1)).collect();
        let origin_mm = 12.0 + 0.05 * 120f64.powf(1.1);
        let curve = fit_fry_curve(&lengths, &radii, (origin_mm, 120.0)).unwrap();
        assert!((curve.c - 1.1).abs() < 1e-9, "{curve:?}");
        assert!((curve.intercept_mm - 12.0).abs() < 1e-7, "{curve:?}");
    }

    #[test]
    fn lengths_without_a_relation_to_radius_are_refused() {
        let fit = fit_fry_curve(&[300.0; 4], &[100.0, 200.0, 300.0, 400.0], (10.0, 50.0));
        assert_eq!(fit, Err(BackCalculationError::FryFit));
    }
}
