//! Running the program.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;
use winterline::imaging::encode::{TiffOptions, png_bytes, tiff_bytes};
use winterline::imaging::raster::{Raster, Samples};

/// What a run left.
pub struct Run {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl Run {
    /// Standard output as one JSON document.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {}", self.out))
    }
}

/// Runs the program with no display.
pub fn winterline<S: AsRef<std::ffi::OsStr>>(arguments: &[S]) -> Run {
    let output = Command::new(env!("CARGO_BIN_EXE_winterline"))
        .args(arguments)
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .output()
        .unwrap();
    Run {
        status: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// A path as an argument.
pub fn text(path: &Path) -> String {
    path.to_str().unwrap().to_owned()
}

/// A grey slope, 64 by 48 pixels.
pub fn slope() -> Raster {
    let values = (0..64 * 48).map(|i| (i % 64 * 3) as u8).collect();
    Raster::new(64, 48, Samples::Eight(values)).unwrap()
}

/// A small survey of two fish, each with a scan; `rows` replaces the rows of the field sheet.
pub fn survey_with(rows: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let survey = folder.path().join("alder-run-2025");
    std::fs::create_dir_all(survey.join("scans")).unwrap();
    let settings = r#"{"format": "winterline-survey", "version": 1, "name": "Alder Run 2025", "water": "Alder Run",
        "species": "yellow perch", "structure": "scale", "readers": ["kb"]}"#;
    std::fs::write(survey.join("survey.json"), settings).unwrap();
    std::fs::write(survey.join("fish.csv"), rows).unwrap();
    let tiff = tiff_bytes(&slope(), Some([5.0, 5.0]), TiffOptions::default()).unwrap();
    std::fs::write(survey.join("scans/AR-1.tif"), tiff).unwrap();
    std::fs::write(survey.join("scans/AR-2.png"), png_bytes(&slope(), Some([5.0, 5.0])).unwrap())
        .unwrap();
    (folder, survey)
}

/// Rows without a fault.
pub const SOUND: &str =
    "fish,capture_date,length,scans\n1,2025-10-06,182,AR-1.tif\n2,2025-10-06,201,AR-2.png\n";
