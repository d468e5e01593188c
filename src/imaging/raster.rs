//! A grey picture in memory, 8 or 16 bits deep.

use kurbo::{Point, Rect};

/// Grey values, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Samples {
    /// 8 bits a pixel.
    Eight(Vec<u8>),
    /// 16 bits a pixel.
    Sixteen(Vec<u16>),
}

/// A grey picture. Width × height samples exactly; both at least 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Raster {
    width: usize,
    height: usize,
    samples: Samples,
}

/// Samples that do not fill the stated size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a picture of {width} x {height} pixels cannot hold {found} samples")]
pub struct BadSize {
    /// Width as stated.
    pub width: usize,
    /// Height as stated.
    pub height: usize,
    /// Samples given.
    pub found: usize,
}

impl Raster {
    /// Wraps samples.
    ///
    /// # Errors
    /// [`BadSize`] when there are not exactly width × height of them, or none.
    pub fn new(width: usize, height: usize, samples: Samples) -> Result<Self, BadSize> {
        let found = match &samples {
            Samples::Eight(values) => values.len(),
            Samples::Sixteen(values) => values.len(),
        };
        if found == 0 || width.checked_mul(height) != Some(found) {
            return Err(BadSize { width, height, found });
        }
        Ok(Self { width, height, samples })
    }

    /// Width, pixels.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Height, pixels.
    pub fn height(&self) -> usize {
        self.height
    }

    /// The samples, row by row.
    pub fn samples(&self) -> &Samples {
        &self.samples
    }

    /// The largest value the depth allows: 255 or 65535.
    pub fn white(&self) -> f32 {
        match self.samples {
            Samples::Eight(_) => 255.0,
            Samples::Sixteen(_) => 65535.0,
        }
    }

    /// The picture's area in image pixels: pixel centres from (0, 0) to (width - 1, height - 1).
    pub fn area(&self) -> Rect {
        Rect::new(-0.5, -0.5, self.width as f64 - 0.5, self.height as f64 - 0.5)
    }

    /// The stored value at column `x`, row `y`; outside the picture the nearest pixel's.
    pub fn value(&self, x: isize, y: isize) -> f32 {
        let x = x.clamp(0, self.width as isize - 1) as usize;
        let y = y.clamp(0, self.height as isize - 1) as usize;
        let index = y * self.width + x;
        match &self.samples {
            Samples::Eight(values) => values.get(index).copied().map_or(0.0, f32::from),
            Samples::Sixteen(values) => values.get(index).copied().map_or(0.0, f32::from),
        }
    }

    /// The value at a point between pixels, bilinear; outside the picture the nearest pixel's.
    pub fn bilinear(&self, at: Point) -> f64 {
        let (x0, y0) = (at.x.floor(), at.y.floor());
        let (fx, fy) = (at.x - x0, at.y - y0);
        let (x, y) = (x0 as isize, y0 as isize);
        let value = |dx, dy| f64::from(self.value(x.saturating_add(dx), y.saturating_add(dy)));
        let top = value(0, 0) * (1.0 - fx) + value(1, 0) * fx;
        let bottom = value(0, 1) * (1.0 - fx) + value(1, 1) * fx;
        top * (1.0 - fy) + bottom * fy
    }

    /// True where `at` lies between pixel centres of the picture.
    pub fn contains(&self, at: Point) -> bool {
        at.x >= 0.0
            && at.y >= 0.0
            && at.x <= self.width as f64 - 1.0
            && at.y <= self.height as f64 - 1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bilinear_is_exact_on_a_plane_and_clamps_outside() {
        let values: Vec<u8> = (0..12).map(|i| (i % 4 + 10 * (i / 4)) as u8).collect();
        let raster = Raster::new(4, 3, Samples::Eight(values)).unwrap();
        assert!((raster.bilinear(Point::new(1.5, 0.25)) - 4.0).abs() < 1e-12);
        assert_eq!(raster.bilinear(Point::new(-5.0, -5.0)), 0.0);
        assert_eq!(raster.bilinear(Point::new(1e30, 1e30)), 23.0);
    }

    #[test]
    fn a_wrong_count_of_samples_is_refused() {
        assert!(Raster::new(2, 2, Samples::Eight(vec![0; 3])).is_err());
        assert!(Raster::new(0, 2, Samples::Eight(Vec::new())).is_err());
    }
}
