//! A large scan for display: the picture at full size and at halves of it, in tiles of 8 bits.
//!
//! Each level halves the one above (mean of 2 x 2 pixels) down to a single tile. Level `n` holds 1/4ⁿ of the pixels.
//! The full size is not kept a second time: its tiles are taken from the scan itself when they are asked for. So all
//! levels together need 1/3 of a byte per pixel of the scan.

use std::ops::Range;
use std::sync::Arc;

use kurbo::Rect;
use rayon::prelude::*;

use crate::domain::progress::{Progress, Stopped};
use crate::imaging::enhance::Tone;
use crate::imaging::raster::{Raster, Samples};

/// Side of a tile, pixels. Small tiles waste less memory at the margins of the view.
pub const TILE_SIDE_PX: usize = 256;

/// One reduced size of the picture.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Level {
    width: usize,
    height: usize,
    pixels: Vec<u8>,
}

/// A picture at every size, for display.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pyramid {
    scan: Arc<Raster>,
    /// What each grey value of the scan is shown as.
    shown: Vec<u8>,
    /// From half size on.
    reduced: Vec<Level>,
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
    pub fn build(scan: &Arc<Raster>, tone: &Tone, progress: &Progress) -> Result<Self, Stopped> {
        let n_levels = n_levels(scan.width(), scan.height());
        progress.set_total(n_levels);
        let shown = match scan.samples() {
            Samples::Eight(_) => tone.table(256),
            Samples::Sixteen(_) => tone.table(65_536),
        };
        let mut reduced: Vec<Level> = Vec::with_capacity(n_levels);
        progress.step();
        while reduced.len() + 1 < n_levels {
            let half = match (reduced.last(), scan.samples()) {
                (Some(last), _) => halved(last.width, last.height, &last.pixels, |v| *v, progress)?,
                (None, Samples::Eight(values)) => {
                    let show = |v: &u8| shown[usize::from(*v)];
                    halved(scan.width(), scan.height(), values, show, progress)?
                }
                (None, Samples::Sixteen(values)) => {
                    let show = |v: &u16| shown[usize::from(*v)];
                    halved(scan.width(), scan.height(), values, show, progress)?
                }
            };
            reduced.push(half);
            progress.step();
        }
        Ok(Self { scan: Arc::clone(scan), shown, reduced })
    }

    /// Bytes a pyramid of such a picture takes beside the scan, before it is built.
    pub fn bytes_needed(width: usize, height: usize) -> usize {
        let (mut w, mut h, mut sum) = (width, height, 0usize);
        for _ in 1..n_levels(width, height) {
            (w, h) = (w.div_ceil(2), h.div_ceil(2));
            sum = sum.saturating_add(w.saturating_mul(h));
        }
        sum
    }

    /// Bytes it takes beside the scan.
    pub fn bytes(&self) -> usize {
        self.reduced.iter().map(|level| level.pixels.len()).sum()
    }

    /// Number of levels, at least 1.
    pub fn n_levels(&self) -> usize {
        self.reduced.len() + 1
    }

    /// Width and height of a level, pixels; nothing beyond the last.
    pub fn size(&self, level: usize) -> Option<(usize, usize)> {
        let Some(reduced) = level.checked_sub(1) else {
            return Some((self.scan.width(), self.scan.height()));
        };
        self.reduced.get(reduced).map(|level| (level.width, level.height))
    }

    /// The smallest level that still has a pixel for every screen pixel, where one image pixel takes up
    /// `screen_px_per_px` on the screen.
    pub fn level_for(&self, screen_px_per_px: f64) -> usize {
        let wanted = (1.0 / screen_px_per_px).log2().floor();
        let last = self.reduced.len();
        if wanted >= 1.0 { (wanted as usize).min(last) } else { 0 }
    }

    /// The tiles of a level that touch `visible` (image pixels), row by row.
    pub fn tiles_in(&self, level: usize, visible: Rect) -> Vec<TileId> {
        let Some((width, height)) = self.size(level) else { return Vec::new() };
        let side = tile_side_in_image(level);
        let range = |from: f64, to: f64, pixels: usize| {
            let count = pixels.div_ceil(TILE_SIDE_PX);
            let place = |v: f64| ((v + 0.5) / side).floor().max(0.0) as usize;
            place(from).min(count)..place(to).saturating_add(1).min(count)
        };
        if !(visible.is_finite() && visible.x1 >= -0.5 && visible.y1 >= -0.5) {
            return Vec::new();
        }
        let across = range(visible.x0, visible.x1, width);
        range(visible.y0, visible.y1, height)
            .flat_map(|down| across.clone().map(move |across| TileId { level, across, down }))
            .collect()
    }

    /// A tile's pixels; nothing where there is no such tile.
    pub fn tile(&self, id: TileId) -> Option<Tile> {
        let (level_width, level_height) = self.size(id.level)?;
        let left = id.across.checked_mul(TILE_SIDE_PX).filter(|left| *left < level_width)?;
        let top = id.down.checked_mul(TILE_SIDE_PX).filter(|top| *top < level_height)?;
        let width = TILE_SIDE_PX.min(level_width - left);
        let height = TILE_SIDE_PX.min(level_height - top);
        let mut pixels = Vec::with_capacity(width * height);
        for y in top..top + height {
            let start = y * level_width + left;
            self.push_part(id.level, start..start + width, &mut pixels)?;
        }
        let scale = pixel_side_in_image(id.level);
        let corner = |pixel: usize| pixel as f64 * scale - 0.5;
        let area = Rect::new(corner(left), corner(top), corner(left + width), corner(top + height));
        Some(Tile { width, height, pixels, area })
    }

    /// Appends part of a row of a level, as it is shown.
    fn push_part(&self, level: usize, part: Range<usize>, out: &mut Vec<u8>) -> Option<()> {
        match (level.checked_sub(1), self.scan.samples()) {
            (Some(reduced), _) => {
                out.extend_from_slice(self.reduced.get(reduced)?.pixels.get(part)?);
            }
            (None, Samples::Eight(values)) => {
                out.extend(values.get(part)?.iter().map(|v| self.shown[usize::from(*v)]));
            }
            (None, Samples::Sixteen(values)) => {
                out.extend(values.get(part)?.iter().map(|v| self.shown[usize::from(*v)]));
            }
        }
        Some(())
    }
}

/// Half the size of a picture: each pixel the mean of four, as they are shown.
fn halved<T: Sync>(
    full_width: usize,
    full_height: usize,
    full: &[T],
    show: impl Fn(&T) -> u8 + Sync,
    progress: &Progress,
) -> Result<Level, Stopped> {
    let (width, height) = (full_width.div_ceil(2), full_height.div_ceil(2));
    let mut pixels = vec![0u8; width * height];
    pixels.par_chunks_mut(width).enumerate().try_for_each(|(y, row)| {
        progress.checkpoint()?;
        let line = |y: usize| {
            let start = y.min(full_height - 1) * full_width;
            &full[start..start + full_width]
        };
        let (upper, lower) = (line(2 * y), line(2 * y + 1));
        for (x, cell) in row.iter_mut().enumerate() {
            let (left, right) = (2 * x, (2 * x + 1).min(full_width - 1));
            let sum = [&upper[left], &upper[right], &lower[left], &lower[right]]
                .into_iter()
                .fold(0, |sum, value| sum + u16::from(show(value)));
            *cell = ((sum + 2) / 4) as u8;
        }
        Ok(())
    })?;
    Ok(Level { width, height, pixels })
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
    use crate::imaging::enhance::display_bytes;

    fn scan(width: usize, height: usize) -> Arc<Raster> {
        let values = (0..width * height).map(|i| ((i % width) / 4) as u8).collect();
        Arc::new(Raster::new(width, height, Samples::Eight(values)).unwrap())
    }

    #[test]
    fn sixteen_bits_are_shown_by_their_tone_at_every_size() {
        let values: Vec<u16> =
            (0..700 * 520).map(|i: usize| ((i * 7919) % 65_521) as u16).collect();
        let raster = Arc::new(Raster::new(700, 520, Samples::Sixteen(values)).unwrap());
        let tone = Tone { black: 0.1, white: 0.8, gamma: 1.4, inverted: true };
        let pyramid = Pyramid::build(&raster, &tone, &Progress::new()).unwrap();
        let shown = display_bytes(&raster, &tone);
        let tile = pyramid.tile(TileId { level: 0, across: 1, down: 2 }).unwrap();
        assert_eq!((tile.width, tile.height), (256, 8));
        for (y, row) in tile.pixels.chunks(256).enumerate() {
            assert_eq!(row, &shown[(512 + y) * 700 + 256..(512 + y) * 700 + 512]);
        }
        let half = pyramid.tile(TileId { level: 1, across: 0, down: 0 }).unwrap();
        for (x, y) in [(0, 0), (17, 200), (255, 255)] {
            let at = |dx: usize, dy: usize| u16::from(shown[(2 * y + dy) * 700 + 2 * x + dx]);
            let mean = (at(0, 0) + at(1, 0) + at(0, 1) + at(1, 1) + 2) / 4;
            assert_eq!(u16::from(half.pixels[y * 256 + x]), mean, "{x} {y}");
        }
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
