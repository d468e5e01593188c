//! The open survey: its reading list, and opening its scans.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::Timestamp;

use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::fish::Fish;
use crate::domain::progress::Progress;
use crate::domain::reading::{ImpressionReading, ReaderInitials, ScanIdentity, ScanReading};
use crate::domain::survey::Survey;
use crate::imaging::decode::Limits;
use crate::imaging::decode::watch::Watch;
use crate::imaging::overview::Overview;
use crate::imaging::raster::Raster;
use crate::imaging::resolution::Resolution;
use crate::marking::document::Document;
use crate::simulate::truth::PictureTruth;
use crate::store::collection::OpenSurvey;
use crate::store::fingerprint::Fingerprint;
use crate::store::sidecar::{LoadedSidecar, OpenedSidecar, open_sidecar};

use super::demo_survey::build_demo_survey;
use super::job::{Job, Polled};
use super::recalibrate::OwnLines;
use super::session_ahead::Picture;
use super::session_blind::OpenedTag;
use super::session_list::{filed, is_doubtful, reading_list};
use super::session_save::ListState;
use super::session_scan::OpenScan;
use super::session_slide::siblings;
use super::start_survey::{NewSurvey, start_survey};
use super::workbench::Workbench;

/// One line of the reading list: a scan and the fish on it.
#[derive(Debug, Clone, PartialEq)]
pub struct ListEntry {
    /// File name of the scan.
    pub scan: String,
    /// The fish on it by the field sheet, in the order of its rows.
    pub fish: Vec<Fish>,
    /// How far this reader is with it.
    pub state: ListState,
    /// A mark of this reader's is doubtful, or their confidence in a reading is poor.
    pub is_doubtful: bool,
    /// Confirmed readings of several readers differ here and nothing is decided. Never told in a blind list.
    pub is_disputed: bool,
}

impl ListEntry {
    /// What the list calls it: the fish numbers, or the file name where no fish is known.
    pub fn title(&self) -> String {
        let numbers: Vec<&str> = self.fish.iter().map(|fish| fish.number.as_str()).collect();
        if numbers.is_empty() { self.scan.clone() } else { numbers.join(", ") }
    }
}

/// A reading of the same fish on another scan.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sibling {
    pub(super) scan: String,
    pub(super) place: usize,
    pub(super) reading: ImpressionReading,
}

/// The scan to open first when a survey opens.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wanted {
    pub(super) scan: String,
    /// Asked for by name, so opened though it be confirmed.
    pub(super) is_asked_for: bool,
}

/// A survey that is open.
#[derive(Debug, Clone)]
pub struct SurveySession {
    pub(super) folder: PathBuf,
    pub(super) files: Arc<OpenSurvey>,
    pub(super) entries: Vec<ListEntry>,
    /// What was in the way of filing closed blind lists.
    pub(super) filing_problems: Vec<String>,
    /// What its own readings say of the program's probabilities.
    pub(super) own_lines: OwnLines,
}

impl SurveySession {
    /// Its folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Its settings.
    pub fn survey(&self) -> &Survey {
        &self.files.survey
    }

    /// The reading list.
    pub fn entries(&self) -> &[ListEntry] {
        &self.entries
    }

    /// Confirmed scans, and scans in all.
    pub fn progress(&self) -> (usize, usize) {
        let done = self.entries.iter().filter(|entry| entry.state == ListState::Confirmed).count();
        (done, self.entries.len())
    }

    /// The fish with a key, if it is on the field sheet.
    pub fn fish(&self, key: &str) -> Option<&Fish> {
        self.files.fish.iter().find(|fish| fish.key == key)
    }

    /// Takes over how far a reader is with a scan from what was just written.
    pub(super) fn set_reading(&mut self, place: usize, reading: &ScanReading) {
        if let Some(entry) = self.entries.get_mut(place) {
            entry.state = ListState::of(reading);
            entry.is_doubtful = is_doubtful(reading);
        }
    }
}

/// A scan on its way from disk.
pub(super) struct Opening {
    pub(super) place: usize,
    pub(super) job: Job<Result<Box<Opened>, String>>,
    /// What is there of its picture; none for a picture of a blind list.
    pub(super) watch: Option<Watch>,
}

pub(super) struct Opened {
    pub(super) raster: Arc<Raster>,
    pub(super) resolution: Option<Resolution>,
    pub(super) document: Document,
    pub(super) on_disk: Option<Fingerprint>,
    pub(super) warning: Option<String>,
    pub(super) siblings: Vec<Sibling>,
    pub(super) truth: Option<Box<PictureTruth>>,
}

impl From<OpenedTag> for Opened {
    fn from(tag: OpenedTag) -> Self {
        let OpenedTag { raster, document, on_disk } = tag;
        Self {
            raster: Arc::new(raster),
            resolution: None,
            document,
            on_disk,
            warning: None,
            siblings: Vec::new(),
            truth: None,
        }
    }
}

impl Workbench {
    pub(super) fn open_survey(&mut self, folder: PathBuf) {
        self.close_scan();
        let (reader, shown) = (self.reader.clone(), folder.display().to_string());
        self.is_drawing_demo = false;
        self.start_opening(format!("opening {shown}"), move |_| session(folder, reader.as_ref()));
    }

    pub(super) fn open_new_survey(&mut self, new: NewSurvey) {
        self.close_scan();
        let reader = self.reader.clone();
        self.is_drawing_demo = false;
        self.start_opening("starting the survey".to_owned(), move |progress| {
            let folder = start_survey(&new, progress)?;
            session(folder, reader.as_ref())
        });
    }

    /// Draws the demo survey in the folder the program was started in, or finds it there, and opens it.
    pub(super) fn open_demo(&mut self) {
        self.close_scan();
        let reader = self.reader.clone();
        self.is_drawing_demo = true;
        self.start_opening("drawing the demo survey".to_owned(), move |progress| {
            let here = std::env::current_dir().map_err(|error| {
                format!("the folder the program was started in cannot be used: {error}")
            })?;
            let built = build_demo_survey(&here.join(DEMO_FOLDER), progress);
            session(built.map_err(|error| error.to_string())?.folder, reader.as_ref())
        });
    }

    fn start_opening(
        &mut self,
        words: String,
        work: impl FnOnce(&Progress) -> Result<SurveySession, String> + Send + 'static,
    ) {
        self.filing = None;
        match Job::start("open the survey", &self.wake, work) {
            Ok(job) => {
                self.opening_survey = Some(job);
                self.notices.say(words);
            }
            Err(error) => self.notices.report(format!("cannot open the survey: {error}")),
        }
    }

    pub(super) fn poll_survey(&mut self) {
        let Some(job) = &self.opening_survey else { return };
        let result = match job.poll() {
            Polled::Pending => return,
            Polled::Done(result) => result,
            Polled::Lost => Err("opening the survey broke off".to_owned()),
        };
        self.opening_survey = None;
        self.is_drawing_demo = false;
        match result {
            Ok(survey) => self.take_survey(survey),
            Err(error) => self.notices.report(error),
        }
    }

    fn take_survey(&mut self, survey: SurveySession) {
        let (scans, name) = (survey.entries.len(), survey.survey().name.clone());
        self.notices.say(format!("{name} is open: {scans} scans"));
        for problem in survey.files.problems.iter().filter(|problem| problem.is_error()).take(5) {
            self.notices.report(problem.to_string());
        }
        let only_reader = match survey.survey().readers.as_slice() {
            [only] if self.reader.is_none() => Some(only.clone()),
            _ => None,
        };
        if let Some(reader) = self.practice.take().map(|practice| practice.reader_before()) {
            self.reader = reader;
        }
        if self.blind.take().is_some() {
            self.notices.say(format!("{name} is open"));
        }
        for problem in &survey.filing_problems {
            self.notices.report(problem.clone());
        }
        if self.survey.as_ref().is_none_or(|before| before.folder != survey.folder) {
            self.report.forget();
        }
        let files = Arc::clone(&survey.files);
        self.survey = Some(survey);
        self.import.forget();
        self.offer_matching(&files);
        self.forget_batch();
        self.recalibrating = None;
        self.lengths_are_stale();
        self.lists_are_stale();
        self.agree_is_stale();
        match only_reader {
            Some(reader) => self.take_reader(reader),
            None => self.open_first_unread(),
        }
    }

    /// From now on `reader` reads; the list shows how far they are.
    pub(super) fn take_reader(&mut self, reader: ReaderInitials) {
        self.close_scan();
        if let Some(survey) = &mut self.survey {
            let known = &survey.survey().readers;
            if !known.is_empty() && !known.contains(&reader) {
                let names: Vec<&str> = known.iter().map(ReaderInitials::as_str).collect();
                let names = names.join(", ");
                self.notices.report(format!(
                    "{reader} is not among the readers of this survey ({names}): use one of these, or add {reader} to survey.json"
                ));
                return;
            }
            let (files, folder, who) =
                (Arc::clone(&survey.files), survey.folder.clone(), reader.clone());
            let work = move |_: &Progress| filed(&files, &folder, &who);
            self.filing = Job::start("file closed lists", &self.wake, work).ok();
        }
        self.notices.say(format!("reader {reader}"));
        self.reader = Some(reader);
    }

    pub(super) fn open_first_unread(&mut self) {
        if let (Some(survey), Some(_)) = (&self.survey, &self.reader) {
            let unread = survey.entries.iter().position(|e| e.state != ListState::Confirmed);
            let wanted = self.wanted.take();
            let is_wanted = |entry: &ListEntry| {
                wanted.as_ref().is_some_and(|wanted| {
                    entry.scan == wanted.scan
                        && (wanted.is_asked_for || entry.state != ListState::Confirmed)
                })
            };
            let unread = survey.entries.iter().position(is_wanted).or(unread);
            if !survey.entries.is_empty() {
                self.open_scan(unread.unwrap_or(0));
            }
        }
    }

    pub(super) fn close_scan(&mut self) {
        self.scan = None;
        self.opening = None;
    }

    pub(super) fn open_scan(&mut self, place: usize) {
        self.close_scan();
        if self.practice.is_some() {
            self.open_practice(place);
            return;
        }
        let (Some(survey), Some(reader)) = (&self.survey, &self.reader) else {
            self.notices.say("type your initials first: they name the file your readings go to");
            return;
        };
        let Some(entry) = survey.entries.get(place).cloned() else { return };
        let title = entry.title();
        if let Some(open) = self.tag_opener(&entry.scan) {
            let work = move |_: &_| open().map(|tag| Box::new(Opened::from(tag)));
            self.start_scan(place, &title, None, work);
            return;
        }
        let (folder, files, reader) =
            (survey.folder.clone(), Arc::clone(&survey.files), reader.clone());
        let others = other_scans(survey.entries(), place, &entry);
        let path = folder.join(crate::store::file_name::SCANS_FOLDER).join(&entry.scan);
        let known = self.ahead.find(&path);
        let wake = Arc::clone(&self.wake);
        let watch = Watch::new(move || wake());
        let shown = watch.clone();
        let work = move |progress: &Progress| {
            let picture = match known.filter(|known| known.is_current(&path)) {
                Some(known) => known,
                None => {
                    let watch = watch.stopped_by(progress);
                    Arc::new(Picture::read(&path, &Limits::default(), &watch)?)
                }
            };
            let mut opened = load_scan(&folder, &files.survey, &entry, &reader, &picture)?;
            let keys: Vec<String> = entry.fish.iter().map(|fish| fish.key.clone()).collect();
            opened.siblings = siblings(&folder, &reader, &keys, &others);
            Ok(Box::new(opened))
        };
        self.start_scan(place, &title, Some(shown), work);
    }

    fn start_scan(
        &mut self,
        place: usize,
        title: &str,
        watch: Option<Watch>,
        work: impl FnOnce(&Progress) -> Result<Box<Opened>, String> + Send + 'static,
    ) {
        match Job::start("open the scan", &self.wake, work) {
            Ok(job) => {
                self.opening = Some(Opening { place, job, watch });
                self.notices.say(format!("opening {title}"));
            }
            Err(error) => self.notices.report(format!("cannot open the scan: {error}")),
        }
    }

    /// What is there by now of the picture of the scan that is being opened. Never of a blind list.
    pub fn arriving(&self) -> Option<Overview> {
        self.opening.as_ref()?.watch.as_ref()?.overview()
    }

    pub(super) fn poll_opening(&mut self) {
        let Some(opening) = &self.opening else { return };
        let result = match opening.job.poll() {
            Polled::Pending => return,
            Polled::Done(result) => result,
            Polled::Lost => Err("opening the scan broke off: the file may be damaged".to_owned()),
        };
        let place = opening.place;
        self.opening = None;
        match result {
            Ok(opened) => {
                let Opened { raster, resolution, document, on_disk, warning, siblings, truth } =
                    *opened;
                if let Some(warning) = warning {
                    self.notices.report(warning);
                }
                let mut scan = OpenScan::new(place, raster, document, on_disk);
                scan.resolution = resolution;
                scan.siblings = siblings;
                scan.truth = truth;
                self.scan = Some(scan);
                self.notices.say("scan open");
                if self.needs_boxes() {
                    self.find_boxes();
                } else if !self.show_waiting() {
                    self.start_first_proposal();
                }
            }
            Err(error) => {
                self.failed_place = Some(place);
                self.notices.report(error);
            }
        }
    }
}

/// Folder of the demo survey, as the command line names it.
const DEMO_FOLDER: &str = "maple-hollow-2025";

fn session(folder: PathBuf, reader: Option<&ReaderInitials>) -> Result<SurveySession, String> {
    let files = OpenSurvey::open(&folder).map_err(|error| error.to_string())?;
    let (entries, filing_problems) = match reader {
        Some(reader) => {
            let filing = filed(&files, &folder, reader);
            (filing.entries, filing.problems)
        }
        None => (reading_list(&files, &folder, None), Vec::new()),
    };
    let own_lines = OwnLines::kept_in(&folder);
    Ok(SurveySession { folder, files: Arc::new(files), entries, filing_problems, own_lines })
}

/// Places and names of the other scans of the fish on a scan.
fn other_scans(entries: &[ListEntry], here: usize, entry: &ListEntry) -> Vec<(usize, String)> {
    let shares = |other: &ListEntry| {
        other.fish.iter().any(|fish| entry.fish.iter().any(|mine| mine.key == fish.key))
    };
    let others = entries.iter().enumerate().filter(|(place, _)| *place != here);
    others.filter(|(_, other)| shares(other)).map(|(at, other)| (at, other.scan.clone())).collect()
}

fn load_scan(
    folder: &Path,
    survey: &Survey,
    entry: &ListEntry,
    reader: &ReaderInitials,
    picture: &Picture,
) -> Result<Opened, String> {
    let scan = ScanIdentity {
        file: entry.scan.clone(),
        width_px: u32::try_from(picture.raster.width()).unwrap_or(u32::MAX),
        height_px: u32::try_from(picture.raster.height()).unwrap_or(u32::MAX),
        blake3: picture.blake3.clone(),
    };
    let resolution = picture.resolution;
    let opened = open_sidecar(folder, &entry.scan, reader).map_err(|error| error.to_string())?;
    let (reading, on_disk, warning) = match opened {
        OpenedSidecar::Loaded(loaded) => earlier_reading(*loaded, &scan),
        OpenedSidecar::New => (fresh_reading(scan, survey, entry, reader, resolution), None, None),
        OpenedSidecar::SetAside { message, .. } => {
            (fresh_reading(scan, survey, entry, reader, resolution), None, Some(message))
        }
    };
    let (raster, document) = (Arc::clone(&picture.raster), Document::new(reading));
    Ok(Opened { raster, resolution, document, on_disk, warning, siblings: Vec::new(), truth: None })
}

fn earlier_reading(
    loaded: LoadedSidecar,
    scan: &ScanIdentity,
) -> (ScanReading, Option<Fingerprint>, Option<String>) {
    let mut warning = None;
    if loaded.is_read_only() {
        warning = Some(format!(
            "{} was written by a newer program: it can be looked at, not changed",
            loaded.path.display()
        ));
    } else if loaded.reading.scan.blake3 != scan.blake3 {
        warning = Some(format!(
            "the scan {} has changed since it was read: check every mark before you confirm",
            scan.file
        ));
    }
    (current(&loaded.reading), Some(loaded.fingerprint), warning)
}

/// The reading as the reader goes on with it: a draft in place of the confirmed reading it will replace.
pub(super) fn current(reading: &ScanReading) -> ScanReading {
    // A document keeps the draft; the confirmed reading stays in the sidecar until it is replaced.
    let mut reading = Document::new(reading.clone()).reading;
    reading.impressions.sort_by_key(|impression| impression.number);
    reading
}

fn fresh_reading(
    scan: ScanIdentity,
    survey: &Survey,
    entry: &ListEntry,
    reader: &ReaderInitials,
    resolution: Option<Resolution>,
) -> ScanReading {
    let keys = if entry.fish.is_empty() {
        vec![String::new()]
    } else {
        entry.fish.iter().map(|fish| fish.key.clone()).collect()
    };
    let impressions = (1..).zip(keys).map(|(number, key)| {
        let mut impression = ImpressionReading::new(number, key, survey.structure);
        impression.light = survey.light;
        impression.started = Some(Timestamp::now());
        impression
    });
    ScanReading {
        scan,
        reader: reader.clone(),
        calibration: calibration(survey, resolution),
        impressions: impressions.collect(),
    }
}

/// The file's own resolution where it is a measurement, else the survey's default.
pub(super) fn calibration(survey: &Survey, resolution: Option<Resolution>) -> Option<Calibration> {
    let tag = resolution.filter(|resolution| !resolution.common_default);
    let of = |um_per_px: Option<[f64; 2]>, source| {
        um_per_px.and_then(|[x, y]| Calibration::new(x, y, source).ok())
    };
    of(tag.map(|resolution| resolution.um_per_px), CalibrationSource::FileTag)
        .or_else(|| of(survey.default_um_per_px, CalibrationSource::Survey))
}
