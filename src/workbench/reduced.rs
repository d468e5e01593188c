//! Part of a scan as a person sees it, made small enough for a card.

use kurbo::Rect;

use crate::imaging::enhance::{Histogram, display_bytes};
use crate::imaging::raster::Raster;

use super::settings_tone::ScanTone;

/// A small grey picture of part of a scan.
pub(super) struct Reduced {
    /// Width, pixels of the small picture.
    pub width: usize,
    /// Height, pixels of the small picture.
    pub height: usize,
    /// Grey values, row by row.
    pub values: Vec<u8>,
    /// The area it covers, image pixels of the scan.
    pub covers: Rect,
}

/// The part of `raster` in `area` (image pixels), with `tone`, by means over whole steps so that no side is longer than
/// `most_side_px`.
pub(super) fn reduced(
    raster: &Raster,
    tone: &ScanTone,
    area: Rect,
    most_side_px: usize,
) -> Reduced {
    let shown = display_bytes(raster, &tone.tone(&Histogram::of(raster)));
    let clamp = |value: f64, most: usize| (value.max(0.0) as usize).min(most);
    let left = clamp(area.x0 + 0.5, raster.width() - 1);
    let top = clamp(area.y0 + 0.5, raster.height() - 1);
    let right = clamp((area.x1 + 0.5).ceil(), raster.width()).max(left + 1);
    let bottom = clamp((area.y1 + 0.5).ceil(), raster.height()).max(top + 1);
    let step = (right - left).max(bottom - top).div_ceil(most_side_px).max(1);
    let (width, height) = ((right - left).div_ceil(step), (bottom - top).div_ceil(step));
    let mean = |place: usize| {
        let (x0, y0) = (left + place % width * step, top + place / width * step);
        let (mut sum, mut n) = (0_u32, 0_u32);
        for y in y0..(y0 + step).min(bottom) {
            let row = y * raster.width();
            let values = shown.get(row + x0..row + (x0 + step).min(right)).unwrap_or_default();
            sum += values.iter().map(|value| u32::from(*value)).sum::<u32>();
            n += u32::try_from(values.len()).unwrap_or(0);
        }
        sum.checked_div(n).and_then(|mean| u8::try_from(mean).ok()).unwrap_or(0)
    };
    let values = (0..width * height).map(mean).collect();
    let (x0, y0) = (left as f64 - 0.5, top as f64 - 0.5);
    let covers = Rect::new(x0, y0, x0 + (width * step) as f64, y0 + (height * step) as f64);
    Reduced { width, height, values, covers }
}
