//! Pixel size from what a picture file says about its own resolution.

use crate::domain::calibration::UM_PER_INCH;

/// Where in the file the resolution was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResolutionTag {
    /// XResolution, YResolution and ResolutionUnit of a TIFF.
    Tiff,
    /// The pHYs chunk of a PNG.
    Phys,
    /// The density in a JPEG's JFIF header.
    Jfif,
    /// The resolution in a JPEG's EXIF block.
    Exif,
    /// Pixels per metre in a BMP.
    Bmp,
}

/// Unit a density is given in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DensityUnit {
    /// Pixels per inch.
    Inch,
    /// Pixels per centimetre.
    Centimetre,
    /// Pixels per metre.
    Metre,
}

/// Pixel size as the file states it. A claim, not a measurement: a rescaled picture keeps a wrong one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resolution {
    /// Micrometres per pixel along x and y, for a direct scan (magnification 1).
    pub um_per_px: [f64; 2],
    /// Where it was found.
    pub tag: ResolutionTag,
    /// True for 72 and 96 dots per inch: a common default, not a measurement.
    pub common_default: bool,
}

/// Sizes outside this are slips: 0.001 µm is below any light microscope, 1 cm above any scanner.
const POSSIBLE_UM_PER_PX: std::ops::RangeInclusive<f64> = 0.001..=10_000.0;

impl Resolution {
    /// The pixel size from a density along x and y, or a notice why there is none.
    ///
    /// # Errors
    /// The notice, where a density is zero, not a number or absurd.
    pub fn from_density(
        density: [f64; 2],
        unit: DensityUnit,
        tag: ResolutionTag,
    ) -> Result<Self, String> {
        let um_per_unit = match unit {
            DensityUnit::Inch => UM_PER_INCH,
            DensityUnit::Centimetre => 10_000.0,
            DensityUnit::Metre => 1_000_000.0,
        };
        let um_per_px = density.map(|d| um_per_unit / d);
        if !um_per_px.iter().all(|um| POSSIBLE_UM_PER_PX.contains(um)) {
            let [x, y] = density;
            return Err(format!(
                "the file states a resolution of {x} x {y} pixels per {}, which is not possible: it is not used",
                unit.name()
            ));
        }
        let common_default = um_per_px.iter().all(|um| {
            let dpi = UM_PER_INCH / um;
            [72.0, 96.0].iter().any(|usual| (dpi - usual).abs() < 0.03)
        });
        Ok(Self { um_per_px, tag, common_default })
    }

    /// Dots per inch along x and y.
    pub fn dpi(&self) -> [f64; 2] {
        self.um_per_px.map(|um| UM_PER_INCH / um)
    }

    /// What a reader should know before using it, where there is something.
    pub fn notice(&self) -> Option<String> {
        let [x, _] = self.dpi();
        self.common_default.then(|| {
            format!(
                "the file states {x:.0} dots per inch: a common default, not a measurement; calibrate before measuring"
            )
        })
    }
}

impl DensityUnit {
    fn name(self) -> &'static str {
        match self {
            Self::Inch => "inch",
            Self::Centimetre => "centimetre",
            Self::Metre => "metre",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_scanner_settings() {
        // 25 400 µm an inch (international inch of 1959) over 600, 1200, 2400 and 4800 dpi.
        for (dpi, um) in [(600.0, 42.33), (1200.0, 21.17), (2400.0, 10.58), (4800.0, 5.29)] {
            let found =
                Resolution::from_density([dpi; 2], DensityUnit::Inch, ResolutionTag::Tiff).unwrap();
            assert!((found.um_per_px[0] - um).abs() < 0.005);
            assert!(!found.common_default);
        }
        let cm =
            Resolution::from_density([1000.0, 500.0], DensityUnit::Centimetre, ResolutionTag::Tiff)
                .unwrap();
        assert_eq!(cm.um_per_px, [10.0, 20.0]);
    }

    #[test]
    fn defaults_are_flagged_and_nonsense_is_refused() {
        let metre = |d| Resolution::from_density([d; 2], DensityUnit::Metre, ResolutionTag::Phys);
        assert!(metre(2835.0).unwrap().common_default);
        assert!(metre(3780.0).unwrap().notice().unwrap().contains("a common default"));
        assert!(metre(94488.0).unwrap().notice().is_none());
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY, 1.0, 1e12] {
            assert!(metre(bad).unwrap_err().contains("not used"), "{bad}");
        }
    }
}
