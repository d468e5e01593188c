//! From a closed list back to the scans: readings get their fish and scan again, and are filed as sidecars.
//!
//! Only the reader's own program files them, since only it writes that reader's sidecars. Until then analyses read
//! them from the list with [`closed_readings`].

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use kurbo::Vec2;

use crate::domain::axis::Axis;
use crate::domain::reading::{ImpressionReading, ReaderInitials, ReadingState, ScanReading};

use super::blind::{BlindEntry, BlindList, list_names, load_list};
use super::blind_error::BlindError;
use super::blind_readings::{
    LoadedBlindReadings, blind_readings_path, load_blind_readings, readers_of_list,
};
use super::sidecar::{LoadedSidecar, OpenedSidecar, open_sidecar, save_reading};

/// What filing did.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Filed {
    /// Sidecars that were written, in order.
    pub written: Vec<PathBuf>,
    /// Readings that went into them.
    pub n_readings: usize,
    /// What was in the way, one sentence each.
    pub problems: Vec<String>,
}

/// Readings of closed lists that no sidecar holds yet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ClosedReadings {
    /// Reader by reader and scan by scan, confirmed readings in pixels of the scan.
    pub readings: Vec<ScanReading>,
    /// What was wrong with lists or readings, one sentence each.
    pub problems: Vec<String>,
}

/// A blind reading in pixels of its scan, with the fish, number and box its tag stands for.
///
/// # Errors
/// A sentence, when the axis cannot be moved.
pub fn in_scan_pixels(
    entry: &BlindEntry,
    reading: &ImpressionReading,
) -> Result<ImpressionReading, String> {
    let mut moved = reading.clone();
    moved.number = entry.impression;
    moved.fish.clone_from(&entry.fish);
    moved.structure = entry.structure;
    moved.light = reading.light.or(entry.light);
    moved.bounds = Some(entry.bounds);
    moved.axis = shifted(reading.axis.as_ref(), entry.scan_from_crop())?;
    Ok(moved)
}

fn shifted(axis: Option<&Axis>, by: Vec2) -> Result<Option<Axis>, String> {
    axis.map(|axis| Axis::new(axis.vertices().iter().map(|at| *at + by)))
        .transpose()
        .map_err(|error| error.to_string())
}

/// The readings of all closed lists that none of `sidecars` holds, for analyses. Reads only.
///
/// # Errors
/// [`BlindError`] when the folder of lists cannot be read; a damaged file is a problem in the result.
pub fn closed_readings(
    survey: &Path,
    sidecars: &[LoadedSidecar],
) -> Result<ClosedReadings, BlindError> {
    let mut found = ClosedReadings::default();
    for list in closed_lists(survey, &mut found.problems)? {
        for reader in readers_of_list(survey, &list.name)? {
            let taken = readings_of(survey, &list, &reader, &mut found.problems);
            for (entry, reading) in taken {
                let is_there = sidecars.iter().any(|sidecar| {
                    let same = sidecar.reading.reader == reader
                        && sidecar.reading.scan.file == entry.scan.file;
                    same && holds(sidecar, &reading)
                });
                if !is_there {
                    push(&mut found.readings, &reader, entry, reading);
                }
            }
        }
    }
    Ok(found)
}

/// Files the confirmed readings of `reader` in closed lists beside the scans, where they are not yet. Doing it again
/// changes nothing. An earlier confirmed reading of the same impression moves to `earlier`; a draft stays.
///
/// # Errors
/// [`BlindError`] when the folder of lists cannot be read; all else is a problem in the result.
pub fn file_closed_lists(survey: &Path, reader: &ReaderInitials) -> Result<Filed, BlindError> {
    let mut filed = Filed::default();
    let lists = closed_lists(survey, &mut filed.problems)?;
    let mut all: Vec<(&BlindEntry, ImpressionReading)> = Vec::new();
    for list in &lists {
        all.extend(readings_of(survey, list, reader, &mut filed.problems));
    }
    // Oldest first, so that the newest reading is the one that stands.
    all.sort_by_key(|(_, reading)| reading.confirmed);
    let mut by_scan: BTreeMap<&str, Vec<(&BlindEntry, ImpressionReading)>> = BTreeMap::new();
    for (entry, reading) in all {
        by_scan.entry(entry.scan.file.as_str()).or_default().push((entry, reading));
    }
    for (scan, readings) in by_scan {
        for (entry, reading) in readings {
            if let Err(problem) = file_one(survey, reader, entry, reading, &mut filed) {
                filed.problems.push(format!(
                    "the blind reading {} was not filed beside '{scan}': {problem}",
                    entry.tag
                ));
            }
        }
    }
    filed.written.dedup();
    Ok(filed)
}

fn file_one(
    survey: &Path,
    reader: &ReaderInitials,
    entry: &BlindEntry,
    reading: ImpressionReading,
    filed: &mut Filed,
) -> Result<(), String> {
    let (mut scan, path, expected) =
        match open_sidecar(survey, &entry.scan.file, reader).map_err(|error| error.to_string())? {
            OpenedSidecar::Loaded(loaded) if holds(&loaded, &reading) => return Ok(()),
            OpenedSidecar::Loaded(loaded) if loaded.is_read_only() => {
                return Err("its sidecar is of a newer program: install that program".to_owned());
            }
            OpenedSidecar::Loaded(loaded) => {
                (loaded.reading, Some(loaded.path), Some(loaded.fingerprint))
            }
            OpenedSidecar::New => (empty(reader, entry), None, None),
            OpenedSidecar::SetAside { message, .. } => {
                filed.problems.push(message);
                (empty(reader, entry), None, None)
            }
        };
    if scan.scan.blake3 != entry.scan.blake3 {
        return Err(
            "the scan is another picture than the one on the list: compare the two".to_owned()
        );
    }
    if scan.calibration.is_none() {
        scan.calibration.clone_from(&entry.calibration);
    }
    scan.impressions.retain(|old| old.number != reading.number || old.state == ReadingState::Draft);
    scan.impressions.push(reading);
    save_reading(survey, reader, &scan, expected.as_ref()).map_err(|error| error.to_string())?;
    let path =
        path.or_else(|| super::file_name::sidecar_path(survey, &entry.scan.file, reader).ok());
    filed.written.extend(path);
    filed.n_readings += 1;
    Ok(())
}

/// True where the sidecar has that very reading, standing or replaced since.
fn holds(sidecar: &LoadedSidecar, reading: &ImpressionReading) -> bool {
    sidecar.reading.impressions.iter().chain(&sidecar.earlier).any(|there| {
        there.state == ReadingState::Confirmed
            && there.number == reading.number
            && there.conditions.blind_list == reading.conditions.blind_list
            && there.confirmed == reading.confirmed
    })
}

fn closed_lists(survey: &Path, problems: &mut Vec<String>) -> Result<Vec<BlindList>, BlindError> {
    let mut closed = Vec::new();
    for name in list_names(survey)? {
        match load_list(survey, &name) {
            Ok(loaded) if loaded.list.closed.is_some() => closed.push(loaded.list),
            Ok(_) => {}
            Err(error) => problems.push(error.to_string()),
        }
    }
    Ok(closed)
}

/// The confirmed readings of a reader on a list, in pixels of their scans.
fn readings_of<'a>(
    survey: &Path,
    list: &'a BlindList,
    reader: &ReaderInitials,
    problems: &mut Vec<String>,
) -> Vec<(&'a BlindEntry, ImpressionReading)> {
    let path = blind_readings_path(survey, &list.name, reader);
    if !path.exists() {
        return Vec::new();
    }
    let loaded = match load_blind_readings(&path) {
        Ok(loaded) => loaded,
        Err(error) => {
            problems.push(error.to_string());
            return Vec::new();
        }
    };
    if loaded.head.id != list.id || loaded.reader != *reader {
        problems.push(format!(
            "these blind readings do not belong to the list and reader their name says; they are not used: '{}'",
            path.display()
        ));
        return Vec::new();
    }
    with_entries(list, &loaded, problems)
}

fn with_entries<'a>(
    list: &'a BlindList,
    loaded: &LoadedBlindReadings,
    problems: &mut Vec<String>,
) -> Vec<(&'a BlindEntry, ImpressionReading)> {
    let mut found = Vec::new();
    for (tag, reading) in loaded.confirmed() {
        let placed = list
            .entry(tag)
            .ok_or_else(|| "the list has no such tag".to_owned())
            .and_then(|entry| Ok((entry, in_scan_pixels(entry, reading)?)));
        match placed {
            Ok(placed) => found.push(placed),
            Err(reason) => {
                problems.push(format!(
                    "the blind reading {tag} is not used: {reason}: '{}'",
                    loaded.path.display()
                ));
            }
        }
    }
    found
}

fn empty(reader: &ReaderInitials, entry: &BlindEntry) -> ScanReading {
    ScanReading {
        scan: entry.scan.clone(),
        reader: reader.clone(),
        calibration: entry.calibration.clone(),
        impressions: Vec::new(),
    }
}

fn push(
    all: &mut Vec<ScanReading>,
    reader: &ReaderInitials,
    entry: &BlindEntry,
    reading: ImpressionReading,
) {
    let same = |scan: &&mut ScanReading| {
        let has = scan.impressions.iter().any(|there| there.number == reading.number);
        scan.reader == *reader && scan.scan == entry.scan && !has
    };
    match all.iter_mut().find(same) {
        Some(scan) => scan.impressions.push(reading),
        None => {
            let mut scan = empty(reader, entry);
            scan.impressions.push(reading);
            all.push(scan);
        }
    }
}
