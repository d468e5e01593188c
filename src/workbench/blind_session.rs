//! What the window holds of an open blind list: tags, what the list shows, and this reader's own readings of it.
//!
//! The mapping from tag to fish is not in here, so nothing that is drawn, logged or written can give it away.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::domain::blind::ListName;
use crate::domain::fish::Fish;
use crate::domain::reading::{ImpressionReading, ReaderInitials, ReadingState};
use crate::store::blind::{BlindEntry, BlindList, load_list};
use crate::store::blind_error::BlindError;
use crate::store::blind_pack::{BlindItem, MaskedList, read_pack};
use crate::store::blind_readings::{
    ListHead, LoadedBlindReadings, OpenedBlindReadings, blind_readings_name, blind_readings_path,
    open_blind_readings, save_blind_reading,
};
use crate::store::collection::OpenSurvey;
use crate::store::error::StoreError;
use crate::store::fingerprint::Fingerprint;

use super::blind_picture::{BlindPictures, Source};

/// A blind list as one reader reads it.
pub struct BlindSession {
    source: Source,
    masked: MaskedList,
    reader: ReaderInitials,
    readings: BTreeMap<String, Vec<ImpressionReading>>,
    on_disk: Option<Fingerprint>,
    notice: Option<String>,
}

impl std::fmt::Debug for BlindSession {
    /// Everything but the folder, whose name may tell water and year.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("BlindSession")
            .field("masked", &self.masked)
            .field("reader", &self.reader)
            .field("readings", &self.readings)
            .field("notice", &self.notice)
            .finish_non_exhaustive()
    }
}

/// Opens a list of a survey for one reader.
///
/// # Errors
/// [`BlindError::Closed`], and as [`load_list`] and [`open_blind_readings`].
pub fn open_blind(
    survey: &OpenSurvey,
    list: &ListName,
    reader: &ReaderInitials,
) -> Result<BlindSession, BlindError> {
    let list = load_list(&survey.folder, list).map_err(without_details)?.list;
    if list.closed.is_some() {
        return Err(BlindError::Closed { name: list.name.to_string() });
    }
    let masked = masked_list(survey, &list);
    BlindSession::open(Source::Survey(survey.folder.clone()), masked, reader)
}

/// Opens a blind pack of another office for one reader. The readings lie beside the pack, as `NAME.READER.json`.
///
/// # Errors
/// As [`read_pack`] and [`open_blind_readings`].
pub fn open_blind_pack(pack: &Path, reader: &ReaderInitials) -> Result<BlindSession, BlindError> {
    BlindSession::open(Source::Pack(pack.to_owned()), read_pack(pack)?, reader)
}

/// What is wrong with a damaged list may quote a fish or a scan, so the reader is not told it.
fn without_details(error: BlindError) -> BlindError {
    match error {
        BlindError::Unreadable { what, path, .. } => {
            let reason = "it is damaged: ask the lead to check the survey".to_owned();
            BlindError::Unreadable { what, path, reason }
        }
        other => other,
    }
}

/// What a reader may know of a list.
pub(super) fn masked_list(survey: &OpenSurvey, list: &BlindList) -> MaskedList {
    let item = |entry: &BlindEntry| {
        let fish = survey.fish.iter().find(|fish| fish.key == entry.fish);
        BlindItem {
            tag: entry.tag.clone(),
            species: fish.filter(|_| list.policy.species).map(|fish| species_of(survey, fish)),
            structure: list.policy.structure.then_some(entry.structure),
            light: entry.light.filter(|_| list.policy.structure),
            capture_month: fish
                .and_then(|fish| fish.captured)
                .filter(|_| list.policy.capture_month)
                .map(|date| date.month()),
        }
    };
    MaskedList {
        head: ListHead { name: list.name.clone(), id: list.id.clone() },
        show_proposals: list.policy.proposals,
        items: list.entries.iter().map(item).collect(),
    }
}

fn species_of(survey: &OpenSurvey, fish: &Fish) -> String {
    if fish.species.is_empty() { survey.survey.species.clone() } else { fish.species.clone() }
}

impl BlindSession {
    fn open(
        source: Source,
        masked: MaskedList,
        reader: &ReaderInitials,
    ) -> Result<Self, BlindError> {
        let mut session = Self {
            source,
            masked,
            reader: reader.clone(),
            readings: BTreeMap::new(),
            on_disk: None,
            notice: None,
        };
        let path = session.path();
        match open_blind_readings(&path)? {
            OpenedBlindReadings::New => {}
            OpenedBlindReadings::Loaded(loaded) => session.take_over(*loaded)?,
            OpenedBlindReadings::SetAside { message, .. } => session.notice = Some(message),
        }
        Ok(session)
    }

    fn take_over(&mut self, loaded: LoadedBlindReadings) -> Result<(), BlindError> {
        let expected = self.masked.head.name.to_string();
        if loaded.head.id != self.masked.head.id {
            let found = format!("another list '{}'", loaded.head.name);
            return Err(BlindError::OtherList { path: loaded.path, expected, found });
        }
        if loaded.reader != self.reader {
            let (owner, acting) = (loaded.reader.to_string(), self.reader.to_string());
            return Err(StoreError::WrongReader { path: loaded.path, owner, acting }.into());
        }
        self.on_disk = Some(loaded.fingerprint);
        let tagged = loaded.tagged.into_iter();
        self.readings = tagged.map(|tagged| (tagged.tag, tagged.impressions)).collect();
        Ok(())
    }

    /// Where this reader's readings of the list lie.
    pub fn path(&self) -> PathBuf {
        match &self.source {
            Source::Survey(folder) => blind_readings_path(folder, self.list(), &self.reader),
            Source::Pack(pack) => {
                pack.with_file_name(blind_readings_name(self.list(), &self.reader))
            }
        }
    }

    /// The list's name.
    pub fn list(&self) -> &ListName {
        &self.masked.head.name
    }

    /// Who reads.
    pub fn reader(&self) -> &ReaderInitials {
        &self.reader
    }

    /// The impressions in reading order.
    pub fn items(&self) -> &[BlindItem] {
        &self.masked.items
    }

    /// What lies on disk of this reader's readings; `None` while there is no file.
    pub(super) fn fingerprint(&self) -> Option<Fingerprint> {
        self.on_disk
    }

    /// True where the lead has turned proposals on.
    pub fn shows_proposals(&self) -> bool {
        self.masked.show_proposals
    }

    /// Something the reader should know, such as a file that was set aside.
    pub fn notice(&self) -> Option<&str> {
        self.notice.as_deref()
    }

    /// Confirmed impressions, and impressions in all.
    pub fn progress(&self) -> (usize, usize) {
        let is_done = |item: &&BlindItem| {
            self.standing(&item.tag).iter().any(|reading| reading.state == ReadingState::Confirmed)
        };
        (self.items().iter().filter(is_done).count(), self.items().len())
    }

    /// What the reader goes on with on a tag: the draft, else the confirmed reading.
    pub fn reading(&self, tag: &str) -> Option<&ImpressionReading> {
        let standing = self.standing(tag);
        standing.iter().find(|reading| reading.state == ReadingState::Draft).or(standing.first())
    }

    /// Opens pictures; may be sent to another thread.
    pub fn pictures(&self) -> BlindPictures {
        BlindPictures::new(self.source.clone(), self.list().clone())
    }

    /// Saves a reading of a tag, in pixels of its picture. A draft leaves the confirmed reading standing beside it; a
    /// confirmed one takes the place of both, and the earlier confirmed one is kept on file.
    ///
    /// # Errors
    /// [`BlindError::Closed`] when the lead has closed the list, [`BlindError::UnknownTag`], and as
    /// [`save_blind_reading`]. Nothing has changed after any of them.
    pub fn save(&mut self, tag: &str, reading: ImpressionReading) -> Result<(), BlindError> {
        let name = || self.list().to_string();
        if !self.items().iter().any(|item| item.tag == tag) {
            return Err(BlindError::UnknownTag { name: name(), tags: tag.to_owned() });
        }
        if let Source::Survey(folder) = &self.source
            && load_list(folder, self.list()).map_err(without_details)?.list.closed.is_some()
        {
            return Err(BlindError::Closed { name: name() });
        }
        let mut reading = reading;
        reading.fish = String::new();
        reading.bounds = None;
        reading.number = 1;
        reading.conditions.blind_list = Some(name());
        let mut standing = self.standing(tag).to_vec();
        standing.retain(|old| {
            reading.state == ReadingState::Draft && old.state == ReadingState::Confirmed
        });
        standing.push(reading);
        let (path, expected) = (self.path(), self.on_disk.as_ref());
        let written =
            save_blind_reading(&path, &self.masked.head, &self.reader, tag, &standing, expected)?;
        self.on_disk = Some(written);
        self.readings.insert(tag.to_owned(), standing);
        Ok(())
    }

    fn standing(&self, tag: &str) -> &[ImpressionReading] {
        self.readings.get(tag).map_or(&[], Vec::as_slice)
    }
}
