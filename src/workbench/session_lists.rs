//! Blind lists as the window shows them: which there are, how far their readers are, and what a lead does with them.
//! No fish and no scan is named here.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::Timestamp;

use crate::domain::blind::{BlindPolicy, BlindRule, ListName};
use crate::domain::progress::Progress;
use crate::domain::reading::ReaderInitials;
use crate::store::blind::{close_list, list_names, load_list};
use crate::store::blind_error::BlindError;
use crate::store::blind_readings::{blind_readings_path, load_blind_readings, readers_of_list};
use crate::store::blind_take_in::take_in;
use crate::store::collection::OpenSurvey;

use super::blind_lists::{NewList, new_list, pack_list};
use super::job::{Job, Polled};
use super::session_blind::BlindSource;
use super::session_save::Pending;
use super::workbench::Workbench;

/// Something with blind lists.
#[derive(Debug, Clone, PartialEq)]
pub enum ListsAction {
    /// Draws a list.
    Draw(DrawRequest),
    /// Opens a list of this survey to read it.
    Open(String),
    /// Opens a pack of another office to read it.
    OpenPack(PathBuf),
    /// Opens a list of the survey in a folder, for this reader.
    OpenIn(PathBuf, String),
    /// Closes a list: from then on it takes no readings and analyses use those it has.
    Close(String),
    /// Writes a list as a pack.
    Pack(String, PathBuf),
    /// Takes in readings that came back from another office.
    TakeIn(PathBuf),
}

impl ListsAction {
    /// True for what may be asked while a blind list is open.
    pub(super) fn is_free_while_blind(&self) -> bool {
        matches!(self, Self::OpenIn(..) | Self::OpenPack(_))
    }
}

/// What a lead asks for when drawing a list.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawRequest {
    /// Its name.
    pub name: String,
    /// Which fish.
    pub rule: BlindRule,
    /// Seed of the draw.
    pub seed: u64,
    /// Fish of known age slipped in.
    pub n_references: usize,
    /// What the reader is shown.
    pub policy: BlindPolicy,
}

/// One list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListSummary {
    /// Its name.
    pub name: String,
    /// True while it takes readings.
    pub is_open: bool,
    /// Impressions on it.
    pub n: usize,
    /// True where readers see proposals.
    pub shows_proposals: bool,
    /// When it was drawn, as a day.
    pub drawn: String,
    /// Who drew it, where stated.
    pub drawn_by: Option<ReaderInitials>,
    /// Each reader's confirmed impressions.
    pub readers: Vec<(ReaderInitials, usize)>,
}

/// All lists of a survey.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ListSummaries {
    /// Those that can be read, by name.
    pub lists: Vec<ListSummary>,
    /// What is wrong with others.
    pub problems: Vec<String>,
}

/// State of the window on lists.
#[derive(Default)]
pub struct ListsDesk {
    found: Option<ListSummaries>,
    is_wanted: bool,
    is_stale: bool,
    looking: Option<Job<Result<ListSummaries, String>>>,
    working: Option<Job<Result<String, String>>>,
}

impl ListsDesk {
    /// The lists, once they were looked at.
    pub fn found(&self) -> Option<&ListSummaries> {
        self.found.as_ref()
    }

    /// True while a list is drawn, closed, packed or taken in.
    pub fn is_working(&self) -> bool {
        self.working.is_some()
    }
}

/// Looks at the lists of a survey.
///
/// # Errors
/// [`BlindError`] when the folder of lists cannot be read; a damaged list is a problem in the result.
pub fn list_summaries(survey: &Path) -> Result<ListSummaries, BlindError> {
    let mut found = ListSummaries::default();
    for name in list_names(survey)? {
        match summary(survey, &name) {
            Ok(summary) => found.lists.push(summary),
            Err(error) => found.problems.push(error.to_string()),
        }
    }
    Ok(found)
}

fn summary(survey: &Path, name: &ListName) -> Result<ListSummary, BlindError> {
    let list = load_list(survey, name)?.list;
    let mut readers = Vec::new();
    for reader in readers_of_list(survey, name)? {
        // A file that cannot be read counts nothing here; its reader is told on opening it.
        let read = load_blind_readings(&blind_readings_path(survey, name, &reader));
        let n = read.map_or(0, |read| read.confirmed().count());
        readers.push((reader, n));
    }
    Ok(ListSummary {
        name: list.name.to_string(),
        is_open: list.closed.is_none(),
        n: list.entries.len(),
        shows_proposals: list.policy.proposals,
        drawn: list.drawn.to_string().chars().take(10).collect(),
        drawn_by: list.drawn_by,
        readers,
    })
}

impl Workbench {
    /// The lists of the survey.
    pub fn lists(&self) -> &ListsDesk {
        &self.lists
    }

    pub(super) fn look_at_lists(&mut self) {
        self.lists.is_wanted = true;
        self.lists.is_stale = true;
    }

    /// The lists may have changed.
    pub(super) fn lists_are_stale(&mut self) {
        self.lists.is_stale = true;
        self.lists.looking = None;
    }

    pub(super) fn do_lists(&mut self, asked: ListsAction) {
        let list = |text: &str| ListName::new(text).map_err(|error| error.to_string());
        let opening = match (&asked, self.folder()) {
            (ListsAction::OpenPack(pack), _) => Some(Ok(BlindSource::Pack(pack.clone()))),
            (ListsAction::OpenIn(folder, name), _) => {
                Some(list(name).map(|name| BlindSource::Survey(folder.clone(), name)))
            }
            (ListsAction::Open(name), Some(folder)) => {
                Some(list(name).map(|name| BlindSource::Survey(folder.to_owned(), name)))
            }
            _ => None,
        };
        match opening {
            Some(Ok(source)) => self.after_saving(Pending::Blind(source)),
            Some(Err(error)) => self.notices.report(error),
            None => self.work_on_lists(asked),
        }
    }

    fn work_on_lists(&mut self, asked: ListsAction) {
        let Some(survey) = &self.survey else {
            self.notices.say("open a survey first");
            return;
        };
        if self.lists.working.is_some() {
            self.notices.say("the lists are being worked on: try again in a moment");
            return;
        }
        let (folder, by) = (survey.folder.clone(), self.reader.clone());
        let work = move |progress: &Progress| work_on(&folder, by, asked, progress);
        match Job::start("work on blind lists", &self.wake, work) {
            Ok(job) => self.lists.working = Some(job),
            Err(error) => self.notices.report(format!("cannot work on the lists: {error}")),
        }
    }

    pub(super) fn poll_lists(&mut self) {
        if let Some(job) = &self.lists.working {
            let result = match job.poll() {
                Polled::Pending => return,
                Polled::Done(result) => result,
                Polled::Lost => Err("the work on blind lists broke off".to_owned()),
            };
            self.lists.working = None;
            self.lists_are_stale();
            self.agree_is_stale();
            match result {
                Ok(words) => self.notices.say(words),
                Err(error) => self.notices.report(error),
            }
        }
        if let Some(job) = &self.lists.looking {
            match job.poll() {
                Polled::Pending => return,
                Polled::Done(Ok(found)) => self.lists.found = Some(found),
                Polled::Done(Err(error)) => self.notices.report(error),
                Polled::Lost => self.notices.report("looking at the blind lists broke off"),
            }
            self.lists.looking = None;
        }
        if !(self.lists.is_stale && self.lists.is_wanted) || self.blind.is_some() {
            return;
        }
        let Some(survey) = &self.survey else { return };
        self.lists.is_stale = false;
        let folder = survey.folder.clone();
        let work = move |_: &Progress| list_summaries(&folder).map_err(|error| error.to_string());
        self.lists.looking = Job::start("look at blind lists", &self.wake, work).ok();
    }
}

fn work_on(
    folder: &Path,
    by: Option<ReaderInitials>,
    asked: ListsAction,
    progress: &Progress,
) -> Result<String, String> {
    let told = |error: BlindError| error.to_string();
    let named = |name: &str| ListName::new(name).map_err(|error| error.to_string());
    let survey = Arc::new(OpenSurvey::open(folder).map_err(|error| error.to_string())?);
    match asked {
        ListsAction::Draw(wish) => drawn(&survey, by, wish, progress),
        ListsAction::Close(name) => {
            close_list(folder, &named(&name)?, by.as_ref(), Timestamp::now()).map_err(told)?;
            Ok(format!("the list {name} is closed: its readings count from now on"))
        }
        ListsAction::Pack(name, file) => {
            pack_list(&survey, &named(&name)?, &file, progress).map_err(told)?;
            Ok(format!("the list {name} is packed: {}", file.display()))
        }
        ListsAction::TakeIn(file) => {
            match take_in(folder, &file, Timestamp::now()).map_err(told)? {
                Some(_) => Ok("the readings are taken in".to_owned()),
                None => Ok("these readings were taken in already".to_owned()),
            }
        }
        ListsAction::Open(_) | ListsAction::OpenIn(..) | ListsAction::OpenPack(_) => {
            Err("a list is opened by its reader".to_owned())
        }
    }
}

fn drawn(
    survey: &OpenSurvey,
    by: Option<ReaderInitials>,
    wish: DrawRequest,
    progress: &Progress,
) -> Result<String, String> {
    let new = NewList {
        name: ListName::new(&wish.name).map_err(|error| error.to_string())?,
        seed: wish.seed,
        rule: wish.rule,
        n_references: wish.n_references,
        policy: wish.policy,
        by,
    };
    let readings = survey.load_readings(progress).map_err(|stopped| stopped.to_string())?;
    let drawn = new_list(survey, &readings, &new, Timestamp::now(), progress)
        .map_err(|error| error.to_string())?;
    let mut words = format!("the list {} is drawn: {} impressions", new.name, drawn.n_entries);
    if drawn.n_whole_scans > 0 {
        words += &format!(
            "; {} of them show their whole scan: draw boxes first if labels or rulers are on it",
            drawn.n_whole_scans
        );
    }
    if !drawn.left_out.is_empty() {
        words += &format!("; {} fish cannot be put on a list", drawn.left_out.len());
    }
    Ok(words)
}
