//! The workbench: what is open, what is under way, and the one door through which anything changes.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::domain::fish::Fish;
use crate::domain::progress::Progress;
use crate::domain::reading::ReaderInitials;

use super::action::{Action, Desk, Verb};
use super::job::{Job, Wake};
use super::notices::Notices;
use super::session::{Opening, SurveySession, Wanted};
use super::session_agree::AgreeDesk;
use super::session_ahead::Ahead;
use super::session_batch::{Batch, Waiting};
use super::session_blind::{OpenBlind, OpeningBlind};
use super::session_growth::GrowthDesk;
use super::session_import::ImportDesk;
use super::session_lengths::LengthsDesk;
use super::session_list::Filing;
use super::session_lists::ListsDesk;
use super::session_practice::Practice;
use super::session_propose::ProposeFn;
use super::session_recalibrate::Recalibrating;
use super::session_report::{ReportDesk, ViewFn};
use super::session_save::{Pending, SaveFn, Saving};
use super::session_scan::OpenScan;
use crate::proposing::Request;
use crate::proposing::again::Again;
use crate::store::sidecar::save_reading;

/// What the workbench has done for it, so that a test can put its own in place.
#[derive(Clone)]
pub struct Services {
    /// Looks for annuli.
    pub propose: ProposeFn,
    /// Writes a reading.
    pub save: SaveFn,
    /// Opens a file in the system's viewer.
    pub view: ViewFn,
}

impl Services {
    /// The program's own, with what looks for annuli.
    pub fn new(propose: ProposeFn) -> Self {
        let save: SaveFn = Arc::new(|folder, reader, reading, expected| {
            save_reading(folder, reader, reading, expected)
        });
        let view: ViewFn = Arc::new(|file| open::that(file).map_err(|error| error.to_string()));
        Self { propose, save, view }
    }
}

impl Default for Services {
    fn default() -> Self {
        // An axis moved on the open scan is looked along again without making the scan ready once more.
        let again = Again::default();
        Self::new(Arc::new(move |request: &Request<'_>, progress: &Progress| {
            again.propose(request, progress)
        }))
    }
}

/// Everything the program knows, short of how to show it. Never waits, except in [`Workbench::finish_saving`].
pub struct Workbench {
    pub(super) wake: Wake,
    pub(super) services: Services,
    pub(super) desk: Desk,
    pub(super) reader: Option<ReaderInitials>,
    pub(super) survey: Option<SurveySession>,
    pub(super) opening_survey: Option<Job<Result<SurveySession, String>>>,
    pub(super) is_drawing_demo: bool,
    pub(super) opening: Option<Opening>,
    pub(super) failed_place: Option<usize>,
    pub(super) scan: Option<OpenScan>,
    pub(super) saving: Option<Saving>,
    pub(super) pending: Option<Pending>,
    pub(super) is_ready_to_close: bool,
    pub(super) notices: Notices,
    pub(super) lengths: LengthsDesk,
    pub(super) growth: GrowthDesk,
    pub(super) report: ReportDesk,
    pub(super) import: ImportDesk,
    pub(super) ahead: Ahead,
    pub(super) batch: Option<Batch>,
    pub(super) waiting: Waiting,
    /// Comparing a first radius with the sample's: gives words where it is far off.
    pub(super) comparing: Option<Job<Option<String>>>,
    pub(super) exporting: Option<Job<Result<PathBuf, String>>>,
    pub(super) practice: Option<Practice>,
    pub(super) last_card: Option<PathBuf>,
    pub(super) wanted: Option<Wanted>,
    /// Filing what a closed blind list holds of a reader who has just said who they are.
    pub(super) filing: Option<Job<Filing>>,
    pub(super) blind: Option<OpenBlind>,
    pub(super) opening_blind: Option<OpeningBlind>,
    pub(super) lists: ListsDesk,
    pub(super) agree: AgreeDesk,
    pub(super) recalibrating: Option<Recalibrating>,
}

impl Workbench {
    /// A workbench with nothing open. `wake` is called from other threads when [`Workbench::poll`] has something to do.
    pub fn new(services: Services, wake: Wake) -> Self {
        Self {
            wake,
            services,
            desk: Desk::default(),
            reader: None,
            survey: None,
            opening_survey: None,
            is_drawing_demo: false,
            opening: None,
            failed_place: None,
            scan: None,
            saving: None,
            pending: None,
            is_ready_to_close: false,
            notices: Notices::default(),
            lengths: LengthsDesk::default(),
            growth: GrowthDesk::default(),
            report: ReportDesk::default(),
            import: ImportDesk::default(),
            ahead: Ahead::default(),
            batch: None,
            waiting: Waiting::new(),
            comparing: None,
            exporting: None,
            practice: None,
            last_card: None,
            wanted: None,
            filing: None,
            blind: None,
            opening_blind: None,
            lists: ListsDesk::default(),
            agree: AgreeDesk::default(),
            recalibrating: None,
        }
    }

    /// Does what is asked, or says why not.
    pub fn perform(&mut self, action: Action) {
        if !self.is_free(&action) {
            self.refuse_while_blind();
            return;
        }
        match action {
            Action::Do(verb) => self.do_verb(verb),
            Action::Open(folder) => self.after_saving(Pending::Survey(folder)),
            Action::OpenScan(folder, scan) => {
                self.wanted = Some(Wanted { scan, is_asked_for: true });
                self.after_saving(Pending::Survey(folder));
            }
            Action::StartSurvey(new) => self.after_saving(Pending::Start(new)),
            Action::SetReader(text) => match ReaderInitials::new(text.trim()) {
                Ok(_) if self.practice.is_some() => {
                    self.notices.say("leave practice before another reader goes on");
                }
                Ok(reader) => self.after_saving(Pending::Reader(reader)),
                Err(error) => self.notices.report(error.to_string()),
            },
            Action::SelectScan(place) => self.after_saving(Pending::Scan(place)),
            Action::SelectImpression(number) => {
                if let Some(scan) = &mut self.scan {
                    scan.turn_to(number);
                }
                self.start_first_proposal();
            }
            Action::Edit(command) => self.edit(&command),
            Action::Slide(action) => self.do_slide(action),
            Action::Select(handle) => {
                if let Some(scan) = &mut self.scan {
                    scan.selected = handle;
                    scan.keep_selection_valid();
                }
            }
            Action::StateAge(age) => {
                if let Some(scan) = self.scan.as_mut().filter(|scan| scan.is_draft()) {
                    scan.stated_age = age;
                }
            }
            Action::ChooseOutcome(outcome) => self.choose_outcome(outcome),
            Action::SetLengths(request) => self.set_lengths(request),
            Action::SetAgesFrom(from) => self.set_ages_from(from),
            Action::Growth(action) => self.do_growth(action),
            Action::Report(action) => self.do_report(action),
            Action::Import(action) => self.do_import(action),
            Action::Dismiss(number) => self.notices.dismiss(number),
            Action::Lists(asked) => self.do_lists(asked),
            Action::Agree(asked) => self.do_agree(asked),
        }
    }

    /// Takes in what has finished and starts what is due. To be called once a frame; never waits.
    pub fn poll(&mut self) {
        self.poll_survey();
        self.poll_opening();
        self.poll_boxes();
        self.poll_proposal();
        self.poll_evidence();
        self.poll_saving();
        self.poll_lengths();
        self.poll_growth();
        self.poll_report();
        self.poll_import();
        self.poll_ahead();
        self.poll_batch();
        self.poll_first();
        self.poll_export();
        self.poll_filing();
        self.poll_blind();
        self.poll_lists();
        self.poll_agree();
        self.poll_recalibrating();
    }

    /// The desk on show.
    pub fn desk(&self) -> Desk {
        self.desk
    }

    /// Who reads.
    pub fn reader(&self) -> Option<&ReaderInitials> {
        self.reader.as_ref()
    }

    /// The open survey.
    pub fn survey(&self) -> Option<&SurveySession> {
        self.survey.as_ref()
    }

    /// The open scan.
    pub fn scan(&self) -> Option<&OpenScan> {
        self.scan.as_ref()
    }

    /// The place on the list of the scan that is open or being opened.
    pub fn place(&self) -> Option<usize> {
        let opening = self.opening.as_ref().map(|opening| opening.place);
        opening.or_else(|| self.scan.as_ref().map(OpenScan::place)).or(self.failed_place)
    }

    /// True while a survey or scan is read from disk.
    pub fn is_opening(&self) -> bool {
        self.opening.is_some() || self.opening_survey.is_some() || self.opening_blind.is_some()
    }

    /// The fish of the impression being read, where it is on the field sheet.
    pub fn fish(&self) -> Option<&Fish> {
        let key = &self.scan.as_ref()?.reading()?.fish;
        self.survey.as_ref()?.fish(key)
    }

    /// What there is to tell the reader.
    pub fn notices(&self) -> &Notices {
        &self.notices
    }

    /// Puts a problem of the window's own before the reader, such as settings that cannot be read.
    pub fn report(&mut self, problem: impl Into<String>) {
        self.notices.report(problem);
    }

    /// Says what the window itself has done.
    pub fn say(&mut self, words: impl Into<String>) {
        self.notices.say(words);
    }

    /// The lengths desk.
    pub fn lengths(&self) -> &LengthsDesk {
        &self.lengths
    }

    /// Progress of the work that can be stopped, with its name.
    pub fn running(&self) -> Option<(&'static str, &Progress)> {
        if let Some(job) = self.opening_survey.as_ref().filter(|_| self.is_drawing_demo) {
            return Some(("Drawing the demo survey", job.progress()));
        }
        let proposing = self.scan.as_ref().and_then(|scan| scan.proposing.as_ref());
        if let (None, Some(batch)) = (proposing, &self.batch) {
            return Some(("Looking for annuli on unread scans", batch.progress()));
        }
        if let (None, Some(progress)) = (proposing, self.growth.working()) {
            return Some(("Working out growth", progress));
        }
        if let (None, Some(job)) = (proposing, &self.recalibrating) {
            return Some(("Working out probabilities from confirmed readings", job.progress()));
        }
        if let (None, Some(found)) = (proposing, self.report.running()) {
            return Some(found);
        }
        proposing.map(|job| ("Looking for annuli", job.progress()))
    }

    /// The verb that stops what [`Workbench::running`] names.
    pub fn stop_verb(&self) -> Verb {
        let is_nearer =
            self.is_drawing_demo || self.scan.as_ref().is_some_and(OpenScan::is_proposing);
        if self.batch.is_some() && !is_nearer { Verb::StopUnread } else { Verb::CancelJob }
    }

    /// Asks to close: true once all edits are on disk. Otherwise they are being written; ask again after a poll.
    pub fn is_closable(&mut self) -> bool {
        if self.scan.as_ref().is_none_or(|scan| !scan.is_unsaved()) && self.saving.is_none() {
            return true;
        }
        if self.pending != Some(Pending::Close) {
            self.after_saving(Pending::Close);
        }
        self.is_ready_to_close
    }

    /// Goes back to a scan when the next survey is opened, unless it is confirmed by then.
    pub fn come_back_to(&mut self, scan: Option<String>) {
        self.wanted = scan.map(|scan| Wanted { scan, is_asked_for: false });
    }

    /// The path of the survey that is open; none while a blind list is.
    pub fn folder(&self) -> Option<&Path> {
        let survey =
            self.survey.as_ref().filter(|_| self.blind.is_none() && self.practice.is_none());
        survey.map(SurveySession::folder)
    }
}
