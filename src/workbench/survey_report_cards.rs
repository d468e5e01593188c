//! The reading cards of a report, with small pictures of the scans.

use std::collections::HashMap;

use kurbo::Rect;
use rayon::prelude::*;

use super::reduced::{Reduced, reduced};
use super::settings_tone::ScanTone;
use super::survey_ages_by_reader::ages_by_reader;
use super::survey_report::{Desk, ReportError};
use super::survey_report_facts::own_readings;
use super::survey_report_inputs::input;
use crate::analysis::back_calculation::{FishLengths, LengthsResult};
use crate::domain::age::year_class;
use crate::domain::fish::Fish;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::ImpressionReading;
use crate::domain::several::readings_that_count;
use crate::imaging::decode::{Limits, decode_bytes};
use crate::imaging::encode::jpeg_bytes;
use crate::imaging::raster::{Raster, Samples};
use crate::report::survey_report::{CardPicture, InputFile, ReadingCard};
use crate::store::fingerprint::Fingerprint;

/// Longest side of the picture on a card, pixels: enough for its half of a printed page.
const MOST_SIDE_PX: usize = 420;
/// Quality of its JPEG, percent.
const JPEG_QUALITY: u8 = 72;

/// One card for each fish of the report with a confirmed reading, in the order of the field sheet, and the scans read.
pub(super) fn reading_cards(
    desk: &Desk<'_>,
    lengths: Option<&LengthsResult>,
    progress: &Progress,
) -> Result<(Vec<ReadingCard>, Vec<InputFile>), ReportError> {
    let mut read: HashMap<&str, (Vec<&str>, Vec<&ImpressionReading>)> = HashMap::new();
    for (scan, reading) in own_readings(desk) {
        let known = read.entry(reading.fish.as_str()).or_default();
        known.0.push(scan);
        known.1.push(reading);
    }
    // The first that counts, so that the card shows what the age rests on; else the first.
    let chosen: HashMap<&str, (&str, &ImpressionReading)> = read
        .into_iter()
        .filter_map(|(fish, (scans, readings))| {
            let at = readings_that_count(&readings).first().copied().unwrap_or(0);
            Some((fish, (*scans.get(at)?, *readings.get(at)?)))
        })
        .collect();
    let by_fish: HashMap<&str, &FishLengths> = lengths
        .map(|result| result.fish.iter().map(|one| (one.key.as_str(), one)).collect())
        .unwrap_or_default();
    let others = other_ages(desk);
    let fish: Vec<&Fish> = desk
        .survey
        .fish
        .iter()
        .filter(|fish| desk.is_own(fish) && chosen.contains_key(fish.key.as_str()))
        .collect();
    progress.set_total(progress.counts().1 + fish.len());
    let made: Result<Vec<_>, Stopped> = fish
        .par_iter()
        .filter_map(|fish| chosen.get(fish.key.as_str()).map(|one| (*fish, one)))
        .map(|(fish, (scan, reading))| {
            progress.checkpoint()?;
            let (picture, scan_file) = picture_of(desk, scan, reading);
            progress.step();
            let known = by_fish.get(fish.key.as_str());
            let by = reader_of(desk, scan, reading);
            let mut other_ages = others.get(fish.key.as_str()).cloned().unwrap_or_default();
            other_ages.retain(|(name, _)| name.split(' ').next() != Some(by.as_str()));
            let card = ReadingCard {
                fish: fish.clone(),
                scan: (*scan).to_owned(),
                reader: by,
                reading: (*reading).clone(),
                calibration: calibration_of(desk, scan),
                lengths_mm: known.map(|one| one.lengths_mm.clone()).unwrap_or_default(),
                year_class: year_class_of(desk, fish, reading),
                other_ages,
                picture,
            };
            Ok((card, scan_file))
        })
        .collect();
    let (cards, files): (Vec<_>, Vec<_>) = made?.into_iter().unzip();
    let mut files: Vec<InputFile> = files.into_iter().flatten().collect();
    files.sort_by(|a, b| a.name.cmp(&b.name));
    files.dedup();
    Ok((cards, files))
}

fn year_class_of(desk: &Desk<'_>, fish: &Fish, reading: &ImpressionReading) -> Option<i16> {
    let birthday = desk.survey.survey.birthday_rule.birthday;
    fish.known_year_class.or_else(|| year_class(reading.age?, fish.captured?, birthday))
}

fn calibration_of(desk: &Desk<'_>, scan: &str) -> Option<crate::domain::calibration::Calibration> {
    let mut own = desk.readings.sidecars.iter();
    own.find(|one| one.reading.reader == *desk.reader && one.reading.scan.file == scan)?
        .reading
        .calibration
        .clone()
}

/// Who made a reading. Under a rule of ages readings of several stand under one reader's initials.
fn reader_of(desk: &Desk<'_>, scan: &str, reading: &ImpressionReading) -> String {
    let is_it = |one: &&ImpressionReading| {
        one.number == reading.number
            && one.confirmed == reading.confirmed
            && one.conditions == reading.conditions
            && (one.marks == reading.marks || reading.marks.is_empty())
    };
    let made = desk.all.sidecars.iter().find(|sidecar| {
        sidecar.reading.scan.file == scan && sidecar.reading.confirmed().any(|one| is_it(&one))
    });
    let is_one_reader = desk.ages.is_one_reader;
    let made = made.filter(|_| !is_one_reader);
    made.map_or_else(|| desk.reader.to_string(), |sidecar| sidecar.reading.reader.to_string())
}

/// Ages all readers gave, by fish.
fn other_ages<'a>(desk: &Desk<'a>) -> HashMap<&'a str, Vec<(String, u32)>> {
    let by_reader = ages_by_reader(desk.survey, desk.all);
    let mut found: HashMap<&str, Vec<(String, u32)>> = HashMap::new();
    for column in &by_reader.columns {
        for (fish, age) in by_reader.fish.iter().zip(&column.ages) {
            if let Some(age) = age {
                found.entry(fish.key.as_str()).or_default().push((column.name.clone(), *age));
            }
        }
    }
    found
}

type Pictured = (Result<CardPicture, String>, Option<InputFile>);

/// The scan is read once, for the picture and for its hash.
fn picture_of(desk: &Desk<'_>, scan: &str, reading: &ImpressionReading) -> Pictured {
    let bytes = match desk.survey.scan_path(scan) {
        Ok(path) => match std::fs::read(&path) {
            Ok(bytes) => bytes,
            Err(error) => {
                return (Err(format!("the scan cannot be read: {}", plain(&error))), None);
            }
        },
        Err(error) => return (Err(error.to_string()), None),
    };
    let name = format!("{}/{scan}", crate::store::file_name::SCANS_FOLDER);
    let file = input(name, &Fingerprint::of(&bytes));
    let picture = decode_bytes(&bytes, &Limits::default())
        .map_err(|error| error.to_string())
        .and_then(|decoded| thumbnail(&decoded.raster, area_of(reading, &decoded.raster)));
    (picture, Some(file))
}

/// The kind of the fault without the path and the words of the system, which differ from machine to machine.
fn plain(error: &std::io::Error) -> &'static str {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file",
        std::io::ErrorKind::PermissionDenied => "it may not be read",
        _ => "the system failed",
    }
}

/// What a card shows: the impression's box, else a square about the focus that holds the axis, else all of the scan.
fn area_of(reading: &ImpressionReading, raster: &Raster) -> Rect {
    let whole = raster.area();
    let around = reading.axis.as_ref().map(|axis| {
        let focus = axis.focus();
        let reach = axis.vertices().iter().map(|at| (*at - focus).hypot()).fold(1.0, f64::max);
        Rect::from_center_size(focus, (2.2 * reach, 2.2 * reach))
    });
    let area = reading.bounds.or(around).unwrap_or(whole).intersect(whole);
    if area.width() < 2.0 || area.height() < 2.0 { whole } else { area }
}

fn thumbnail(raster: &Raster, area: Rect) -> Result<CardPicture, String> {
    let Reduced { width, height, values, covers } =
        reduced(raster, &ScanTone::default(), area, MOST_SIDE_PX);
    let small =
        Raster::new(width, height, Samples::Eight(values)).map_err(|error| error.to_string())?;
    let jpeg = jpeg_bytes(&small, JPEG_QUALITY).map_err(|error| error.to_string())?;
    Ok(CardPicture { jpeg, size: [width, height], covers })
}
