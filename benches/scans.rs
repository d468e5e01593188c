//! Large scans: how long they take to decode and to show whole, and a profile across one.
//!
//! `cargo bench --bench scans -- [--side 10000] [--export DIR]` writes the pictures for `scans_baseline.py`, which does the
//! same with scikit-image; `benches/all.sh` runs both. Every line is `name milliseconds`, the fastest of five warm runs.
#![allow(missing_docs)]
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use kurbo::Point;
use winterline::domain::progress::Progress;
use winterline::imaging::decode::{Limits, decode_file};
use winterline::imaging::encode::{
    TiffCompression, TiffLayout, TiffOptions, jpeg_bytes, png_bytes, tiff_bytes,
};
use winterline::imaging::enhance::Tone;
use winterline::imaging::profile::{Band, along_line};
use winterline::imaging::pyramid::Pyramid;
use winterline::imaging::raster::{Raster, Samples};

const RUNS: usize = 5;

fn main() {
    let words: Vec<String> = std::env::args().collect();
    let value = |name: &str| {
        words.iter().position(|word| word == name).and_then(|place| words.get(place + 1)).cloned()
    };
    let side = value("--side").and_then(|word| word.parse().ok()).unwrap_or(10_000);
    let kept = tempfile::tempdir().unwrap();
    let folder = value("--export").map_or_else(|| kept.path().to_owned(), PathBuf::from);
    write_all(&folder, side);
    for name in ["eight.tif", "sixteen.tif", "eight-lzw.tif", "eight.png", "eight.jpg"] {
        let path = folder.join(name);
        let decode = || Arc::new(decode_file(&path, &Limits::default()).unwrap().raster);
        println!("decode_{name} {:.1}", fastest_ms(|| drop(decode())));
        let raster = decode();
        let overview = || Pyramid::build(&raster, &Tone::default(), &Progress::new()).unwrap();
        println!("overview_{name} {:.1}", fastest_ms(|| drop(overview())));
    }
    let raster = decode_file(&folder.join("sixteen.tif"), &Limits::default()).unwrap().raster;
    let (from, to) = profile_ends(side);
    let samples = (to - from).hypot() as usize + 1;
    for width in [1, 21] {
        let profile = || along_line(&raster, from, to, samples, Band::mean(width)).unwrap();
        println!("profile_{width} {:.3}", fastest_ms(|| drop(profile())));
    }
    // A copy of the decoded picture: what memory alone takes for reading and writing it once.
    let Samples::Sixteen(values) = raster.samples() else { panic!("the picture has 16 bits") };
    println!("copy_sixteen {:.1}", fastest_ms(|| drop(std::hint::black_box(values.clone()))));
    let bytes = || std::fs::read(folder.join("sixteen.tif")).unwrap();
    println!("read_sixteen {:.1}", fastest_ms(|| drop(std::hint::black_box(bytes()))));
}

fn profile_ends(side: usize) -> (Point, Point) {
    let at = |share: f64| share * side as f64;
    (Point::new(at(0.1), at(0.2)), Point::new(at(0.9), at(0.7)))
}

fn write_all(folder: &Path, side: usize) {
    let sixteen = rings(side);
    let Samples::Sixteen(values) = sixteen.samples() else { panic!("the picture has 16 bits") };
    let eight = values.iter().map(|value| (value >> 8) as u8).collect();
    let eight = Raster::new(side, side, Samples::Eight(eight)).unwrap();
    let tiff = |raster: &Raster, compression| {
        let options = TiffOptions { compression, layout: TiffLayout::Strips(64) };
        tiff_bytes(raster, None, options).unwrap()
    };
    let write = |name: &str, bytes: Vec<u8>| std::fs::write(folder.join(name), bytes).unwrap();
    write("eight.tif", tiff(&eight, TiffCompression::None));
    write("eight-lzw.tif", tiff(&eight, TiffCompression::Lzw));
    write("sixteen.tif", tiff(&sixteen, TiffCompression::None));
    write("eight.png", png_bytes(&eight, None).unwrap());
    write("eight.jpg", jpeg_bytes(&eight, 90).unwrap());
}

/// Rings with noise, as on a scan.
fn rings(side: usize) -> Raster {
    let half = side as f64 / 2.0;
    let mut noise = 1_u32;
    let values = (0..side * side).map(|i| {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let (x, y) = ((i % side) as f64 - half, (i / side) as f64 - half);
        let wave = (x.hypot(y * 1.2) / 9.0).sin();
        (32_000.0 + 14_000.0 * wave) as u16 + (noise >> 20) as u16
    });
    Raster::new(side, side, Samples::Sixteen(values.collect())).unwrap()
}

fn fastest_ms(mut work: impl FnMut()) -> f64 {
    let times = (0..RUNS).map(|_| {
        let start = Instant::now();
        work();
        start.elapsed().as_secs_f64() * 1e3
    });
    times.fold(f64::INFINITY, f64::min)
}
