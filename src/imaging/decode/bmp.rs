//! Windows bitmaps.

use std::io::Cursor;

use image::codecs::bmp::BmpDecoder;
use image::{DynamicImage, ImageError};

use crate::imaging::decode::directory::number;
use crate::imaging::decode::error::DecodeError;
use crate::imaging::decode::grey::luminance;
use crate::imaging::decode::limits::{Limits, check_plausible};
use crate::imaging::decode::{Format, Scan};
use crate::imaging::raster::{Raster, Samples};
use crate::imaging::resolution::{DensityUnit, Resolution, ResolutionTag};

pub(crate) fn decode(bytes: &[u8], limits: &Limits) -> Result<Scan, DecodeError> {
    let head = Head::read(bytes)
        .ok_or_else(|| DecodeError::data("the BMP ends before its header does"))?;
    // Up to four samples a pixel on the way, and the grey value.
    limits.check(head.width, head.height, 5, 0)?;
    if head.plain {
        let needed = (head.width * u64::from(head.bits)).div_ceil(32) * 4 * head.height;
        check_plausible(needed, bytes.len() as u64, 1)?;
    } else {
        // A run of up to 255 pixels takes two bytes.
        check_plausible(head.width * head.height, bytes.len() as u64, 65_536)?;
    }
    let decoder = BmpDecoder::new(Cursor::new(bytes)).map_err(|e| reported(&e))?;
    let picture = DynamicImage::from_decoder(decoder).map_err(|e| reported(&e))?;
    let rgb = picture.into_rgb8();
    let (width, height) = (rgb.width() as usize, rgb.height() as usize);
    let is_grey = rgb.pixels().all(|p| p.0[0] == p.0[1] && p.0[1] == p.0[2]);
    let grey = rgb.pixels().map(|p| {
        let [r, g, b] = p.0.map(u32::from);
        luminance(r, g, b) as u8
    });
    let raster = Raster::new(width, height, Samples::Eight(grey.collect()))
        .map_err(|bad| DecodeError::data(bad.to_string()))?;
    let mut notices = Vec::new();
    if !is_grey {
        notices.push("colours were turned into luminance (ITU-R BT.601)".to_owned());
    }
    let mut scan = Scan {
        raster,
        format: Format::Bmp,
        stored_bits: head.bits.min(8) as u8,
        resolution: None,
        notices,
    };
    // Zero means that the writer did not state one.
    let stated = head.density.filter(|d| d.iter().any(|v| *v != 0.0));
    scan.set_resolution(
        stated.map(|d| Resolution::from_density(d, DensityUnit::Metre, ResolutionTag::Bmp)),
    );
    Ok(scan)
}

struct Head {
    width: u64,
    height: u64,
    bits: u16,
    plain: bool,
    density: Option<[f64; 2]>,
}

impl Head {
    fn read(bytes: &[u8]) -> Option<Self> {
        let at = |start: usize, length: usize| {
            bytes.get(start..start + length).map(|raw| number(raw, false))
        };
        if at(14, 4)? == 12 {
            let (width, height, bits) = (at(18, 2)?, at(20, 2)?, at(24, 2)? as u16);
            return Some(Self { width, height, bits, plain: true, density: None });
        }
        let signed = |start: usize| at(start, 4).map(|v| v as u32 as i32);
        Some(Self {
            width: u64::from(signed(18)?.unsigned_abs()),
            height: u64::from(signed(22)?.unsigned_abs()),
            bits: at(28, 2)? as u16,
            plain: matches!(at(30, 4)?, 0 | 3),
            density: Some([f64::from(signed(38)?), f64::from(signed(42)?)]),
        })
    }
}

fn reported(error: &ImageError) -> DecodeError {
    match error {
        ImageError::Unsupported(_) => DecodeError::unsupported(error.to_string()),
        ImageError::Limits(_) => DecodeError::limit(error.to_string()),
        ImageError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => {
            DecodeError::data("the BMP is cut short")
        }
        _ => DecodeError::data(format!("the BMP is damaged: {error}")),
    }
}
