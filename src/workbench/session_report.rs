//! The Report desk: what is asked of the report, what it will hold, writing it, and what was written.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::domain::progress::Progress;
use crate::report::survey_report::Chapter;

use super::job::{Job, Polled};
use super::report_contents::{ReportContents, report_contents};
use super::report_files::{FilesWanted, WrittenReport, usual_folder, write_report};
use super::report_request::ReportRequest;
use super::survey_report::{ReportError, gather_report};
use super::workbench::Workbench;

/// Opens a file in the system's own viewer, or says why it cannot. May take as long as the system likes.
pub type ViewFn = Arc<dyn Fn(&Path) -> Result<(), String> + Send + Sync>;

/// Something asked on the Report desk.
#[derive(Debug, Clone, PartialEq)]
pub enum ReportAction {
    /// Says what is asked of the report.
    Ask(Box<ReportRequest>),
    /// Says where the files go; `None`: the results of the survey.
    Into(Option<PathBuf>),
    /// Says which files are wanted.
    Want(FilesWanted),
    /// Writes them.
    Write,
    /// Opens a file that was written.
    View(PathBuf),
}

/// What was found out about the report to come; `None` where someone asked to stop.
type Looked = Option<Result<ReportContents, String>>;

/// State of the Report desk.
pub struct ReportDesk {
    request: ReportRequest,
    folder: Option<PathBuf>,
    wanted: FilesWanted,
    contents: Option<Result<ReportContents, String>>,
    written: Option<WrittenReport>,
    /// What the contents on show, or on their way, were asked for with.
    looked_for: Option<ReportRequest>,
    looking: Option<Job<Looked>>,
    writing: Option<Job<Result<WrittenReport, ReportError>>>,
    viewing: Option<Job<Result<(), String>>>,
}

impl Default for ReportDesk {
    fn default() -> Self {
        Self {
            request: ReportRequest::default(),
            folder: None,
            wanted: FilesWanted::REPORT,
            contents: None,
            written: None,
            looked_for: None,
            looking: None,
            writing: None,
            viewing: None,
        }
    }
}

impl ReportDesk {
    /// What is asked of the report now.
    pub fn request(&self) -> &ReportRequest {
        &self.request
    }

    /// The folder asked for; `None`: the results of the survey.
    pub fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// Which files are wanted.
    pub fn wanted(&self) -> FilesWanted {
        self.wanted
    }

    /// What the report will hold, or why there is none; stays on show while it is looked at anew.
    pub fn contents(&self) -> Option<Result<&ReportContents, &str>> {
        self.contents.as_ref().map(|found| found.as_ref().map_err(String::as_str))
    }

    /// True while what it will hold is worked out.
    pub fn is_looking(&self) -> bool {
        self.looking.is_some()
    }

    /// Progress while it is written.
    pub fn writing(&self) -> Option<&Progress> {
        self.writing.as_ref().map(Job::progress)
    }

    /// What was written last, while this survey is open.
    pub fn written(&self) -> Option<&WrittenReport> {
        self.written.as_ref()
    }

    /// Progress of whatever can be stopped, with its name.
    pub(super) fn running(&self) -> Option<(&'static str, &Progress)> {
        let looking = || {
            let job = self.looking.as_ref()?;
            Some(("Looking at what the report will hold", job.progress()))
        };
        self.writing().map(|progress| ("Writing the report", progress)).or_else(looking)
    }

    /// Asks what runs to stop; true where something did. Writing answers for itself whether it was in time.
    pub(super) fn stop(&mut self) -> bool {
        if let Some(progress) = self.writing() {
            progress.stop();
            return true;
        }
        self.looking.take().is_some()
    }

    /// Another survey is open: what was said of the last one goes, what was asked of its report as well.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }

    /// Readings, decisions or settings have changed.
    pub(super) fn is_stale(&mut self) {
        self.looked_for = None;
        self.looking = None;
    }
}

/// What of a request decides which parts are empty: not paper, chapters or crew. Cards are left out, since their pictures
/// take the longest and are there wherever there are readings.
fn as_looked_for(request: &ReportRequest) -> ReportRequest {
    let mut chapters: std::collections::BTreeSet<Chapter> = Chapter::ALL.into();
    chapters.remove(&Chapter::Cards);
    let usual = ReportRequest::default();
    ReportRequest { chapters, crew: usual.crew, paper: usual.paper, ..request.clone() }
}

impl Workbench {
    /// The Report desk.
    pub fn report_desk(&self) -> &ReportDesk {
        &self.report
    }

    /// Where the report will go; `None` without a survey.
    pub fn report_folder(&self) -> Option<PathBuf> {
        let usual = || Some(usual_folder(self.folder()?));
        self.report.folder.clone().or_else(usual)
    }

    pub(super) fn do_report(&mut self, action: ReportAction) {
        match action {
            ReportAction::Ask(request) => self.report.request = *request,
            ReportAction::Into(folder) => self.report.folder = folder,
            ReportAction::Want(wanted) => self.report.wanted = wanted,
            ReportAction::Write => self.start_report(),
            ReportAction::View(file) => self.view_file(file),
        }
    }

    fn start_report(&mut self) {
        if !self.may_show_lengths() {
            self.notices.say("confirm the open reading first: the report tells lengths");
            return;
        }
        if self.report.writing.is_some() {
            self.notices.say("the report is being written");
            return;
        }
        let Some((survey, out)) = self.folder().map(Path::to_owned).zip(self.report_folder())
        else {
            self.notices.say("open a survey first: the report is about one");
            return;
        };
        if !self.report.wanted.is_something() {
            self.notices.say("choose at least one file to write");
            return;
        }
        let (request, wanted) = (self.report.request.clone(), self.report.wanted);
        let work = move |watch: &Progress| write_report(&survey, &out, &request, wanted, watch);
        match Job::start("write the report", &self.wake, work) {
            Ok(job) => self.report.writing = Some(job),
            Err(error) => self.notices.report(format!("cannot write the report: {error}")),
        }
    }

    fn view_file(&mut self, file: PathBuf) {
        let view = Arc::clone(&self.services.view);
        let work = move |_: &Progress| {
            view(&file).map_err(|error| {
                format!(
                    "the system could not open the file: {error}; open it from the file manager: '{}'",
                    file.display()
                )
            })
        };
        match Job::start("open a file", &self.wake, work) {
            Ok(job) => self.report.viewing = Some(job),
            Err(error) => self.notices.report(format!("cannot open the file: {error}")),
        }
    }

    pub(super) fn poll_report(&mut self) {
        self.poll_written();
        self.poll_viewed();
        if let Some(job) = &self.report.looking {
            match job.poll() {
                Polled::Pending => {}
                Polled::Done(found) => {
                    self.report.looking = None;
                    self.report.contents = found.or(self.report.contents.take());
                }
                Polled::Lost => {
                    self.report.looking = None;
                    self.notices.report("looking at what the report will hold broke off");
                }
            }
        }
        self.look_at_contents();
    }

    fn look_at_contents(&mut self) {
        let wanted = as_looked_for(&self.report.request);
        let is_due = self.desk == super::action::Desk::Report
            && self.may_show_lengths()
            && self.report.looked_for.as_ref() != Some(&wanted);
        let Some(folder) = self.folder().filter(|_| is_due).map(Path::to_owned) else { return };
        self.report.looked_for = Some(wanted.clone());
        let work = move |watch: &Progress| match gather_report(&folder, &wanted, watch) {
            Ok(gathered) => Some(Ok(report_contents(&gathered.report))),
            Err(ReportError::Stopped(_)) => None,
            Err(error) => Some(Err(error.to_string())),
        };
        match Job::start("look at the report", &self.wake, work) {
            Ok(job) => self.report.looking = Some(job),
            Err(error) => self.notices.report(format!("cannot look at the report: {error}")),
        }
    }

    fn poll_written(&mut self) {
        let Some(job) = &self.report.writing else { return };
        let result = match job.poll() {
            Polled::Pending => return,
            Polled::Done(result) => result,
            Polled::Lost => {
                self.report.writing = None;
                self.notices.report("writing the report broke off: try again");
                return;
            }
        };
        self.report.writing = None;
        match result {
            Ok(written) => {
                let n = written.files.len();
                let what =
                    if n == 1 { "1 file written".to_owned() } else { format!("{n} files written") };
                let into = written.files.first().and_then(|file| file.path.parent());
                let into = into.map_or_else(String::new, |folder| folder.display().to_string());
                self.notices.say(format!("{what} into {into}"));
                self.report.written = Some(written);
            }
            Err(ReportError::Stopped(_)) => self.notices.say("stopped; nothing was written"),
            Err(error) => self.notices.report(error.to_string()),
        }
    }

    fn poll_viewed(&mut self) {
        let Some(job) = &self.report.viewing else { return };
        match job.poll() {
            Polled::Pending => return,
            Polled::Done(Ok(())) => self.notices.say("opened in the system's viewer"),
            Polled::Done(Err(error)) => self.notices.report(error),
            Polled::Lost => self.notices.report("opening the file broke off"),
        }
        self.report.viewing = None;
    }
}
