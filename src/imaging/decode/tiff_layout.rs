//! What the directory of a TIFF says about its pixels, checked before any of them is touched.

use crate::imaging::decode::directory::Directory;
use crate::imaging::decode::error::DecodeError;
use crate::imaging::decode::grey::luminance;
use crate::imaging::decode::limits::{Limits, check_plausible};
use crate::imaging::decode::png::DEFLATE_MOST;

/// What the samples mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Meaning {
    MinIsWhite,
    MinIsBlack,
    Rgb,
    /// Grey value, already 8 or 16 bits deep, of each entry.
    Palette(Vec<u16>),
    Cmyk,
    /// The first sample is the luminance.
    YCbCr,
}

/// How the bytes are packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Packing {
    None,
    Fax4,
    Lzw,
    Jpeg,
    Deflate,
    PackBits,
}

/// Where and how the pixels are stored. All sizes are checked against the limits and each other.
#[derive(Debug, Clone)]
pub(crate) struct Layout {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) bits: u32,
    pub(crate) samples: usize,
    pub(crate) meaning: Meaning,
    pub(crate) packing: Packing,
    pub(crate) differenced: bool,
    pub(crate) planar: bool,
    pub(crate) bits_reversed: bool,
    pub(crate) big_endian: bool,
    pub(crate) tiled: bool,
    pub(crate) chunk_width: usize,
    /// Rows of a strip or tile. Long uncompressed strips are taken in pieces of so many rows.
    pub(crate) chunk_height: usize,
    /// Rows of a strip or tile as the file states them: a multiple of `chunk_height`, or the only strip.
    stated_height: usize,
    /// Offset and length of each strip or tile; a length of 0 stands for "as much as is needed".
    pub(crate) chunks: Vec<(u64, u64)>,
    pub(crate) jpeg_tables: Option<Vec<u8>>,
}

const MOST_SAMPLES: u64 = 64;

/// Uncompressed strips longer than this are read in pieces, bytes.
const PIECE_BYTES: usize = 1 << 20;

impl Layout {
    /// Reads and checks the layout of a file of `file_bytes`.
    pub(crate) fn read(
        directory: &Directory<'_>,
        file_bytes: u64,
        limits: &Limits,
    ) -> Result<Self, DecodeError> {
        let width = required(directory, 256, "width")?;
        let height = required(directory, 257, "height")?;
        limits.check(width, height, 1, 0)?;
        let samples = directory.number(277).unwrap_or(1);
        if samples == 0 || samples > MOST_SAMPLES {
            return Err(DecodeError::data(format!("it claims {samples} samples per pixel")));
        }
        let bits = depth(directory)?;
        let packing = packing(directory)?;
        let meaning = meaning(directory, bits, samples, packing)?;
        let differenced = predictor(directory, bits, packing)?;
        let planar = directory.number(284) == Some(2) && samples > 1;
        let tiled = directory.contains(322);
        let (chunk_width, chunk_height) = chunk_size(directory, width, height, tiled)?;
        let mut layout = Self {
            width: width as usize,
            height: height as usize,
            bits,
            samples: samples as usize,
            meaning,
            packing,
            differenced,
            planar,
            bits_reversed: directory.number(266) == Some(2),
            big_endian: directory.big_endian,
            tiled,
            chunk_width,
            chunk_height,
            stated_height: chunk_height,
            chunks: Vec::new(),
            jpeg_tables: directory.raw(347).map(|tables| tables.into_owned()),
        };
        layout.take_in_pieces();
        layout.check_memory(limits)?;
        layout.chunks = layout.places(directory)?;
        layout.check_bytes(file_bytes)?;
        Ok(layout)
    }

    /// Strips or tiles side by side.
    pub(crate) fn across(&self) -> usize {
        self.width.div_ceil(self.chunk_width)
    }

    /// Strips or tiles below each other.
    pub(crate) fn down(&self) -> usize {
        self.height.div_ceil(self.chunk_height)
    }

    /// Separately stored planes.
    pub(crate) fn planes(&self) -> usize {
        if self.planar { self.samples } else { 1 }
    }

    /// Samples of a pixel that lie next to each other.
    pub(crate) fn samples_together(&self) -> usize {
        if self.planar { 1 } else { self.samples }
    }

    /// Bytes of a row of a strip or tile, once unpacked.
    pub(crate) fn row_bytes(&self) -> usize {
        (self.chunk_width * self.samples_together() * self.bits as usize).div_ceil(8)
    }

    /// Rows stored in the strips or tiles of row `index`: the last strips end with the picture, tiles do not.
    pub(crate) fn stored_rows(&self, index: usize) -> usize {
        if self.tiled { self.chunk_height } else { self.rows(index) }
    }

    /// Rows of the picture in the strips or tiles of row `index`.
    pub(crate) fn rows(&self, index: usize) -> usize {
        self.chunk_height.min(self.height.saturating_sub(index * self.chunk_height))
    }

    /// The number by which the file counts a strip or tile, from 1.
    pub(crate) fn number_in_file(&self, chunk: usize) -> usize {
        let (across, down) = (self.across(), self.down());
        let (plane, place) = (chunk / (across * down), chunk % (across * down));
        let stated_down = self.height.div_ceil(self.stated_height);
        let row = (place / across) * self.chunk_height / self.stated_height;
        (plane * stated_down + row) * across + place % across + 1
    }

    /// Divides long uncompressed strips, so that neither memory nor the first rows have to wait for a whole one.
    fn take_in_pieces(&mut self) {
        let most = (PIECE_BYTES / self.row_bytes().max(1)).max(1);
        if self.tiled || self.packing != Packing::None || self.chunk_height <= most {
            return;
        }
        if self.stated_height >= self.height {
            self.chunk_height = most;
        } else if let Some(rows) =
            (most.div_ceil(4)..=most).rev().find(|rows| self.stated_height.is_multiple_of(*rows))
        {
            self.chunk_height = rows;
        }
    }

    fn check_memory(&self, limits: &Limits) -> Result<(), DecodeError> {
        let grey_bytes = if self.bits <= 8 { 1 } else { 2 };
        // Strips or tiles in work at the same time; unpacking a JPEG keeps the pixels twice.
        let at_once = rayon::current_num_threads().min(self.down()) as u64;
        let copies = match self.packing {
            Packing::Jpeg => 3,
            _ => 1,
        };
        let pixel_bits = (self.samples as u64).saturating_mul(u64::from(self.bits));
        let chunk = (self.chunk_width as u64).saturating_mul(self.chunk_height as u64);
        let chunk = chunk.saturating_mul(pixel_bits).div_ceil(8);
        let extra = chunk.saturating_mul(copies).saturating_mul(at_once);
        limits.check(self.width as u64, self.height as u64, grey_bytes, extra)
    }

    fn places(&self, directory: &Directory<'_>) -> Result<Vec<(u64, u64)>, DecodeError> {
        let (offsets, counts) = if self.tiled { (324, 325) } else { (273, 279) };
        let what = if self.tiled { "tiles" } else { "strips" };
        let offsets = directory.numbers(offsets).unwrap_or_default();
        let counts = directory.numbers(counts).unwrap_or_default();
        let stated_down = self.height.div_ceil(self.stated_height);
        let expected = self.across() * stated_down * self.planes();
        if offsets.len() < expected {
            return Err(DecodeError::data(format!(
                "it should hold {expected} {what} and names {}",
                offsets.len()
            )));
        }
        if counts.len() < expected && self.packing != Packing::None {
            return Err(DecodeError::data(format!("the lengths of its {what} are missing")));
        }
        let counts = counts.into_iter().chain(std::iter::repeat(0));
        let stated = offsets.into_iter().zip(counts).take(expected);
        if self.chunk_height == self.stated_height {
            return Ok(stated.collect());
        }
        let piece = (self.row_bytes() * self.chunk_height) as u64;
        let pieces = stated.enumerate().flat_map(|(strip, (offset, _))| {
            let above = (strip % stated_down) * self.stated_height;
            let rows = self.stated_height.min(self.height - above);
            (0..rows.div_ceil(self.chunk_height) as u64)
                .map(move |i| (offset.saturating_add(i.saturating_mul(piece)), 0))
        });
        Ok(pieces.collect())
    }

    fn check_bytes(&self, file_bytes: u64) -> Result<(), DecodeError> {
        let most = match self.packing {
            Packing::None => 1,
            Packing::PackBits => 64,
            Packing::Deflate => DEFLATE_MOST,
            // 12 bits stand for at most 4 096 bytes.
            Packing::Lzw => 4_096,
            Packing::Jpeg | Packing::Fax4 => 65_536,
        };
        let row = (self.width * self.samples_together() * self.bits as usize).div_ceil(8) as u64;
        check_plausible(row * self.height as u64 * self.planes() as u64, file_bytes, most)
    }
}

fn required(directory: &Directory<'_>, tag: u16, name: &str) -> Result<u64, DecodeError> {
    directory
        .number(tag)
        .ok_or_else(|| DecodeError::data(format!("the TIFF does not say its {name}")))
}

fn depth(directory: &Directory<'_>) -> Result<u32, DecodeError> {
    let all = directory.numbers(258).unwrap_or_else(|| vec![1]);
    let bits = all.first().copied().unwrap_or(1);
    if all.iter().any(|other| *other != bits) {
        return Err(DecodeError::unsupported("its samples have different depths"));
    }
    let formats = directory.numbers(339).unwrap_or_default();
    if let Some(format) = formats.iter().find(|format| !matches!(format, 1 | 4)) {
        let name = match format {
            2 => "signed numbers",
            3 => "floating-point numbers",
            _ => "of an unknown kind",
        };
        return Err(DecodeError::unsupported(format!("its samples are {name} of {bits} bits")));
    }
    match bits {
        1..=16 | 24 | 32 => Ok(bits as u32),
        _ => Err(DecodeError::unsupported(format!("its samples have {bits} bits"))),
    }
}

fn packing(directory: &Directory<'_>) -> Result<Packing, DecodeError> {
    let name = match directory.number(259).unwrap_or(1) {
        1 => return Ok(Packing::None),
        4 => return Ok(Packing::Fax4),
        5 => return Ok(Packing::Lzw),
        7 => return Ok(Packing::Jpeg),
        8 | 32946 => return Ok(Packing::Deflate),
        32773 => return Ok(Packing::PackBits),
        2 | 3 => "Group 3 fax".to_owned(),
        6 => "the withdrawn old-style JPEG".to_owned(),
        50001 => "WebP".to_owned(),
        other => format!("number {other}"),
    };
    Err(DecodeError::unsupported(format!("its compression is {name}")))
}

fn meaning(
    directory: &Directory<'_>,
    bits: u32,
    samples: u64,
    packing: Packing,
) -> Result<Meaning, DecodeError> {
    let photometric = match (directory.number(262), packing) {
        (Some(found), _) => found,
        (None, Packing::Fax4) => 0,
        (None, _) => {
            if samples >= 3 {
                2
            } else {
                1
            }
        }
    };
    let (meaning, least) = match photometric {
        0 => (Meaning::MinIsWhite, 1),
        1 => (Meaning::MinIsBlack, 1),
        2 => (Meaning::Rgb, 3),
        3 => (Meaning::Palette(palette(directory, bits)?), 1),
        5 => (Meaning::Cmyk, 4),
        6 => (Meaning::YCbCr, 3),
        8..=10 => return Err(DecodeError::unsupported("its colours are stored as L*a*b*")),
        other => {
            return Err(DecodeError::unsupported(format!("its kind of colour is number {other}")));
        }
    };
    if samples < least {
        return Err(DecodeError::data(format!(
            "it holds {samples} samples per pixel, and its kind of colour needs {least}"
        )));
    }
    let subsampled = directory.numbers(530).is_none_or(|factors| factors.iter().any(|f| *f != 1));
    if meaning == Meaning::YCbCr && packing != Packing::Jpeg && subsampled {
        return Err(DecodeError::unsupported("its colours are subsampled without JPEG"));
    }
    if packing == Packing::Jpeg && (bits != 8 || samples == 2 || samples > 3) {
        let text = format!("it is a JPEG in a TIFF with {samples} samples of {bits} bits");
        return Err(DecodeError::unsupported(text));
    }
    if packing == Packing::Fax4 && (bits != 1 || samples != 1) {
        return Err(DecodeError::data("it is a fax of more than one bit per pixel"));
    }
    Ok(meaning)
}

/// The palette's luminances: 8 bits deep for indices of up to 8 bits, 16 above.
fn palette(directory: &Directory<'_>, bits: u32) -> Result<Vec<u16>, DecodeError> {
    if bits > 16 {
        return Err(DecodeError::unsupported(format!("its palette has indices of {bits} bits")));
    }
    let colours = directory.numbers(320).unwrap_or_default();
    let entries = 1usize << bits;
    if colours.len() < 3 * entries {
        return Err(DecodeError::data(format!(
            "its palette should have {entries} colours and has {}",
            colours.len() / 3
        )));
    }
    // Some writers fill only the lower byte of the 16-bit entries.
    let narrow = colours.iter().all(|value| *value < 256);
    let at = |index: usize| {
        let value = colours.get(index).copied().unwrap_or(0).min(65_535) as u32;
        if narrow { value * 257 } else { value }
    };
    Ok((0..entries)
        .map(|i| {
            let grey = luminance(at(i), at(entries + i), at(2 * entries + i));
            (if bits <= 8 { (grey * 255 + 32_767) / 65_535 } else { grey }) as u16
        })
        .collect())
}

fn predictor(directory: &Directory<'_>, bits: u32, packing: Packing) -> Result<bool, DecodeError> {
    if !matches!(packing, Packing::Lzw | Packing::Deflate) {
        return Ok(false);
    }
    match (directory.number(317).unwrap_or(1), bits) {
        (1, _) => Ok(false),
        (2, 8 | 16 | 32) => Ok(true),
        (other, _) => Err(DecodeError::unsupported(format!(
            "its samples of {bits} bits are predicted by method {other}"
        ))),
    }
}

fn chunk_size(
    directory: &Directory<'_>,
    width: u64,
    height: u64,
    tiled: bool,
) -> Result<(usize, usize), DecodeError> {
    let (chunk_width, chunk_height) = if tiled {
        (required(directory, 322, "tile width")?, required(directory, 323, "tile height")?)
    } else {
        (width, directory.number(278).unwrap_or(height).min(height))
    };
    let possible = 1..=1_000_000;
    if !possible.contains(&chunk_width) || !possible.contains(&chunk_height) {
        return Err(DecodeError::data(format!(
            "it claims strips or tiles of {chunk_width} x {chunk_height} pixels"
        )));
    }
    Ok((chunk_width as usize, chunk_height as usize))
}
