//! Pictures and the pixel size they state, damaged in every way.

use proptest::prelude::*;
use winterline::imaging::decode::{Limits, decode_file};
use winterline::imaging::encode::{
    TiffCompression, TiffLayout, TiffOptions, png_bytes, tiff_bytes,
};
use winterline::imaging::raster::{Raster, Samples};

use crate::bench::Bench;
use crate::cases::{self, damaged, pick};
use crate::damage::damage_bytes;
use crate::messages::{judge, judge_all};

/// Small pictures of every kind, all with a pixel size.
fn pictures() -> Vec<Vec<u8>> {
    let values = (0..12 * 9).map(|i| (i * 7 % 251) as u8).collect();
    let raster = Raster::new(12, 9, Samples::Eight(values)).unwrap();
    let size = Some([5.3, 5.4]);
    let tiff = |compression, layout| {
        tiff_bytes(&raster, size, TiffOptions { compression, layout }).unwrap()
    };
    let mut files = vec![png_bytes(&raster, size).unwrap()];
    for compression in [
        TiffCompression::None,
        TiffCompression::Lzw,
        TiffCompression::Deflate,
        TiffCompression::PackBits,
    ] {
        files.push(tiff(compression, TiffLayout::Strips(4)));
    }
    files.push(tiff(TiffCompression::None, TiffLayout::Tiles(16)));
    let grey = image::GrayImage::from_fn(12, 9, |x, y| image::Luma([(x * y) as u8]));
    for format in [image::ImageFormat::Jpeg, image::ImageFormat::Bmp] {
        let mut bytes = std::io::Cursor::new(Vec::new());
        image::DynamicImage::ImageLuma8(grey.clone())
            .into_rgb8()
            .write_to(&mut bytes, format)
            .unwrap();
        files.push(bytes.into_inner());
    }
    files
}

#[test]
fn pictures_and_their_resolution_tags() {
    let (bench, sound) = (Bench::new(), pictures());
    let limits = Limits { max_memory_bytes: 8 << 20, ..Limits::default() };
    cases::run(&damaged(), |(which, ops)| {
        let mut bytes = pick(&sound, which).unwrap().clone();
        // The tags stand at the front or the back of a small file, so half of the damage falls anywhere on it.
        for op in &ops {
            damage_bytes(&mut bytes, *op);
        }
        match decode_file(&bench.put("scans/MH-1.tif", &bytes), &limits) {
            Ok(scan) => {
                prop_assert!(scan.raster.width() * scan.raster.height() > 0);
                let sizes = scan.resolution.map_or([1.0; 2], |found| found.um_per_px);
                prop_assert!(sizes.iter().all(|um| (0.001..=10_000.0).contains(um)), "{:?}", sizes);
                judge_lines(&scan.notices)
            }
            Err(error) => {
                prop_assert!(!ops.is_empty(), "a sound picture was refused: {}", error);
                judge(&error.to_string(), &["MH-1.tif"])
            }
        }
    });
}

fn judge_lines(notices: &[String]) -> Result<(), TestCaseError> {
    let shown: Vec<String> =
        notices.iter().map(|notice| format!("MH-1.tif: look: {notice}")).collect();
    judge_all(&shown, &["MH-1.tif"])
}
