//! Damaged files: every truncation and many flipped bytes of small pictures of each format give a picture or an
//! error, never a panic.

use std::sync::{Arc, Mutex, OnceLock};

use winterline::domain::progress::Progress;
use winterline::imaging::decode::source::PictureFile;
use winterline::imaging::decode::watch::Watch;
use winterline::imaging::decode::{
    DecodeError, Limits, decode_bytes, decode_file, decode_open_file,
};
use winterline::imaging::encode::{
    TiffCompression, TiffLayout, TiffOptions, png_bytes, tiff_bytes,
};
use winterline::imaging::overview::Overview;
use winterline::imaging::raster::{Raster, Samples};

const WIDTH: usize = 37;
const HEIGHT: usize = 21;

fn eight() -> Raster {
    let values = (0..WIDTH * HEIGHT).map(|i| ((i * i) % 251) as u8).collect();
    Raster::new(WIDTH, HEIGHT, Samples::Eight(values)).unwrap()
}

fn sixteen() -> Raster {
    let values = (0..WIDTH * HEIGHT).map(|i| ((i * 7919) % 65_521) as u16).collect();
    Raster::new(WIDTH, HEIGHT, Samples::Sixteen(values)).unwrap()
}

/// A JPEG or BMP of the 8-bit picture, written by the image package.
fn by_package(format: image::ImageFormat) -> Vec<u8> {
    let Samples::Eight(values) = eight().samples().clone() else { panic!("8 bits") };
    let grey = image::GrayImage::from_raw(WIDTH as u32, HEIGHT as u32, values).unwrap();
    let rgb = image::DynamicImage::ImageLuma8(grey).into_rgb8();
    let mut bytes = std::io::Cursor::new(Vec::new());
    rgb.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

fn lossless() -> Vec<(String, Vec<u8>, Raster)> {
    let mut files = Vec::new();
    for raster in [eight(), sixteen()] {
        let depth = raster.white();
        files.push((format!("png {depth}"), png_bytes(&raster, None).unwrap(), raster.clone()));
        for compression in [
            TiffCompression::None,
            TiffCompression::Lzw,
            TiffCompression::Deflate,
            TiffCompression::PackBits,
        ] {
            for layout in [TiffLayout::Strips(4), TiffLayout::Strips(1000), TiffLayout::Tiles(16)] {
                let options = TiffOptions { compression, layout };
                let bytes = tiff_bytes(&raster, Some([10.0, 12.5]), options).unwrap();
                files.push((format!("tiff {depth} {options:?}"), bytes, raster.clone()));
            }
        }
    }
    files.push(("bmp".to_owned(), by_package(image::ImageFormat::Bmp), eight()));
    files
}

#[test]
fn what_was_written_is_read_back_exactly() {
    let files = lossless();
    assert_eq!(files.len(), 27);
    for (name, bytes, raster) in files {
        let scan = decode_bytes(&bytes, &Limits::default()).unwrap();
        assert_eq!(scan.raster, raster, "{name}");
        if name.starts_with("tiff") {
            let size = scan.resolution.unwrap().um_per_px;
            assert!((size[0] - 10.0).abs() < 1e-6 && (size[1] - 12.5).abs() < 1e-6, "{size:?}");
        }
    }
}

#[test]
fn damage_gives_a_picture_or_an_error() {
    let mut files: Vec<(String, Vec<u8>)> =
        lossless().into_iter().map(|(name, bytes, _)| (name, bytes)).collect();
    files.push(("jpeg".to_owned(), by_package(image::ImageFormat::Jpeg)));
    let limits = Limits { max_memory_bytes: 50_000_000, ..Limits::default() };
    let mut tried = 0;
    for (name, bytes) in &files {
        for length in 0..bytes.len() {
            let error = decode_bytes(&bytes[..length], &limits).err();
            // The last bytes of a file may not matter; its first half always does.
            assert!(error.is_some() || length > bytes.len() / 2, "{name} cut to {length} bytes");
            tried += 1;
        }
        for place in (0..bytes.len()).step_by(1 + bytes.len() / 700) {
            for flip in [0x01, 0x80, 0xFF] {
                let mut damaged = bytes.clone();
                damaged[place] ^= flip;
                if let Ok(scan) = decode_bytes(&damaged, &limits) {
                    assert!(scan.raster.width() * scan.raster.height() > 0);
                }
                tried += 1;
            }
        }
    }
    assert!(tried > 50_000, "{tried}");
}

#[test]
fn an_absurd_claim_is_refused_before_anything_is_allocated() {
    let mut bytes = png_bytes(&eight(), None).unwrap();
    bytes[16..20].copy_from_slice(&60_000u32.to_be_bytes());
    bytes[20..24].copy_from_slice(&60_000u32.to_be_bytes());
    let sum = crc32(&bytes[12..29]);
    bytes[29..33].copy_from_slice(&sum.to_be_bytes());
    let error = decode_bytes(&bytes, &Limits::default()).unwrap_err();
    assert!(matches!(error, DecodeError::Limit { .. }), "{error}");
    assert!(error.to_string().contains("60000 x 60000 pixels"), "{error}");

    let large = Limits { max_memory_bytes: 1 << 40, ..Limits::default() };
    let error = decode_bytes(&bytes, &large).unwrap_err();
    assert!(error.to_string().contains("cut short or damaged"), "{error}");
}

/// The PNG standard's checksum (ISO 3309), bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |sum, byte| {
        (0..8)
            .fold(sum ^ u32::from(*byte), |s, _| (s >> 1) ^ (0xEDB8_8320 & (s & 1).wrapping_neg()))
    })
}

/// A picture larger than the pieces in which long strips are read.
fn large() -> Raster {
    let values = (0..1100 * 1300).map(|i: usize| ((i * 7919) % 65_521) as u16).collect();
    Raster::new(1100, 1300, Samples::Sixteen(values)).unwrap()
}

/// Every kind of file gives the same picture read in pieces from the disk as from its bytes in memory, and says the same
/// of itself.
#[test]
fn a_file_read_in_pieces_gives_the_pixels_its_bytes_give() {
    let folder = tempfile::tempdir().unwrap();
    let mut files: Vec<(String, Vec<u8>)> =
        lossless().into_iter().map(|(name, bytes, _)| (name, bytes)).collect();
    files.push(("jpeg".to_owned(), by_package(image::ImageFormat::Jpeg)));
    let strips = [100, 999, 1024, 1300, 5000].map(TiffLayout::Strips);
    for layout in strips.into_iter().chain([TiffLayout::Tiles(256)]) {
        for compression in [TiffCompression::None, TiffCompression::Lzw] {
            let bytes = tiff_bytes(&large(), None, TiffOptions { compression, layout }).unwrap();
            assert_eq!(decode_bytes(&bytes, &Limits::default()).unwrap().raster, large());
            files.push((format!("large tiff {compression:?} {layout:?}"), bytes));
        }
    }
    files.push(("large png".to_owned(), png_bytes(&large(), None).unwrap()));
    assert_eq!(files.len(), 41);
    for (name, bytes) in files {
        let path = folder.path().join("scan");
        std::fs::write(&path, &bytes).unwrap();
        let whole = decode_bytes(&bytes, &Limits::default()).unwrap();
        assert_eq!(decode_file(&path, &Limits::default()).unwrap(), whole, "{name}");
        // Cut short, both find the same kind of fault: which strip is named first is up to the threads.
        let cut = &bytes[..bytes.len() / 2];
        std::fs::write(&path, cut).unwrap();
        let kind = |error: DecodeError| std::mem::discriminant(&error);
        let in_pieces = decode_file(&path, &Limits::default()).map_err(kind);
        assert_eq!(in_pieces, decode_bytes(cut, &Limits::default()).map_err(kind), "{name} cut");
    }
}

/// Whoever waits sees rows of a TIFF or PNG before the last of them is read, and in the end the whole overview; and
/// can stop it.
#[test]
fn an_overview_grows_while_the_file_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("scan");
    let tiled = TiffOptions { compression: TiffCompression::None, layout: TiffLayout::Tiles(256) };
    let long = TiffOptions { compression: TiffCompression::None, layout: TiffLayout::Strips(1300) };
    let packed = TiffOptions { compression: TiffCompression::Lzw, layout: TiffLayout::Strips(64) };
    let tiff = |options| tiff_bytes(&large(), None, options).unwrap();
    for (name, bytes) in [
        ("tiles", tiff(tiled)),
        ("one long strip", tiff(long)),
        ("compressed strips", tiff(packed)),
        ("png", png_bytes(&large(), None).unwrap()),
    ] {
        std::fs::write(&path, bytes).unwrap();
        let shares: Arc<Mutex<Vec<f32>>> = Arc::default();
        let handle: Arc<OnceLock<Watch>> = Arc::default();
        let (seen, shown) = (Arc::clone(&shares), Arc::clone(&handle));
        let watch = Watch::new(move || {
            let overview = shown.get().and_then(Watch::overview).unwrap();
            seen.lock().unwrap().push(overview.share_filled());
        });
        assert!(handle.set(watch.clone()).is_ok() && watch.overview().is_none());
        let file = PictureFile::open(&path, &Limits::default()).unwrap();
        let scan = decode_open_file(&file, &Limits::default(), &watch).unwrap();
        assert_eq!(watch.overview(), Some(Overview::of(&scan.raster)), "{name}");
        let shares = shares.lock().unwrap();
        assert!(shares.len() > 2, "{name} {shares:?}");
        assert!(shares.iter().any(|share| *share > 0.0 && *share < 0.9), "{name} {shares:?}");

        let progress = Progress::new();
        progress.stop();
        let stopped = decode_open_file(&file, &Limits::default(), &watch.stopped_by(&progress));
        assert_eq!(stopped, Err(DecodeError::Stopped), "{name}");
    }
}
