//! A sidecar: one reader's readings on one scan, in a file beside the scan.
//!
//! A reading that was confirmed stays in the file, untouched, until another is confirmed in its place; then it
//! moves to the file's `earlier` list. A draft lies beside it with the same impression number. So a sidecar holds
//! at most one confirmed reading and one draft for each impression.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::domain::reading::{ImpressionReading, ReaderInitials, ReadingState, ScanReading};

use super::error::StoreError;
use super::file_name::{SCANS_FOLDER, parse_sidecar_name, sidecar_path};
use super::fingerprint::Fingerprint;
use super::safe_write::{Expected, Step, write_whole_with};
use super::sidecar_merge::merged;
use super::sidecar_v1::{FORMAT, SidecarV1, VERSION, fault_in_impression, fault_in_scan};

/// A sidecar as it was loaded.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadedSidecar {
    /// Where it lies.
    pub path: PathBuf,
    /// What it holds. An impression may stand twice: confirmed, and as a draft.
    pub reading: ScanReading,
    /// Confirmed readings that were replaced since, oldest first.
    pub earlier: Vec<ImpressionReading>,
    /// What was loaded; to be handed to [`save_reading`].
    pub fingerprint: Fingerprint,
    /// The version it was written in.
    pub version: u64,
    /// Key paths of micrometres in the file that its pixels and calibration do not give. The pixels count.
    pub stale_micrometres: Vec<String>,
}

impl LoadedSidecar {
    /// True for a file of a newer program: it can be looked at, not changed.
    pub fn is_read_only(&self) -> bool {
        self.version > VERSION
    }
}

/// What was found on opening a sidecar to edit it.
#[derive(Debug, Clone, PartialEq)]
pub enum OpenedSidecar {
    /// There is none yet.
    New,
    /// It was loaded.
    Loaded(Box<LoadedSidecar>),
    /// It could not be read; it was kept under another name, and the place is free.
    SetAside {
        /// The name it has now.
        kept_as: PathBuf,
        /// What was wrong with it, as a sentence for the reader.
        message: String,
    },
}

/// Loads a sidecar. Changes nothing on disk.
///
/// # Errors
/// [`StoreError::Io`] when the file cannot be opened, [`StoreError::UnreadableSidecar`] when it is damaged,
/// [`StoreError::NewerVersion`] when a newer program wrote it in a way this one cannot even look at.
pub fn load_sidecar(path: &Path) -> Result<LoadedSidecar, StoreError> {
    let (loaded, file) = load(path)?;
    Ok(LoadedSidecar { stale_micrometres: file.stale_micrometres(&loaded.reading), ..loaded })
}

/// As [`load_sidecar`], without looking for stale micrometres: the pixels count for an analysis in any case.
///
/// # Errors
/// As [`load_sidecar`].
pub fn load_sidecar_for_analysis(path: &Path) -> Result<LoadedSidecar, StoreError> {
    load(path).map(|(loaded, _)| loaded)
}

fn load(path: &Path) -> Result<(LoadedSidecar, SidecarV1), StoreError> {
    let bytes = std::fs::read(path).map_err(StoreError::io("read the sidecar", path))?;
    let Parsed { file, reading, earlier } = parse(path, &bytes)?;
    let loaded = LoadedSidecar {
        path: path.to_owned(),
        earlier,
        fingerprint: Fingerprint::of(&bytes),
        version: file.version,
        stale_micrometres: Vec::new(),
        reading,
    };
    Ok((loaded, file))
}

/// Opens a reader's sidecar to edit it. One that cannot be read is set aside, never overwritten.
///
/// # Errors
/// [`StoreError::UnsafeName`] for a scan name that leads out of the folder, [`StoreError::Io`] when the system
/// refuses, [`StoreError::NewerVersion`] as [`load_sidecar`].
pub fn open_sidecar(
    survey: &Path,
    scan: &str,
    reader: &ReaderInitials,
) -> Result<OpenedSidecar, StoreError> {
    let path = existing_path(survey, scan, reader)?;
    match load_sidecar(&path) {
        Ok(loaded) => Ok(OpenedSidecar::Loaded(Box::new(loaded))),
        Err(StoreError::Io { source, .. }) if source.kind() == ErrorKind::NotFound => {
            Ok(OpenedSidecar::New)
        }
        Err(error @ StoreError::UnreadableSidecar { .. }) => {
            let kept_as = set_aside(&path)?;
            let name = kept_as.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let message = format!("{error}; it was set aside as '{name}' and a new one is begun");
            Ok(OpenedSidecar::SetAside { kept_as, message })
        }
        Err(error) => Err(error),
    }
}

/// Renames a file that cannot be read to `NAME.unreadable-1` (or the next free number), and returns the new path.
///
/// # Errors
/// [`StoreError::Io`] when it cannot be renamed; it is then where it was.
pub fn set_aside(path: &Path) -> Result<PathBuf, StoreError> {
    let mut number = 1_u32;
    loop {
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(format!(".unreadable-{number}"));
        let aside = path.with_file_name(name);
        // A link refuses a name that is taken; a rename would replace the file there.
        match std::fs::hard_link(path, &aside) {
            Ok(()) => {
                std::fs::remove_file(path).map_err(StoreError::io("set the file aside", path))?;
                return Ok(aside);
            }
            Err(_) if std::fs::symlink_metadata(&aside).is_ok() => number += 1,
            // Some drives know no links.
            Err(_) => {
                std::fs::rename(path, &aside)
                    .map_err(StoreError::io("set the file aside", path))?;
                return Ok(aside);
            }
        }
    }
}

/// Saves the readings of `acting` on one scan, drafts and confirmed ones alike, and returns what is on disk now.
///
/// `expected` is what was loaded, or `None` where there was no sidecar. A confirmed reading on disk that `reading`
/// does not mention is kept; a draft on disk that it does not mention is dropped.
///
/// # Errors
/// [`StoreError::WrongReader`] for another reader's readings, [`StoreError::ChangedByOther`] when the file is not
/// the one that was loaded, [`StoreError::NewerVersion`], [`StoreError::BadReading`], [`StoreError::UnsafeName`],
/// [`StoreError::Io`]. The old file is intact after any of them.
pub fn save_reading(
    survey: &Path,
    acting: &ReaderInitials,
    reading: &ScanReading,
    expected: Option<&Fingerprint>,
) -> Result<Fingerprint, StoreError> {
    save_reading_with(survey, acting, reading, expected, &mut |_| Ok(()))
}

/// As [`save_reading`], asking `before` ahead of each step of the write; an error from it stands for a failing system.
///
/// # Errors
/// As [`save_reading`].
pub fn save_reading_with(
    survey: &Path,
    acting: &ReaderInitials,
    reading: &ScanReading,
    expected: Option<&Fingerprint>,
    before: &mut dyn FnMut(Step) -> std::io::Result<()>,
) -> Result<Fingerprint, StoreError> {
    let path = existing_path(survey, &reading.scan.file, &reading.reader)?;
    refuse_other_reader(&path, acting, &reading.reader)?;
    refuse_faults(reading)?;
    let on_disk = match std::fs::read(&path) {
        Ok(bytes) if expected == Some(&Fingerprint::of(&bytes)) => Some(parse(&path, &bytes)?.file),
        Err(error) if error.kind() == ErrorKind::NotFound && expected.is_none() => None,
        Err(error) if error.kind() != ErrorKind::NotFound => {
            return Err(StoreError::io("read the sidecar", path)(error));
        }
        Err(error) => return Err(StoreError::gone("save the sidecar", path, error)),
        Ok(_) => return Err(StoreError::ChangedByOther { path }),
    };
    if let Some(file) = &on_disk {
        if file.version > VERSION {
            return Err(newer(&path, file.version));
        }
        let owner = ReaderInitials::new(&file.reader).unwrap_or_else(|_| acting.clone());
        refuse_other_reader(&path, acting, &owner)?;
    }
    let text = to_text(&merged(reading, on_disk), &path)?;
    write_whole_with(&path, text.as_bytes(), Expected::from(expected), before)
}

/// The text of a sidecar for `reading` alone, as [`save_reading`] writes it where there was none.
///
/// # Errors
/// [`StoreError::BadReading`] when it does not hold together.
pub fn sidecar_text(reading: &ScanReading) -> Result<String, StoreError> {
    refuse_faults(reading)?;
    to_text(&merged(reading, None), Path::new(&reading.scan.file))
}

fn to_text(file: &SidecarV1, path: &Path) -> Result<String, StoreError> {
    let text = serde_json::to_string_pretty(file)
        .map_err(|error| StoreError::io("save the sidecar", path)(error.into()))?;
    Ok(text + "\n")
}

/// A file and what it means. A file that means nothing is as unreadable as one that is no JSON.
struct Parsed {
    file: SidecarV1,
    reading: ScanReading,
    earlier: Vec<ImpressionReading>,
}

fn parse(path: &Path, bytes: &[u8]) -> Result<Parsed, StoreError> {
    let file = parse_text(path, bytes)?;
    let unreadable = |at: String, reason: String| {
        if file.version > VERSION {
            return newer(path, file.version);
        }
        StoreError::UnreadableSidecar {
            path: path.to_owned(),
            reason: format!("at {at}: {reason}"),
        }
    };
    let reading = file.to_reading().map_err(|error| unreadable(error.key, error.reason))?;
    let earlier = file.earlier.iter().enumerate().map(|(index, impression)| {
        impression
            .to_reading()
            .map_err(|error| unreadable(format!("earlier[{index}].{}", error.key), error.reason))
    });
    Ok(Parsed { earlier: earlier.collect::<Result<_, _>>()?, reading, file })
}

/// Reads the text of any known version, or of a newer one that still reads like ours.
fn parse_text(path: &Path, bytes: &[u8]) -> Result<SidecarV1, StoreError> {
    let unreadable =
        |reason: String| StoreError::UnreadableSidecar { path: path.to_owned(), reason };
    let text = std::str::from_utf8(bytes)
        .map_err(|error| unreadable(format!("byte {} is not UTF-8 text", error.valid_up_to())))?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    // A whole sidecar of this version is read once; only one that is not is looked at closely, to say what is wrong.
    if let Ok(file) = serde_json::from_str::<SidecarV1>(text)
        && file.format == FORMAT
        && (1..=VERSION).contains(&file.version)
    {
        return Ok(file);
    }
    let value: Value = serde_json::from_str(text)
        .map_err(|error| unreadable(format!("it is not whole JSON ({error})")))?;
    if value.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(unreadable(format!("at format: expected '{FORMAT}'")));
    }
    let version = value.get("version").and_then(Value::as_u64).unwrap_or_default();
    if version == 0 {
        return Err(unreadable("at version: expected a whole number from 1".to_owned()));
    }
    // From the text, not from the value: numbers are read once, and errors can name the line.
    let mut deserializer = serde_json::Deserializer::from_str(text);
    serde_path_to_error::deserialize(&mut deserializer).map_err(|error| {
        if version > VERSION {
            return newer(path, version);
        }
        unreadable(format!("at {}: {}", error.path(), error.inner()))
    })
}

fn newer(path: &Path, found: u64) -> StoreError {
    StoreError::NewerVersion { path: path.to_owned(), found, supported: VERSION }
}

fn refuse_other_reader(
    path: &Path,
    acting: &ReaderInitials,
    owner: &ReaderInitials,
) -> Result<(), StoreError> {
    if acting == owner {
        return Ok(());
    }
    Err(StoreError::WrongReader {
        path: path.to_owned(),
        owner: owner.to_string(),
        acting: acting.to_string(),
    })
}

fn refuse_faults(reading: &ScanReading) -> Result<(), StoreError> {
    let mut seen: Vec<(u32, ReadingState)> = Vec::new();
    for impression in &reading.impressions {
        let place = (impression.number, impression.state);
        let fault = if seen.contains(&place) {
            Some("stands twice in the same state: give each impression its own number".to_owned())
        } else {
            fault_in_impression(impression)
        };
        if let Some(reason) = fault {
            let what = format!("impression {}", impression.number);
            return Err(StoreError::BadReading { what, reason });
        }
        seen.push(place);
    }
    match fault_in_scan(reading) {
        None => Ok(()),
        Some((what, reason)) => Err(StoreError::BadReading { what: what.to_owned(), reason }),
    }
}

/// The reader's sidecar as it is on disk, whatever the case of the initials in its name; else where it will lie.
fn existing_path(
    survey: &Path,
    scan: &str,
    reader: &ReaderInitials,
) -> Result<PathBuf, StoreError> {
    let usual = sidecar_path(survey, scan, reader)?;
    if usual.exists() {
        return Ok(usual);
    }
    let folder = survey.join(SCANS_FOLDER);
    let Ok(entries) = std::fs::read_dir(&folder) else { return Ok(usual) };
    let same = entries
        .flatten()
        .map(|entry| entry.file_name())
        .find(|name| name.to_str().and_then(parse_sidecar_name) == Some((scan, reader.clone())));
    Ok(same.map_or(usual, |name| folder.join(name)))
}
