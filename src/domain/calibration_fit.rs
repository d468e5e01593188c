//! Pixel size from a stage micrometer, the error of a length, and what speaks against a pixel size.
//!
//! Mean, standard error and regression are textbook statistics; the error of a product follows JCGM 100:2008 (GUM),
//! 5.1. Values: fixtures/published/22_calibration.json.

use super::calibration::{Calibration, CalibrationError, CalibrationSource, UM_PER_INCH};

/// The same known length measured again and again on a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpanFit {
    /// Mean of the pixel sizes, µm.
    pub um_per_px: f64,
    /// Standard deviation of the pixel sizes, µm; `None` for a single measurement.
    pub sd_um_per_px: Option<f64>,
    /// Standard error of the mean, µm; `None` for a single measurement.
    pub se_um_per_px: Option<f64>,
    /// Sum of the known lengths over the sum of pixels, µm.
    pub ratio_of_means_um_per_px: f64,
    /// Measurements used.
    pub n: usize,
}

impl SpanFit {
    /// From pairs of a known length, µm, and the pixels it takes up; `None` without any, or where one is not a
    /// positive number.
    pub fn of(spans: &[(f64, f64)]) -> Option<Self> {
        let is_usable = |value: f64| value.is_finite() && value > 0.0;
        if spans.is_empty() || !spans.iter().all(|(um, px)| is_usable(*um) && is_usable(*px)) {
            return None;
        }
        let n = spans.len() as f64;
        let mean = spans.iter().map(|(um, px)| um / px).sum::<f64>() / n;
        let squares: f64 = spans.iter().map(|(um, px)| (um / px - mean).powi(2)).sum();
        let sd = (spans.len() > 1).then(|| (squares / (n - 1.0)).sqrt());
        let (um, px) = spans.iter().fold((0.0, 0.0), |(a, b), (um, px)| (a + um, b + px));
        Some(Self {
            um_per_px: mean,
            sd_um_per_px: sd,
            se_um_per_px: sd.map(|sd| sd / n.sqrt()),
            ratio_of_means_um_per_px: um / px,
            n: spans.len(),
        })
    }

    /// Standard error as a share of the pixel size.
    pub fn relative_se(&self) -> Option<f64> {
        self.se_um_per_px.map(|se| se / self.um_per_px)
    }

    /// The calibration, with its standard error.
    ///
    /// # Errors
    /// [`CalibrationError::NotPositive`] where the mean is no positive number.
    pub fn calibration(&self) -> Result<Calibration, CalibrationError> {
        let source = CalibrationSource::StageMicrometer;
        let mut scale = Calibration::new(self.um_per_px, self.um_per_px, source)?;
        scale.se_um_per_px = self.se_um_per_px;
        Ok(scale)
    }
}

/// A line through the ticks of a stage micrometer: pixel = intercept + slope × µm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TickFit {
    /// Slope, pixels per µm.
    pub px_per_um: f64,
    /// Its reciprocal, µm per pixel.
    pub um_per_px: f64,
    /// Standard error of the slope.
    pub se_px_per_um: f64,
    /// Standard error of the reciprocal, to first order.
    pub se_um_per_px: f64,
    /// Residual standard deviation with n - 2 degrees of freedom, pixels.
    pub residual_sd_px: f64,
    /// The largest residual, pixels.
    pub max_abs_residual_px: f64,
}

impl TickFit {
    /// From places of ticks, pixels, and their distances from the first, µm; `None` for fewer than three or all in
    /// one place.
    pub fn of(ticks: &[(f64, f64)]) -> Option<Self> {
        let n = ticks.len() as f64;
        if ticks.len() < 3 {
            return None;
        }
        let (mean_px, mean_um) =
            ticks.iter().fold((0.0, 0.0), |(a, b), (px, um)| (a + px / n, b + um / n));
        let sxx: f64 = ticks.iter().map(|(_, um)| (um - mean_um).powi(2)).sum();
        let sxy: f64 = ticks.iter().map(|(px, um)| (um - mean_um) * (px - mean_px)).sum();
        let slope = sxy / sxx;
        if !(slope.is_finite() && slope != 0.0) {
            return None;
        }
        let residual = |(px, um): &(f64, f64)| px - mean_px - slope * (um - mean_um);
        let squares: f64 = ticks.iter().map(|tick| residual(tick).powi(2)).sum();
        let sd = (squares / (n - 2.0)).sqrt();
        let se = sd / sxx.sqrt();
        Some(Self {
            px_per_um: slope,
            um_per_px: 1.0 / slope,
            se_px_per_um: se,
            se_um_per_px: se / (slope * slope),
            residual_sd_px: sd,
            max_abs_residual_px: ticks.iter().map(|t| residual(t).abs()).fold(0.0, f64::max),
        })
    }
}

/// A length and its standard error, both µm, from its pixels, the pixel size with its standard error, and the standard
/// deviation with which each of its two ends is set, pixels.
pub fn length_with_error(
    length_px: f64,
    um_per_px: f64,
    se_um_per_px: f64,
    mark_sd_px: f64,
) -> (f64, f64) {
    let from_marks = std::f64::consts::SQRT_2 * mark_sd_px * um_per_px;
    (length_px * um_per_px, (length_px * se_um_per_px).hypot(from_marks))
}

/// Something that speaks against a pixel size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CalibrationDoubt {
    /// 72 or 96 dots per inch: what programs write where they know nothing.
    CommonDefault {
        /// Dots per inch.
        dpi: f64,
    },
    /// Outside what scanners and microscopes give.
    Implausible {
        /// Micrometres per pixel.
        um_per_px: f64,
    },
    /// Pixels longer one way than the other.
    Anisotropic {
        /// Along x over along y.
        ratio: f64,
    },
    /// Not the survey's.
    UnlikeSurvey {
        /// The survey's default, micrometres per pixel.
        survey_um_per_px: f64,
    },
    /// Measured with a large error.
    Uncertain {
        /// Standard error as a share of the pixel size.
        relative_se: f64,
    },
}

/// Pixel sizes of flatbed scanners and microscope cameras, µm (common practice, no source).
const PLAUSIBLE_UM_PER_PX: std::ops::RangeInclusive<f64> = 0.1..=50.0;

/// A pixel size this far from the survey's is worth a word (common practice, no source).
const UNLIKE_SHARE: f64 = 0.02;

/// Acceptance limit of a calibration's relative standard error (common practice, no source).
const MOST_RELATIVE_SE: f64 = 0.005;

/// What speaks against a pixel size, beside the survey's default where it has one.
pub fn doubts(scale: &Calibration, survey_um_per_px: Option<[f64; 2]>) -> Vec<CalibrationDoubt> {
    let um_per_px = scale.mean_um_per_px();
    let dpi = UM_PER_INCH / um_per_px;
    let is_default = scale.source == CalibrationSource::FileTag
        && [72.0, 96.0].iter().any(|usual| (dpi - usual).abs() < 0.03);
    let mut doubts = Vec::new();
    if is_default {
        doubts.push(CalibrationDoubt::CommonDefault { dpi });
    } else if !PLAUSIBLE_UM_PER_PX.contains(&um_per_px) {
        doubts.push(CalibrationDoubt::Implausible { um_per_px });
    }
    if scale.is_anisotropic() {
        let ratio = scale.x_um_per_px() / scale.y_um_per_px();
        doubts.push(CalibrationDoubt::Anisotropic { ratio });
    }
    if let Some([x, y]) = survey_um_per_px {
        let survey = (x * y).sqrt();
        if (um_per_px / survey - 1.0).abs() > UNLIKE_SHARE {
            doubts.push(CalibrationDoubt::UnlikeSurvey { survey_um_per_px: survey });
        }
    }
    let relative_se = scale.se_um_per_px.map(|se| se / um_per_px);
    if let Some(relative_se) = relative_se.filter(|share| *share > MOST_RELATIVE_SE) {
        doubts.push(CalibrationDoubt::Uncertain { relative_se });
    }
    doubts
}

impl std::fmt::Display for CalibrationDoubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::CommonDefault { dpi } => write!(
                f,
                "{dpi:.0} dots per inch is a common default, not a measurement: calibrate before measuring"
            ),
            Self::Implausible { um_per_px } => write!(
                f,
                "a pixel of {um_per_px:.4} µm is not what scanners and microscopes give: check magnification and units"
            ),
            Self::Anisotropic { ratio } => write!(
                f,
                "pixels are {:.1} % {} than high: check how the picture was scanned or rescaled",
                (ratio - 1.0).abs() * 100.0,
                if *ratio > 1.0 { "wider" } else { "narrower" }
            ),
            Self::UnlikeSurvey { survey_um_per_px } => write!(
                f,
                "the survey's pixel size is {survey_um_per_px:.3} µm: make sure that this scan differs"
            ),
            Self::Uncertain { relative_se } => write!(
                f,
                "its standard error is {:.2} % of it, above 0.5 %: measure the micrometer again",
                relative_se * 100.0
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_span_has_no_error_and_nonsense_is_refused() {
        let one = SpanFit::of(&[(1000.0, 200.0)]).unwrap();
        assert_eq!((one.um_per_px, one.se_um_per_px, one.n), (5.0, None, 1));
        for bad in [&[][..], &[(1000.0, 0.0)], &[(f64::NAN, 3.0)], &[(-1.0, 2.0)]] {
            assert_eq!(SpanFit::of(bad), None);
        }
        assert_eq!(TickFit::of(&[(1.0, 2.0), (2.0, 4.0)]), None);
        assert_eq!(TickFit::of(&[(1.0, 5.0); 4]), None);
    }

    #[test]
    fn each_doubt_is_raised_and_a_sound_size_raises_none() {
        let made = |x, y, source| Calibration::new(x, y, source).unwrap();
        let sound = made(10.58, 10.58, CalibrationSource::FileTag);
        assert!(doubts(&sound, Some([10.6, 10.6])).is_empty());
        let usual = Calibration::from_dpi(96.0, 1.0, CalibrationSource::FileTag).unwrap();
        assert!(matches!(doubts(&usual, None)[..], [CalibrationDoubt::CommonDefault { .. }]));
        let tiny = made(0.001, 0.001, CalibrationSource::Stated);
        assert!(matches!(doubts(&tiny, None)[..], [CalibrationDoubt::Implausible { .. }]));
        let uneven = made(5.0, 5.1, CalibrationSource::Stated);
        assert!(matches!(doubts(&uneven, None)[..], [CalibrationDoubt::Anisotropic { .. }]));
        let found = doubts(&sound, Some([5.29, 5.29]));
        assert!(matches!(found[..], [CalibrationDoubt::UnlikeSurvey { .. }]));
        let rough = SpanFit::of(&[(1000.0, 190.0), (1000.0, 200.0)]).unwrap();
        let found = doubts(&rough.calibration().unwrap(), None);
        assert!(matches!(found[..], [CalibrationDoubt::Uncertain { .. }]));
    }
}
