//! Saving: drafts within a second, a confirmed reading at once, and nothing counted as saved before it is.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use crate::domain::reading::{ReaderInitials, ReadingState, ScanReading};
use crate::marking::command::Command;
use crate::marking::document::Document;
use crate::store::error::StoreError;
use crate::store::fingerprint::Fingerprint;

use super::job::{Job, Polled};
use super::session_blind::{BlindSource, OpenBlind};
use super::start_survey::NewSurvey;
use super::workbench::Workbench;

/// Writes a reading: survey folder, who writes, what, and what is expected on disk.
pub type SaveFn = Arc<
    dyn Fn(
            &std::path::Path,
            &ReaderInitials,
            &ScanReading,
            Option<&Fingerprint>,
        ) -> Result<Fingerprint, StoreError>
        + Send
        + Sync,
>;

/// An edit is written this long after it was made, so that a burst of keys makes one write.
const DRAFT_DELAY: Duration = Duration::from_millis(300);

/// A write in progress.
pub(super) struct Saving {
    /// What is being written.
    document: Document,
    /// The confirmation that becomes true when the write is complete.
    confirmation: Option<Command>,
    job: Job<Result<Fingerprint, String>>,
}

/// What waits until nothing of the open scan is unsaved.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Pending {
    Scan(usize),
    Survey(PathBuf),
    Demo,
    Start(Box<NewSurvey>),
    Reader(ReaderInitials),
    Practice,
    Blind(BlindSource),
    LeaveBlind,
    Confirm(Command),
    Close,
}

impl Workbench {
    /// Does `wish` as soon as all edits of the open scan are on disk; a failed write forgets it.
    pub(super) fn after_saving(&mut self, wish: Pending) {
        self.pending = Some(wish);
        self.advance();
    }

    pub(super) fn poll_saving(&mut self) {
        if let Some(saving) = self.saving.take() {
            match saving.job.poll() {
                Polled::Pending => self.saving = Some(saving),
                Polled::Done(Ok(fingerprint)) => self.saved(saving, fingerprint),
                Polled::Done(Err(error)) => self.not_saved(&error),
                Polled::Lost => self.not_saved("the write broke off"),
            }
        }
        let due = self.scan.as_ref().is_some_and(|scan| {
            scan.is_unsaved() && scan.edited_at.is_some_and(|at| at.elapsed() >= DRAFT_DELAY)
        });
        if due && self.saving.is_none() {
            self.start_saving(None);
        }
        self.advance();
    }

    /// How soon [`Workbench::poll`] should be called again although no job wakes anyone.
    pub fn next_poll(&self) -> Option<Duration> {
        let scan = self.scan.as_ref().filter(|scan| scan.is_unsaved())?;
        let passed = scan.edited_at?.elapsed();
        Some(DRAFT_DELAY.saturating_sub(passed) + Duration::from_millis(5))
    }

    /// Writes what is unsaved and waits for it, for the moment before the window closes. True when all is on disk.
    pub fn finish_saving(&mut self) -> bool {
        for _ in 0..2 {
            if let Some(saving) = self.saving.take() {
                let Saving { document, confirmation, job } = saving;
                match job.wait() {
                    Some(Ok(fingerprint)) => self.took_effect(document, confirmation, fingerprint),
                    Some(Err(error)) => self.not_saved(&error),
                    None => self.not_saved("the write broke off"),
                }
            }
            match &self.scan {
                Some(scan) if scan.is_unsaved() && scan.edited_at.is_some() => {
                    self.start_saving(None);
                }
                _ => break,
            }
        }
        self.saving.is_none() && !self.scan.as_ref().is_some_and(|scan| scan.is_unsaved())
    }

    /// True while a write is under way.
    pub fn is_saving(&self) -> bool {
        self.saving.is_some()
    }

    /// True while a confirmation is being written: the reading stands still until it is on disk.
    pub fn is_confirming(&self) -> bool {
        self.saving.as_ref().is_some_and(|saving| saving.confirmation.is_some())
            || matches!(self.pending, Some(Pending::Confirm(_)))
    }

    fn advance(&mut self) {
        if self.saving.is_some() || self.pending.is_none() {
            return;
        }
        if let Some(Pending::Confirm(command)) = &self.pending {
            let command = command.clone();
            self.pending = None;
            self.start_saving(Some(command));
            return;
        }
        if self.scan.as_ref().is_some_and(|scan| scan.is_unsaved()) {
            self.start_saving(None);
            return;
        }
        match self.pending.take() {
            Some(Pending::Scan(place)) => self.open_scan(place),
            Some(Pending::Survey(folder)) => self.open_survey(folder),
            Some(Pending::Start(new)) => self.open_new_survey(*new),
            Some(Pending::Demo) => self.open_demo(),
            Some(Pending::Reader(reader)) => self.take_reader(reader),
            Some(Pending::Practice) => self.toggle_practice(),
            Some(Pending::Blind(source)) => self.open_blind_list(source),
            Some(Pending::LeaveBlind) => self.leave_blind(),
            Some(Pending::Close) => self.is_ready_to_close = true,
            Some(Pending::Confirm(_)) | None => {}
        }
    }

    fn start_saving(&mut self, confirmation: Option<Command>) {
        let (Some(survey), Some(scan), Some(reader)) = (&self.survey, &mut self.scan, &self.reader)
        else {
            return;
        };
        let document = match &confirmation {
            Some(command) => match scan.document().applied(command) {
                Ok(document) => document,
                Err(error) => {
                    self.notices.say(error.to_string());
                    return;
                }
            },
            None => scan.document().clone(),
        };
        if self.practice.is_some() {
            // Practice is written nowhere.
            self.took_effect(document, confirmation, Fingerprint::of(b""));
            return;
        }
        let (folder, reader) = (survey.folder.clone(), reader.clone());
        let (save, reading) = (Arc::clone(&self.services.save), document.reading.clone());
        let expected = scan.on_disk;
        let saver = self.blind.as_ref().map(OpenBlind::saver);
        // The write must not stop half-way, so it asks for no checkpoint.
        let work = move |_: &_| match saver {
            Some(saver) => saver(&reading),
            None => save(&folder, &reader, &reading, expected.as_ref())
                .map_err(|error| error.to_string()),
        };
        match Job::start("save the reading", &self.wake, work) {
            Ok(job) => self.saving = Some(Saving { document, confirmation, job }),
            Err(error) => self.not_saved(&format!("cannot start the write: {error}")),
        }
    }

    fn saved(&mut self, saving: Saving, fingerprint: Fingerprint) {
        self.took_effect(saving.document, saving.confirmation, fingerprint);
    }

    fn took_effect(
        &mut self,
        document: Document,
        confirmation: Option<Command>,
        fingerprint: Fingerprint,
    ) {
        let Some(scan) = &mut self.scan else { return };
        scan.on_disk = Some(fingerprint);
        let confirmed = match &confirmation {
            Some(command) => match scan.history.perform(command) {
                Ok(()) => true,
                Err(error) => {
                    self.notices.report(error.to_string());
                    false
                }
            },
            None => false,
        };
        scan.keep_selection_valid();
        let place = scan.place;
        let reading = document.reading.clone();
        let age = document.impression(scan.impression).and_then(|reading| reading.age);
        scan.history.mark_saved(document);
        if let Some(survey) = &mut self.survey {
            survey.set_reading(place, &reading);
        }
        if confirmed {
            self.score_practice();
            self.compare_first();
            let outcome = match age {
                Some(age) => format!("confirmed at age {age} and saved"),
                None => "confirmed and saved".to_owned(),
            };
            if self.practice.is_none() {
                self.notices.say(outcome);
            }
            self.lengths_are_stale();
            self.agree_is_stale();
        }
    }

    /// The reading stays open as it is, and the reader is told; nothing else is interrupted.
    fn not_saved(&mut self, reason: &str) {
        self.pending = None;
        if let Some(scan) = &mut self.scan {
            // Tried again with the next edit, or when the reader moves on or confirms.
            scan.edited_at = None;
        }
        self.notices.report(format!(
            "{reason}. Your marks are still here; nothing is lost while the window is open"
        ));
    }
}

/// How far the reading of a scan is, as it lies on disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum ListState {
    /// Nothing on disk by this reader.
    #[default]
    Unread,
    /// At least one impression is a draft.
    Draft,
    /// Every impression read is confirmed.
    Confirmed,
}

impl ListState {
    /// The word on the list.
    pub fn word(self) -> &'static str {
        match self {
            Self::Unread => "unread",
            Self::Draft => "draft",
            Self::Confirmed => "confirmed",
        }
    }

    /// The state of a reading that is on disk.
    pub fn of(reading: &ScanReading) -> Self {
        let mut states = reading.impressions.iter().map(|impression| impression.state);
        if reading.impressions.is_empty() {
            Self::Unread
        } else if states.all(|state| state == ReadingState::Confirmed) {
            Self::Confirmed
        } else {
            Self::Draft
        }
    }
}
