//! The demo survey: an invented lake, drawn, scanned and read by two invented readers, as a survey folder.

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde_json::{Value, json};

use super::simulate_files::{PictureFormat, SimulateError};
use super::truth_json::truth_json;
use crate::domain::calibration::{Calibration, CalibrationSource, UM_PER_INCH};
use crate::domain::progress::Progress;
use crate::domain::reading::{ReaderInitials, ScanIdentity, ScanReading, Structure};
use crate::domain::survey::Survey;
use crate::imaging::encode::TiffOptions;
use crate::simulate::chance::Chance;
use crate::simulate::growth::GrowthRecord;
use crate::simulate::lake::{LakeFish, LakePlan, draw_lake, maple_hollow};
use crate::simulate::picture::draw;
use crate::simulate::readers::{ReaderHabits, ReadingTask, read_picture};
use crate::simulate::spec::PictureSpec;
use crate::simulate::truth::{Difficulty, PictureTruth, Style};
use crate::store::error::StoreError;
use crate::store::field_sheet_writer::write_field_sheet;
use crate::store::file_name::SCANS_FOLDER;
use crate::store::safe_write::{Expected, write_whole};
use crate::store::sidecar::save_reading;
use crate::store::survey_file::{SURVEY_FILE, read_survey, write_survey};

/// Name of the demo survey, by which it is known again.
pub const DEMO_NAME: &str = "Maple Hollow Pond, autumn 2025";

/// Resolution of the demo scans: 4800 dots per inch.
const SCAN_DPI: f64 = 4800.0;

/// One of the demo's readers: initials, habits, and how many of the fish they have read.
struct DemoReader {
    initials: &'static str,
    habits: ReaderHabits,
    fish_read: usize,
    first_reading: &'static str,
}

/// The last fish are left unread, so that there is something to do.
const READERS: [DemoReader; 2] = [
    DemoReader {
        initials: "kb",
        habits: ReaderHabits::SEASONED,
        fish_read: 108,
        first_reading: "2025-11-03T09:00:00Z",
    },
    DemoReader {
        initials: "ml",
        habits: ReaderHabits::NEWER,
        fish_read: 100,
        first_reading: "2025-11-17T09:00:00Z",
    },
];

/// What building the demo survey came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DemoBuilt {
    /// The survey folder.
    pub folder: PathBuf,
    /// False where it was there already and was kept.
    pub is_new: bool,
    /// Files written.
    pub written: Vec<PathBuf>,
}

/// Builds the demo survey in `folder`, or finds it there. What is there is kept, readings above all.
///
/// # Errors
/// [`SimulateError::FolderTaken`] when the folder holds something else; otherwise when a file cannot be written or
/// the work was stopped. A build that was broken off is taken up again: the settings are written last.
pub fn build_demo_survey(folder: &Path, watch: &Progress) -> Result<DemoBuilt, SimulateError> {
    if is_demo_survey(folder)? {
        return Ok(DemoBuilt { folder: folder.to_owned(), is_new: false, written: Vec::new() });
    }
    let plan = maple_hollow();
    let lake = draw_lake(&plan);
    let scans = folder.join(SCANS_FOLDER);
    std::fs::create_dir_all(&scans).map_err(StoreError::io("make the folder of scans", &scans))?;
    let survey = demo_survey(&plan);
    watch.set_total(lake.len());
    let calibration = Calibration::from_dpi(SCAN_DPI, 1.0, CalibrationSource::FileTag)?;
    let truths: Vec<(PictureTruth, Vec<PathBuf>)> = lake
        .par_iter()
        .enumerate()
        .map(|(index, fish)| {
            watch.checkpoint()?;
            let done = scan_and_read(folder, index, fish, &calibration, &survey)?;
            watch.step();
            Ok(done)
        })
        .collect::<Result<_, SimulateError>>()?;
    let mut written: Vec<PathBuf> = truths.iter().flat_map(|(_, paths)| paths.clone()).collect();
    let fish: Vec<_> = lake.iter().map(|one| one.fish.clone()).collect();
    for (name, text) in side_tables(&lake, &truths) {
        let path = folder.join(name);
        write_whole(&path, text.as_bytes(), Expected::Anything)?;
        written.push(path);
    }
    let sheet = folder.join(crate::store::field_sheet::FIELD_SHEET);
    if !sheet.exists() {
        write_field_sheet(folder, &survey, &fish, None)?;
    }
    write_survey(folder, &survey, None)?;
    written.extend([sheet, folder.join(SURVEY_FILE)]);
    Ok(DemoBuilt { folder: folder.to_owned(), is_new: true, written })
}

/// True for a folder with the demo survey, false for one that is free to build in.
fn is_demo_survey(folder: &Path) -> Result<bool, SimulateError> {
    if folder.join(SURVEY_FILE).exists() {
        let (survey, _) = read_survey(folder)?;
        return if survey.name == DEMO_NAME {
            Ok(true)
        } else {
            Err(SimulateError::FolderTaken(folder.display().to_string()))
        };
    }
    let holds_other = match std::fs::read_dir(folder) {
        Ok(mut entries) => {
            // A build that was broken off has a folder of scans and no settings yet.
            entries.any(|entry| entry.is_ok_and(|entry| entry.file_name() != SCANS_FOLDER))
        }
        Err(_) => false,
    };
    if holds_other && !folder.join("truth.json").exists() {
        return Err(SimulateError::FolderTaken(folder.display().to_string()));
    }
    Ok(false)
}

fn demo_survey(plan: &LakePlan) -> Survey {
    let mut survey = Survey::new(DEMO_NAME, plan.water.clone(), Structure::Scale);
    survey.species.clone_from(&plan.species);
    survey.readers =
        READERS.iter().filter_map(|reader| ReaderInitials::new(reader.initials).ok()).collect();
    survey.ageing_rule = "every fish of the three nights was aged".into();
    let um = UM_PER_INCH / SCAN_DPI;
    survey.default_um_per_px = Some([um, um]);
    survey
}

/// How its scan turned out: mostly clean, some hard, a few with a regrown centre.
fn picture_of(index: usize, fish: &LakeFish) -> PictureSpec {
    let mut chance = Chance::new(index as u64, "scan of the lake");
    let difficulty = match chance.unit() {
        share if share < 0.58 => Difficulty::Easy,
        share if share < 0.90 => Difficulty::Medium,
        _ => Difficulty::Hard,
    };
    let mut growth = GrowthRecord::new(fish.annuli_um.clone(), fish.radius_um, false);
    growth.plus_fraction = Some(0.93);
    let mut spec = PictureSpec::new(
        Style::PerchScale,
        difficulty,
        7000 + index as u64,
        UM_PER_INCH / SCAN_DPI,
        growth,
    );
    if index % 31 == 17 && fish.age >= 2 {
        spec.regenerated_um = fish.annuli_um.first().map(|first| first * 1.15);
    }
    spec
}

fn scan_and_read(
    folder: &Path,
    index: usize,
    fish: &LakeFish,
    calibration: &Calibration,
    survey: &Survey,
) -> Result<(PictureTruth, Vec<PathBuf>), SimulateError> {
    let spec = picture_of(index, fish);
    let picture = draw(&spec)?;
    let bytes =
        PictureFormat::Tiff(TiffOptions::default()).bytes(&picture.raster, spec.um_per_px)?;
    let name = format!("{}.tif", fish.fish.number);
    let path = folder.join(SCANS_FOLDER).join(&name);
    let fingerprint = write_whole(&path, &bytes, Expected::Anything)?;
    let scan = ScanIdentity {
        file: name,
        width_px: u32::try_from(picture.raster.width()).unwrap_or(u32::MAX),
        height_px: u32::try_from(picture.raster.height()).unwrap_or(u32::MAX),
        blake3: fingerprint.blake3_hex(),
    };
    let mut written = vec![path];
    for (reader, initials) in READERS.iter().zip(&survey.readers) {
        let Some(captured) = fish.fish.captured.filter(|_| index < reader.fish_read) else {
            continue;
        };
        let first: jiff::Timestamp = reader.first_reading.parse().unwrap_or_default();
        let minutes = i64::try_from(index).unwrap_or(0) * 3;
        let task = ReadingTask {
            fish: &fish.fish.key,
            truth: &picture.truth,
            calibration,
            captured,
            rule: survey.birthday_rule,
            started: first.checked_add(jiff::SignedDuration::from_mins(minutes)).unwrap_or(first),
        };
        let mut chance = Chance::new(index as u64, reader.initials);
        let impression = read_picture(&task, reader.habits, &mut chance)?;
        let reading = ScanReading {
            scan: scan.clone(),
            reader: initials.clone(),
            calibration: Some(calibration.clone()),
            impressions: vec![impression],
        };
        let path = crate::store::file_name::sidecar_path(folder, &reading.scan.file, initials)?;
        if !path.exists() {
            save_reading(folder, initials, &reading, None)?;
        }
        written.push(path);
    }
    Ok((picture.truth, written))
}

/// The optional tables of a survey, and what is true of every fish.
fn side_tables(
    lake: &[LakeFish],
    truths: &[(PictureTruth, Vec<PathBuf>)],
) -> Vec<(&'static str, String)> {
    let truth: Value = lake
        .iter()
        .zip(truths)
        .map(|(fish, (picture, _))| {
            let mut value =
                truth_json(&format!("{SCANS_FOLDER}/{}.tif", fish.fish.number), picture);
            if let Some(object) = value.as_object_mut() {
                object.insert("fish".into(), json!(fish.fish.key));
                object.insert("age".into(), json!(fish.age));
                object.insert("year_class".into(), json!(fish.year_class));
                object.insert("lengths_mm".into(), json!(fish.lengths_mm));
            }
            value
        })
        .collect();
    vec![
        ("truth.json", format!("{truth:#}\n")),
        ("effort.csv", EFFORT.replace('\n', "\r\n")),
        ("stocking.csv", STOCKING.replace('\n', "\r\n")),
        ("reference.csv", REFERENCE.replace('\n', "\r\n")),
    ]
}

/// Invented, like the lake.
const EFFORT: &str = include_str!("../../fixtures/maple-hollow-2025/effort.csv");
const STOCKING: &str = include_str!("../../fixtures/maple-hollow-2025/stocking.csv");
const REFERENCE: &str = include_str!("../../fixtures/maple-hollow-2025/reference.csv");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_that_holds_something_else_is_left_alone() {
        let folder = std::env::temp_dir().join(format!("winterline-taken-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(folder.join("letter.txt"), "dear").unwrap();
        let refused = build_demo_survey(&folder, &Progress::new());
        assert!(matches!(refused, Err(SimulateError::FolderTaken(_))));
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 1);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
