//! The scan as plain numbers: 0 to 1, row by row, quick to sample between pixels.

use kurbo::{Point, Rect};

use crate::imaging::raster::{Raster, Samples};

/// A part of a scan as `f32`, 0 (black) to 1 (white), with its place on the scan.
#[derive(Debug, Clone)]
pub struct Plane {
    /// Column of the scan at which it begins.
    pub left: usize,
    /// Row of the scan at which it begins.
    pub top: usize,
    /// Width, pixels.
    pub width: usize,
    /// Height, pixels.
    pub height: usize,
    /// Values, row by row.
    pub values: Vec<f32>,
}

impl Plane {
    /// Copies the part of `raster` inside `bounds` (the whole where there is none or they miss the scan).
    pub fn new(raster: &Raster, bounds: Option<Rect>) -> Self {
        let (left, right) = span(bounds.map(|b| (b.min_x(), b.max_x())), raster.width());
        let (top, bottom) = span(bounds.map(|b| (b.min_y(), b.max_y())), raster.height());
        let (width, height) = (right - left, bottom - top);
        let scale = 1.0 / raster.white();
        let mut values = Vec::with_capacity(width * height);
        for row in top..bottom {
            let range = row * raster.width() + left..row * raster.width() + right;
            match raster.samples() {
                Samples::Eight(all) => values.extend(
                    all.get(range).unwrap_or_default().iter().map(|v| f32::from(*v) * scale),
                ),
                Samples::Sixteen(all) => values.extend(
                    all.get(range).unwrap_or_default().iter().map(|v| f32::from(*v) * scale),
                ),
            }
        }
        Self { left, top, width, height, values }
    }

    /// The value at a point of the scan, bilinear; outside the part the nearest pixel's.
    #[inline]
    pub fn at(&self, x: f32, y: f32) -> f32 {
        let x = (x - self.left as f32).clamp(0.0, (self.width - 1) as f32);
        let y = (y - self.top as f32).clamp(0.0, (self.height - 1) as f32);
        let (column, row) = (x as usize, y as usize);
        let (fx, fy) = (x - column as f32, y - row as f32);
        let right = usize::from(column + 1 < self.width);
        let below = if row + 1 < self.height { self.width } else { 0 };
        let index = row * self.width + column;
        let upper = self.values[index] * (1.0 - fx) + self.values[index + right] * fx;
        let lower =
            self.values[index + below] * (1.0 - fx) + self.values[index + below + right] * fx;
        upper * (1.0 - fy) + lower * fy
    }

    /// True where a point of the scan lies between pixel centres of the part.
    pub fn contains(&self, at: Point) -> bool {
        let (x, y) = (at.x - self.left as f64, at.y - self.top as f64);
        x >= 0.0 && y >= 0.0 && x <= (self.width - 1) as f64 && y <= (self.height - 1) as f64
    }
}

/// First and one past the last pixel of a side of the box, kept inside `0..length` and at least 8 wide.
fn span(wanted: Option<(f64, f64)>, length: usize) -> (usize, usize) {
    let Some((low, high)) = wanted else { return (0, length) };
    let first = (low + 0.5).floor().clamp(0.0, length as f64) as usize;
    let end = (high + 0.5).ceil().clamp(0.0, length as f64) as usize;
    if end >= first + 8 { (first, end) } else { (0, length) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_is_sampled_by_the_coordinates_of_the_scan() {
        let values: Vec<u8> = (0..400).map(|i| (i % 20 + 10 * (i / 20)) as u8).collect();
        let raster = Raster::new(20, 20, Samples::Eight(values)).unwrap();
        let plane = Plane::new(&raster, Some(Rect::new(3.5, 4.5, 14.5, 16.5)));
        assert_eq!((plane.left, plane.top, plane.width, plane.height), (4, 5, 11, 12));
        assert!((plane.at(7.25, 9.5) * 255.0 - 102.25).abs() < 1e-3);
        assert!((plane.at(0.0, 0.0) * 255.0 - 54.0).abs() < 1e-3);
        assert!(plane.contains(Point::new(4.0, 16.0)) && !plane.contains(Point::new(3.9, 9.0)));
    }
}
