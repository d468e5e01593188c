//! The straightened strip: the band around an axis, resampled so that the axis runs from left to right.

use kurbo::Point;
use rayon::prelude::*;

use crate::domain::axis::Axis;
use crate::domain::units::Pixels;
use crate::imaging::profile::{MAX_BAND_PX, ProfileError, across, places_along};
use crate::imaging::raster::{Raster, Samples};

/// The most pixels a strip may have.
pub const MAX_STRIP_PIXELS: usize = 200_000_000;

/// A straightened strip. Column i lies `i * step_px` along the axis; the middle row is the axis itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// The resampled band, as deep as the picture it came from.
    pub raster: Raster,
    /// Distance between neighbouring columns along the axis, image pixels. Rows are one image pixel apart.
    pub step_px: f64,
    /// True for columns of which a part lies outside the picture; there the nearest pixel stands in.
    pub outside: Vec<bool>,
}

impl Strip {
    /// Column (fractional) of a distance along the axis.
    pub fn column_at(&self, distance: Pixels) -> f64 {
        distance.0 / self.step_px
    }
}

/// The strip of `height_px` rows along the axis from the focus to `end`, bilinear. The strip is turned, never
/// mirrored: standing on the axis and looking along it, the lower rows lie to the right.
///
/// # Errors
/// [`ProfileError`] when the step, end or height is not usable, or the strip would be absurdly large.
pub fn straightened(
    raster: &Raster,
    axis: &Axis,
    end: Pixels,
    step_px: f64,
    height_px: usize,
) -> Result<Strip, ProfileError> {
    if height_px == 0 || height_px > MAX_BAND_PX {
        return Err(ProfileError::BadBand { found: height_px });
    }
    let places = places_along(axis, end, step_px)?;
    let width = places.len();
    let too_many = ProfileError::BadCount { found: width.saturating_mul(height_px) };
    if width.saturating_mul(height_px) > MAX_STRIP_PIXELS {
        return Err(too_many);
    }
    let half = (height_px - 1) as f64 / 2.0;
    let point = |row: usize, column: usize| -> Point {
        let (on_axis, direction) = places[column];
        on_axis + across(direction) * (row as f64 - half)
    };
    let value = |row: usize, column: usize| raster.bilinear(point(row, column)).round();
    let samples = match raster.samples() {
        Samples::Eight(_) => {
            let mut values = vec![0u8; width * height_px];
            fill(&mut values, width, |row, column| value(row, column) as u8);
            Samples::Eight(values)
        }
        Samples::Sixteen(_) => {
            let mut values = vec![0u16; width * height_px];
            fill(&mut values, width, |row, column| value(row, column) as u16);
            Samples::Sixteen(values)
        }
    };
    let outside = (0..width)
        .map(|column| {
            !raster.contains(point(0, column)) || !raster.contains(point(height_px - 1, column))
        })
        .collect();
    let strip = Raster::new(width, height_px, samples).map_err(|_| too_many)?;
    Ok(Strip { raster: strip, step_px, outside })
}

fn fill<T: Send>(values: &mut [T], width: usize, value: impl Fn(usize, usize) -> T + Sync) {
    values.par_chunks_mut(width.max(1)).enumerate().for_each(|(row, cells)| {
        for (column, cell) in cells.iter_mut().enumerate() {
            *cell = value(row, column);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::profile::{Band, along_axis};

    fn picture() -> Raster {
        let values = (0..60 * 40).map(|i| ((i % 60) * 300 + (i / 60) * 7) as u16).collect();
        Raster::new(60, 40, Samples::Sixteen(values)).unwrap()
    }

    #[test]
    fn the_middle_row_is_the_profile_along_the_axis() {
        let axis =
            Axis::new([Point::new(5.0, 5.0), Point::new(30.0, 20.0), Point::new(50.0, 20.0)])
                .unwrap();
        let strip = straightened(&picture(), &axis, axis.length_px(), 1.0, 5).unwrap();
        let profile = along_axis(&picture(), &axis, 1.0, Band::mean(1)).unwrap();
        assert_eq!(strip.raster.width(), profile.len());
        for (column, value) in profile.values.iter().enumerate() {
            let found = f64::from(strip.raster.value(column as isize, 2));
            assert!((found - value).abs() <= 0.5 + 1e-9);
        }
        assert!(strip.outside.iter().all(|outside| !outside));
    }

    #[test]
    fn a_level_axis_gives_the_picture_itself_and_one_to_the_left_turns_it() {
        let right = Axis::straight(Point::new(10.0, 20.0), Point::new(20.0, 20.0)).unwrap();
        let strip = straightened(&picture(), &right, Pixels(10.0), 1.0, 3).unwrap();
        assert_eq!(strip.raster.value(0, 0), picture().value(10, 19));
        let left = Axis::straight(Point::new(20.0, 20.0), Point::new(10.0, 20.0)).unwrap();
        let strip = straightened(&picture(), &left, Pixels(10.0), 1.0, 3).unwrap();
        assert_eq!(strip.raster.value(0, 0), picture().value(20, 21));
        assert_eq!(strip.raster.value(10, 2), picture().value(10, 19));
    }

    #[test]
    fn absurd_strips_are_refused() {
        let axis = Axis::straight(Point::new(0.0, 0.0), Point::new(9.0, 0.0)).unwrap();
        assert!(straightened(&picture(), &axis, Pixels(9.0), 1.0, 0).is_err());
        assert!(straightened(&picture(), &axis, Pixels(9.0), 0.0, 3).is_err());
        assert!(straightened(&picture(), &axis, Pixels(1e6), 1.0, 9000).is_err());
        let outside = straightened(&picture(), &axis, Pixels(9.0), 1.0, 3).unwrap();
        assert!(outside.outside.iter().all(|outside| *outside));
    }
}
