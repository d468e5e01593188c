//! Readings that come back from another office, taken in by tag.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use crate::domain::reading::ImpressionReading;

use super::blind::load_list;
use super::blind_error::BlindError;
use super::blind_file::{create_whole, to_text};
use super::blind_readings::{
    LoadedBlindReadings, TaggedReading, blind_readings_path, load_blind_readings, loaded,
};
use super::blind_v1::{READINGS, ReadingsV1};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::safe_write::{Expected, write_whole};

const ADVICE: &str = "this reader has readings of this list here already: compare the two files, and remove one if it is not wanted";

/// Takes a returned `NAME.READER.json` into the survey its list was drawn in. All of it or nothing; gives the file
/// written, or `None` where these very readings are here already.
///
/// A later return of the same reader takes the place of an earlier one only if it holds all that the earlier one held.
///
/// # Errors
/// [`BlindError::Unreadable`], [`BlindError::NoSuchList`], [`BlindError::OtherList`], [`BlindError::UnknownTag`],
/// [`BlindError::Taken`], [`StoreError::Io`].
pub fn take_in(
    survey: &Path,
    returned: &Path,
    when: Timestamp,
) -> Result<Option<PathBuf>, BlindError> {
    let bytes =
        std::fs::read(returned).map_err(StoreError::io("read the blind readings", returned))?;
    if bytes.starts_with(b"PK") {
        let reason = "this is the pack itself: take in the file NAME.READER.json that the other office has beside it";
        return Err(READINGS.unreadable(returned, reason));
    }
    let mut file: ReadingsV1 = READINGS.parse(returned, &bytes)?;
    let theirs = loaded(returned, &file, Fingerprint::of(&bytes))?;
    check_list(survey, returned, &theirs)?;
    let path = blind_readings_path(survey, &theirs.head.name, &theirs.reader);
    let expected = match load_blind_readings(&path) {
        Ok(ours) if ours.tagged == theirs.tagged && ours.head == theirs.head => return Ok(None),
        Ok(ours) if ours.is_taken_in && ours.reader == theirs.reader && has_all(&theirs, &ours) => {
            Some(ours.fingerprint)
        }
        Err(BlindError::Store(StoreError::Io { source, .. }))
            if source.kind() == ErrorKind::NotFound =>
        {
            None
        }
        Ok(_) | Err(BlindError::Unreadable { .. }) => {
            return Err(BlindError::Taken { path, advice: ADVICE });
        }
        Err(error) => return Err(error),
    };
    file.taken_in = Some(when.to_string());
    let text = to_text(&file, &path)?;
    match expected {
        None => create_whole(&path, text.as_bytes(), ADVICE)?,
        Some(ours) => write_whole(&path, text.as_bytes(), Expected::Same(ours))?,
    };
    Ok(Some(path))
}

fn check_list(
    survey: &Path,
    returned: &Path,
    theirs: &LoadedBlindReadings,
) -> Result<(), BlindError> {
    let list = load_list(survey, &theirs.head.name)?.list;
    if list.id != theirs.head.id {
        return Err(BlindError::OtherList {
            path: returned.to_owned(),
            expected: list.name.to_string(),
            found: format!("another list that is also named '{}'", theirs.head.name),
        });
    }
    let unknown: Vec<&str> = theirs
        .tagged
        .iter()
        .map(|tagged| tagged.tag.as_str())
        .filter(|tag| list.entry(tag).is_none())
        .collect();
    if unknown.is_empty() {
        return Ok(());
    }
    Err(BlindError::UnknownTag { name: list.name.to_string(), tags: unknown.join(", ") })
}

/// True where every confirmed reading of `ours` is still in `theirs`, standing or replaced since.
fn has_all(theirs: &LoadedBlindReadings, ours: &LoadedBlindReadings) -> bool {
    ours.confirmed().all(|(tag, reading)| {
        let same = |tagged: &&TaggedReading| tagged.tag.eq_ignore_ascii_case(tag);
        let is_there = |there: &ImpressionReading| there == reading;
        theirs
            .tagged
            .iter()
            .filter(same)
            .any(|tagged| tagged.impressions.iter().chain(&tagged.earlier).any(is_there))
    })
}
