//! The Agree desk: which two columns are compared, the fish that is opened, and deciding on it. All work is done on
//! threads.

use std::path::Path;
use std::sync::Arc;

use jiff::Timestamp;

use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{ReaderInitials, ReadingState};
use crate::domain::resolution::{Decision, FishReading, Resolution, standing};
use crate::store::collection::OpenSurvey;
use crate::store::resolution_file::{NewDecision, decide};

use super::action::Desk;
use super::agree_figures::{AgreeFigures, agree_figures, decision_in_words};
use super::agree_fish::{OpenedFish, open_fish};
use super::job::{Job, Polled};
use super::survey_readings::with_closed_lists;
use super::workbench::Workbench;

/// Something on the Agree desk.
#[derive(Debug, Clone, PartialEq)]
pub enum AgreeAction {
    /// Compares the columns of these names.
    Choose([String; 2]),
    /// Opens a fish by its key.
    OpenFish(String),
    /// Goes back from the opened fish to the figures.
    CloseFish,
    /// Decides on the opened fish, with the reason.
    Decide(Decision, String),
}

/// State of the Agree desk.
#[derive(Default)]
pub struct AgreeDesk {
    names: Option<[String; 2]>,
    figures: Option<AgreeFigures>,
    opened: Option<OpenedFish>,
    is_stale: bool,
    job: Option<Job<Result<AgreeFigures, String>>>,
    opening: Option<Job<Result<OpenedFish, String>>>,
    deciding: Option<Job<Result<Resolution, String>>>,
}

impl AgreeDesk {
    /// The last figures; they stay on show while new ones are worked out.
    pub fn figures(&self) -> Option<&AgreeFigures> {
        self.figures.as_ref()
    }

    /// The fish that is open.
    pub fn opened(&self) -> Option<&OpenedFish> {
        self.opened.as_ref()
    }

    /// True while figures, a fish or a decision are being worked on.
    pub fn is_working(&self) -> bool {
        self.job.is_some() || self.opening.is_some() || self.deciding.is_some()
    }

    /// The confirmed readings of the opened fish.
    pub fn readings_of_opened(&self) -> Vec<&FishReading> {
        let (Some(figures), Some(opened)) = (&self.figures, &self.opened) else {
            return Vec::new();
        };
        figures.readings.iter().filter(|reading| reading.fish == opened.fish.key).collect()
    }

    /// All decisions on the opened fish, in order of time.
    pub fn decisions_on_opened(&self) -> Vec<&Resolution> {
        let (Some(figures), Some(opened)) = (&self.figures, &self.opened) else {
            return Vec::new();
        };
        figures.resolutions.iter().filter(|one| one.fish == opened.fish.key).collect()
    }
}

impl Workbench {
    /// The Agree desk.
    pub fn agree(&self) -> &AgreeDesk {
        &self.agree
    }

    /// True where the Agree desk may be on screen: no unconfirmed reading is open of a fish that somebody else has read.
    pub fn may_show_agreement(&self) -> bool {
        let (Some(scan), Some(figures)) = (&self.scan, &self.agree.figures) else { return true };
        let reader = &scan.document().reading.reader;
        let drafts = scan.document().reading.impressions.iter();
        !drafts.filter(|draft| draft.state == ReadingState::Draft).any(|draft| {
            let others = figures.readings.iter().filter(|reading| reading.reader != *reader);
            others.into_iter().any(|reading| reading.fish == draft.fish)
        })
    }

    /// Readings, lists or decisions have changed: figures on their way are dropped.
    pub(super) fn agree_is_stale(&mut self) {
        self.agree.is_stale = true;
        self.agree.job = None;
    }

    pub(super) fn do_agree(&mut self, asked: AgreeAction) {
        match asked {
            AgreeAction::Choose(names) => {
                if self.agree.names.as_ref() != Some(&names) {
                    self.agree.names = Some(names);
                    self.agree.opened = None;
                    self.agree_is_stale();
                }
            }
            _ if !self.may_show_agreement() => {
                self.notices
                    .say("another reader's reading of this fish is hidden: confirm yours first");
            }
            AgreeAction::OpenFish(key) => self.open_compared(key),
            AgreeAction::CloseFish => {
                self.agree.opened = None;
                self.agree.opening = None;
            }
            AgreeAction::Decide(decision, why) => self.decide_on_opened(decision, why),
        }
    }

    fn open_compared(&mut self, key: String) {
        let (Some(survey), Some(figures)) = (&self.survey, &self.agree.figures) else { return };
        let Some(columns) = figures.pair_columns().map(|pair| pair.map(Clone::clone)) else {
            return;
        };
        let folder = survey.folder.clone();
        let work = move |progress: &Progress| {
            let survey = OpenSurvey::open(&folder).map_err(|error| error.to_string())?;
            let readings = survey.load_readings(progress).map_err(|stopped| stopped.to_string())?;
            let (readings, _) =
                with_closed_lists(&survey, readings).map_err(|error| error.to_string())?;
            let [first, second] = &columns;
            open_fish(&survey, &readings, &key, [first, second])
        };
        match Job::start("open a compared fish", &self.wake, work) {
            Ok(job) => self.agree.opening = Some(job),
            Err(error) => self.notices.report(format!("cannot open the fish: {error}")),
        }
    }

    /// Writes a decision. What was on screen is what it takes the place of: whoever decided meanwhile is not overrun.
    fn decide_on_opened(&mut self, decision: Decision, why: String) {
        let (Some(survey), Some(opened)) = (&self.survey, &self.agree.opened) else { return };
        let Some(by) = self.reader.clone() else {
            self.notices.say("type your initials first: a decision bears a name");
            return;
        };
        if self.agree.deciding.is_some() {
            self.notices.say("the decision before is being written: try again in a moment");
            return;
        }
        let new = NewDecision {
            fish: opened.fish.key.clone(),
            considered: self.agree.readings_of_opened().into_iter().cloned().collect(),
            decision,
            by,
            why,
            supersedes: standing_on(self.agree.figures.as_ref(), &opened.fish.key),
        };
        let folder = survey.folder.clone();
        let work = move |_: &Progress| written(&folder, &new);
        match Job::start("write a decision", &self.wake, work) {
            Ok(job) => self.agree.deciding = Some(job),
            Err(error) => self.notices.report(format!("cannot write the decision: {error}")),
        }
    }

    pub(super) fn poll_agree(&mut self) {
        self.poll_opened_fish();
        self.poll_decision();
        if let Some(job) = &self.agree.job {
            match job.poll() {
                Polled::Pending => return,
                Polled::Done(Ok(figures)) => {
                    for problem in figures.problems.iter().take(5) {
                        self.notices.report(problem.clone());
                    }
                    self.agree.figures = Some(figures);
                }
                Polled::Done(Err(error)) => self.notices.report(error),
                Polled::Lost => self.notices.report("comparing readers broke off"),
            }
            self.agree.job = None;
        }
        if !self.agree.is_stale || self.desk != Desk::Agree || self.blind.is_some() {
            return;
        }
        let Some(survey) = &self.survey else { return };
        self.agree.is_stale = false;
        let (files, names) = (Arc::clone(&survey.files), self.agree.names.clone());
        let work = move |progress: &Progress| worked_out(&files, names.as_ref(), progress);
        match Job::start("compare readers", &self.wake, work) {
            Ok(job) => self.agree.job = Some(job),
            Err(error) => self.notices.report(format!("cannot compare readers: {error}")),
        }
    }

    fn poll_opened_fish(&mut self) {
        let Some(job) = &self.agree.opening else { return };
        match job.poll() {
            Polled::Pending => return,
            Polled::Done(Ok(opened)) => {
                self.notices.say(format!("fish {} as both read it", opened.fish.number));
                self.agree.opened = Some(opened);
            }
            Polled::Done(Err(error)) => self.notices.report(error),
            Polled::Lost => self.notices.report("opening the fish broke off"),
        }
        self.agree.opening = None;
    }

    fn poll_decision(&mut self) {
        let Some(job) = &self.agree.deciding else { return };
        match job.poll() {
            Polled::Pending => return,
            Polled::Done(Ok(decided)) => {
                let words = decision_in_words(&decided);
                self.notices.say(format!("decided: {words}; the readings stay as they are"));
            }
            Polled::Done(Err(error)) => self.notices.report(error),
            Polled::Lost => self.notices.report("writing the decision broke off"),
        }
        self.agree.deciding = None;
        // After a refusal as well: what the other decided is to be seen.
        self.agree_is_stale();
        self.lengths_are_stale();
    }
}

/// The decision on screen whose place a new one would take.
fn standing_on(figures: Option<&AgreeFigures>, fish: &str) -> Option<String> {
    let found = standing(&figures?.resolutions, fish);
    found.last().map(|one| one.id.clone())
}

fn worked_out(
    files: &OpenSurvey,
    names: Option<&[String; 2]>,
    progress: &Progress,
) -> Result<AgreeFigures, String> {
    // Listed afresh: sidecars have been written since the survey was opened.
    let opened = OpenSurvey::open(&files.folder).map_err(|error| error.to_string())?;
    agree_figures(&opened, names, progress).map_err(|stopped: Stopped| stopped.to_string())
}

fn written(folder: &Path, new: &NewDecision) -> Result<Resolution, String> {
    decide(folder, new, Timestamp::now()).map(|(made, _)| made).map_err(|error| error.to_string())
}

/// The ages a third reading may decide: what readers other than the two columns gave the opened fish.
pub fn third_ages(
    readings: &[&FishReading],
    columns: [&ReaderInitials; 2],
) -> Vec<(ReaderInitials, u32)> {
    let others = readings.iter().filter(|reading| !columns.contains(&&reading.reader));
    others.filter_map(|reading| Some((reading.reader.clone(), reading.age?))).collect()
}
