//! What is worked out of a scan before it can be shown, on threads of its own.

use std::sync::Arc;

use egui::{Color32, ColorImage};

use crate::domain::progress::{Progress, Stopped};
use crate::imaging::enhance::{Histogram, Tone, display_bytes, local_contrast};
use crate::imaging::overview::Overview;
use crate::imaging::pyramid::Pyramid;
use crate::imaging::raster::{Raster, Samples};
use crate::workbench::settings_tone::ScanTone;

/// Local contrast evens out brightness over squares of this share of the longer side.
const SURROUNDINGS_SHARE: f64 = 0.02;

/// A coarse picture ready to be shown.
pub struct CoarsePicture {
    /// Its pixels; clear where the scan has not been read yet.
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

/// The rows of an overview that are there, with black and white fitted to these: ready long before the pyramid is.
pub fn coarse_picture(overview: &Overview, tone: ScanTone) -> CoarsePicture {
    let (width, height) = overview.size();
    let shown = overview.filled_raster().map_or_else(Vec::new, |coarse| {
        display_bytes(&coarse, &tone.tone(&Histogram::of(&coarse)))
    });
    let mut lines = shown.chunks_exact(width);
    let mut pixels = Vec::with_capacity(width * height);
    for is_filled in overview.rows_filled() {
        // A row that is missing takes none of the lines.
        match is_filled.then(|| lines.next()).flatten() {
            Some(line) => pixels.extend(line.iter().map(|grey| Color32::from_gray(*grey))),
            None => pixels.extend(std::iter::repeat_n(Color32::TRANSPARENT, width)),
        }
    }
    let image = ColorImage::new([width, height], pixels);
    CoarsePicture { image, area: overview.area() }
}

/// All sizes of the scan with its tone.
///
/// # Errors
/// [`Stopped`] when `progress` was stopped.
pub fn build(
    raster: &Arc<Raster>,
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
        Some(evened) => Pyramid::build(&Arc::new(evened), &Tone::default(), progress)?,
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

    fn slope(width: usize, height: usize) -> Arc<Raster> {
        let values = (0..width * height).map(|i| ((i % width) * 60) as u16).collect();
        Arc::new(Raster::new(width, height, Samples::Sixteen(values)).unwrap())
    }

    #[test]
    fn the_overview_covers_the_scan_and_shows_its_greys() {
        let whole = Overview::of(&slope(1000, 700));
        let overview = coarse_picture(&whole, ScanTone::default());
        assert_eq!(overview.image.size, [500, 350]);
        assert_eq!(overview.area, kurbo::Rect::new(-0.5, -0.5, 999.5, 699.5));
        let grey = |x: usize| overview.image.pixels[175 * 500 + x].r();
        assert!(grey(5) < 10 && grey(494) > 245 && grey(250).abs_diff(128) < 8);
    }

    #[test]
    fn rows_that_are_not_read_yet_are_clear() {
        let raster = slope(1000, 700);
        let Samples::Sixteen(values) = raster.samples() else { panic!("16 bits") };
        let mut part = Overview::empty(1000, 700, 65_535);
        assert!(coarse_picture(&part, ScanTone::default()).image.pixels.iter().all(|p| p.a() == 0));
        part.put(350, &values[350_000..]);
        let picture = coarse_picture(&part, ScanTone::default()).image;
        let whole = coarse_picture(&Overview::of(&raster), ScanTone::default()).image;
        assert_eq!(picture.size, whole.size);
        let half = 175 * 500;
        assert!(picture.pixels[..half].iter().all(|p| p.a() == 0));
        // Each row of the slope is alike, so half of them fits black and white as all do.
        assert_eq!(picture.pixels[half..], whole.pixels[half..]);
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
