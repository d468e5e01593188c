//! A coarse picture of a scan, taken from the finished raster or growing while the scan is read.

use kurbo::Rect;

use crate::imaging::raster::{Raster, Samples};

/// Longest side of a coarse picture, pixels.
pub const OVERVIEW_SIDE_PX: usize = 512;

/// Every n-th pixel of every n-th row of a scan. Rows that have not been read yet are missing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Overview {
    scan_px: (usize, usize),
    step: usize,
    white: u32,
    values: Vec<u16>,
    is_filled: Vec<bool>,
}

impl Overview {
    /// A coarse picture with nothing in it yet, for a scan of `width` x `height` pixels whose white is `white` (255 or
    /// 65 535). Sizes of 0 count as 1.
    pub fn empty(width: usize, height: usize, white: u32) -> Self {
        let (width, height) = (width.max(1), height.max(1));
        let step = width.max(height).div_ceil(OVERVIEW_SIDE_PX);
        let (columns, rows) = (width.div_ceil(step), height.div_ceil(step));
        Self {
            scan_px: (width, height),
            step,
            white: white.max(1),
            values: vec![0; columns * rows],
            is_filled: vec![false; rows],
        }
    }

    /// The whole coarse picture of a scan.
    pub fn of(raster: &Raster) -> Self {
        let mut overview = Self::empty(raster.width(), raster.height(), raster.white() as u32);
        match raster.samples() {
            Samples::Eight(values) => overview.put(0, values),
            Samples::Sixteen(values) => overview.put(0, values),
        };
        overview
    }

    /// Takes over whole rows of the scan, the first of which is row `top`; true where there is more to see now.
    pub fn put<T: Copy + Into<u32>>(&mut self, top: usize, rows: &[T]) -> bool {
        let mut has_grown = false;
        let (width, height) = self.scan_px;
        let columns = self.size().0;
        let bottom = top.saturating_add(rows.len() / width).min(height);
        let place = |i: usize, most: usize| (i * self.step + self.step / 2).min(most - 1);
        for coarse in 0..self.is_filled.len() {
            let y = place(coarse, height);
            if !(top..bottom).contains(&y) {
                continue;
            }
            let line = rows.get((y - top) * width..(y - top + 1) * width).unwrap_or_default();
            for (x, cell) in self.values.iter_mut().skip(coarse * columns).take(columns).enumerate()
            {
                let value = line.get(place(x, width)).map_or(0, |value| (*value).into());
                *cell = (value.min(self.white) * (65_535 / self.white)) as u16;
            }
            if let Some(filled) = self.is_filled.get_mut(coarse) {
                *filled = true;
                has_grown = true;
            }
        }
        has_grown
    }

    /// Width and height, pixels.
    pub fn size(&self) -> (usize, usize) {
        (self.scan_px.0.div_ceil(self.step), self.scan_px.1.div_ceil(self.step))
    }

    /// The area it covers, image pixels of the scan.
    pub fn area(&self) -> Rect {
        let (width, height) = self.size();
        let side = |n: usize| (n * self.step) as f64 - 0.5;
        Rect::new(-0.5, -0.5, side(width), side(height))
    }

    /// The area of the scan itself, image pixels.
    pub fn scan_area(&self) -> Rect {
        Rect::new(-0.5, -0.5, self.scan_px.0 as f64 - 0.5, self.scan_px.1 as f64 - 0.5)
    }

    /// True for each row that is there.
    pub fn rows_filled(&self) -> &[bool] {
        &self.is_filled
    }

    /// Share of the rows that are there, 0 to 1.
    pub fn share_filled(&self) -> f32 {
        let filled = self.is_filled.iter().filter(|filled| **filled).count();
        filled as f32 / self.is_filled.len().max(1) as f32
    }

    /// The rows that are there below each other, on the scale of 16 bits; `None` while there is none.
    pub fn filled_raster(&self) -> Option<Raster> {
        let (columns, _) = self.size();
        let lines = self.values.chunks_exact(columns).zip(&self.is_filled);
        let values: Vec<u16> =
            lines.filter(|(_, filled)| **filled).flat_map(|(line, _)| line).copied().collect();
        Raster::new(columns, values.len() / columns, Samples::Sixteen(values)).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_holds_the_pixels_in_the_middle_of_each_step() {
        let values: Vec<u16> = (0..1300 * 700).map(|i| (i % 65_521) as u16).collect();
        let raster = Raster::new(1300, 700, Samples::Sixteen(values.clone())).unwrap();
        let overview = Overview::of(&raster);
        assert_eq!(overview.size(), (434, 234));
        assert_eq!(overview.area(), Rect::new(-0.5, -0.5, 1301.5, 701.5));
        let coarse = overview.filled_raster().unwrap();
        for (x, y) in [(0, 0), (433, 0), (7, 200), (433, 233)] {
            let at = ((3 * x + 1).min(1299), (3 * y + 1).min(699));
            assert_eq!(coarse.value(x, y), raster.value(at.0, at.1), "{x} {y}");
        }
    }

    #[test]
    fn pieces_in_any_order_make_the_same_picture_and_gaps_stay_open() {
        let values: Vec<u8> = (0..1300 * 700).map(|i| (i * 7 % 251) as u8).collect();
        let raster = Raster::new(1300, 700, Samples::Eight(values.clone())).unwrap();
        let mut growing = Overview::empty(1300, 700, 255);
        assert_eq!(growing.filled_raster(), None);
        let mut pieces: Vec<(usize, &[u8])> =
            values.chunks(1300 * 64).enumerate().map(|(i, rows)| (i * 64, rows)).collect();
        pieces.reverse();
        let last = pieces.pop().unwrap();
        for (top, rows) in pieces {
            growing.put(top, rows);
        }
        let missing = growing.rows_filled().iter().take_while(|filled| !**filled).count();
        assert_eq!(missing, 21);
        assert!(growing.share_filled() < 1.0);
        assert_ne!(growing, Overview::of(&raster));
        growing.put(last.0, last.1);
        assert_eq!(growing, Overview::of(&raster));
        assert_eq!(growing.share_filled(), 1.0);
    }
}
