//! Smoothing of a one-dimensional profile: Gaussian, and Savitzky-Golay with its derivatives.

/// What stands in for samples beyond the ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Edges {
    /// The end sample, repeated.
    #[default]
    Nearest,
    /// Reflection with the end sample repeated: c b a | a b c.
    Reflect,
}

/// The Gaussian's weights reach this many standard deviations.
const REACH_SIGMAS: f64 = 4.0;

/// Why a Savitzky-Golay filter cannot be applied.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SmoothingError {
    /// An even window, or one not wider than the degree.
    #[error(
        "a window of {window} samples does not suit degree {degree}: give an odd window wider than the degree"
    )]
    BadWindow {
        /// Window as given, samples.
        window: usize,
        /// Degree as given.
        degree: usize,
    },
    /// Fewer samples than the window.
    #[error(
        "a window of {window} samples is longer than the profile of {found}: give a shorter one"
    )]
    TooShort {
        /// Window as given, samples.
        window: usize,
        /// Samples in the profile.
        found: usize,
    },
    /// A sample distance that is not a positive number.
    #[error("a spacing of {found} is not usable: give a positive number")]
    BadSpacing {
        /// Spacing as given.
        found: f64,
    },
}

/// Gaussian smoothing: weights exp(-k²/2σ²) for |k| <= floor(4σ + 0.5), normalised to 1.
///
/// `sigma` in samples; 0, negative or not finite returns the values unchanged. Checked against
/// `scipy.ndimage.gaussian_filter1d` (fixtures/published/24_smoothing_and_peaks.json).
pub fn gaussian(values: &[f64], sigma: f64, edges: Edges) -> Vec<f64> {
    if !(sigma.is_finite() && sigma > 0.0) || values.is_empty() {
        return values.to_vec();
    }
    let weights = gaussian_weights(sigma, values.len());
    let reach = weights.len() - 1;
    let n = values.len();
    let at = |index: isize| values[folded(index, n, edges)];
    (0..n)
        .map(|i| {
            let inside = i >= reach && i + reach < n;
            let pair = |k: usize| {
                if inside {
                    values[i - k] + values[i + k]
                } else {
                    at(i as isize - k as isize) + at(i as isize + k as isize)
                }
            };
            let sides: f64 =
                weights.iter().enumerate().skip(1).map(|(k, weight)| weight * pair(k)).sum();
            weights[0] * values[i] + sides
        })
        .collect()
}

/// Savitzky-Golay: at each sample the polynomial of `degree` that fits the `window` samples around it best, or its
/// `derivative`-th derivative per unit of `spacing`; near the ends the polynomial of the end window
/// (Savitzky & Golay 1964, Anal. Chem. 36:1627-1639).
///
/// # Errors
/// [`SmoothingError`] when the window is even, not wider than the degree or longer than the profile.
pub fn savitzky_golay(
    values: &[f64],
    window: usize,
    degree: usize,
    derivative: usize,
    spacing: f64,
) -> Result<Vec<f64>, SmoothingError> {
    if window.is_multiple_of(2) || window <= degree {
        return Err(SmoothingError::BadWindow { window, degree });
    }
    if values.len() < window {
        return Err(SmoothingError::TooShort { window, found: values.len() });
    }
    if !(spacing.is_finite() && spacing > 0.0) {
        return Err(SmoothingError::BadSpacing { found: spacing });
    }
    let half = window / 2;
    let basis = Basis::new(window, degree);
    let scale = (half.max(1) as f64 * spacing).powi(derivative.min(64) as i32);
    let kernels: Vec<Vec<f64>> = (0..window)
        .map(|place| basis.kernel(place, derivative).iter().map(|w| w / scale).collect())
        .collect();
    let last_start = values.len() - window;
    Ok((0..values.len())
        .map(|i| {
            let start = i.saturating_sub(half).min(last_start);
            let kernel = &kernels[i - start];
            kernel.iter().zip(&values[start..start + window]).map(|(w, v)| w * v).sum()
        })
        .collect())
}

/// Half of the symmetric kernel, centre first. No longer than the folding below can use sensibly.
fn gaussian_weights(sigma: f64, n: usize) -> Vec<f64> {
    let reach = ((REACH_SIGMAS * sigma + 0.5).floor() as usize).min(n.saturating_mul(8));
    let raw: Vec<f64> =
        (0..=reach).map(|k| (-((k * k) as f64) / (2.0 * sigma * sigma)).exp()).collect();
    let total: f64 = raw[0] + 2.0 * raw.iter().skip(1).sum::<f64>();
    raw.iter().map(|weight| weight / total).collect()
}

fn folded(index: isize, n: usize, edges: Edges) -> usize {
    let n = n as isize;
    match edges {
        Edges::Nearest => index.clamp(0, n - 1) as usize,
        Edges::Reflect => {
            let place = index.rem_euclid(2 * n);
            (if place < n { place } else { 2 * n - 1 - place }) as usize
        }
    }
}

/// Polynomials orthonormal on the window's places, which run from -1 to 1: stable where powers are not.
struct Basis {
    places: Vec<f64>,
    /// Coefficients of each polynomial, lowest power first.
    polynomials: Vec<Vec<f64>>,
}

impl Basis {
    fn new(window: usize, degree: usize) -> Self {
        let half = (window / 2) as f64;
        let places: Vec<f64> = (0..window).map(|i| (i as f64 - half) / half.max(1.0)).collect();
        let mut polynomials: Vec<Vec<f64>> = Vec::with_capacity(degree + 1);
        for power in 0..=degree {
            // Multiplying the last polynomial by x keeps the new one nearly orthogonal already.
            let mut next = vec![0.0; degree + 1];
            match polynomials.last() {
                Some(previous) => next[1..].copy_from_slice(&previous[..degree]),
                None => next[power] = 1.0,
            }
            for _ in 0..2 {
                for earlier in &polynomials {
                    let share: f64 =
                        places.iter().map(|&x| horner(&next, x) * horner(earlier, x)).sum();
                    for (a, b) in next.iter_mut().zip(earlier) {
                        *a -= share * b;
                    }
                }
            }
            let norm = places.iter().map(|&x| horner(&next, x).powi(2)).sum::<f64>().sqrt();
            for a in &mut next {
                *a /= norm;
            }
            polynomials.push(next);
        }
        Self { places, polynomials }
    }

    /// Weights that give the fitted polynomial's derivative at the window's `place`-th sample.
    fn kernel(&self, place: usize, derivative: usize) -> Vec<f64> {
        let at = self.places[place];
        let factors: Vec<f64> =
            self.polynomials.iter().map(|p| horner(&differentiated(p, derivative), at)).collect();
        self.places
            .iter()
            .map(|&x| self.polynomials.iter().zip(&factors).map(|(p, f)| f * horner(p, x)).sum())
            .collect()
    }
}

fn horner(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, a| sum * x + a)
}

fn differentiated(coefficients: &[f64], times: usize) -> Vec<f64> {
    (0..times).fold(coefficients.to_vec(), |c, _| {
        c.iter().enumerate().skip(1).map(|(power, a)| power as f64 * a).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_stays_and_the_sum_is_kept_by_reflection() {
        let flat = [3.0; 7];
        for edges in [Edges::Nearest, Edges::Reflect] {
            assert!(gaussian(&flat, 2.0, edges).iter().all(|v| (v - 3.0).abs() < 1e-12));
        }
        let spike = [0.0, 0.0, 0.0, 9.0, 0.0];
        let sum: f64 = gaussian(&spike, 1.7, Edges::Reflect).iter().sum();
        assert!((sum - 9.0).abs() < 1e-12);
        assert!(gaussian(&[], 1.0, Edges::Nearest).is_empty());
        assert_eq!(gaussian(&spike, f64::NAN, Edges::Nearest), spike);
        assert_eq!(gaussian(&[1.0, 3.0], 1e9, Edges::Nearest).len(), 2);
    }

    #[test]
    fn a_polynomial_of_the_degree_passes_unchanged_with_its_derivatives() {
        let cubic = |x: f64| 0.5 * x * x * x - 2.0 * x + 1.0;
        let values: Vec<f64> = (0..30).map(|i| cubic(i as f64 * 0.25)).collect();
        let smooth = savitzky_golay(&values, 9, 3, 0, 0.25).unwrap();
        let slope = savitzky_golay(&values, 9, 3, 1, 0.25).unwrap();
        let bend = savitzky_golay(&values, 9, 3, 2, 0.25).unwrap();
        for (i, value) in values.iter().enumerate() {
            let x = i as f64 * 0.25;
            assert!((smooth[i] - value).abs() < 1e-9);
            assert!((slope[i] - (1.5 * x * x - 2.0)).abs() < 1e-9);
            assert!((bend[i] - 3.0 * x).abs() < 1e-8);
        }
        assert!(savitzky_golay(&values, 9, 3, 4, 1.0).unwrap().iter().all(|v| *v == 0.0));
    }

    #[test]
    fn unsuitable_windows_are_refused() {
        let values = [0.0; 8];
        assert!(savitzky_golay(&values, 4, 2, 0, 1.0).is_err());
        assert!(savitzky_golay(&values, 3, 3, 0, 1.0).is_err());
        assert!(savitzky_golay(&values, 9, 2, 0, 1.0).is_err());
        assert!(savitzky_golay(&values, 3, 1, 0, 0.0).is_err());
        assert_eq!(savitzky_golay(&values, 1, 0, 0, 1.0).unwrap(), values);
    }
}
