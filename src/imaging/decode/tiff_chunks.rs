//! Unpacking one strip or tile of a TIFF.
//!
//! The `tiff` package does the unpacking, but never sees the file's own directory: each strip or tile is handed to it
//! as a tiny grey picture whose rows are the packed rows. So every layout goes one way (planes, palettes, any depth),
//! and the sizes it works with are those already checked here.

use std::borrow::Cow;
use std::io::{self, Read, Seek, SeekFrom};

use tiff::TiffError;
use tiff::decoder::{Decoder, Limits as PackageLimits};

use crate::imaging::decode::error::DecodeError;
use crate::imaging::decode::jpeg;
use crate::imaging::decode::source::ByteSource;
use crate::imaging::decode::tiff_layout::{Layout, Packing};

/// The unpacked rows of a strip or tile: `rows` times [`Layout::row_bytes`] bytes.
pub(crate) fn unpacked<'a>(
    file: &'a dyn ByteSource,
    layout: &Layout,
    chunk: usize,
    rows: usize,
) -> Result<Cow<'a, [u8]>, DecodeError> {
    let needed = layout.row_bytes() * rows;
    let packed = stored(file, layout, chunk, needed)?;
    let packed = if layout.bits_reversed && layout.packing != Packing::Jpeg {
        Cow::Owned(packed.iter().map(|byte| byte.reverse_bits()).collect())
    } else {
        packed
    };
    let number = layout.number_in_file(chunk);
    match layout.packing {
        Packing::None if packed.len() >= needed => Ok(packed),
        Packing::None => Err(cut_short(number)),
        Packing::Jpeg => unpack_jpeg(&packed, layout, number, rows).map(Cow::Owned),
        Packing::Fax4 => {
            let tiny = Tiny { width: layout.chunk_width, rows, bits: 1, samples: 1, code: 4 };
            unpack(&tiny, None, &packed, needed, number).map(Cow::Owned)
        }
        // Writers before 1988 packed LZW codes from the lowest bit on; such streams start with this pattern.
        Packing::Lzw if matches!(*packed, [0, second, ..] if second & 1 == 1) => {
            Err(DecodeError::unsupported("its compression is the outdated kind of LZW"))
        }
        other => {
            let code = match other {
                Packing::Lzw => 5,
                Packing::PackBits => 32_773,
                _ => 8,
            };
            let tiny = Tiny { width: layout.row_bytes(), rows, bits: 8, samples: 1, code };
            unpack(&tiny, None, &packed, needed, number).map(Cow::Owned)
        }
    }
}

/// The chunk's bytes in the file; fewer than stated where the file ends early, which unpacking then finds out.
fn stored<'a>(
    file: &'a dyn ByteSource,
    layout: &Layout,
    chunk: usize,
    needed: usize,
) -> Result<Cow<'a, [u8]>, DecodeError> {
    let (start, count) = layout.chunks.get(chunk).copied().unwrap_or((u64::MAX, 0));
    // Uncompressed strips need no stated length, and it is sometimes wrong. No packing makes pixels much larger, so
    // that a false length cannot fill the memory.
    let count = match layout.packing {
        Packing::None => needed as u64,
        _ => count.min((needed as u64).saturating_mul(4).saturating_add(1 << 20)),
    };
    let end = start.saturating_add(count).min(file.length());
    let count = usize::try_from(end.saturating_sub(start)).unwrap_or(0);
    let found = if count > 0 { file.part(start, count) } else { None };
    found.ok_or_else(|| cut_short(layout.number_in_file(chunk)))
}

fn unpack_jpeg(
    packed: &[u8],
    layout: &Layout,
    number: usize,
    rows: usize,
) -> Result<Vec<u8>, DecodeError> {
    let frame = jpeg::frame_of(packed).ok_or_else(|| cut_short(number))?;
    jpeg::supported(&frame)?;
    let samples = layout.samples_together();
    let tall = usize::from(frame.height);
    // A frame that disagrees with the directory would shift every row, or ask for absurd memory.
    if usize::from(frame.width) != layout.chunk_width
        || usize::from(frame.samples) != samples
        || tall < rows
        || tall > layout.chunk_height.saturating_add(16)
    {
        return Err(DecodeError::data(format!(
            "the JPEG in strip or tile {} has {} x {} pixels of {} samples instead of {} x {} of {}",
            number, frame.width, frame.height, frame.samples, layout.chunk_width, rows, samples
        )));
    }
    let tables = layout.jpeg_tables.as_deref().filter(|tables| tables.len() >= 4);
    let tiny = Tiny { width: layout.chunk_width, rows: tall, bits: 8, samples, code: 7 };
    let mut pixels = unpack(&tiny, tables, packed, layout.row_bytes() * tall, number)?;
    pixels.truncate(layout.row_bytes() * rows);
    Ok(pixels)
}

/// What the package is told.
struct Tiny {
    width: usize,
    rows: usize,
    bits: u16,
    samples: usize,
    code: u16,
}

fn unpack(
    tiny: &Tiny,
    tables: Option<&[u8]>,
    packed: &[u8],
    needed: usize,
    number: usize,
) -> Result<Vec<u8>, DecodeError> {
    let head = tiny
        .head(tables, packed.len())
        .ok_or_else(|| DecodeError::limit(format!("strip or tile {number} is longer than 4 GB")))?;
    let damaged = |error: TiffError| reported(&error, number);
    // The layout has been checked against our own limits; the package's would refuse large strips.
    let mut decoder = Decoder::new(Joined { head: &head, body: packed, at: 0 })
        .map_err(damaged)?
        .with_limits(PackageLimits::unlimited());
    let mut rows = vec![0u8; needed];
    decoder.read_chunk_bytes(0, &mut rows).map_err(damaged)?;
    Ok(rows)
}

impl Tiny {
    /// A little-endian TIFF head and directory that places the packed bytes right behind itself.
    fn head(&self, tables: Option<&[u8]>, packed: usize) -> Option<Vec<u8>> {
        let n_entries: u32 = if tables.is_some() { 10 } else { 9 };
        let tables = tables.unwrap_or_default();
        let after = 8 + 2 + 12 * n_entries + 4;
        let tables_length = u32::try_from(tables.len()).ok()?;
        let data = after.checked_add(tables_length)?;
        let packed = u32::try_from(packed).ok()?;
        data.checked_add(packed)?;
        let meaning: u32 = if self.samples == 3 { 2 } else { 1 };
        let rows = u32::try_from(self.rows).ok()?;
        let mut head = b"II\x2a\x00\x08\x00\x00\x00".to_vec();
        head.extend((n_entries as u16).to_le_bytes());
        // Bits are given once for all samples, which the package accepts.
        for (tag, kind, count, value) in [
            (256u16, 4u16, 1u32, u32::try_from(self.width).ok()?),
            (257, 4, 1, rows),
            (258, 3, 1, u32::from(self.bits)),
            (259, 3, 1, u32::from(self.code)),
            (262, 3, 1, meaning),
            (273, 4, 1, data),
            (277, 3, 1, self.samples as u32),
            (278, 4, 1, rows),
            (279, 4, 1, packed),
            (347, 7, tables_length, after),
        ]
        .into_iter()
        .take(n_entries as usize)
        {
            head.extend(tag.to_le_bytes());
            head.extend(kind.to_le_bytes());
            head.extend(count.to_le_bytes());
            head.extend(value.to_le_bytes());
        }
        head.extend([0; 4]);
        head.extend_from_slice(tables);
        Some(head)
    }
}

/// Two byte slices read as one, without copying either.
struct Joined<'a> {
    head: &'a [u8],
    body: &'a [u8],
    at: u64,
}

impl Read for Joined<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let at = usize::try_from(self.at).unwrap_or(usize::MAX);
        let rest = if at < self.head.len() {
            self.head.get(at..)
        } else {
            self.body.get(at - self.head.len()..)
        };
        let read = rest.unwrap_or_default().read(buffer)?;
        self.at += read as u64;
        Ok(read)
    }
}

impl Seek for Joined<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let end = (self.head.len() + self.body.len()) as u64;
        let place = match to {
            SeekFrom::Start(place) => Some(place),
            SeekFrom::End(by) => end.checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        self.at = place.ok_or(io::ErrorKind::InvalidInput)?;
        Ok(self.at)
    }
}

fn cut_short(number: usize) -> DecodeError {
    DecodeError::data(format!(
        "the TIFF ends before strip or tile {} does: it is cut short",
        number
    ))
}

fn reported(error: &TiffError, number: usize) -> DecodeError {
    match error {
        TiffError::IoError(e) if e.kind() == io::ErrorKind::UnexpectedEof => cut_short(number),
        TiffError::UnsupportedError(e) => DecodeError::unsupported(e.to_string()),
        other => {
            DecodeError::data(format!("strip or tile {} of the TIFF is damaged: {other}", number))
        }
    }
}
