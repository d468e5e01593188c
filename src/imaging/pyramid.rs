//! A large scan for display: the picture at full size and at halves of it, in tiles of 8 bits.
//!
//! Each level halves the one above (mean of 2 x 2 pixels) down to a single tile. Level `n` holds 1/4ⁿ of the pixels,
//! so all levels together need 4/3 of a byte per pixel of the scan.

use kurbo::Rect;
use rayon::prelude::*;

use crate::domain::progress::{Progress, Stopped};
use crate::imaging::enhance::{Tone, display_bytes};
use crate::imaging::raster::Raster;

/// Side of a tile, pixels. Small tiles waste less memory at the margins of the view.
pub const TILE_SIDE_PX: usize = 256;

/// One size of the picture.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Level {
    width: usize,
    height: usize,
    pixels: Vec<u8>,
}

/// A picture at every size, for display.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pyramid {
    levels: Vec<Level>,
}

/// Which tile: its level and its place there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct TileId {
    /// 0 is full size; each further one is half as wide and high.
    pub level: usize,
    /// Tiles from the left.
    pub across: usize,
    /// Tiles from the top.
    pub down: usize,
}

/// A tile's pixels and where they belong.
#[derive(Debug, Clone, PartialEq)]
pub struct Tile {
    /// Width, pixels of its level; less than [`TILE_SIDE_PX`] at the right margin.
    pub width: usize,
    /// Height, pixels of its level.
    pub height: usize,
    /// Grey values, row by row.
    pub pixels: Vec<u8>,
    /// The area it covers, image pixels. At the right and lower margin of a reduced level it may reach a little
    /// beyond the picture, where an odd row was left over.
    pub area: Rect,
}

impl Pyramid {
    /// Builds all levels with the tone applied, on all cores.
    ///
    /// # Errors
    /// [`Stopped`] when `progress` was stopped.
    pub fn build(raster: &Raster, tone: &Tone, progress: &Progress) -> Result<Self, Stopped> {
        progress.set_total(n_levels(raster.width(), raster.height()));
        progress.checkpoint()?;
        let pixels = display_bytes(raster, tone);
        let mut levels = vec![Level { width: raster.width(), height: raster.height(), pixels }];
        progress.step();
        while let Some(last) = levels.last()
            && (last.width > TILE_SIDE_PX || last.height > TILE_SIDE_PX)
        {
            let half = last.halved(progress)?;
            levels.push(half);
            progress.step();
        }
        Ok(Self { levels })
    }

    /// Bytes a pyramid of such a picture takes, before it is built.
    pub fn bytes_needed(width: usize, height: usize) -> usize {
        let (mut w, mut h, mut sum) = (width, height, 0usize);
        for _ in 0..n_levels(width, height) {
            sum = sum.saturating_add(w.saturating_mul(h));
            (w, h) = (w.div_ceil(2), h.div_ceil(2));
        }
        sum
    }

    /// Bytes it takes.
    pub fn bytes(&self) -> usize {
        self.levels.iter().map(|level| level.pixels.len()).sum()
    }

    /// Number of levels, at least 1.
    pub fn n_levels(&self) -> usize {
        self.levels.len()
    }

    /// Width and height of a level, pixels; nothing beyond the last.
    pub fn size(&self, level: usize) -> Option<(usize, usize)> {
        self.levels.get(level).map(|level| (level.width, level.height))
    }

    /// The smallest level that still has a pixel for every screen pixel, where one image pixel takes up
    /// `screen_px_per_px` on the screen.
    pub fn level_for(&self, screen_px_per_px: f64) -> usize {
        let wanted = (1.0 / screen_px_per_px).log2().floor();
        let last = self.levels.len().saturating_sub(1);
        if wanted >= 1.0 { (wanted as usize).min(last) } else { 0 }
    }

    /// The tiles of a level that touch `visible` (image pixels), row by row.
    pub fn tiles_in(&self, level: usize, visible: Rect) -> Vec<TileId> {
        let Some(found) = self.levels.get(level) else { return Vec::new() };
        let side = tile_side_in_image(level);
        let range = |from: f64, to: f64, pixels: usize| {
            let count = pixels.div_ceil(TILE_SIDE_PX);
            let place = |v: f64| ((v + 0.5) / side).floor().max(0.0) as usize;
            place(from).min(count)..place(to).saturating_add(1).min(count)
        };
        if !(visible.is_finite() && visible.x1 >= -0.5 && visible.y1 >= -0.5) {
            return Vec::new();
        }
        let across = range(visible.x0, visible.x1, found.width);
        range(visible.y0, visible.y1, found.height)
            .flat_map(|down| across.clone().map(move |across| TileId { level, across, down }))
            .collect()
    }

    /// A tile's pixels; nothing where there is no such tile.
    pub fn tile(&self, id: TileId) -> Option<Tile> {
        let level = self.levels.get(id.level)?;
        let left = id.across.checked_mul(TILE_SIDE_PX).filter(|left| *left < level.width)?;
        let top = id.down.checked_mul(TILE_SIDE_PX).filter(|top| *top < level.height)?;
        let width = TILE_SIDE_PX.min(level.width - left);
        let height = TILE_SIDE_PX.min(level.height - top);
        let mut pixels = Vec::with_capacity(width * height);
        for y in top..top + height {
            let start = y * level.width + left;
            pixels.extend_from_slice(level.pixels.get(start..start + width)?);
        }
        let scale = pixel_side_in_image(id.level);
        let corner = |pixel: usize| pixel as f64 * scale - 0.5;
        let area = Rect::new(corner(left), corner(top), corner(left + width), corner(top + height));
        Some(Tile { width, height, pixels, area })
    }
}

impl Level {
    fn halved(&self, progress: &Progress) -> Result<Self, Stopped> {
        let (width, height) = (self.width.div_ceil(2), self.height.div_ceil(2));
        let mut pixels = vec![0u8; width * height];
        pixels.par_chunks_mut(width).enumerate().try_for_each(|(y, row)| {
            progress.checkpoint()?;
            let line = |y: usize| {
                let start = y.min(self.height - 1) * self.width;
                &self.pixels[start..start + self.width]
            };
            let (upper, lower) = (line(2 * y), line(2 * y + 1));
            for (x, cell) in row.iter_mut().enumerate() {
                let (left, right) = (2 * x, (2 * x + 1).min(self.width - 1));
                let sum = u16::from(upper[left])
                    + u16::from(upper[right])
                    + u16::from(lower[left])
                    + u16::from(lower[right]);
                *cell = ((sum + 2) / 4) as u8;
            }
            Ok(())
        })?;
        Ok(Self { width, height, pixels })
    }
}

fn n_levels(width: usize, height: usize) -> usize {
    let (mut side, mut count) = (width.max(height), 1);
    while side > TILE_SIDE_PX {
        side = side.div_ceil(2);
        count += 1;
    }
    count
}

fn pixel_side_in_image(level: usize) -> f64 {
    2f64.powi(level.min(64) as i32)
}

fn tile_side_in_image(level: usize) -> f64 {
    TILE_SIDE_PX as f64 * pixel_side_in_image(level)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::raster::Samples;

    fn scan(width: usize, height: usize) -> Raster {
        let values = (0..width * height).map(|i| ((i % width) / 4) as u8).collect();
        Raster::new(width, height, Samples::Eight(values)).unwrap()
    }

    #[test]
    fn levels_halve_down_to_one_tile_and_the_stated_memory_is_right() {
        let progress = Progress::new();
        let pyramid = Pyramid::build(&scan(1001, 600), &Tone::default(), &progress).unwrap();
        let sizes: Vec<_> = (0..pyramid.n_levels()).filter_map(|n| pyramid.size(n)).collect();
        assert_eq!(sizes, [(1001, 600), (501, 300), (251, 150)]);
        assert_eq!(pyramid.bytes(), Pyramid::bytes_needed(1001, 600));
        assert_eq!(progress.fraction(), 1.0);
    }

    #[test]
    fn a_tile_shows_its_area_and_all_tiles_cover_the_picture() {
        let raster = scan(1001, 600);
        let pyramid = Pyramid::build(&raster, &Tone::default(), &Progress::new()).unwrap();
        for level in 0..pyramid.n_levels() {
            let ids = pyramid.tiles_in(level, raster.area());
            let tiles: Vec<Tile> = ids.iter().filter_map(|id| pyramid.tile(*id)).collect();
            let pixels: usize = tiles.iter().map(|tile| tile.pixels.len()).sum();
            let (width, height) = pyramid.size(level).unwrap();
            assert_eq!(pixels, width * height);
            let covered = tiles.iter().fold(tiles[0].area, |all, tile| all.union(tile.area));
            assert!(covered.contains_rect(raster.area()));
        }
        let tile = pyramid.tile(TileId { level: 1, across: 1, down: 0 }).unwrap();
        assert_eq!((tile.area.x0, tile.area.y0), (511.5, -0.5));
        assert_eq!(tile.pixels[0], raster.value(512, 0) as u8);
        assert_eq!(pyramid.tile(TileId { level: 9, across: 0, down: 0 }), None);
        assert_eq!(pyramid.tile(TileId { level: 0, across: usize::MAX, down: 0 }), None);
        assert!(pyramid.tiles_in(0, Rect::new(-50.0, -50.0, -10.0, -10.0)).is_empty());
        assert!(pyramid.tiles_in(0, Rect::new(5e9, 0.0, 6e9, 10.0)).is_empty());
    }

    #[test]
    fn the_level_follows_the_zoom() {
        let pyramid = Pyramid::build(&scan(2000, 40), &Tone::default(), &Progress::new()).unwrap();
        let levels = [4.0, 1.0, 0.6, 0.5, 0.3, 0.25, 0.01, f64::NAN].map(|z| pyramid.level_for(z));
        assert_eq!(levels, [0, 0, 0, 1, 1, 2, 3, 0]);
    }

    #[test]
    fn it_stops_when_asked() {
        let progress = Progress::new();
        progress.stop();
        assert_eq!(Pyramid::build(&scan(600, 600), &Tone::default(), &progress), Err(Stopped));
    }
}
