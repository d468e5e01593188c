//! Grey pictures to PNG, TIFF and JPEG bytes, the first two with their resolution. The same picture always gives the same bytes: no
//! clock, no program version goes in.

use std::io::Cursor;

use image::ExtendedColorType;
use image::codecs::jpeg::JpegEncoder;
use tiff::encoder::compression::{
    CompressionAlgorithm, Compressor, Deflate, DeflateLevel, Lzw, Packbits, Uncompressed,
};
use tiff::encoder::{DirectoryEncoder, Rational, TiffEncoder, TiffKindStandard};
use tiff::tags::Tag;

use crate::domain::calibration::UM_PER_INCH;
use crate::imaging::raster::{Raster, Samples};

/// Why a picture could not be written.
#[derive(Debug, thiserror::Error)]
pub enum EncodeError {
    /// A pixel size that no tag can hold.
    #[error(
        "a pixel size of {found} µm cannot be stored in a {format} file: give a positive number"
    )]
    BadPixelSize {
        /// The size as given, micrometres.
        found: f64,
        /// Name of the format.
        format: &'static str,
    },
    /// A picture too large for the format.
    #[error("a picture of {width} x {height} pixels cannot be stored in a {format} file")]
    TooLarge {
        /// Width, pixels.
        width: usize,
        /// Height, pixels.
        height: usize,
        /// Name of the format.
        format: &'static str,
    },
    /// A tile or strip size the format does not allow.
    #[error("{found} is no usable {what}: give {advice}")]
    BadLayout {
        /// Tile side or rows.
        what: &'static str,
        /// As given.
        found: u32,
        /// What would do.
        advice: &'static str,
    },
    /// The PNG package refused.
    #[error("the PNG could not be written: {0}")]
    Png(#[from] png::EncodingError),
    /// The TIFF package refused.
    #[error("the TIFF could not be written: {0}")]
    Tiff(#[from] tiff::TiffError),
    /// The JPEG package refused.
    #[error("the JPEG could not be written: {0}")]
    Jpeg(#[from] image::ImageError),
    /// 16 bits, which a JPEG cannot hold.
    #[error("a picture of 16 bits cannot be stored in a JPEG file: make it 8 bits first")]
    JpegDepth,
    /// Compressing failed.
    #[error("the TIFF could not be compressed: {0}")]
    Compression(#[from] std::io::Error),
}

/// How a TIFF is compressed; all without loss.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TiffCompression {
    /// Not at all.
    None,
    /// Lempel-Ziv-Welch.
    Lzw,
    /// Deflate.
    #[default]
    Deflate,
    /// Run lengths of bytes.
    PackBits,
}

/// How a TIFF is cut up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TiffLayout {
    /// Strips of so many rows.
    Strips(u32),
    /// Square tiles with so many pixels a side, a multiple of 16.
    Tiles(u32),
}

/// How a TIFF is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TiffOptions {
    /// How it is compressed.
    pub compression: TiffCompression,
    /// How it is cut up.
    pub layout: TiffLayout,
}

impl Default for TiffOptions {
    fn default() -> Self {
        Self { compression: TiffCompression::Deflate, layout: TiffLayout::Strips(64) }
    }
}

/// The picture as PNG, grey, 8 or 16 bits; `um_per_px` goes into its pHYs chunk (whole pixels per metre).
///
/// # Errors
/// [`EncodeError`] when the pixel size cannot be stored.
pub fn png_bytes(raster: &Raster, um_per_px: Option<[f64; 2]>) -> Result<Vec<u8>, EncodeError> {
    let (width, height) = sides(raster, "PNG")?;
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(match raster.samples() {
        Samples::Eight(_) => png::BitDepth::Eight,
        Samples::Sixteen(_) => png::BitDepth::Sixteen,
    });
    if let Some([x, y]) = um_per_px {
        encoder.set_pixel_dims(Some(png::PixelDimensions {
            xppu: pixels_per_metre(x)?,
            yppu: pixels_per_metre(y)?,
            unit: png::Unit::Meter,
        }));
    }
    let mut writer = encoder.write_header()?;
    match raster.samples() {
        Samples::Eight(values) => writer.write_image_data(values)?,
        Samples::Sixteen(values) => {
            let big_endian: Vec<u8> = values.iter().flat_map(|v| v.to_be_bytes()).collect();
            writer.write_image_data(&big_endian)?;
        }
    }
    writer.finish()?;
    Ok(bytes)
}

/// A colour picture as PNG: `values` are red, green and blue of each pixel, row by row.
///
/// # Errors
/// [`EncodeError`] when the values do not fill the picture or it is too large.
pub fn colour_png_bytes(
    width: usize,
    height: usize,
    values: &[u8],
) -> Result<Vec<u8>, EncodeError> {
    let too_large = || EncodeError::TooLarge { width, height, format: "PNG" };
    let [wide, high] = [width, height].map(u32::try_from);
    let (wide, high) = (wide.map_err(|_| too_large())?, high.map_err(|_| too_large())?);
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, wide, high);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(values)?;
    writer.finish()?;
    Ok(bytes)
}

/// The picture as JPEG, grey; `quality` in percent. For small pictures within documents, never for scans.
///
/// # Errors
/// [`EncodeError`] for a picture too large for the format, or of 16 bits.
pub fn jpeg_bytes(raster: &Raster, quality: u8) -> Result<Vec<u8>, EncodeError> {
    let (width, height) = sides(raster, "JPEG")?;
    let Samples::Eight(values) = raster.samples() else { return Err(EncodeError::JpegDepth) };
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, quality).encode(
        values,
        width,
        height,
        ExtendedColorType::L8,
    )?;
    Ok(bytes)
}

/// The picture as TIFF, grey (black is zero), 8 or 16 bits; `um_per_px` goes into its resolution tags, per inch.
///
/// # Errors
/// [`EncodeError`] when the pixel size or layout cannot be stored.
pub fn tiff_bytes(
    raster: &Raster,
    um_per_px: Option<[f64; 2]>,
    options: TiffOptions,
) -> Result<Vec<u8>, EncodeError> {
    let (width, height) = sides(raster, "TIFF")?;
    let resolution = um_per_px.map(|[x, y]| Ok::<_, EncodeError>([per_inch(x)?, per_inch(y)?]));
    let resolution = resolution.transpose()?;
    let cut = Cut::new(width, height, options.layout)?;
    let mut file = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut file)?;
    let mut directory = encoder.image_directory()?;
    directory.write_tag(Tag::ImageWidth, width)?;
    directory.write_tag(Tag::ImageLength, height)?;
    directory.write_tag(Tag::BitsPerSample, bits(raster))?;
    directory.write_tag(Tag::Compression, compression_code(options.compression))?;
    directory.write_tag(Tag::PhotometricInterpretation, 1u16)?;
    directory.write_tag(Tag::SamplesPerPixel, 1u16)?;
    if let Some([x, y]) = resolution {
        directory.write_tag(Tag::XResolution, x)?;
        directory.write_tag(Tag::YResolution, y)?;
        directory.write_tag(Tag::ResolutionUnit, 2u16)?;
    }
    write_chunks(&mut directory, raster, &cut, options)?;
    directory.finish()?;
    Ok(file.into_inner())
}

type Directory<'a, 'b> = DirectoryEncoder<'a, &'b mut Cursor<Vec<u8>>, TiffKindStandard>;

fn write_chunks(
    directory: &mut Directory<'_, '_>,
    raster: &Raster,
    cut: &Cut,
    options: TiffOptions,
) -> Result<(), EncodeError> {
    let mut offsets: Vec<u32> = Vec::new();
    let mut counts: Vec<u32> = Vec::new();
    let too_large =
        || EncodeError::TooLarge { width: raster.width(), height: raster.height(), format: "TIFF" };
    for top in (0..raster.height()).step_by(cut.height) {
        for left in (0..raster.width()).step_by(cut.width) {
            let packed = packed(&cut.rows(raster, left, top), options.compression)?;
            counts.push(u32::try_from(packed.len()).map_err(|_| too_large())?);
            let offset = directory.write_data(packed.as_slice())?;
            offsets.push(u32::try_from(offset).map_err(|_| too_large())?);
        }
    }
    match options.layout {
        TiffLayout::Strips(_) => {
            directory.write_tag(Tag::RowsPerStrip, cut.height as u32)?;
            directory.write_tag(Tag::StripOffsets, offsets.as_slice())?;
            directory.write_tag(Tag::StripByteCounts, counts.as_slice())?;
        }
        TiffLayout::Tiles(side) => {
            directory.write_tag(Tag::TileWidth, side)?;
            directory.write_tag(Tag::TileLength, side)?;
            directory.write_tag(Tag::TileOffsets, offsets.as_slice())?;
            directory.write_tag(Tag::TileByteCounts, counts.as_slice())?;
        }
    }
    Ok(())
}

/// Size of the pieces a TIFF is cut into.
struct Cut {
    width: usize,
    height: usize,
    padded: bool,
}

impl Cut {
    fn new(width: u32, height: u32, layout: TiffLayout) -> Result<Self, EncodeError> {
        let bad = |what, found, advice| Err(EncodeError::BadLayout { what, found, advice });
        match layout {
            TiffLayout::Strips(0) => bad("number of rows per strip", 0, "1 or more"),
            TiffLayout::Strips(rows) => {
                Ok(Self { width: width as usize, height: rows.min(height) as usize, padded: false })
            }
            TiffLayout::Tiles(side) if side == 0 || side % 16 != 0 || side > 8192 => {
                bad("tile side", side, "a multiple of 16 up to 8192")
            }
            TiffLayout::Tiles(side) => {
                Ok(Self { width: side as usize, height: side as usize, padded: true })
            }
        }
    }

    /// The piece's rows, each as its bytes; a tile over the margin is filled up with the nearest pixels.
    fn rows(&self, raster: &Raster, left: usize, top: usize) -> Vec<Vec<u8>> {
        let rows = if self.padded { self.height } else { self.height.min(raster.height() - top) };
        let row = |y: usize| -> Vec<u8> {
            let y = y.min(raster.height() - 1);
            let place = |x: usize| y * raster.width() + x.min(raster.width() - 1);
            let places = (left..left + self.width).map(place);
            match raster.samples() {
                Samples::Eight(values) => places.map(|i| values[i]).collect(),
                Samples::Sixteen(values) => places.flat_map(|i| values[i].to_ne_bytes()).collect(),
            }
        };
        (top..top + rows).map(row).collect()
    }
}

fn packed(rows: &[Vec<u8>], compression: TiffCompression) -> Result<Vec<u8>, EncodeError> {
    let mut packed = Vec::new();
    if compression == TiffCompression::PackBits {
        // By the TIFF standard a run never crosses from one row into the next.
        for row in rows {
            Packbits.write_to(&mut packed, row)?;
        }
        return Ok(packed);
    }
    let mut compressor = match compression {
        TiffCompression::Lzw => Compressor::Lzw(Lzw),
        TiffCompression::Deflate => {
            Compressor::Deflate(Deflate::with_level(DeflateLevel::Balanced))
        }
        _ => Compressor::Uncompressed(Uncompressed),
    };
    compressor.write_to(&mut packed, &rows.concat())?;
    Ok(packed)
}

fn compression_code(compression: TiffCompression) -> u16 {
    match compression {
        TiffCompression::None => 1,
        TiffCompression::Lzw => 5,
        TiffCompression::Deflate => 8,
        TiffCompression::PackBits => 32773,
    }
}

fn bits(raster: &Raster) -> u16 {
    match raster.samples() {
        Samples::Eight(_) => 8,
        Samples::Sixteen(_) => 16,
    }
}

fn sides(raster: &Raster, format: &'static str) -> Result<(u32, u32), EncodeError> {
    let (width, height) = (raster.width(), raster.height());
    match (i32::try_from(width), i32::try_from(height)) {
        (Ok(w), Ok(h)) => Ok((w.unsigned_abs(), h.unsigned_abs())),
        _ => Err(EncodeError::TooLarge { width, height, format }),
    }
}

fn pixels_per_metre(um_per_px: f64) -> Result<u32, EncodeError> {
    let found = (1e6 / um_per_px).round();
    if um_per_px > 0.0 && (1.0..=f64::from(i32::MAX)).contains(&found) {
        Ok(found as u32)
    } else {
        Err(EncodeError::BadPixelSize { found: um_per_px, format: "PNG" })
    }
}

/// Dots per inch as a fraction in lowest terms, exact to 1/10 000 dot.
fn per_inch(um_per_px: f64) -> Result<Rational, EncodeError> {
    let dpi = UM_PER_INCH / um_per_px;
    let denominator: u32 = if dpi < 400_000.0 { 10_000 } else { 1 };
    let numerator = (dpi * f64::from(denominator)).round();
    if !(um_per_px > 0.0 && (1.0..=f64::from(u32::MAX)).contains(&numerator)) {
        return Err(EncodeError::BadPixelSize { found: um_per_px, format: "TIFF" });
    }
    let numerator = numerator as u32;
    let common = common_divisor(numerator, denominator);
    Ok(Rational { n: numerator / common, d: denominator / common })
}

fn common_divisor(a: u32, b: u32) -> u32 {
    if b == 0 { a.max(1) } else { common_divisor(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resolutions_that_no_tag_can_hold_are_refused() {
        let raster = Raster::new(2, 1, Samples::Eight(vec![0, 255])).unwrap();
        for bad in [0.0, -3.0, f64::NAN, f64::INFINITY, 1e-12, 1e12] {
            assert!(png_bytes(&raster, Some([bad, 5.0])).is_err(), "{bad}");
            assert!(
                tiff_bytes(&raster, Some([5.0, bad]), TiffOptions::default()).is_err(),
                "{bad}"
            );
        }
        let rational = per_inch(UM_PER_INCH / 2400.0).unwrap();
        assert_eq!((rational.n, rational.d), (2400, 1));
    }

    #[test]
    fn the_same_picture_gives_the_same_bytes() {
        let raster = Raster::new(3, 2, Samples::Sixteen(vec![0, 9, 300, 65535, 4, 5])).unwrap();
        let size = Some([10.0, 10.0]);
        assert_eq!(png_bytes(&raster, size).unwrap(), png_bytes(&raster, size).unwrap());
        for layout in [TiffLayout::Strips(1), TiffLayout::Tiles(16)] {
            let options = TiffOptions { layout, ..TiffOptions::default() };
            let bytes = || tiff_bytes(&raster, size, options).unwrap();
            assert_eq!(bytes(), bytes());
        }
        for layout in [TiffLayout::Strips(0), TiffLayout::Tiles(20), TiffLayout::Tiles(0)] {
            let options = TiffOptions { layout, ..TiffOptions::default() };
            assert!(tiff_bytes(&raster, None, options).is_err());
        }
    }
}
