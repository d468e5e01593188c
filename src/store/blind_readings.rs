//! A reader's readings of a blind list: `lists/NAME.READER.json`, written only by that reader.
//!
//! A reading here knows its tag and the pixels of its crop, and nothing of the fish or the scan. As in a sidecar,
//! each tag has at most one confirmed reading and one draft; a confirmed one that is replaced moves to `earlier`.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use serde_json::Map;

use crate::domain::blind::ListName;
use crate::domain::reading::{
    ImpressionReading, ReaderInitials, ReadingState, ScanIdentity, ScanReading,
};

use super::blind::LISTS_FOLDER;
use super::blind_error::BlindError;
use super::blind_file::to_text;
use super::blind_v1::{READINGS, ReadingsV1, TaggedV1};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::safe_write::{Expected, Step, write_whole_with};
use super::sidecar::set_aside;
use super::sidecar_merge::merged;
use super::sidecar_v1::{ImpressionV1, SidecarV1, fault_in_impression};

/// What is known of a list without its mapping.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListHead {
    /// Its name.
    pub name: ListName,
    /// Its identity.
    pub id: String,
}

/// The readings of one tag.
#[derive(Debug, Clone, PartialEq)]
pub struct TaggedReading {
    /// The tag.
    pub tag: String,
    /// What stands: at most one confirmed reading and one draft, in pixels of the crop.
    pub impressions: Vec<ImpressionReading>,
    /// Confirmed readings that were replaced since, oldest first.
    pub earlier: Vec<ImpressionReading>,
}

/// A reader's file of a list as it was loaded.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadedBlindReadings {
    /// Where it lies.
    pub path: PathBuf,
    /// The list.
    pub head: ListHead,
    /// The reader.
    pub reader: ReaderInitials,
    /// It was made at another office and taken in by a lead.
    pub is_taken_in: bool,
    /// The readings, in the order they were begun.
    pub tagged: Vec<TaggedReading>,
    /// What was loaded.
    pub fingerprint: Fingerprint,
}

impl LoadedBlindReadings {
    /// The confirmed readings that stand, with their tags.
    pub fn confirmed(&self) -> impl Iterator<Item = (&str, &ImpressionReading)> {
        self.tagged.iter().flat_map(|tagged| {
            let confirmed = tagged.impressions.iter();
            confirmed
                .filter(|reading| reading.state == ReadingState::Confirmed)
                .map(|reading| (tagged.tag.as_str(), reading))
        })
    }
}

/// What was found on opening a reader's file to write it.
#[derive(Debug, Clone, PartialEq)]
pub enum OpenedBlindReadings {
    /// There is none yet.
    New,
    /// It was loaded.
    Loaded(Box<LoadedBlindReadings>),
    /// It could not be read; it was kept under another name, and the place is free.
    SetAside {
        /// The name it has now.
        kept_as: PathBuf,
        /// What was wrong with it, as a sentence for the reader.
        message: String,
    },
}

/// Where a reader's readings of a list lie in a survey.
pub fn blind_readings_path(survey: &Path, list: &ListName, reader: &ReaderInitials) -> PathBuf {
    survey.join(LISTS_FOLDER).join(blind_readings_name(list, reader))
}

/// The name of that file: `june.tv.json`, in lower case.
pub fn blind_readings_name(list: &ListName, reader: &ReaderInitials) -> String {
    format!("{list}.{reader}.json").to_ascii_lowercase()
}

/// The readers who have a file for a list, by its name, in order of initials.
///
/// # Errors
/// [`StoreError::Io`] when the folder is there and cannot be read.
pub fn readers_of_list(survey: &Path, list: &ListName) -> Result<Vec<ReaderInitials>, BlindError> {
    let folder = survey.join(LISTS_FOLDER);
    let entries = match std::fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(StoreError::io("list the blind readings", &folder)(error).into()),
    };
    let prefix = format!("{list}.").to_ascii_lowercase();
    let mut readers: Vec<ReaderInitials> = entries
        .flatten()
        .filter_map(|entry| entry.file_name().into_string().ok())
        .filter_map(|name| {
            let reader = name.strip_prefix(&prefix)?.strip_suffix(".json")?;
            ReaderInitials::new(reader).ok()
        })
        .collect();
    readers.sort_by_key(|reader| reader.as_str().to_ascii_lowercase());
    Ok(readers)
}

/// Loads a reader's file. Changes nothing on disk.
///
/// # Errors
/// [`BlindError::Unreadable`], [`BlindError::Newer`], [`StoreError::Io`].
pub fn load_blind_readings(path: &Path) -> Result<LoadedBlindReadings, BlindError> {
    let bytes = std::fs::read(path).map_err(StoreError::io("read the blind readings", path))?;
    let file = READINGS.parse(path, &bytes)?;
    loaded(path, &file, Fingerprint::of(&bytes))
}

/// Opens a reader's file to write it. One that cannot be read is set aside, never overwritten.
///
/// # Errors
/// [`BlindError::Newer`], [`StoreError::Io`].
pub fn open_blind_readings(path: &Path) -> Result<OpenedBlindReadings, BlindError> {
    match load_blind_readings(path) {
        Ok(loaded) => Ok(OpenedBlindReadings::Loaded(Box::new(loaded))),
        Err(BlindError::Store(StoreError::Io { source, .. }))
            if source.kind() == ErrorKind::NotFound =>
        {
            Ok(OpenedBlindReadings::New)
        }
        Err(error @ BlindError::Unreadable { .. }) => {
            let kept_as = set_aside(path)?;
            let name = kept_as.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let message = format!("{error}; it was set aside as '{name}' and a new one is begun");
            Ok(OpenedBlindReadings::SetAside { kept_as, message })
        }
        Err(error) => Err(error),
    }
}

/// Saves what `acting` has on one tag, draft and confirmed alike, and returns what is on disk now. Number, fish and
/// box are taken out of the readings, and the list is written into their conditions.
///
/// # Errors
/// [`StoreError::WrongReader`], [`StoreError::ChangedByOther`] when the file is not the one that was loaded,
/// [`StoreError::BadReading`], [`BlindError::OtherList`], [`BlindError::Unreadable`], [`StoreError::Io`]. The old file
/// is intact after any of them.
pub fn save_blind_reading(
    path: &Path,
    head: &ListHead,
    acting: &ReaderInitials,
    tag: &str,
    impressions: &[ImpressionReading],
    expected: Option<&Fingerprint>,
) -> Result<Fingerprint, BlindError> {
    save_blind_reading_with(path, head, acting, (tag, impressions), expected, &mut |_| Ok(()))
}

/// As [`save_blind_reading`], asking `before` ahead of each step of the write; an error from it stands for a failing
/// system.
///
/// # Errors
/// As [`save_blind_reading`].
pub fn save_blind_reading_with(
    path: &Path,
    head: &ListHead,
    acting: &ReaderInitials,
    (tag, impressions): (&str, &[ImpressionReading]),
    expected: Option<&Fingerprint>,
    before: &mut dyn FnMut(Step) -> std::io::Result<()>,
) -> Result<Fingerprint, BlindError> {
    let impressions: Vec<ImpressionReading> =
        impressions.iter().map(|reading| masked(reading, head)).collect();
    for reading in &impressions {
        if let Some(reason) = fault_in_impression(reading) {
            return Err(StoreError::BadReading { what: tag.to_owned(), reason }.into());
        }
    }
    let mut file = match std::fs::read(path) {
        Ok(bytes) if expected == Some(&Fingerprint::of(&bytes)) => READINGS.parse(path, &bytes)?,
        Err(error) if error.kind() == ErrorKind::NotFound && expected.is_none() => {
            ReadingsV1::new(head, acting)
        }
        Err(error) if error.kind() != ErrorKind::NotFound => {
            return Err(StoreError::io("read the blind readings", path)(error).into());
        }
        Err(error) => return Err(StoreError::gone("save the file", path.to_owned(), error).into()),
        Ok(_) => return Err(StoreError::ChangedByOther { path: path.to_owned() }.into()),
    };
    file.refuse_other(path, head, acting)?;
    file.put(tag, acting, impressions);
    let text = to_text(&file, path)?;
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(StoreError::io("make the folder", folder))?;
    }
    Ok(write_whole_with(path, text.as_bytes(), Expected::from(expected), before)?)
}

/// The reading without anything that tells which fish it is.
fn masked(reading: &ImpressionReading, head: &ListHead) -> ImpressionReading {
    let mut masked = reading.clone();
    masked.number = 1;
    masked.fish = String::new();
    masked.bounds = None;
    masked.conditions.blind_list = Some(head.name.as_str().to_owned());
    masked
}

pub(super) fn loaded(
    path: &Path,
    file: &ReadingsV1,
    fingerprint: Fingerprint,
) -> Result<LoadedBlindReadings, BlindError> {
    let unreadable = |reason: String| READINGS.unreadable(path, reason);
    let name =
        ListName::new(&file.list).map_err(|error| unreadable(format!("at list: {error}")))?;
    let reader = ReaderInitials::new(&file.reader)
        .map_err(|error| unreadable(format!("at reader: {error}")))?;
    let mut tagged = Vec::with_capacity(file.readings.len());
    for (index, one) in file.readings.iter().enumerate() {
        let read = |key: &str, list: &[ImpressionV1]| {
            let each = list.iter().enumerate().map(|(place, impression)| {
                impression.to_reading().map_err(|error| {
                    unreadable(format!(
                        "at readings[{index}].{key}[{place}].{}: {}",
                        error.key, error.reason
                    ))
                })
            });
            each.collect::<Result<Vec<_>, _>>()
        };
        tagged.push(TaggedReading {
            tag: one.tag.clone(),
            impressions: read("impressions", &one.impressions)?,
            earlier: read("earlier", &one.earlier)?,
        });
    }
    Ok(LoadedBlindReadings {
        path: path.to_owned(),
        head: ListHead { name, id: file.list_id.clone() },
        reader,
        is_taken_in: file.taken_in.is_some(),
        tagged,
        fingerprint,
    })
}

impl ReadingsV1 {
    fn new(head: &ListHead, reader: &ReaderInitials) -> Self {
        Self {
            format: READINGS.format.to_owned(),
            version: READINGS.version,
            program_version: env!("CARGO_PKG_VERSION").to_owned(),
            list: head.name.as_str().to_owned(),
            list_id: head.id.clone(),
            reader: reader.as_str().to_owned(),
            taken_in: None,
            readings: Vec::new(),
            other: Map::new(),
        }
    }

    fn refuse_other(
        &self,
        path: &Path,
        head: &ListHead,
        acting: &ReaderInitials,
    ) -> Result<(), BlindError> {
        if self.list_id != head.id {
            let (expected, found) =
                (head.name.to_string(), format!("another list '{}'", self.list));
            return Err(BlindError::OtherList { path: path.to_owned(), expected, found });
        }
        if ReaderInitials::new(&self.reader).as_ref() != Ok(acting) {
            let (owner, acting) = (self.reader.clone(), acting.to_string());
            return Err(StoreError::WrongReader { path: path.to_owned(), owner, acting }.into());
        }
        Ok(())
    }

    /// Joins the readings of a tag with what is there, by the rules of a sidecar.
    fn put(&mut self, tag: &str, reader: &ReaderInitials, impressions: Vec<ImpressionReading>) {
        self.program_version = env!("CARGO_PKG_VERSION").to_owned();
        let nowhere =
            ScanIdentity { file: String::new(), width_px: 0, height_px: 0, blake3: String::new() };
        let reading =
            ScanReading { scan: nowhere, reader: reader.clone(), calibration: None, impressions };
        let place = self.readings.iter().position(|one| one.tag.eq_ignore_ascii_case(tag));
        let old = place.and_then(|place| self.readings.get_mut(place));
        let Some(old) = old else {
            let new = merged(&reading, None);
            let tag = tag.to_ascii_uppercase();
            let (impressions, earlier) = (new.impressions, new.earlier);
            self.readings.push(TaggedV1 { tag, impressions, earlier, other: Map::new() });
            return;
        };
        let mut on_disk =
            SidecarV1::from_reading(&ScanReading { impressions: Vec::new(), ..reading.clone() });
        on_disk.impressions = std::mem::take(&mut old.impressions);
        on_disk.earlier = std::mem::take(&mut old.earlier);
        let new = merged(&reading, Some(on_disk));
        (old.impressions, old.earlier) = (new.impressions, new.earlier);
    }
}
