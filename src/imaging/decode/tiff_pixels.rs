//! Unpacked TIFF rows to grey values.

use crate::imaging::decode::directory::number;
use crate::imaging::decode::grey::{luminance, stretched, white};
use crate::imaging::decode::tiff_layout::{Layout, Meaning};

/// A grey value as stored in a raster.
pub(crate) trait GreyValue: Copy + Default + Send + Into<u32> {
    /// Takes a value that fits.
    fn from_grey(value: u32) -> Self;
}

impl GreyValue for u8 {
    fn from_grey(value: u32) -> Self {
        value as u8
    }
}

impl GreyValue for u16 {
    fn from_grey(value: u32) -> Self {
        value as u16
    }
}

/// Undoes horizontal differencing in one row: each sample was stored as its difference from the one to the left.
pub(crate) fn add_up(row: &mut [u8], layout: &Layout) {
    let together = layout.samples_together();
    let size = (layout.bits / 8) as usize;
    let most = if layout.bits == 32 { u64::from(u32::MAX) } else { (1u64 << layout.bits) - 1 };
    if size == 1 {
        for i in together..row.len() {
            row[i] = row[i].wrapping_add(row[i - together]);
        }
        return;
    }
    let step = together * size;
    for start in (step..row.len().saturating_sub(size - 1)).step_by(size) {
        let before = number(&row[start - step..start - step + size], layout.big_endian);
        let sum = (number(&row[start..start + size], layout.big_endian) + before) & most;
        let bytes = sum.to_le_bytes();
        for (k, cell) in row[start..start + size].iter_mut().enumerate() {
            *cell = bytes[if layout.big_endian { size - 1 - k } else { k }];
        }
    }
}

/// Fills `out` with the grey values of one row, from its planes (one where samples lie together).
pub(crate) fn fill_row<T: GreyValue>(out: &mut [T], planes: &[&[u8]], layout: &Layout) {
    if fill_plain(out, planes, layout) {
        return;
    }
    let bits = layout.bits;
    let white = white(bits);
    let together = layout.samples_together();
    let stored = |pixel: usize, sample: usize| {
        let (plane, index) =
            if layout.planar { (sample, pixel) } else { (0, pixel * together + sample) };
        planes.get(plane).map_or(0, |row| sample_at(row, index, bits, layout.big_endian))
    };
    let grey = |pixel: usize, sample: usize| stretched(stored(pixel, sample), bits);
    match &layout.meaning {
        Meaning::MinIsBlack | Meaning::YCbCr => fill(out, |i| grey(i, 0)),
        Meaning::MinIsWhite => fill(out, |i| white - grey(i, 0)),
        Meaning::Rgb => fill(out, |i| luminance(grey(i, 0), grey(i, 1), grey(i, 2))),
        Meaning::Palette(greys) => {
            fill(out, |i| greys.get(stored(i, 0) as usize).copied().map_or(0, u32::from));
        }
        Meaning::Cmyk => fill(out, |i| {
            let light = white - grey(i, 3).min(white);
            let ink = |sample| {
                let left = u64::from(white - grey(i, sample).min(white));
                ((left * u64::from(light) + u64::from(white) / 2) / u64::from(white)) as u32
            };
            luminance(ink(0), ink(1), ink(2))
        }),
    }
}

/// The usual cases without the general way's detours, as scans are large: grey and RGB, 8 or 16 bits, together.
fn fill_plain<T: GreyValue>(out: &mut [T], planes: &[&[u8]], layout: &Layout) -> bool {
    let (1, Some(row)) = (planes.len(), planes.first()) else { return false };
    let pair = |low: u8, high: u8| {
        if layout.big_endian {
            u32::from(low) << 8 | u32::from(high)
        } else {
            u32::from(high) << 8 | u32::from(low)
        }
    };
    match (&layout.meaning, layout.bits, layout.samples) {
        (Meaning::MinIsBlack, 8, 1) => put(out, row.chunks_exact(1), |p| p[0].into()),
        (Meaning::MinIsBlack, 16, 1) => put(out, row.chunks_exact(2), |p| pair(p[0], p[1])),
        (Meaning::Rgb, 8, 3) => {
            put(out, row.chunks_exact(3), |p| luminance(p[0].into(), p[1].into(), p[2].into()))
        }
        (Meaning::Rgb, 16, 3) => put(out, row.chunks_exact(6), |p| {
            luminance(pair(p[0], p[1]), pair(p[2], p[3]), pair(p[4], p[5]))
        }),
        _ => return false,
    }
    true
}

fn put<'a, T: GreyValue>(
    out: &mut [T],
    pixels: impl Iterator<Item = &'a [u8]>,
    grey: impl Fn(&[u8]) -> u32,
) {
    for (cell, pixel) in out.iter_mut().zip(pixels) {
        *cell = T::from_grey(grey(pixel));
    }
}

fn fill<T: GreyValue>(out: &mut [T], value: impl Fn(usize) -> u32) {
    for (i, cell) in out.iter_mut().enumerate() {
        *cell = T::from_grey(value(i));
    }
}

/// Sample `index` of a row: whole bytes in the file's byte order, other depths packed from the highest bit on.
fn sample_at(row: &[u8], index: usize, bits: u32, big_endian: bool) -> u32 {
    match bits {
        8 => row.get(index).copied().map_or(0, u32::from),
        16 => match (row.get(2 * index..2 * index + 2), big_endian) {
            (Some([a, b]), true) => u32::from(*a) << 8 | u32::from(*b),
            (Some([a, b]), false) => u32::from(*b) << 8 | u32::from(*a),
            _ => 0,
        },
        24 | 32 => {
            let size = (bits / 8) as usize;
            row.get(size * index..size * (index + 1))
                .map_or(0, |raw| number(raw, big_endian) as u32)
        }
        _ => packed_sample(row, index, bits as usize),
    }
}

fn packed_sample(row: &[u8], index: usize, bits: usize) -> u32 {
    let first = index * bits;
    // At most 15 bits, so three bytes hold any sample.
    let byte = |k: usize| row.get(first / 8 + k).copied().map_or(0, u32::from);
    let window = byte(0) << 16 | byte(1) << 8 | byte(2);
    (window >> (24 - first % 8 - bits)) & ((1 << bits) - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packed_samples_come_from_the_highest_bit_on() {
        let row = [0b1010_0110, 0b1100_1111, 0b0000_1111];
        let all = |bits, n| (0..n).map(|i| packed_sample(&row, i, bits)).collect::<Vec<_>>();
        assert_eq!(all(1, 4), [1, 0, 1, 0]);
        assert_eq!(all(4, 3), [0b1010, 0b0110, 0b1100]);
        assert_eq!(all(6, 2), [0b10_1001, 0b10_1100]);
        assert_eq!(all(12, 2), [0b1010_0110_1100, 0b1111_0000_1111]);
        assert_eq!(sample_at(&row, 0, 24, false), 0x000F_CFA6);
        assert_eq!(sample_at(&row, 9, 8, false), 0);
    }
}
