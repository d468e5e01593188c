//! Grey pictures as textures: tiles of the scan at the resolution the view needs, and the strip.

use std::collections::HashMap;
use std::sync::Arc;

use egui::{
    Color32, ColorImage, Context, Painter, Pos2, Rect, TextureHandle, TextureOptions, pos2,
};

use crate::imaging::raster::{Raster, Samples};

use super::layout::ScanTransform;

/// Side of a tile, in its own pixels.
const TILE: usize = 512;

/// Tiles kept; the ones not drawn for longest go first.
const MAX_TILES: usize = 160;

/// Tiles made in one frame: the rest come with the next frames, over the coarse picture.
const TILES_A_FRAME: usize = 12;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct TileKey {
    level: u32,
    column: usize,
    row: usize,
}

struct Tile {
    texture: TextureHandle,
    drawn: u64,
}

/// The textures of one scan.
pub struct ScanPicture {
    raster: Arc<Raster>,
    tone: Tone,
    tiles: HashMap<TileKey, Tile>,
    frame: u64,
}

impl ScanPicture {
    /// Textures for `raster`, made as they are needed.
    pub fn new(raster: Arc<Raster>) -> Self {
        let tone = Tone::of(&raster);
        Self { raster, tone, tiles: HashMap::new(), frame: 0 }
    }

    /// True where these are the textures of `raster`.
    pub fn is_of(&self, raster: &Arc<Raster>) -> bool {
        Arc::ptr_eq(&self.raster, raster)
    }

    /// Paints the part of the scan that is in view.
    pub fn paint(&mut self, painter: &Painter, transform: &ScanTransform, context: &Context) {
        self.frame += 1;
        let pixels_per_point = f64::from(context.pixels_per_point());
        let wanted = self.level_for(transform.zoom() * pixels_per_point);
        let coarsest = self.coarsest();
        let mut budget = TILES_A_FRAME;
        for key in self.keys_in_view(coarsest, transform) {
            // The coarse picture is one or a few tiles and always there, so that nothing is ever blank.
            self.paint_tile(key, painter, transform, context, &mut usize::MAX.clone());
        }
        if wanted < coarsest {
            for key in self.keys_in_view(wanted, transform) {
                self.paint_tile(key, painter, transform, context, &mut budget);
            }
        }
        if budget == 0 {
            context.request_repaint();
        }
        self.forget_old();
    }

    fn level_for(&self, device_px_per_px: f64) -> u32 {
        let level = (1.0 / device_px_per_px.max(1e-6)).log2().floor().max(0.0);
        (level as u32).min(self.coarsest())
    }

    fn coarsest(&self) -> u32 {
        let side = self.raster.width().max(self.raster.height());
        (0..20).find(|level| side >> level <= TILE).unwrap_or(20)
    }

    fn keys_in_view(&self, level: u32, transform: &ScanTransform) -> Vec<TileKey> {
        let step = (TILE << level) as f64;
        let seen = transform.visible();
        let count = |side: usize| side.div_ceil(TILE << level);
        let span = |from: f64, to: f64, count: usize| {
            let first = (from / step).floor().max(0.0) as usize;
            let last = (to / step).floor().max(0.0) as usize;
            first..=last.min(count.saturating_sub(1))
        };
        let mut keys = Vec::new();
        for row in span(seen.y0, seen.y1, count(self.raster.height())) {
            for column in span(seen.x0, seen.x1, count(self.raster.width())) {
                keys.push(TileKey { level, column, row });
            }
        }
        keys
    }

    fn paint_tile(
        &mut self,
        key: TileKey,
        painter: &Painter,
        transform: &ScanTransform,
        context: &Context,
        budget: &mut usize,
    ) {
        let frame = self.frame;
        if !self.tiles.contains_key(&key) {
            if *budget == 0 {
                return;
            }
            *budget -= 1;
            let image = tile_image(&self.raster, &self.tone, key);
            let name = format!("tile {} {} {}", key.level, key.column, key.row);
            let options = if key.level == 0 {
                TextureOptions {
                    magnification: egui::TextureFilter::Nearest,
                    ..TextureOptions::LINEAR
                }
            } else {
                TextureOptions::LINEAR
            };
            let texture = context.load_texture(name, image, options);
            self.tiles.insert(key, Tile { texture, drawn: frame });
        }
        let Some(tile) = self.tiles.get_mut(&key) else { return };
        tile.drawn = frame;
        let scale = (1_usize << key.level) as f64;
        let [width, height] = tile.texture.size();
        let (x0, y0) =
            ((key.column * TILE) as f64 * scale - 0.5, (key.row * TILE) as f64 * scale - 0.5);
        let min = transform.screen_from_image((x0, y0).into());
        let max = transform
            .screen_from_image((x0 + width as f64 * scale, y0 + height as f64 * scale).into());
        painter.image(
            tile.texture.id(),
            Rect::from_min_max(min, max),
            whole_texture(),
            Color32::WHITE,
        );
    }

    fn forget_old(&mut self) {
        if self.tiles.len() <= MAX_TILES {
            return;
        }
        let mut ages: Vec<u64> = self.tiles.values().map(|tile| tile.drawn).collect();
        ages.sort_unstable();
        let surplus = self.tiles.len() - MAX_TILES;
        let limit = ages.get(surplus).copied().unwrap_or(0).min(self.frame);
        self.tiles.retain(|_, tile| tile.drawn >= limit);
    }
}

/// The texture of a strip, made anew when another strip is shown.
pub fn strip_texture(raster: &Raster, context: &Context) -> TextureHandle {
    let tone = Tone::of(raster);
    let pixels = (0..raster.height())
        .flat_map(|y| (0..raster.width()).map(move |x| (x, y)))
        .map(|(x, y)| Color32::from_gray(tone.grey(raster.value(x as isize, y as isize))))
        .collect();
    let image = ColorImage::new([raster.width(), raster.height()], pixels);
    context.load_texture("strip", image, TextureOptions::LINEAR)
}

/// Texture coordinates of a whole texture.
pub fn whole_texture() -> Rect {
    Rect::from_min_max(Pos2::ZERO, pos2(1.0, 1.0))
}

/// Grey values to the 8 bits of the screen: the darkest and brightest hundredth are cut off.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Tone {
    black: f32,
    per_step: f32,
}

impl Tone {
    fn of(raster: &Raster) -> Self {
        let mut histogram = vec![0_u32; 1024];
        let to_bin = 1023.0 / raster.white();
        let stride = (raster.width() * raster.height() / 200_000).max(1);
        let mut count = |value: f32| {
            if let Some(bin) = histogram.get_mut((value * to_bin) as usize) {
                *bin += 1;
            }
        };
        match raster.samples() {
            Samples::Eight(values) => {
                values.iter().step_by(stride).for_each(|v| count(f32::from(*v)))
            }
            Samples::Sixteen(values) => {
                values.iter().step_by(stride).for_each(|v| count(f32::from(*v)))
            }
        }
        let total: u32 = histogram.iter().sum();
        let cut = total / 200;
        let low = first_above(histogram.iter(), cut);
        let high = 1023 - first_above(histogram.iter().rev(), cut);
        let (black, white) = (low as f32 / to_bin, high as f32 / to_bin);
        // An even picture is shown as it is.
        if white - black < raster.white() * 0.02 {
            return Self { black: 0.0, per_step: 255.0 / raster.white() };
        }
        Self { black, per_step: 255.0 / (white - black) }
    }

    fn grey(&self, value: f32) -> u8 {
        ((value - self.black) * self.per_step).clamp(0.0, 255.0) as u8
    }
}

fn first_above<'a>(bins: impl Iterator<Item = &'a u32>, cut: u32) -> usize {
    let mut sum = 0;
    for (index, bin) in bins.enumerate() {
        sum += bin;
        if sum > cut {
            return index;
        }
    }
    0
}

/// One tile: each of its pixels is the mean of a square of the scan.
fn tile_image(raster: &Raster, tone: &Tone, key: TileKey) -> ColorImage {
    let scale = 1_usize << key.level;
    let (left, top) = (key.column * TILE * scale, key.row * TILE * scale);
    let side =
        |whole: usize, from: usize| (whole.saturating_sub(from)).div_ceil(scale).clamp(1, TILE);
    let (width, height) = (side(raster.width(), left), side(raster.height(), top));
    // Four samples a side are enough: a coarser mean looks the same and costs the less.
    let stride = (scale / 4).max(1);
    let mut pixels = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let (mut sum, mut n) = (0.0, 0.0);
            for dy in (0..scale).step_by(stride) {
                for dx in (0..scale).step_by(stride) {
                    let (px, py) = (left + x * scale + dx, top + y * scale + dy);
                    sum += raster.value(px as isize, py as isize);
                    n += 1.0;
                }
            }
            pixels.push(Color32::from_gray(tone.grey(sum / n)));
        }
    }
    ColorImage::new([width, height], pixels)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tone_uses_the_whole_screen() {
        let values = (0..10_000_u16).map(|i| 1000 + i).collect();
        let raster = Raster::new(100, 100, Samples::Sixteen(values)).unwrap();
        let tone = Tone::of(&raster);
        assert_eq!(tone.grey(0.0), 0);
        assert_eq!(tone.grey(65535.0), 255);
        let middle = tone.grey(6000.0);
        assert!((118..138).contains(&middle), "{middle}");
    }

    #[test]
    fn an_even_picture_keeps_its_grey() {
        let raster = Raster::new(10, 10, Samples::Eight(vec![90; 100])).unwrap();
        assert_eq!(Tone::of(&raster).grey(90.0), 90);
    }

    #[test]
    fn a_coarse_tile_covers_the_picture() {
        let raster = Raster::new(1300, 700, Samples::Eight(vec![10; 1300 * 700])).unwrap();
        let tone = Tone::of(&raster);
        let image = tile_image(&raster, &tone, TileKey { level: 2, column: 0, row: 0 });
        assert_eq!(image.size, [325, 175]);
    }
}
