//! Picture collections from outside, named by the environment variable WINTERLINE_PICTURES: a folder with
//! `MANIFEST.csv` (columns file, pil, tf: whether two reference readers decode a file) and the folders `pngsuite`
//! (PngSuite, W. van Schaik), `tiff_libtiff_tests`, `tiff_libtiffpic_depth` (LibTIFF) and `tiff_fuzzed`.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use winterline::imaging::decode::{DecodeError, Limits, Scan, decode_file};

const FOLDERS: [&str; 4] =
    ["pngsuite", "tiff_libtiff_tests", "tiff_libtiffpic_depth", "tiff_fuzzed"];

fn collection() -> Option<PathBuf> {
    let folder = std::env::var_os("WINTERLINE_PICTURES").map(PathBuf::from);
    if folder.is_none() {
        eprintln!(
            "NOT RUN: set WINTERLINE_PICTURES to a folder of picture collections to check them"
        );
    }
    folder
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            let kind = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
            matches!(kind, "png" | "tif" | "tiff" | "jpg")
        })
        .collect();
    files.sort();
    assert!(!files.is_empty(), "{}", folder.display());
    files
}

/// Whether the reference readers decode a file, by its name.
fn manifest(folder: &Path) -> HashMap<String, bool> {
    let mut reader = csv::Reader::from_path(folder.join("MANIFEST.csv")).unwrap();
    let heads = reader.headers().unwrap().clone();
    let column = |name: &str| heads.iter().position(|head| head == name).unwrap();
    let (file, pil, tf) = (column("file"), column("pil"), column("tf"));
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            let name = record[file].rsplit('/').next().unwrap_or_default().to_owned();
            (name, &record[pil] == "decodes" || &record[tf] == "decodes")
        })
        .collect()
}

#[test]
fn every_outside_picture_opens_or_is_refused_with_a_reason() {
    let Some(folder) = collection() else { return };
    let readable = manifest(&folder);
    for name in FOLDERS {
        let (mut opened, mut refused) = (0, 0);
        for path in files(&folder.join(name)) {
            let start = Instant::now();
            let found = decode_file(&path, &Limits::default());
            let taken = start.elapsed();
            assert!(taken < Duration::from_secs(2), "{} took {taken:?}", path.display());
            let file = path.file_name().unwrap().to_string_lossy().into_owned();
            match found {
                Ok(_) => opened += 1,
                Err(error) => {
                    refused += 1;
                    eprintln!("{file}: {error}");
                    let valid = readable.get(&file).copied().unwrap_or(false);
                    // A file that others read may be refused as unsupported, not as damaged.
                    let stated = matches!(error, DecodeError::Unsupported { .. });
                    assert!(!valid || stated || name == "tiff_fuzzed", "{file}: {error}");
                }
            }
        }
        eprintln!("{name}: {opened} opened, {refused} refused");
    }
}

#[test]
fn pixels_equal_the_portable_anymap_references() {
    let Some(folder) = collection() else { return };
    let folder = folder.join("tiff_libtiff_tests");
    let mut compared = 0;
    for (tiff, reference) in [
        ("minisblack-1c-8b.tiff", "minisblack-1c-8b.pgm"),
        ("rgb-3c-8b.tiff", "rgb-3c-8b.ppm"),
        ("rgb-3c-16b.tiff", "rgb-3c-16b.ppm"),
    ] {
        let scan: Scan = decode_file(&folder.join(tiff), &Limits::default()).unwrap();
        let (width, expected) = anymap(&std::fs::read(folder.join(reference)).unwrap());
        assert_eq!(scan.raster.width(), width, "{tiff}");
        assert_eq!(width * scan.raster.height(), expected.len(), "{tiff}");
        for (i, value) in expected.iter().enumerate() {
            let found = scan.raster.value((i % width) as isize, (i / width) as isize);
            // Half a grey step for rounding to whole ones.
            assert!((f64::from(found) - value).abs() <= 0.5 + 1e-6, "{tiff}, pixel {i}");
            compared += 1;
        }
    }
    assert_eq!(compared, 3 * 157 * 151);
}

/// Width and luminances (ITU-R BT.601, unrounded) of a binary PGM or PPM.
fn anymap(bytes: &[u8]) -> (usize, Vec<f64>) {
    let mut at = 0;
    let mut words = Vec::new();
    while words.len() < 4 {
        while bytes[at].is_ascii_whitespace() {
            at += 1;
        }
        let start = at;
        while !bytes[at].is_ascii_whitespace() {
            at += 1;
        }
        if bytes[start] == b'#' {
            at += bytes[at..].iter().position(|b| *b == b'\n').unwrap();
        } else {
            words.push(String::from_utf8_lossy(&bytes[start..at]).into_owned());
        }
    }
    let data = &bytes[at + 1..];
    let [width, height, most] = [1, 2, 3].map(|i| words[i].parse::<usize>().unwrap());
    let channels = if words[0] == "P6" { 3 } else { 1 };
    let values: Vec<f64> = if most > 255 {
        data.chunks_exact(2).map(|p| f64::from(u16::from_be_bytes([p[0], p[1]]))).collect()
    } else {
        data.iter().map(|v| f64::from(*v)).collect()
    };
    let grey: Vec<f64> = values
        .chunks_exact(channels)
        .map(|p| match p {
            [r, g, b] => 0.299 * r + 0.587 * g + 0.114 * b,
            _ => p[0],
        })
        .collect();
    assert_eq!(grey.len(), width * height);
    (width, grey)
}
