//! A blind list in the window: the ordinary survey is let go, and what takes its place knows tags and nothing else.
//!
//! The survey on show is one made up of tags ([`masked_survey`]), so no panel, title, status line or file can tell
//! what this program does not hold. Only this room's worker threads look a tag up, and forget it again.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use jiff::Timestamp;
use jiff::civil::Date;

use crate::domain::blind::ListName;
use crate::domain::reading::{
    ImpressionReading, ReaderInitials, ScanIdentity, ScanReading, Structure,
};
use crate::domain::survey::Survey;
use crate::imaging::raster::Raster;
use crate::marking::document::Document;
use crate::store::blind_filing::file_closed_lists;
use crate::store::blind_pack::BlindItem;
use crate::store::collection::OpenSurvey;
use crate::store::fingerprint::Fingerprint;

use super::action::{Action, Desk};
use super::blind_picture::BlindPictures;
use super::blind_session::{BlindSession, open_blind, open_blind_pack};
use super::job::{Job, Polled};
use super::notices::Notices;
use super::session_mask::masked_survey;
use super::workbench::Workbench;

/// Where a blind list comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum BlindSource {
    /// A list of the survey in a folder.
    Survey(PathBuf, ListName),
    /// A pack of another office.
    Pack(PathBuf),
}

impl BlindSource {
    /// The folder whose path no message may name: it may tell water and year.
    fn folder(&self) -> &Path {
        match self {
            Self::Survey(folder, _) => folder,
            Self::Pack(file) => file.parent().unwrap_or(file),
        }
    }
}

/// The blind list that is open.
pub struct OpenBlind {
    source: BlindSource,
    list: ListName,
    shows_proposals: bool,
    items: Vec<BlindItem>,
    session: Arc<Mutex<BlindSession>>,
    pictures: BlindPictures,
}

impl OpenBlind {
    /// Its name.
    pub fn list(&self) -> &ListName {
        &self.list
    }

    /// True where the lead has turned proposals on.
    pub fn shows_proposals(&self) -> bool {
        self.shows_proposals
    }

    /// What the reader may know of a tag.
    pub fn item(&self, tag: &str) -> Option<&BlindItem> {
        self.items.iter().find(|item| item.tag == tag)
    }

    /// Opens pictures, on any thread.
    pub(super) fn pictures(&self) -> BlindPictures {
        self.pictures.clone()
    }

    /// What writes a reading of this list, on any thread. Its messages name no folder.
    pub(super) fn saver(
        &self,
    ) -> impl FnOnce(&ScanReading) -> Result<Fingerprint, String> + Send + 'static {
        let (session, source) = (Arc::clone(&self.session), self.source.clone());
        move |reading: &ScanReading| {
            let tag = &reading.scan.file;
            let one = reading.impressions.first().cloned().ok_or("there is nothing to save")?;
            let mut session = session.lock().unwrap_or_else(PoisonError::into_inner);
            session.save(tag, one).map_err(|error| masked(&error.to_string(), &source))?;
            session.fingerprint().ok_or_else(|| "the readings were not written".to_owned())
        }
    }
}

/// A list on its way from disk.
pub(super) type OpeningBlind = Job<Result<(BlindSession, BlindSource, Survey), String>>;

/// A tag's picture and reading on their way.
pub(super) struct OpenedTag {
    pub(super) raster: Raster,
    pub(super) document: Document,
    pub(super) on_disk: Option<Fingerprint>,
}

/// A message without the folder it would name.
fn masked(message: &str, source: &BlindSource) -> String {
    message.replace(&source.folder().display().to_string(), "(folder)")
}

impl Workbench {
    /// The blind list that is open, if one is.
    pub fn blind(&self) -> Option<&OpenBlind> {
        self.blind.as_ref()
    }

    /// What the open blind list tells of the picture on show.
    pub fn blind_item(&self) -> Option<&BlindItem> {
        let tag = &self.scan()?.document().reading.scan.file;
        self.blind.as_ref()?.item(tag)
    }

    /// The day on which the birthday rule is applied: the day of capture; in a blind list the middle of its month in a
    /// year that says nothing, where the list shows the month.
    pub fn captured(&self) -> Option<Date> {
        match &self.blind {
            None => self.fish()?.captured,
            Some(_) => Date::new(2001, self.blind_item()?.capture_month?, 15).ok(),
        }
    }

    /// True for what may be asked while a blind list is open. What is not named here is refused: other desks, other
    /// readers, pixel sizes, exports and whatever is added later.
    pub fn is_free(&self, action: &Action) -> bool {
        use crate::marking::command::Command;
        if self.blind.is_none() && self.opening_blind.is_none() {
            return true;
        }
        match action {
            Action::Do(verb) => verb.is_free_while_blind(),
            Action::Edit(command) => !matches!(
                command,
                Command::SetCalibration(_)
                    | Command::AddImpression { .. }
                    | Command::SetBounds { .. }
                    | Command::SetFish { .. }
            ),
            Action::SelectScan(_)
            | Action::Select(_)
            | Action::StateAge(_)
            | Action::ChooseOutcome(_)
            | Action::Dismiss(_) => true,
            Action::Lists(asked) => asked.is_free_while_blind(),
            _ => false,
        }
    }

    /// Says why something is shut.
    pub(super) fn refuse_while_blind(&mut self) {
        self.notices.say("not while a blind list is open: leave the list first");
    }

    /// Opens a list; the survey on show is let go at once.
    pub(super) fn open_blind_list(&mut self, source: BlindSource) {
        let Some(reader) = self.reader.clone() else {
            self.notices.say("type your initials first: they name the file your readings go to");
            return;
        };
        self.forget_everything();
        let work = move |_: &_| {
            opened(&source, &reader)
                .map(|(session, survey)| (session, source.clone(), survey))
                .map_err(|error| masked(&error, &source))
        };
        match Job::start("open the blind list", &self.wake, work) {
            Ok(job) => self.opening_blind = Some(job),
            Err(error) => self.notices.report(format!("cannot open the blind list: {error}")),
        }
    }

    /// Nothing of the survey before stays: no scan, no desk, no message, nothing decoded or proposed ahead.
    fn forget_everything(&mut self) {
        self.close_scan();
        self.forget_batch();
        self.survey = None;
        self.blind = None;
        self.opening_survey = None;
        self.filing = None;
        self.failed_place = None;
        self.comparing = None;
        self.exporting = None;
        self.recalibrating = None;
        self.notices = Notices::default();
        self.ahead = super::session_ahead::Ahead::default();
        self.lengths = super::session_lengths::LengthsDesk::default();
        self.growth = super::session_growth::GrowthDesk::default();
        self.report.forget();
        self.import.forget();
        self.lists = super::session_lists::ListsDesk::default();
        self.desk = Desk::Read;
    }

    pub(super) fn poll_blind(&mut self) {
        let Some(job) = &self.opening_blind else { return };
        let result = match job.poll() {
            Polled::Pending => return,
            Polled::Done(result) => result,
            Polled::Lost => Err("opening the blind list broke off".to_owned()),
        };
        self.opening_blind = None;
        match result {
            Ok((session, source, survey)) => self.take_blind(session, source, survey),
            Err(error) => self.notices.report(error),
        }
    }

    fn take_blind(&mut self, session: BlindSession, source: BlindSource, survey: Survey) {
        if let Some(notice) = session.notice() {
            self.notices.report(masked(notice, &source));
        }
        let (done, all) = session.progress();
        let name = session.list().clone();
        self.notices.say(format!("blind list {name} is open: {done} of {all} read"));
        self.survey = Some(masked_survey(&session, &survey));
        self.blind = Some(OpenBlind {
            source,
            list: name,
            shows_proposals: session.shows_proposals(),
            items: session.items().to_vec(),
            pictures: session.pictures(),
            session: Arc::new(Mutex::new(session)),
        });
        self.open_first_unread();
    }

    /// Goes back to the survey the list belongs to; a pack leaves nothing open.
    pub(super) fn leave_blind(&mut self) {
        let Some(blind) = self.blind.take() else { return };
        self.forget_everything();
        match blind.source {
            BlindSource::Survey(folder, _) => self.open_survey(folder),
            BlindSource::Pack(_) => self.notices.say("the blind list is closed here"),
        }
    }

    /// What opens a tag, on any thread.
    pub(super) fn tag_opener(
        &self,
        tag: &str,
    ) -> Option<impl FnOnce() -> Result<OpenedTag, String> + Send + 'static> {
        let (blind, reader) = (self.blind.as_ref()?, self.reader.clone()?);
        let (pictures, session) = (blind.pictures(), Arc::clone(&blind.session));
        let (tag, list) = (tag.to_owned(), blind.list.to_string());
        let item = blind.item(&tag).cloned();
        // Where the list does not tell the structure the marks are called by the words for scales.
        let structure = item.as_ref().and_then(|item| item.structure).unwrap_or(Structure::Scale);
        let light = item.and_then(|item| item.light);
        Some(move || {
            let raster = pictures.open(&tag).map_err(|error| error.to_string())?;
            let session = session.lock().unwrap_or_else(PoisonError::into_inner);
            let mut one = session.reading(&tag).cloned().unwrap_or_else(|| {
                let mut fresh = ImpressionReading::new(1, tag.clone(), structure);
                fresh.light = light;
                fresh.started = Some(Timestamp::now());
                fresh
            });
            one.fish.clone_from(&tag);
            one.conditions.blind_list = Some(list);
            let scan = ScanIdentity {
                file: tag,
                width_px: u32::try_from(raster.width()).unwrap_or(u32::MAX),
                height_px: u32::try_from(raster.height()).unwrap_or(u32::MAX),
                blake3: String::new(),
            };
            let reading = ScanReading { scan, reader, calibration: None, impressions: vec![one] };
            let on_disk =
                session.fingerprint().filter(|_| session.reading(&reading.scan.file).is_some());
            Ok(OpenedTag { raster, document: Document::new(reading), on_disk })
        })
    }
}

fn opened(source: &BlindSource, reader: &ReaderInitials) -> Result<(BlindSession, Survey), String> {
    match source {
        BlindSource::Survey(folder, list) => {
            let survey = OpenSurvey::open(folder).map_err(|error| error.to_string())?;
            let known = &survey.survey.readers;
            if !known.is_empty() && !known.contains(reader) {
                return Err(format!(
                    "{reader} is not among the readers of this survey: use your own initials, or have the lead add them"
                ));
            }
            // What cannot be filed is told at the next ordinary opening: it may name fish.
            _ = file_closed_lists(folder, reader);
            let session = open_blind(&survey, list, reader).map_err(|error| error.to_string())?;
            Ok((session, survey.survey))
        }
        BlindSource::Pack(file) => {
            let session = open_blind_pack(file, reader).map_err(|error| error.to_string())?;
            Ok((session, Survey::new("", "", Structure::Scale)))
        }
    }
}
