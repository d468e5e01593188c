//! How large a pixel is on the structure: the only bridge from pixels to micrometres.

use kurbo::{Point, Vec2};

use super::units::{Micrometres, Pixels};

/// Micrometres in an inch: 25 400, by the international inch of 1959.
pub const UM_PER_INCH: f64 = 25_400.0;

/// Where a calibration came from.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum CalibrationSource {
    /// The resolution tag of the scan's own file.
    FileTag,
    /// A stage micrometer measured on the picture.
    StageMicrometer,
    /// The stated magnification of a projector or print.
    Magnification,
    /// The survey's or the batch's default.
    Survey,
    /// Typed in by a person.
    Stated,
}

/// Why a calibration cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CalibrationError {
    /// A scale that is not a positive finite number.
    #[error("a pixel size of {found} micrometres is not usable: give a positive number")]
    NotPositive {
        /// The number that was given.
        found: f64,
    },
    /// A resolution that is not a positive finite number.
    #[error(
        "a resolution of {found} dots per inch at magnification {magnification} is not usable: give positive numbers"
    )]
    BadResolution {
        /// Dots per inch as given.
        found: f64,
        /// Magnification as given.
        magnification: f64,
    },
}

/// Pixel size on the structure, in micrometres per pixel, separately in x and y.
///
/// Both are finite and positive: the constructors refuse anything else.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    x_um_per_px: f64,
    y_um_per_px: f64,
    /// Where it came from.
    pub source: CalibrationSource,
    /// Standard error of the mean scale, micrometres per pixel; `None` where it was not measured.
    pub se_um_per_px: Option<f64>,
}

impl Calibration {
    /// A calibration from micrometres per pixel in x and in y.
    ///
    /// # Errors
    /// [`CalibrationError::NotPositive`] when either is not a positive finite number.
    pub fn new(
        x_um_per_px: f64,
        y_um_per_px: f64,
        source: CalibrationSource,
    ) -> Result<Self, CalibrationError> {
        for found in [x_um_per_px, y_um_per_px] {
            if !(found.is_finite() && found > 0.0) {
                return Err(CalibrationError::NotPositive { found });
            }
        }
        Ok(Self { x_um_per_px, y_um_per_px, source, se_um_per_px: None })
    }

    /// A calibration from scanner resolution: 25 400 / (dots per inch × magnification).
    ///
    /// `magnification` is 1 for a direct scan, and the print's magnification for a scanned photograph.
    ///
    /// # Errors
    /// [`CalibrationError::BadResolution`] when either is not a positive finite number.
    pub fn from_dpi(
        dpi: f64,
        magnification: f64,
        source: CalibrationSource,
    ) -> Result<Self, CalibrationError> {
        let um_per_px = UM_PER_INCH / (dpi * magnification);
        if !(dpi > 0.0 && magnification > 0.0 && um_per_px.is_finite() && um_per_px > 0.0) {
            return Err(CalibrationError::BadResolution { found: dpi, magnification });
        }
        Self::new(um_per_px, um_per_px, source)
    }

    /// Micrometres per pixel along x.
    pub fn x_um_per_px(&self) -> f64 {
        self.x_um_per_px
    }

    /// Micrometres per pixel along y.
    pub fn y_um_per_px(&self) -> f64 {
        self.y_um_per_px
    }

    /// The geometric mean of the two scales, micrometres per pixel.
    pub fn mean_um_per_px(&self) -> f64 {
        (self.x_um_per_px * self.y_um_per_px).sqrt()
    }

    /// True where x and y differ by more than 0.5 percent (common practice, no source: worth a warning).
    pub fn is_anisotropic(&self) -> bool {
        (self.x_um_per_px / self.y_um_per_px - 1.0).abs() > 0.005
    }

    /// The length of a displacement on the scan, on the structure.
    pub fn micrometres_from_displacement(&self, displacement: Vec2) -> Micrometres {
        Micrometres((displacement.x * self.x_um_per_px).hypot(displacement.y * self.y_um_per_px))
    }

    /// The distance between two points of the scan, on the structure.
    pub fn micrometres_between(&self, a: Point, b: Point) -> Micrometres {
        self.micrometres_from_displacement(b - a)
    }

    /// A distance in pixels along the direction of `direction`, turned into micrometres.
    pub fn micrometres_along(&self, distance: Pixels, direction: Vec2) -> Micrometres {
        let norm = direction.hypot();
        if norm == 0.0 {
            return Micrometres(distance.0 * self.mean_um_per_px());
        }
        self.micrometres_from_displacement(direction * (distance.0 / norm))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_direct_scan_at_2400_dpi_has_10_58_um_pixels() {
        let scale = Calibration::from_dpi(2400.0, 1.0, CalibrationSource::FileTag).unwrap();
        assert!((scale.x_um_per_px() - 10.583_333_333_333_334).abs() < 1e-12);
    }

    #[test]
    fn nonsense_scales_are_refused() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(Calibration::new(bad, 1.0, CalibrationSource::Stated).is_err());
            assert!(Calibration::from_dpi(bad, 1.0, CalibrationSource::Stated).is_err());
        }
        assert!(Calibration::from_dpi(300.0, 0.0, CalibrationSource::Stated).is_err());
    }

    #[test]
    fn unequal_scales_measure_each_direction_by_its_own() {
        let scale = Calibration::new(2.0, 3.0, CalibrationSource::Stated).unwrap();
        assert!(scale.is_anisotropic());
        let d = scale.micrometres_between(Point::new(0.0, 0.0), Point::new(4.0, 2.0));
        assert!((d.0 - 10.0).abs() < 1e-12);
    }
}
