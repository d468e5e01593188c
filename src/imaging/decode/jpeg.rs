//! JPEG: pixels by a package, density from the JFIF header and the EXIF block read here, because the package
//! reports a wrong one.

use std::io::Cursor;

use image::codecs::jpeg::JpegDecoder;
use image::{DynamicImage, ImageError};

use crate::imaging::decode::directory::{Directory, Head, number};
use crate::imaging::decode::error::DecodeError;
use crate::imaging::decode::exif;
use crate::imaging::decode::grey::luminance;
use crate::imaging::decode::limits::{Limits, check_plausible};
use crate::imaging::decode::{Format, Scan};
use crate::imaging::raster::{Raster, Samples};
use crate::imaging::resolution::{DensityUnit, Resolution, ResolutionTag};

/// An 8 x 8 block takes at least two bits in a JPEG, and one in a progressive scan can stand for many blocks.
const JPEG_MOST: u64 = 65_536;

pub(crate) fn decode(bytes: &[u8], limits: &Limits) -> Result<Scan, DecodeError> {
    let frame = frame_of(bytes)
        .ok_or_else(|| DecodeError::data("the JPEG ends before it says how large it is"))?;
    supported(&frame)?;
    let (width, height) = (u64::from(frame.width), u64::from(frame.height));
    // Progressive pictures keep all coefficients (2 bytes a sample) beside the pixels.
    let samples = u64::from(frame.samples);
    limits.check(
        width,
        height,
        1 + samples.max(3) + if frame.progressive { 2 * samples } else { 0 },
        0,
    )?;
    check_plausible(width * height, bytes.len() as u64, JPEG_MOST)?;
    let decoder = JpegDecoder::new(Cursor::new(bytes)).map_err(|e| reported(&e))?;
    let picture = DynamicImage::from_decoder(decoder).map_err(|e| reported(&e))?;
    let mut notices = Vec::new();
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let grey = match picture {
        DynamicImage::ImageLuma8(grey) => grey.into_raw(),
        other => {
            notices.push("colours were turned into luminance (ITU-R BT.601)".to_owned());
            let rgb = other.into_rgb8();
            rgb.pixels()
                .map(|p| luminance(p.0[0].into(), p.0[1].into(), p.0[2].into()) as u8)
                .collect()
        }
    };
    let raster = Raster::new(width, height, Samples::Eight(grey))
        .map_err(|bad| DecodeError::data(bad.to_string()))?;
    let mut scan = Scan { raster, format: Format::Jpeg, stored_bits: 8, resolution: None, notices };
    add_side_information(&mut scan, bytes);
    Ok(scan)
}

/// EXIF beats JFIF: cameras and scanners fill it with care, JFIF often with a default.
fn add_side_information(scan: &mut Scan, bytes: &[u8]) {
    let jfif = segments(bytes).find_map(
        |(marker, data)| {
            if marker == 0xE0 { jfif_resolution(data) } else { None }
        },
    );
    let block = segments(bytes).find_map(|(marker, data)| {
        if marker == 0xE1 { data.strip_prefix(b"Exif\0\0") } else { None }
    });
    let directory = block.as_ref().and_then(|block| {
        let head = Head::read(block)?;
        Directory::read(block, head, head.first)
    });
    let exif = directory.as_ref().and_then(|d| exif::resolution(d, ResolutionTag::Exif));
    scan.notices.extend(directory.as_ref().and_then(exif::orientation_notice));
    let usable = |found: &Option<Result<Resolution, String>>| matches!(found, Some(Ok(resolution)) if !resolution.common_default);
    if let (Some(Ok(a)), Some(Ok(b))) = (&exif, &jfif)
        && a.um_per_px.iter().zip(&b.um_per_px).any(|(a, b)| (a / b - 1.0).abs() > 0.01)
    {
        scan.notices
            .push("the JFIF header and the EXIF block state different resolutions".to_owned());
    }
    let chosen = if usable(&exif) || !usable(&jfif) { exif.or(jfif) } else { jfif };
    scan.set_resolution(chosen);
}

/// `JFIF\0`, two bytes of version, one of unit, two each of density (JFIF 1.02).
fn jfif_resolution(data: &[u8]) -> Option<Result<Resolution, String>> {
    let rest = data.strip_prefix(b"JFIF\0")?;
    let unit = match rest.get(2)? {
        1 => DensityUnit::Inch,
        2 => DensityUnit::Centimetre,
        _ => return None,
    };
    let x = number(rest.get(3..5)?, true) as f64;
    let y = number(rest.get(5..7)?, true) as f64;
    Some(Resolution::from_density([x, y], unit, ResolutionTag::Jfif))
}

/// What the start of frame says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Frame {
    pub(crate) width: u16,
    pub(crate) height: u16,
    pub(crate) samples: u8,
    pub(crate) bits: u8,
    pub(crate) progressive: bool,
    marker: u8,
}

/// The first start of frame of a JPEG stream.
pub(crate) fn frame_of(bytes: &[u8]) -> Option<Frame> {
    segments(bytes).find_map(|(marker, data)| {
        let is_frame = matches!(marker, 0xC0..=0xCF) && !matches!(marker, 0xC4 | 0xC8 | 0xCC);
        if !is_frame {
            return None;
        }
        Some(Frame {
            bits: *data.first()?,
            height: number(data.get(1..3)?, true) as u16,
            width: number(data.get(3..5)?, true) as u16,
            samples: *data.get(5)?,
            progressive: marker == 0xC2,
            marker,
        })
    })
}

/// Refuses the frames that no part of this program decodes.
pub(crate) fn supported(frame: &Frame) -> Result<(), DecodeError> {
    if frame.bits != 8 {
        return Err(DecodeError::unsupported(format!("it is a JPEG of {} bits", frame.bits)));
    }
    match frame.marker {
        0xC0..=0xC2 => Ok(()),
        _ => Err(DecodeError::unsupported("it is a lossless, hierarchical or arithmetic JPEG")),
    }
}

/// The marker segments up to the first scan.
fn segments(bytes: &[u8]) -> impl Iterator<Item = (u8, &[u8])> {
    let mut at = 2;
    std::iter::from_fn(move || {
        loop {
            match bytes.get(at..)? {
                // Fill bytes before a marker.
                [0xFF, 0xFF, ..] => at += 1,
                // Markers that stand alone.
                [0xFF, 0x01 | 0xD0..=0xD8, ..] => at += 2,
                [0xFF, 0xDA | 0xD9, ..] => return None,
                [0xFF, marker, high, low, ..] => {
                    let length = usize::from(*high) << 8 | usize::from(*low);
                    let data = bytes.get(at + 4..at + 2 + length.max(2))?;
                    at += 2 + length.max(2);
                    return Some((*marker, data));
                }
                // Stray bytes between segments are skipped, as decoders do.
                [_, ..] => at += 1,
                [] => return None,
            }
        }
    })
}

fn reported(error: &ImageError) -> DecodeError {
    match error {
        ImageError::Unsupported(_) => DecodeError::unsupported(error.to_string()),
        ImageError::Limits(_) => DecodeError::limit(error.to_string()),
        _ => DecodeError::data(format!("the JPEG is cut short or damaged: {error}")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::decode::decode_bytes;
    use image::codecs::jpeg::{JpegEncoder, PixelDensity, PixelDensityUnit};

    fn grey(density: (u16, u16), unit: PixelDensityUnit) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut encoder = JpegEncoder::new(&mut bytes);
        encoder.set_pixel_density(PixelDensity { density, unit });
        encoder.encode(&[100; 64], 8, 8, image::ExtendedColorType::L8).unwrap();
        bytes
    }

    /// With an EXIF block of `dots` per centimetre, big-endian, put in behind the JFIF header.
    fn with_exif(mut bytes: Vec<u8>, dots: u32) -> Vec<u8> {
        let mut block = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x03".to_vec();
        for (tag, kind, value) in [(282u16, 5u16, 50u32), (283, 5, 50), (296, 3, 3 << 16)] {
            block.extend(tag.to_be_bytes());
            block.extend(kind.to_be_bytes());
            block.extend(1u32.to_be_bytes());
            block.extend(value.to_be_bytes());
        }
        block.extend([0; 4]);
        block.extend(dots.to_be_bytes());
        block.extend(1u32.to_be_bytes());
        let mut segment = vec![0xFF, 0xE1];
        segment.extend((block.len() as u16 + 2).to_be_bytes());
        segment.extend(block);
        let behind = 4 + usize::from(bytes[5]);
        bytes.splice(behind..behind, segment);
        bytes
    }

    fn scan(bytes: &[u8]) -> Scan {
        decode_bytes(bytes, &Limits::default()).unwrap()
    }

    #[test]
    fn density_comes_from_the_jfif_header() {
        let found = scan(&grey((2400, 1200), PixelDensityUnit::Inches)).resolution.unwrap();
        assert!((found.um_per_px[0] - 25_400.0 / 2400.0).abs() < 1e-9);
        assert!((found.um_per_px[1] - 25_400.0 / 1200.0).abs() < 1e-9);
        let found = scan(&grey((500, 500), PixelDensityUnit::Centimeters)).resolution.unwrap();
        assert_eq!(found.um_per_px, [20.0; 2]);
        assert_eq!(scan(&grey((1, 1), PixelDensityUnit::PixelAspectRatio)).resolution, None);
        let zero = scan(&grey((0, 600), PixelDensityUnit::Inches));
        assert_eq!(zero.resolution, None);
        assert!(zero.notices[0].contains("0 x 600 pixels per inch"));
    }

    #[test]
    fn exif_goes_before_a_default_and_contradictions_are_told() {
        let found = scan(&with_exif(grey((72, 72), PixelDensityUnit::Inches), 1000));
        let resolution = found.resolution.unwrap();
        assert_eq!((resolution.tag, resolution.um_per_px), (ResolutionTag::Exif, [10.0; 2]));
        assert!(found.notices.iter().any(|notice| notice.contains("different resolutions")));
        let found = scan(&with_exif(grey((1200, 1200), PixelDensityUnit::Inches), 0));
        assert_eq!(found.resolution.unwrap().tag, ResolutionTag::Jfif);
    }
}
