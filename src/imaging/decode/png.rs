//! PNG, every colour type and depth of the standard.

use std::io::{BufRead, Seek};

use png::{BitDepth, ColorType, Decoder, DecodingError, Transformations};

use crate::imaging::decode::error::DecodeError;
use crate::imaging::decode::grey::luminance;
use crate::imaging::decode::limits::{Limits, check_plausible};
use crate::imaging::decode::watch::Watch;
use crate::imaging::decode::{Format, Scan};
use crate::imaging::raster::{Raster, Samples};
use crate::imaging::resolution::{DensityUnit, Resolution, ResolutionTag};

/// Deflate never unpacks a byte into more than this (RFC 1951: 258 bytes out of two bits).
pub(crate) const DEFLATE_MOST: u64 = 1032;

/// Decodes the PNG of `file_bytes` that `bytes` gives, row by row where it is not interlaced.
pub(crate) fn decode(
    bytes: impl BufRead + Seek,
    file_bytes: u64,
    limits: &Limits,
    watch: &Watch,
) -> Result<Scan, DecodeError> {
    // The package's own limit only guards text and colour profiles, which are skipped or small.
    let mut decoder = Decoder::new(bytes);
    decoder.set_ignore_text_chunk(true);
    decoder.set_ignore_iccp_chunk(true);
    decoder.set_transformations(Transformations::EXPAND);
    let header = decoder.read_header_info().map_err(reported)?;
    let (width, height) = (header.width, header.height);
    let stored_bits = header.bit_depth as u8;
    let bits_per_pixel = header.bits_per_pixel() as u64;
    let interlaced = header.interlaced;
    let grey_bytes = if stored_bits == 16 { 2 } else { 1 };
    // Interlaced pictures come whole, up to four samples a pixel; others row by row.
    let per_pixel = if interlaced { grey_bytes * 5 } else { grey_bytes };
    limits.check(u64::from(width), u64::from(height), per_pixel, 0)?;
    let packed = (u64::from(width) * bits_per_pixel).div_ceil(8) * u64::from(height);
    check_plausible(packed, file_bytes, DEFLATE_MOST)?;

    let mut reader = decoder.read_info().map_err(reported)?;
    let mut notices = Vec::new();
    let (color, depth) = reader.output_color_type();
    let mut grey = Grey::with_capacity(width as usize * height as usize, depth);
    if interlaced {
        let size = reader
            .output_buffer_size()
            .ok_or_else(|| DecodeError::limit("it does not fit this computer's memory"))?;
        let mut whole = vec![0u8; size];
        reader.next_frame(&mut whole).map_err(reported)?;
        grey.push_row(&whole, color);
    } else {
        let white = if depth == BitDepth::Sixteen { 65_535 } else { 255 };
        watch.begin(width as usize, height as usize, white)?;
        let mut rows_done = 0;
        while let Some(row) = reader.next_row().map_err(reported)? {
            watch.checkpoint()?;
            grey.push_row(row.data(), color);
            grey.show_row(rows_done, width as usize, watch);
            rows_done += 1;
        }
    }
    let info = reader.info();
    if matches!(info.color_type, ColorType::Rgb | ColorType::Rgba | ColorType::Indexed) {
        notices.push("colours were turned into luminance (ITU-R BT.601)".to_owned());
    }
    if matches!(color, ColorType::GrayscaleAlpha | ColorType::Rgba) {
        notices.push("the file's transparency is not used".to_owned());
    }
    if info.is_animated() {
        notices.push("the file holds several pictures: the first is used".to_owned());
    }
    let resolution = info.pixel_dims.filter(|d| matches!(d.unit, png::Unit::Meter)).map(|d| {
        let density = [f64::from(d.xppu), f64::from(d.yppu)];
        Resolution::from_density(density, DensityUnit::Metre, ResolutionTag::Phys)
    });
    let raster = Raster::new(width as usize, height as usize, grey.samples())
        .map_err(|bad| DecodeError::data(format!("it is cut short: {bad}")))?;
    let mut scan = Scan { raster, format: Format::Png, stored_bits, resolution: None, notices };
    scan.set_resolution(resolution);
    Ok(scan)
}

/// Grey values as they come in.
enum Grey {
    Eight(Vec<u8>),
    Sixteen(Vec<u16>),
}

impl Grey {
    fn with_capacity(pixels: usize, depth: BitDepth) -> Self {
        if depth == BitDepth::Sixteen {
            Self::Sixteen(Vec::with_capacity(pixels))
        } else {
            Self::Eight(Vec::with_capacity(pixels))
        }
    }

    fn push_row(&mut self, row: &[u8], color: ColorType) {
        let step = color.samples();
        match self {
            Self::Eight(values) if step == 1 => values.extend_from_slice(row),
            Self::Eight(values) => values.extend(row.chunks_exact(step).map(|p| match p {
                [r, g, b, ..] => luminance((*r).into(), (*g).into(), (*b).into()) as u8,
                _ => p.first().copied().unwrap_or(0),
            })),
            Self::Sixteen(values) => values.extend(row.chunks_exact(step * 2).map(|p| {
                let value = |i: usize| match p.get(2 * i..2 * i + 2) {
                    Some([high, low]) => u32::from(*high) << 8 | u32::from(*low),
                    _ => 0,
                };
                let grey =
                    if step >= 3 { luminance(value(0), value(1), value(2)) } else { value(0) };
                grey as u16
            })),
        }
    }

    /// Shows the last row, which is row `y`, to who watches.
    fn show_row(&self, y: usize, width: usize, watch: &Watch) {
        let start = y.saturating_mul(width);
        match self {
            Self::Eight(values) => watch.put(y, values.get(start..).unwrap_or_default()),
            Self::Sixteen(values) => watch.put(y, values.get(start..).unwrap_or_default()),
        }
    }

    fn samples(self) -> Samples {
        match self {
            Self::Eight(values) => Samples::Eight(values),
            Self::Sixteen(values) => Samples::Sixteen(values),
        }
    }
}

fn reported(error: DecodingError) -> DecodeError {
    match error {
        DecodingError::LimitsExceeded => DecodeError::limit("its side information is too long"),
        DecodingError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => {
            DecodeError::data("the PNG is cut short")
        }
        other => DecodeError::data(format!("the PNG is damaged: {other}")),
    }
}
