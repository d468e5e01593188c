//! From a picture file to grey values: TIFF, PNG, JPEG and BMP, within stated limits.
//!
//! Colour becomes luminance by ITU-R BT.601. Depth is kept: up to 8 bits give 8, more give 16. Transparency is left
//! aside. Files are only ever read.

mod bmp;
mod directory;
pub mod error;
mod exif;
mod grey;
mod jpeg;
mod limits;
mod png;
pub mod source;
mod tiff;
mod tiff_chunks;
mod tiff_layout;
mod tiff_pixels;
pub mod watch;

use std::io::{BufReader, Cursor};
use std::path::Path;

pub use error::DecodeError;
pub use limits::Limits;

use crate::imaging::raster::Raster;
use crate::imaging::resolution::Resolution;

use source::{ByteSource, PictureFile};
use watch::Watch;

/// A PNG is read from its file in pieces of this size.
const PNG_BUFFER_BYTES: usize = 1 << 18;

/// The kind of a picture file, told from its first bytes, never from its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// TIFF or BigTIFF.
    Tiff,
    /// PNG.
    Png,
    /// JPEG.
    Jpeg,
    /// Windows bitmap.
    Bmp,
}

/// A decoded scan.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// The grey values.
    pub raster: Raster,
    /// What kind of file it was.
    pub format: Format,
    /// Bits per sample in the file, before they became 8 or 16.
    pub stored_bits: u8,
    /// The pixel size the file states, where it states one.
    pub resolution: Option<Resolution>,
    /// What a reader should know: pages left out, colours turned to grey, doubtful resolutions.
    pub notices: Vec<String>,
}

impl Scan {
    /// Takes over a resolution, or the notice that came in its place.
    pub(crate) fn set_resolution(&mut self, found: Option<Result<Resolution, String>>) {
        match found {
            Some(Ok(resolution)) => {
                self.notices.extend(resolution.notice());
                self.resolution = Some(resolution);
            }
            Some(Err(notice)) => self.notices.push(notice),
            None => {}
        }
    }
}

/// Opens a picture file.
///
/// # Errors
/// [`DecodeError`], naming the file.
pub fn decode_file(path: &Path, limits: &Limits) -> Result<Scan, DecodeError> {
    PictureFile::open(path, limits)
        .and_then(|file| decode_open_file(&file, limits, &Watch::nobody()))
        .map_err(|error| error.in_file(path))
}

/// The picture of a file that is open, showing to `watch` what is there of it meanwhile. TIFF and PNG are read piece by
/// piece, so that beside the picture only the strips, tiles or rows in work stand in memory.
///
/// # Errors
/// [`DecodeError`], without the name of the file; [`DecodeError::Stopped`] when `watch` was stopped.
pub fn decode_open_file(
    file: &PictureFile,
    limits: &Limits,
    watch: &Watch,
) -> Result<Scan, DecodeError> {
    let head = file.part(0, file.length().min(512) as usize).unwrap_or_default();
    let found = match format_of(&head, file.length()) {
        Ok(Format::Tiff) => tiff::decode(file, limits, watch),
        Ok(Format::Png) => {
            let bytes = BufReader::with_capacity(PNG_BUFFER_BYTES, file.reader());
            png::decode(bytes, file.length(), limits, watch)
        }
        Ok(Format::Jpeg) => file.whole().and_then(|bytes| jpeg::decode(&bytes, limits)),
        Ok(Format::Bmp) => file.whole().and_then(|bytes| bmp::decode(&bytes, limits)),
        Err(error) => Err(error),
    };
    // Bytes that could not be read look like a file cut short.
    found.map_err(|error| file.failure().unwrap_or(error))
}

/// Opens a picture from the bytes of its file.
///
/// # Errors
/// [`DecodeError`].
pub fn decode_bytes(bytes: &[u8], limits: &Limits) -> Result<Scan, DecodeError> {
    let watch = Watch::nobody();
    match format_of(bytes, bytes.len() as u64)? {
        Format::Tiff => tiff::decode(&bytes, limits, &watch),
        Format::Png => png::decode(Cursor::new(bytes), bytes.len() as u64, limits, &watch),
        Format::Jpeg => jpeg::decode(bytes, limits),
        Format::Bmp => bmp::decode(bytes, limits),
    }
}

/// `length`: of the whole file, of which `bytes` is the start.
fn format_of(bytes: &[u8], length: u64) -> Result<Format, DecodeError> {
    match bytes {
        [] => Err(DecodeError::data("the file is empty")),
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Ok(Format::Tiff),
        [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, ..] => Ok(Format::Png),
        [0x89, b'P', b'N', b'G', ..] => Err(DecodeError::data(
            "it starts like a PNG whose line ends were changed on the way, as text transfer does",
        )),
        [0xFF, 0xD8, 0xFF, ..] => Ok(Format::Jpeg),
        [b'B', b'M', ..] if length >= 26 => Ok(Format::Bmp),
        _ => Err(stranger(bytes)),
    }
}

fn stranger(bytes: &[u8]) -> DecodeError {
    let known = |name: &str| DecodeError::unsupported(format!("it is a {name} file"));
    match bytes {
        [b'G', b'I', b'F', b'8', ..] => known("GIF"),
        [b'%', b'P', b'D', b'F', ..] => known("PDF"),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => known("WebP"),
        [0, 0, 0, 12, b'j', b'P', ..] => known("JPEG 2000"),
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => known("HEIF or video"),
        [b'P', b'K', 3, 4, ..] => DecodeError::not_a_picture("it is a ZIP archive"),
        _ if is_text(bytes) => DecodeError::not_a_picture("it holds text, whatever its name says"),
        _ => DecodeError::not_a_picture("its first bytes are those of no known picture format"),
    }
}

fn is_text(bytes: &[u8]) -> bool {
    let start = bytes.get(..512).unwrap_or(bytes);
    let plain = |b: &u8| matches!(b, b'\t' | b'\n' | b'\r' | 0x20..=0x7E | 0x80..);
    start.iter().all(plain) && start.iter().filter(|b| b.is_ascii()).count() * 2 > start.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(bytes: &[u8]) -> String {
        decode_bytes(bytes, &Limits::default()).unwrap_err().to_string()
    }

    #[test]
    fn what_is_no_picture_is_named_for_what_it_is() {
        assert!(message(b"").contains("the file is empty"));
        assert!(message(b"fish,length_mm\nMH-0012,221\n").contains("it holds text"));
        assert!(message(b"GIF89a\x01\x00").contains("it is a GIF file"));
        assert!(message(&[1, 2, 3, 4, 5]).contains("no known picture format"));
        assert!(message(b"\x89PNG\n\x1a\n").contains("line ends were changed"));
    }

    #[test]
    fn folders_and_missing_files_are_named_with_their_path() {
        let folder = tempfile::tempdir().unwrap();
        let error = decode_file(folder.path(), &Limits::default()).unwrap_err();
        assert!(matches!(error, DecodeError::Environment { .. }));
        assert!(error.to_string().contains("this is a folder"));
        let missing = folder.path().join("MH-0099.tif");
        let error = decode_file(&missing, &Limits::default()).unwrap_err().to_string();
        assert!(error.contains("no such file") && error.ends_with("MH-0099.tif\""), "{error}");
        let long = folder.path().join("long.tif");
        std::fs::write(&long, [0u8; 100]).unwrap();
        let limits = Limits { max_file_bytes: 99, ..Limits::default() };
        assert!(matches!(decode_file(&long, &limits), Err(DecodeError::Limit { .. })));
    }
}
