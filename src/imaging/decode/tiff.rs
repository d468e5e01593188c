//! TIFF and BigTIFF: the first picture of the file.

use std::collections::HashSet;

use rayon::prelude::*;

use crate::imaging::decode::directory::{Directory, Head};
use crate::imaging::decode::error::DecodeError;
use crate::imaging::decode::exif;
use crate::imaging::decode::grey::white;
use crate::imaging::decode::limits::Limits;
use crate::imaging::decode::source::ByteSource;
use crate::imaging::decode::tiff_chunks::unpacked;
use crate::imaging::decode::tiff_layout::{Layout, Meaning};
use crate::imaging::decode::tiff_pixels::{GreyValue, add_up, fill_row};
use crate::imaging::decode::watch::Watch;
use crate::imaging::decode::{Format, Scan};
use crate::imaging::raster::{Raster, Samples};
use crate::imaging::resolution::ResolutionTag;

/// Pages are counted up to here only.
const MOST_PAGES: usize = 10_000;

pub(crate) fn decode(
    bytes: &dyn ByteSource,
    limits: &Limits,
    watch: &Watch,
) -> Result<Scan, DecodeError> {
    let head = Head::read(bytes).ok_or_else(|| DecodeError::data("the TIFF ends in its header"))?;
    let directory = Directory::read(bytes, head, head.first).ok_or_else(|| {
        DecodeError::data("the TIFF ends before its directory: it is cut short or damaged")
    })?;
    let layout = Layout::read(&directory, bytes.length(), limits)?;
    let samples = if layout.bits <= 8 {
        Samples::Eight(pixels(bytes, &layout, watch)?)
    } else {
        Samples::Sixteen(pixels(bytes, &layout, watch)?)
    };
    let raster = Raster::new(layout.width, layout.height, samples)
        .map_err(|bad| DecodeError::data(bad.to_string()))?;
    let mut notices = notices(&layout);
    notices.extend(exif::orientation_notice(&directory));
    let pages = count_pages(bytes, head, directory.next);
    if pages > 1 {
        notices.push(format!("the file holds {pages} pictures: the first is used"));
    }
    let mut scan = Scan {
        raster,
        format: Format::Tiff,
        stored_bits: layout.bits as u8,
        resolution: None,
        notices,
    };
    scan.set_resolution(exif::resolution(&directory, ResolutionTag::Tiff));
    Ok(scan)
}

/// All strips or tiles, those of different rows in parallel.
fn pixels<T: GreyValue>(
    bytes: &dyn ByteSource,
    layout: &Layout,
    watch: &Watch,
) -> Result<Vec<T>, DecodeError> {
    let mut out = vec![T::default(); layout.width * layout.height];
    watch.begin(layout.width, layout.height, white(layout.bits))?;
    out.par_chunks_mut(layout.width * layout.chunk_height).enumerate().try_for_each(
        |(down, rows)| {
            watch.checkpoint()?;
            fill_rows(rows, down, bytes, layout)?;
            watch.put(down * layout.chunk_height, rows);
            Ok::<(), DecodeError>(())
        },
    )?;
    Ok(out)
}

/// One row of tiles, or one strip, with all its planes.
fn fill_rows<T: GreyValue>(
    out: &mut [T],
    down: usize,
    bytes: &dyn ByteSource,
    layout: &Layout,
) -> Result<(), DecodeError> {
    let row_bytes = layout.row_bytes();
    let per_plane = layout.across() * layout.down();
    for across in 0..layout.across() {
        let mut planes = Vec::with_capacity(layout.planes());
        for plane in 0..layout.planes() {
            let chunk = plane * per_plane + down * layout.across() + across;
            let mut rows = unpacked(bytes, layout, chunk, layout.stored_rows(down))?;
            if layout.differenced {
                rows.to_mut().chunks_exact_mut(row_bytes).for_each(|row| add_up(row, layout));
            }
            planes.push(rows);
        }
        let left = across * layout.chunk_width;
        let right = (left + layout.chunk_width).min(layout.width);
        for (y, line) in out.chunks_exact_mut(layout.width).enumerate() {
            let rows: Vec<&[u8]> = planes
                .iter()
                .map(|plane| plane.get(y * row_bytes..(y + 1) * row_bytes).unwrap_or_default())
                .collect();
            if let Some(cells) = line.get_mut(left..right) {
                fill_row(cells, &rows, layout);
            }
        }
    }
    Ok(())
}

fn notices(layout: &Layout) -> Vec<String> {
    let mut notices = Vec::new();
    let colours = match layout.meaning {
        Meaning::Rgb | Meaning::Palette(_) | Meaning::YCbCr => Some("colours were"),
        Meaning::Cmyk => Some("printing inks were, without a colour profile,"),
        Meaning::MinIsBlack | Meaning::MinIsWhite => None,
    };
    notices.extend(colours.map(|what| format!("{what} turned into luminance (ITU-R BT.601)")));
    let needed = match layout.meaning {
        Meaning::Rgb | Meaning::YCbCr => 3,
        Meaning::Cmyk => 4,
        _ => 1,
    };
    if layout.samples > needed {
        notices.push("the file's transparency or further samples are not used".to_owned());
    }
    match layout.bits {
        8 | 16 => {}
        bits @ 0..8 => notices.push(format!("samples of {bits} bits were stretched to 8")),
        bits @ 9..16 => notices.push(format!("samples of {bits} bits were stretched to 16")),
        bits => notices.push(format!("samples of {bits} bits were rounded to 16")),
    }
    notices
}

/// Pictures in the file, the first included; a chain that bites its tail ends there.
fn count_pages(bytes: &dyn ByteSource, head: Head, mut next: u64) -> usize {
    let mut seen = HashSet::from([head.first]);
    while next != 0 && seen.len() < MOST_PAGES && seen.insert(next) {
        match Directory::read(bytes, head, next) {
            Some(directory) => next = directory.next,
            None => {
                seen.remove(&next);
                break;
            }
        }
    }
    seen.len()
}
