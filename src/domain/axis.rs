//! The measurement axis: a polyline on the scan from the focus (or core) to or beyond the margin.
//!
//! Points are image pixels: (0, 0) is the centre of the top-left pixel, x grows right, y grows down.

use kurbo::{Point, Vec2};

use super::calibration::Calibration;
use super::units::{Micrometres, Pixels};

/// Why a list of points is not an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum AxisError {
    /// Fewer than two points that differ.
    #[error("an axis needs a focus and at least one other point")]
    TooShort,
    /// A coordinate that is not a number.
    #[error("an axis point is not a finite number")]
    NotFinite,
}

/// A measurement axis. Always at least two points, no two neighbours alike, all finite.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    vertices: Vec<Point>,
}

impl Axis {
    /// An axis through `vertices`, image pixels, the first of which is the focus. Repeated points are dropped.
    ///
    /// # Errors
    /// [`AxisError`] when a coordinate is not finite or fewer than two points remain.
    pub fn new(vertices: impl IntoIterator<Item = Point>) -> Result<Self, AxisError> {
        let mut kept: Vec<Point> = Vec::new();
        for point in vertices {
            if !point.is_finite() {
                return Err(AxisError::NotFinite);
            }
            if kept.last() != Some(&point) {
                kept.push(point);
            }
        }
        if kept.len() < 2 { Err(AxisError::TooShort) } else { Ok(Self { vertices: kept }) }
    }

    /// A straight axis.
    ///
    /// # Errors
    /// As [`Axis::new`].
    pub fn straight(focus: Point, end: Point) -> Result<Self, AxisError> {
        Self::new([focus, end])
    }

    /// The points of the axis, focus first.
    pub fn vertices(&self) -> &[Point] {
        &self.vertices
    }

    /// The focus (scale) or core (otolith): the first point.
    pub fn focus(&self) -> Point {
        self.vertices.first().copied().unwrap_or_default()
    }

    /// The last point.
    pub fn end(&self) -> Point {
        self.vertices.last().copied().unwrap_or_default()
    }

    /// Whole length in pixels.
    pub fn length_px(&self) -> Pixels {
        Pixels(self.segments().map(|(a, b)| (b - a).hypot()).sum())
    }

    /// The distance along the axis from the focus to its point `index`, the focus being 0.
    pub fn length_to(&self, index: usize) -> Pixels {
        Pixels(self.segments().take(index).map(|(a, b)| (b - a).hypot()).sum())
    }

    /// The point `distance` along the axis, image pixels. Before the focus and beyond the end the first and
    /// last segments are prolonged.
    pub fn point_at(&self, distance: Pixels) -> Point {
        let (start, direction, along) = self.locate(distance);
        start + direction * along
    }

    /// The unit direction of the axis at `distance`.
    pub fn direction_at(&self, distance: Pixels) -> Vec2 {
        self.locate(distance).1
    }

    /// The distance on the structure from the focus to the point `distance` along the axis.
    pub fn micrometres_at(&self, distance: Pixels, calibration: &Calibration) -> Micrometres {
        let mut left_px = distance.0;
        let mut um = 0.0;
        let last = self.vertices.len().saturating_sub(2);
        for (index, (a, b)) in self.segments().enumerate() {
            let segment_px = (b - a).hypot();
            let take = if index == last { left_px } else { left_px.min(segment_px) };
            um += take / segment_px * calibration.micrometres_between(a, b).0;
            left_px -= take;
            if left_px <= 0.0 {
                break;
            }
        }
        Micrometres(um)
    }

    /// The inverse of [`Axis::micrometres_at`].
    pub fn pixels_at(&self, distance: Micrometres, calibration: &Calibration) -> Pixels {
        let mut left_um = distance.0;
        let mut px = 0.0;
        let last = self.vertices.len().saturating_sub(2);
        for (index, (a, b)) in self.segments().enumerate() {
            let segment_um = calibration.micrometres_between(a, b).0;
            let take = if index == last { left_um } else { left_um.min(segment_um) };
            px += take / segment_um * (b - a).hypot();
            left_um -= take;
            if left_um <= 0.0 {
                break;
            }
        }
        Pixels(px)
    }

    /// The place on the axis nearest to `point`: its distance along the axis, and how far away it is.
    pub fn nearest(&self, point: Point) -> (Pixels, Pixels) {
        let mut best = (Pixels(0.0), Pixels(f64::INFINITY));
        let mut before_px = 0.0;
        for (a, b) in self.segments() {
            let segment = b - a;
            let length_px = segment.hypot();
            let along = ((point - a).dot(segment) / (length_px * length_px)).clamp(0.0, 1.0);
            let away = (point - (a + segment * along)).hypot();
            if away < best.1.0 {
                best = (Pixels(before_px + along * length_px), Pixels(away));
            }
            before_px += length_px;
        }
        best
    }

    fn segments(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        self.vertices.windows(2).filter_map(|pair| match pair {
            [a, b] => Some((*a, *b)),
            _ => None,
        })
    }

    /// Start of the segment that holds `distance`, its unit direction, and the distance along it.
    fn locate(&self, distance: Pixels) -> (Point, Vec2, f64) {
        let mut left_px = distance.0;
        let mut found = (self.focus(), Vec2::new(1.0, 0.0), left_px);
        for (a, b) in self.segments() {
            let length_px = (b - a).hypot();
            found = (a, (b - a) / length_px, left_px);
            if left_px <= length_px {
                break;
            }
            left_px -= length_px;
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::calibration::CalibrationSource;

    fn bent() -> Axis {
        Axis::new([Point::new(0.0, 0.0), Point::new(3.0, 4.0), Point::new(3.0, 10.0)]).unwrap()
    }

    #[test]
    fn length_and_points_follow_the_bend() {
        let axis = bent();
        assert_eq!(axis.length_px(), Pixels(11.0));
        assert_eq!(axis.point_at(Pixels(7.0)), Point::new(3.0, 6.0));
        assert_eq!(axis.point_at(Pixels(13.0)), Point::new(3.0, 12.0));
        assert_eq!(axis.nearest(Point::new(4.0, 6.0)), (Pixels(7.0), Pixels(1.0)));
    }

    #[test]
    fn micrometres_and_back_with_unequal_scales() {
        let axis = bent();
        let scale = Calibration::new(2.0, 0.5, CalibrationSource::Stated).unwrap();
        for px in [0.0, 2.5, 5.0, 9.0, 12.0] {
            let um = axis.micrometres_at(Pixels(px), &scale);
            assert!((axis.pixels_at(um, &scale).0 - px).abs() < 1e-9);
        }
        let along_first = (6.0_f64).hypot(2.0);
        assert!((axis.micrometres_at(Pixels(7.0), &scale).0 - (along_first + 1.0)).abs() < 1e-12);
    }

    #[test]
    fn degenerate_axes_are_refused() {
        let p = Point::new(1.0, 1.0);
        assert_eq!(Axis::new([p, p]), Err(AxisError::TooShort));
        assert_eq!(Axis::new([p, Point::new(f64::NAN, 0.0)]), Err(AxisError::NotFinite));
    }
}
