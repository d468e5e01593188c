//! The scan as plain numbers: 0 to 1, row by row, quick to sample between pixels.

use kurbo::{Point, Rect};

use crate::imaging::raster::{Raster, Samples};

/// Largest part whose values are copied, pixels, four bytes each: quicker to sample.
pub(super) const MOST_COPIED_PX: usize = 16_000_000;

/// A part of a scan as `f32`, 0 (black) to 1 (white), with its place on the scan. Of a large part the scan's own values are
/// looked up where they are needed: a copy would take twice the memory.
#[derive(Debug, Clone)]
pub struct Plane<'a> {
    /// Column of the scan at which it begins.
    pub left: usize,
    /// Row of the scan at which it begins.
    pub top: usize,
    /// Width, pixels.
    pub width: usize,
    /// Height, pixels.
    pub height: usize,
    source: Source<'a>,
}

/// Where the values come from.
#[derive(Debug, Clone)]
enum Source<'a> {
    /// A whole scan of so many columns.
    Eight(&'a [u8], usize),
    /// The same with 16 bits.
    Sixteen(&'a [u16], usize),
    /// Values of the part alone, row by row.
    Own(Vec<f32>),
}

const OF_EIGHT: f32 = 1.0 / 255.0;
const OF_SIXTEEN: f32 = 1.0 / 65_535.0;

impl<'a> Plane<'a> {
    /// The part of `raster` inside `bounds` (the whole where there is none or they miss the scan). Parts of up to
    /// sixteen million pixels are copied.
    pub fn new(raster: &'a Raster, bounds: Option<Rect>) -> Self {
        let (left, right) = span(bounds.map(|b| (b.min_x(), b.max_x())), raster.width());
        let (top, bottom) = span(bounds.map(|b| (b.min_y(), b.max_y())), raster.height());
        let source = match raster.samples() {
            Samples::Eight(all) => Source::Eight(all, raster.width()),
            Samples::Sixteen(all) => Source::Sixteen(all, raster.width()),
        };
        let plane = Self { left, top, width: right - left, height: bottom - top, source };
        if plane.width * plane.height <= MOST_COPIED_PX { plane.into_owned() } else { plane }
    }

    /// A part with values of its own, row by row: `width` of them in each, at least one row.
    pub fn from_values(left: usize, top: usize, width: usize, values: Vec<f32>) -> Self {
        let height = values.len() / width.max(1);
        Self { left, top, width, height, source: Source::Own(values) }
    }

    /// The same with the values copied, to outlive the scan.
    pub fn into_owned(self) -> Plane<'static> {
        if let Source::Own(values) = self.source {
            return Plane::from_values(self.left, self.top, self.width, values);
        }
        let mut values = Vec::with_capacity(self.width * self.height);
        let mut line = Vec::new();
        for row in 0..self.height {
            self.copy_row(row, &mut line);
            values.extend_from_slice(&line);
        }
        Plane::from_values(self.left, self.top, self.width, values)
    }

    /// The value in a column and row of the part.
    #[inline]
    pub fn value(&self, column: usize, row: usize) -> f32 {
        let (x, y) = (self.left + column, self.top + row);
        match &self.source {
            Source::Eight(all, width) => f32::from(all[y * width + x]) * OF_EIGHT,
            Source::Sixteen(all, width) => f32::from(all[y * width + x]) * OF_SIXTEEN,
            Source::Own(values) => values[row * self.width + column],
        }
    }

    /// Puts a row of the part into `line`.
    pub fn copy_row(&self, row: usize, line: &mut Vec<f32>) {
        line.clear();
        let part = |width: usize| {
            let start = (self.top + row) * width + self.left;
            start..start + self.width
        };
        match &self.source {
            Source::Eight(all, width) => {
                line.extend(all[part(*width)].iter().map(|v| f32::from(*v) * OF_EIGHT));
            }
            Source::Sixteen(all, width) => {
                line.extend(all[part(*width)].iter().map(|v| f32::from(*v) * OF_SIXTEEN));
            }
            Source::Own(values) => {
                line.extend_from_slice(&values[row * self.width..(row + 1) * self.width]);
            }
        }
    }

    /// A row of the part; `own` is where its values go when they are not at hand.
    pub fn row<'b>(&'b self, row: usize, own: &'b mut Vec<f32>) -> &'b [f32] {
        if let Source::Own(values) = &self.source {
            return &values[row * self.width..(row + 1) * self.width];
        }
        self.copy_row(row, own);
        own
    }

    /// The value at a point of the scan, bilinear; outside the part the nearest pixel's.
    #[inline]
    pub fn at(&self, x: f32, y: f32) -> f32 {
        let x = (x - self.left as f32).clamp(0.0, (self.width - 1) as f32);
        let y = (y - self.top as f32).clamp(0.0, (self.height - 1) as f32);
        let (column, row) = (x as usize, y as usize);
        let (fx, fy) = (x - column as f32, y - row as f32);
        let right = usize::from(column + 1 < self.width);
        let below = usize::from(row + 1 < self.height);
        let (right, below) = (column + right, row + below);
        let upper = self.value(column, row) * (1.0 - fx) + self.value(right, row) * fx;
        let lower = self.value(column, below) * (1.0 - fx) + self.value(right, below) * fx;
        upper * (1.0 - fy) + lower * fy
    }

    /// Something quick to sample it with again and again; `None` where it is too narrow to lie between pixels.
    pub fn sampler(&self) -> Option<Sampler<'_>> {
        let inner = |length: usize| (length >= 2).then(|| ((length - 1) as f32).next_down());
        let (values, large) = match &self.source {
            Source::Own(values) => (values.get(..self.width * self.height)?, None),
            _ => (&[][..], Some(self)),
        };
        Some(Sampler {
            values,
            large,
            width: self.width,
            left: self.left as f32,
            top: self.top as f32,
            last: (inner(self.width)?, inner(self.height)?),
        })
    }

    /// True where a point of the scan lies between pixel centres of the part.
    pub fn contains(&self, at: Point) -> bool {
        let (x, y) = (at.x - self.left as f64, at.y - self.top as f64);
        x >= 0.0 && y >= 0.0 && x <= (self.width - 1) as f64 && y <= (self.height - 1) as f64
    }
}

/// Values of a plane between its pixels, many at a time.
#[derive(Debug, Clone, Copy)]
pub struct Sampler<'a> {
    values: &'a [f32],
    /// A part that is too large to be copied.
    large: Option<&'a Plane<'a>>,
    width: usize,
    left: f32,
    top: f32,
    /// The largest coordinates that still have a pixel to the right and below.
    last: (f32, f32),
}

/// Added to a number from -1 to below four millions, leaves it rounded in the low bits of the sum.
const ROUNDING: f32 = 12_582_912.0;
const LOW_BITS: u32 = 0x003f_ffff;

impl Sampler<'_> {
    /// What [`Plane::at`] gives, to rounding.
    #[inline(always)]
    pub fn at(&self, x: f32, y: f32) -> f32 {
        if let Some(plane) = self.large {
            return plane.at(x, y);
        }
        let x = (x - self.left).max(0.0).min(self.last.0);
        let y = (y - self.top).max(0.0).min(self.last.1);
        // Rounding half a pixel lower is the floor; an exact pixel may count as the far end of the one before.
        let (sx, sy) = (x - 0.5 + ROUNDING, y - 0.5 + ROUNDING);
        let (fx, fy) = (x - (sx - ROUNDING), y - (sy - ROUNDING));
        let low = |v: f32| (v.to_bits() & LOW_BITS) as usize;
        let index = low(sy) * self.width + low(sx);
        let Some([a, b]) = self.values.get(index..index + 2) else { return 0.0 };
        let below = index + self.width;
        let Some([c, d]) = self.values.get(below..below + 2) else { return 0.0 };
        let upper = a + (b - a) * fx;
        let lower = c + (d - c) * fx;
        upper + (lower - upper) * fy
    }

    /// Differences of the neighbours right and left, and below and above, of the pixel next to a point.
    #[inline(always)]
    pub fn differences(&self, x: f32, y: f32) -> (f32, f32) {
        let x = (x - self.left).min(self.last.0 - 1.0).max(1.0);
        let y = (y - self.top).min(self.last.1 - 1.0).max(1.0);
        let nearest = |v: f32| ((v + ROUNDING).to_bits() & LOW_BITS) as usize;
        if let Some(plane) = self.large {
            let (x, y) = (nearest(x), nearest(y));
            let difference = |b: (usize, usize), a: (usize, usize)| {
                plane.value(b.0, b.1) - plane.value(a.0, a.1)
            };
            return (
                difference((x + 1, y), (x.saturating_sub(1), y)),
                difference((x, y + 1), (x, y.saturating_sub(1))),
            );
        }
        let above = (nearest(y).saturating_sub(1)) * self.width + nearest(x);
        let Some(part) = self.values.get(above..above + 2 * self.width + 1) else {
            return (0.0, 0.0);
        };
        let value = |at: usize| part.get(at).copied().unwrap_or(0.0);
        let here = self.width;
        (value(here + 1) - value(here - 1), value(2 * here) - value(0))
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
        let sampler = plane.sampler().unwrap();
        for (x, y) in [(7.25, 9.5), (0.0, 0.0), (4.0, 5.0), (14.0, 16.0), (99.0, 9.25), (9.0, 11.0)]
        {
            assert!((plane.at(x, y) - sampler.at(x, y)).abs() < 1e-5, "{x} {y}");
        }
        assert!((sampler.differences(8.1, 9.8).0 * 255.0 - 2.0).abs() < 1e-3);
        assert!((sampler.differences(8.1, 9.8).1 * 255.0 - 20.0).abs() < 1e-3);
        assert!(plane.contains(Point::new(4.0, 16.0)) && !plane.contains(Point::new(3.9, 9.0)));
        let own = plane.clone().into_owned();
        assert_eq!((own.left, own.top, own.width, own.height), (4, 5, 11, 12));
        assert_eq!(own.at(7.25, 9.5), plane.at(7.25, 9.5));
        assert_eq!(own.value(10, 11), plane.value(10, 11));
    }
}
