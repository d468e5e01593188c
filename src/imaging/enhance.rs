//! How grey values are shown: black and white point, gamma, inversion, local contrast. For the eye only: profiles and
//! proposals always work on the raster itself.

use image::GrayImage;
use imageproc::filter::box_filter;
use rayon::prelude::*;

use crate::imaging::raster::{Raster, Samples};

/// How grey values become display values. All parts are shares of the raster's white, so that it suits any depth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// Values up to here are shown black, 0 to 1.
    pub black: f32,
    /// Values from here on are shown white, 0 to 1.
    pub white: f32,
    /// Middle greys are lightened above 1, darkened below; 1 is straight. 0.1 to 10.
    pub gamma: f32,
    /// Black is shown white and the other way round.
    pub inverted: bool,
}

impl Default for Tone {
    /// As stored.
    fn default() -> Self {
        Self { black: 0.0, white: 1.0, gamma: 1.0, inverted: false }
    }
}

impl Tone {
    /// Black and white points that cut off `share` (0 to 0.49) of the pixels at each end.
    pub fn stretched(histogram: &Histogram, share: f64) -> Self {
        let share = share.clamp(0.0, 0.49);
        let (black, white) = (histogram.quantile(share), histogram.quantile(1.0 - share));
        if white > black { Self { black, white, ..Self::default() } } else { Self::default() }
    }

    /// The display value of a share of white.
    pub fn shown(&self, share: f32) -> u8 {
        let span = (self.white - self.black).max(1e-6);
        let straight = ((share - self.black) / span).clamp(0.0, 1.0);
        let gamma = if self.gamma.is_finite() { self.gamma.clamp(0.1, 10.0) } else { 1.0 };
        let bent = if gamma == 1.0 { straight } else { straight.powf(1.0 / gamma) };
        let value = (bent * 255.0).round() as u8;
        if self.inverted { 255 - value } else { value }
    }

    /// Display values of all 256 or 65 536 grey values.
    pub fn table(&self, n_values: usize) -> Vec<u8> {
        let most = n_values.saturating_sub(1).max(1) as f32;
        (0..n_values).map(|value| self.shown(value as f32 / most)).collect()
    }
}

/// The raster's display values, row by row, one byte a pixel.
pub fn display_bytes(raster: &Raster, tone: &Tone) -> Vec<u8> {
    match raster.samples() {
        Samples::Eight(values) => {
            let table = tone.table(256);
            values.par_iter().map(|v| table[usize::from(*v)]).collect()
        }
        Samples::Sixteen(values) => {
            let table = tone.table(65_536);
            values.par_iter().map(|v| table[usize::from(*v)]).collect()
        }
    }
}

/// Evens out slow changes of brightness in display values: each value's difference from the mean of its surroundings
/// (a square of `radius_px` to each side) is multiplied by `strength` and put on mid grey. Wrong sizes give the
/// values back unchanged.
pub fn local_contrast(
    display: &[u8],
    width: usize,
    height: usize,
    radius_px: u32,
    strength: f32,
) -> Vec<u8> {
    let (Ok(w), Ok(h)) = (u32::try_from(width), u32::try_from(height)) else {
        return display.to_vec();
    };
    let picture = GrayImage::from_raw(w, h, display.to_vec())
        .filter(|_| width.checked_mul(height) == Some(display.len()));
    let Some(picture) = picture else { return display.to_vec() };
    // Beyond the picture's own size the mean hardly changes, and running sums must fit 32 bits.
    let radius = radius_px.clamp(1, w.max(h).clamp(1, 4_096));
    let strength = if strength.is_finite() { strength } else { 1.0 };
    let mean = box_filter(&picture, radius, radius).into_raw();
    let raised = |value: u8, around: u8| {
        let difference = f32::from(value) - f32::from(around);
        (128.0 + strength * difference).round().clamp(0.0, 255.0) as u8
    };
    display.par_iter().zip(&mean).map(|(value, around)| raised(*value, *around)).collect()
}

/// How many pixels have each grey value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Histogram {
    /// Counts of the 256 or 65 536 grey values.
    pub counts: Vec<u64>,
}

impl Histogram {
    /// Counts all pixels.
    pub fn of(raster: &Raster) -> Self {
        let counts = match raster.samples() {
            Samples::Eight(values) => counted(values, 256),
            Samples::Sixteen(values) => counted(values, 65_536),
        };
        Self { counts }
    }

    /// The grey value, as a share of white, below which `share` of the pixels lie.
    pub fn quantile(&self, share: f64) -> f32 {
        let total: u64 = self.counts.iter().sum();
        let wanted = share.clamp(0.0, 1.0) * total as f64;
        let mut below = 0u64;
        let most = self.counts.len().saturating_sub(1).max(1) as f32;
        for (value, count) in self.counts.iter().enumerate() {
            below += count;
            if *count > 0 && below as f64 >= wanted {
                return value as f32 / most;
            }
        }
        1.0
    }

    /// The counts gathered into `n_bins` equal bins, for drawing.
    pub fn bins(&self, n_bins: usize) -> Vec<u64> {
        let n_bins = n_bins.clamp(1, self.counts.len().max(1));
        let mut bins = vec![0; n_bins];
        for (value, count) in self.counts.iter().enumerate() {
            if let Some(bin) = bins.get_mut(value * n_bins / self.counts.len()) {
                *bin += count;
            }
        }
        bins
    }
}

fn counted<T: Copy + Into<usize> + Sync>(values: &[T], n_values: usize) -> Vec<u64> {
    let part = values.len().div_ceil(rayon::current_num_threads()).max(65_536);
    values
        .par_chunks(part)
        .map(|values| {
            let mut counts = vec![0u64; n_values];
            for value in values {
                counts[(*value).into()] += 1;
            }
            counts
        })
        .reduce(
            || vec![0; n_values],
            |mut sum, counts| {
                sum.iter_mut().zip(counts).for_each(|(a, b)| *a += b);
                sum
            },
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp() -> Raster {
        Raster::new(256, 4, Samples::Eight((0..1024).map(|i| (i % 256) as u8).collect())).unwrap()
    }

    #[test]
    fn a_straight_tone_shows_8_bits_as_they_are_and_16_bits_by_their_share() {
        let Samples::Eight(values) = ramp().samples().clone() else { panic!("8 bits") };
        assert_eq!(display_bytes(&ramp(), &Tone::default()), values);
        let deep = Raster::new(4, 1, Samples::Sixteen(vec![0, 257, 25_700, 65_535])).unwrap();
        assert_eq!(display_bytes(&deep, &Tone::default()), [0, 1, 100, 255]);
        let inverted = Tone { inverted: true, ..Tone::default() };
        assert_eq!(display_bytes(&deep, &inverted), [255, 254, 155, 0]);
    }

    #[test]
    fn points_and_gamma_bend_as_stated_and_nonsense_does_no_harm() {
        let tone = Tone { black: 0.25, white: 0.75, gamma: 2.0, inverted: false };
        assert_eq!([tone.shown(0.2), tone.shown(0.8)], [0, 255]);
        assert_eq!(tone.shown(0.5), (0.5f32.sqrt() * 255.0).round() as u8);
        let odd = Tone { black: 0.5, white: 0.5, gamma: f32::NAN, inverted: false };
        assert_eq!([odd.shown(0.4), odd.shown(0.6)], [0, 255]);
    }

    #[test]
    fn the_histogram_counts_every_pixel_and_finds_its_quantiles() {
        let histogram = Histogram::of(&ramp());
        assert_eq!(histogram.counts, vec![4; 256]);
        assert_eq!(histogram.bins(16), vec![64; 16]);
        assert!((histogram.quantile(0.5) - 127.0 / 255.0).abs() < 1e-6);
        let tone = Tone::stretched(&histogram, 0.1);
        assert!((tone.black - 25.0 / 255.0).abs() < 0.01);
        assert!((tone.white - 230.0 / 255.0).abs() < 0.01);
        let flat = Raster::new(2, 1, Samples::Sixteen(vec![9, 9])).unwrap();
        assert_eq!(Tone::stretched(&Histogram::of(&flat), 0.01), Tone::default());
    }

    #[test]
    fn local_contrast_takes_a_slope_away_and_keeps_a_line() {
        let mut values: Vec<u8> = (0..100 * 40).map(|i| (i % 100 + 50) as u8).collect();
        for row in values.chunks_mut(100) {
            row[50] += 30;
        }
        let even = local_contrast(&values, 100, 40, 8, 1.0);
        let row = &even[20 * 100..21 * 100];
        assert!((i32::from(row[30]) - i32::from(row[70])).abs() <= 2);
        assert!(row[50] > row[30] + 20);
        assert_eq!(local_contrast(&values, 7, 7, 8, 1.0), values);
        assert_eq!(local_contrast(&values, 100, 40, u32::MAX, f32::NAN).len(), values.len());
    }
}
