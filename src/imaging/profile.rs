//! Intensity profiles: grey values along a measurement axis or a straight line, averaged over a band.

use kurbo::{Point, Vec2};

use crate::domain::axis::Axis;
use crate::domain::units::Pixels;
use crate::imaging::raster::Raster;

/// The most samples a profile may have; a longer one is a slip in its step.
pub const MAX_SAMPLES: usize = 4_000_000;

/// The widest band, pixels.
pub const MAX_BAND_PX: usize = 10_000;

/// Why a profile cannot be taken.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ProfileError {
    /// A step that is not a positive finite number.
    #[error("a profile step of {found} px is not usable: give a positive number")]
    BadStep {
        /// The step as given, pixels.
        found: f64,
    },
    /// An end that is no number, or lies before the start.
    #[error("a profile cannot end {found} px along the axis: give a number of 0 or more")]
    BadEnd {
        /// Where it should have ended, pixels.
        found: f64,
    },
    /// A line through points that are not finite.
    #[error("a profile line needs two finite end points")]
    NotFinite,
    /// None, or far too many samples.
    #[error("a profile of {found} samples is not usable: 1 to {MAX_SAMPLES} are possible")]
    BadCount {
        /// Samples asked for.
        found: usize,
    },
    /// A band of no width, or of an absurd one.
    #[error("a band of {found} px is not usable: 1 to {MAX_BAND_PX} px are possible")]
    BadBand {
        /// Width as given, pixels.
        found: usize,
    },
}

/// How a value between pixel centres is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Interpolation {
    /// The nearest pixel's value; half-way the one to the right or below.
    Nearest,
    /// Bilinear between the four pixels around.
    #[default]
    Bilinear,
    /// Cubic convolution over 4 x 4 pixels with a = -1/2 (Keys 1981, IEEE Trans. ASSP 29:1153-1160).
    CubicConvolution,
}

/// How the values across a band become one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Combine {
    /// Their mean.
    #[default]
    Mean,
    /// Their median: slower, but steady against dirt and scratches.
    Median,
}

/// The band a profile is averaged over: `width_px` samples one pixel apart at right angles to the line, at
/// offsets -(w - 1)/2 to (w - 1)/2.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Band {
    /// Samples across, one pixel apart; 1 for the bare line.
    pub width_px: usize,
    /// How they become one value.
    pub combine: Combine,
    /// How each of them is found between pixels.
    pub interpolation: Interpolation,
}

impl Default for Band {
    fn default() -> Self {
        Self::mean(1)
    }
}

impl Band {
    /// The mean of `width_px` bilinear samples.
    pub fn mean(width_px: usize) -> Self {
        Self { width_px, combine: Combine::Mean, interpolation: Interpolation::Bilinear }
    }

    /// The median of `width_px` bilinear samples.
    pub fn median(width_px: usize) -> Self {
        Self { combine: Combine::Median, ..Self::mean(width_px) }
    }

    /// The same band with another interpolation.
    pub fn with_interpolation(self, interpolation: Interpolation) -> Self {
        Self { interpolation, ..self }
    }

    /// Offsets of the samples from the line, pixels.
    pub fn offsets_px(&self) -> impl Iterator<Item = f64> + use<> {
        let half = (self.width_px.max(1) - 1) as f64 / 2.0;
        (0..self.width_px).map(move |index| index as f64 - half)
    }
}

/// Grey values along a line, at equal steps.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Distance between neighbouring samples along the line, pixels.
    pub step_px: f64,
    /// The values, in the raster's own grey steps.
    pub values: Vec<f64>,
    /// Where each value was taken, image pixels (the middle of the band).
    pub points: Vec<Point>,
    /// True for samples whose band lies partly or wholly outside the picture; there the nearest pixel stands in.
    pub outside: Vec<bool>,
}

impl Profile {
    /// Number of samples.
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// True where there is no sample at all.
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// Distance of a (fractional) sample index from the start, pixels.
    pub fn distance_at(&self, index: f64) -> Pixels {
        Pixels(index * self.step_px)
    }

    /// The (fractional) sample index at a distance from the start.
    pub fn index_at(&self, distance: Pixels) -> f64 {
        distance.0 / self.step_px
    }

    /// Share of the samples that lie partly outside the picture, 0 to 1.
    pub fn outside_share(&self) -> f64 {
        let count = self.outside.iter().filter(|outside| **outside).count();
        if self.outside.is_empty() { 0.0 } else { count as f64 / self.outside.len() as f64 }
    }
}

/// The profile along the whole axis in equal arc steps, focus first; the rest shorter than a step is left out.
///
/// # Errors
/// [`ProfileError`] when the step or band is not usable.
pub fn along_axis(
    raster: &Raster,
    axis: &Axis,
    step_px: f64,
    band: Band,
) -> Result<Profile, ProfileError> {
    along_axis_to(raster, axis, axis.length_px(), step_px, band)
}

/// The profile along the axis from the focus to `end`, which may lie beyond the last point of the axis.
///
/// # Errors
/// [`ProfileError`] when the step, end or band is not usable.
pub fn along_axis_to(
    raster: &Raster,
    axis: &Axis,
    end: Pixels,
    step_px: f64,
    band: Band,
) -> Result<Profile, ProfileError> {
    let places = places_along(axis, end, step_px)?;
    sample(raster, places, step_px, band)
}

/// The profile along a straight line, both ends included, with `samples` values.
///
/// # Errors
/// [`ProfileError`] when an end is not finite, or the count or band is not usable.
pub fn along_line(
    raster: &Raster,
    start: Point,
    end: Point,
    samples: usize,
    band: Band,
) -> Result<Profile, ProfileError> {
    if samples == 0 || samples > MAX_SAMPLES {
        return Err(ProfileError::BadCount { found: samples });
    }
    let length = (end - start).hypot();
    if !length.is_finite() {
        return Err(ProfileError::NotFinite);
    }
    let direction = if length > 0.0 { (end - start) / length } else { Vec2::new(1.0, 0.0) };
    let last = (samples - 1).max(1) as f64;
    let places =
        (0..samples).map(|i| (start + (end - start) * (i as f64 / last), direction)).collect();
    sample(raster, places, length / last, band)
}

/// The usual number of samples on a straight line of that length: one a pixel, ends included.
pub fn samples_for(length: Pixels) -> usize {
    (length.0.max(0.0).ceil() as usize).saturating_add(1).min(MAX_SAMPLES)
}

/// Points and unit directions along the axis at equal arc steps.
pub(crate) fn places_along(
    axis: &Axis,
    end: Pixels,
    step_px: f64,
) -> Result<Vec<(Point, Vec2)>, ProfileError> {
    if !(step_px.is_finite() && step_px > 0.0) {
        return Err(ProfileError::BadStep { found: step_px });
    }
    if !(end.0.is_finite() && end.0 >= 0.0) {
        return Err(ProfileError::BadEnd { found: end.0 });
    }
    // A whole number of steps must not lose its last sample to rounding.
    let count = (end.0 / step_px + 1e-9).floor() as usize;
    if count >= MAX_SAMPLES {
        return Err(ProfileError::BadCount { found: count.saturating_add(1) });
    }
    Ok((0..=count)
        .map(|i| {
            let distance = Pixels(i as f64 * step_px);
            (axis.point_at(distance), axis.direction_at(distance))
        })
        .collect())
}

/// The unit vector at right angles to `direction`, such that a strip along it is not mirrored (y grows down).
pub(crate) fn across(direction: Vec2) -> Vec2 {
    Vec2::new(-direction.y, direction.x)
}

/// The value at a point by the chosen interpolation; outside the picture the nearest pixel's.
pub fn value_at(raster: &Raster, at: Point, interpolation: Interpolation) -> f64 {
    match interpolation {
        Interpolation::Nearest => {
            f64::from(raster.value((at.x + 0.5).floor() as isize, (at.y + 0.5).floor() as isize))
        }
        Interpolation::Bilinear => raster.bilinear(at),
        Interpolation::CubicConvolution => cubic(raster, at),
    }
}

fn sample(
    raster: &Raster,
    places: Vec<(Point, Vec2)>,
    step_px: f64,
    band: Band,
) -> Result<Profile, ProfileError> {
    if band.width_px == 0 || band.width_px > MAX_BAND_PX {
        return Err(ProfileError::BadBand { found: band.width_px });
    }
    let mut profile = Profile {
        step_px,
        values: Vec::with_capacity(places.len()),
        points: Vec::with_capacity(places.len()),
        outside: Vec::with_capacity(places.len()),
    };
    let mut across_values = Vec::with_capacity(band.width_px);
    for (point, direction) in places {
        across_values.clear();
        let mut outside = false;
        for offset in band.offsets_px() {
            let at = point + across(direction) * offset;
            outside |= !raster.contains(at);
            across_values.push(value_at(raster, at, band.interpolation));
        }
        profile.values.push(combined(&mut across_values, band.combine));
        profile.points.push(point);
        profile.outside.push(outside);
    }
    Ok(profile)
}

fn combined(values: &mut [f64], combine: Combine) -> f64 {
    match combine {
        Combine::Mean => values.iter().sum::<f64>() / values.len() as f64,
        Combine::Median => {
            values.sort_by(f64::total_cmp);
            let upper = values.len() / 2;
            let lower = (values.len().max(1) - 1) / 2;
            let at = |index: usize| values.get(index).copied().unwrap_or(0.0);
            (at(lower) + at(upper)) / 2.0
        }
    }
}

fn cubic(raster: &Raster, at: Point) -> f64 {
    let (x0, y0) = (at.x.floor(), at.y.floor());
    let (wx, wy) = (keys_weights(at.x - x0), keys_weights(at.y - y0));
    let (x, y) = (x0 as isize, y0 as isize);
    let mut sum = 0.0;
    for (row, weight_y) in (-1..=2).zip(wy) {
        for (column, weight_x) in (-1..=2).zip(wx) {
            let value = raster.value(x.saturating_add(column), y.saturating_add(row));
            sum += weight_y * weight_x * f64::from(value);
        }
    }
    sum
}

/// Weights of the samples at -1, 0, 1 and 2 for a point `t` (0 to 1) right of sample 0; Keys 1981 with a = -1/2.
fn keys_weights(t: f64) -> [f64; 4] {
    let near = |d: f64| (1.5 * d - 2.5) * d * d + 1.0;
    let far = |d: f64| ((-0.5 * d + 2.5) * d - 4.0) * d + 2.0;
    [far(1.0 + t), near(t), near(1.0 - t), far(2.0 - t)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::raster::Samples;

    /// Grey = 10 column + row, on which every interpolation but the nearest is exact.
    fn plane() -> Raster {
        let values = (0..200).map(|i| (10 * (i % 20) + i / 20) as u8).collect();
        Raster::new(20, 10, Samples::Eight(values)).unwrap()
    }

    #[test]
    fn a_band_on_a_plane_gives_the_line_itself() {
        let axis = Axis::straight(Point::new(4.0, 4.0), Point::new(10.0, 6.0)).unwrap();
        for combine in [Combine::Mean, Combine::Median] {
            for interpolation in [Interpolation::Bilinear, Interpolation::CubicConvolution] {
                let band = Band { width_px: 3, combine, interpolation };
                let profile = along_axis(&plane(), &axis, 0.5, band).unwrap();
                assert_eq!(profile.len(), 13);
                for (value, point) in profile.values.iter().zip(&profile.points) {
                    assert!((value - (10.0 * point.x + point.y)).abs() < 1e-9);
                }
                assert_eq!(profile.outside_share(), 0.0);
            }
        }
    }

    #[test]
    fn a_median_ignores_a_scratch_that_a_mean_does_not() {
        let mut values = vec![100u8; 25];
        values[10..15].fill(0);
        let raster = Raster::new(5, 5, Samples::Eight(values)).unwrap();
        let (a, b) = (Point::new(0.0, 2.0), Point::new(4.0, 2.0));
        assert_eq!(along_line(&raster, a, b, 5, Band::median(3)).unwrap().values, [100.0; 5]);
        assert!(along_line(&raster, a, b, 5, Band::mean(3)).unwrap().values[0] < 67.0);
    }

    #[test]
    fn the_part_outside_is_flagged_and_filled_by_the_nearest_pixel() {
        let axis = Axis::straight(Point::new(15.0, 5.0), Point::new(25.0, 5.0)).unwrap();
        let profile = along_axis(&plane(), &axis, 1.0, Band::default()).unwrap();
        assert_eq!(profile.outside.iter().filter(|o| **o).count(), 6);
        assert_eq!(profile.values.last(), Some(&195.0));
    }

    #[test]
    fn unusable_requests_are_refused() {
        let axis = Axis::straight(Point::new(0.0, 0.0), Point::new(9.0, 0.0)).unwrap();
        for step in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e-9] {
            assert!(along_axis(&plane(), &axis, step, Band::default()).is_err());
        }
        assert!(along_axis(&plane(), &axis, 1.0, Band::mean(0)).is_err());
        let far = Point::new(f64::INFINITY, 0.0);
        assert!(along_line(&plane(), axis.focus(), far, 4, Band::default()).is_err());
        assert!(along_line(&plane(), axis.focus(), axis.end(), 0, Band::default()).is_err());
        let alone = along_line(&plane(), axis.end(), axis.end(), 1, Band::default()).unwrap();
        assert_eq!(alone.values, [90.0]);
    }
}
