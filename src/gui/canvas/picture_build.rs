//! What is worked out of a scan before it can be shown, on threads of its own.

use std::sync::Arc;

use egui::ColorImage;

use crate::domain::progress::{Progress, Stopped};
use crate::imaging::enhance::{Histogram, Tone, display_bytes, local_contrast};
use crate::imaging::pyramid::Pyramid;
use crate::imaging::raster::{Raster, Samples};
use crate::workbench::settings_tone::ScanTone;

/// Longest side of the first coarse picture, pixels.
const OVERVIEW_SIDE_PX: usize = 512;

/// Local contrast evens out brightness over squares of this share of the longer side.
const SURROUNDINGS_SHARE: f64 = 0.02;

/// The first coarse picture.
pub struct Overview {
    /// Its pixels.
    pub image: ColorImage,
    /// The area it covers, image pixels.
    pub area: kurbo::Rect,
}

/// A scan ready to be shown at any size.
pub struct Built {
    /// The tone it was asked for.
    pub tone: ScanTone,
    /// That tone with black and white point as fitted.
    pub shown: Tone,
    /// The scan's histogram.
    pub histogram: Arc<Histogram>,
    /// The tiles.
    pub pyramid: Arc<Pyramid>,
}

/// Every n-th pixel of the scan, with black and white fitted to these: ready long before the pyramid is.
pub fn overview(raster: &Raster, tone: ScanTone) -> Overview {
    let step = raster.width().max(raster.height()).div_ceil(OVERVIEW_SIDE_PX).max(1);
    let (width, height) = (raster.width().div_ceil(step), raster.height().div_ceil(step));
    let place = |i: usize| (i * step + step / 2) as isize;
    let share = 65_535.0 / raster.white();
    let values = (0..width * height)
        .map(|i| (raster.value(place(i % width), place(i / width)) * share) as u16)
        .collect();
    let area =
        kurbo::Rect::new(-0.5, -0.5, (width * step) as f64 - 0.5, (height * step) as f64 - 0.5);
    let bytes = match Raster::new(width, height, Samples::Sixteen(values)) {
        Ok(coarse) => display_bytes(&coarse, &tone.tone(&Histogram::of(&coarse))),
        Err(_) => vec![0; width * height],
    };
    Overview { image: ColorImage::from_gray([width, height], &bytes), area }
}

/// All sizes of the scan with its tone.
///
/// # Errors
/// [`Stopped`] when `progress` was stopped.
pub fn build(
    raster: &Raster,
    tone: ScanTone,
    histogram: Option<Arc<Histogram>>,
    progress: &Progress,
) -> Result<Built, Stopped> {
    let histogram = histogram.unwrap_or_else(|| Arc::new(Histogram::of(raster)));
    progress.checkpoint()?;
    let shown = tone.tone(&histogram);
    let evened = (tone.local_contrast > 0.0).then(|| evened_out(raster, &shown, tone));
    progress.checkpoint()?;
    let pyramid = match evened.flatten() {
        Some(evened) => Pyramid::build(&evened, &Tone::default(), progress)?,
        None => Pyramid::build(raster, &shown, progress)?,
    };
    Ok(Built { tone, shown, histogram, pyramid: Arc::new(pyramid) })
}

fn evened_out(raster: &Raster, shown: &Tone, tone: ScanTone) -> Option<Raster> {
    let (width, height) = (raster.width(), raster.height());
    let radius = (width.max(height) as f64 * SURROUNDINGS_SHARE).clamp(8.0, 400.0) as u32;
    let bytes = display_bytes(raster, shown);
    let evened = local_contrast(&bytes, width, height, radius, tone.local_contrast);
    Raster::new(width, height, Samples::Eight(evened)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slope(width: usize, height: usize) -> Raster {
        let values = (0..width * height).map(|i| ((i % width) * 60) as u16).collect();
        Raster::new(width, height, Samples::Sixteen(values)).unwrap()
    }

    #[test]
    fn the_overview_covers_the_scan_and_shows_its_greys() {
        let overview = overview(&slope(1000, 700), ScanTone::default());
        assert_eq!(overview.image.size, [500, 350]);
        assert_eq!(overview.area, kurbo::Rect::new(-0.5, -0.5, 999.5, 699.5));
        let grey = |x: usize| overview.image.pixels[175 * 500 + x].r();
        assert!(grey(5) < 10 && grey(494) > 245 && grey(250).abs_diff(128) < 8);
    }

    #[test]
    fn local_contrast_evens_out_a_slope_and_stopping_stops() {
        let tone = ScanTone { local_contrast: 1.0, ..ScanTone::default() };
        let built = build(&slope(1000, 700), tone, None, &Progress::new()).unwrap();
        let level = built.pyramid.n_levels() - 1;
        let id = crate::imaging::pyramid::TileId { level, across: 0, down: 0 };
        let tile = built.pyramid.tile(id).unwrap();
        let middle = tile.pixels[tile.width * (tile.height / 2) + tile.width / 2];
        let left = tile.pixels[tile.width * (tile.height / 2) + tile.width / 4];
        assert!(middle.abs_diff(left) < 4, "{middle} {left}");
        let stopped = Progress::new();
        stopped.stop();
        assert!(build(&slope(10, 10), tone, None, &stopped).is_err());
    }
}
