//! The growth desk: what is asked for, what was found, which fish is chosen, and fish left out with a reason.

use std::sync::Arc;

use jiff::Timestamp;

use crate::analysis::condition::StandardWeight;
use crate::domain::exclusion::standing_exclusions;
use crate::domain::progress::{Progress, Stopped};
use crate::store::exclusion_file::{exclude, load_exclusions};

use super::action::Desk;
use super::growth_findings::{GrowthFindings, GrowthRequest, growth_findings};
use super::job::{Job, Polled};
use super::session_lengths::LengthsRequest;
use super::workbench::Workbench;

/// Something asked on the desks of lengths and growth.
#[derive(Debug, Clone, PartialEq)]
pub enum GrowthAction {
    /// Sets a second method beside the first, or takes it away.
    SetBeside(Option<LengthsRequest>),
    /// Chooses the curve, by its word.
    SetCurve(&'static str),
    /// Enters a standard weight with its source, or takes it away.
    SetStandardWeight(Option<StandardWeight>),
    /// Takes hold of a fish, or of none.
    ChooseFish(Option<String>),
    /// Opens the scan of a fish on the Read desk.
    OpenScanOf(String),
    /// Leaves a fish out of lengths and growth.
    LeaveOut {
        /// Key of the fish.
        fish: String,
        /// Why.
        why: String,
    },
    /// Takes a fish in again.
    TakeIn {
        /// Key of the fish.
        fish: String,
        /// Why.
        why: String,
    },
}

type Found = Result<Option<Result<GrowthFindings, String>>, Stopped>;

/// State of the growth desk.
#[derive(Default)]
pub struct GrowthDesk {
    request: GrowthRequest,
    found: Option<Result<GrowthFindings, String>>,
    chosen: Option<String>,
    is_stale: bool,
    job: Option<Job<Found>>,
    deciding: Option<Job<Result<String, String>>>,
}

impl GrowthDesk {
    /// How growth is asked for now.
    pub fn request(&self) -> &GrowthRequest {
        &self.request
    }

    /// What was found last, or why there is nothing; stays on show while new findings are worked out.
    pub fn found(&self) -> Option<Result<&GrowthFindings, &str>> {
        self.found.as_ref().map(|found| found.as_ref().map_err(String::as_str))
    }

    /// Key of the fish that is chosen.
    pub fn chosen(&self) -> Option<&str> {
        self.chosen.as_deref()
    }

    /// Progress while findings are worked out.
    pub fn working(&self) -> Option<&Progress> {
        self.job.as_ref().map(Job::progress)
    }
}

impl Workbench {
    /// The growth desk.
    pub fn growth(&self) -> &GrowthDesk {
        &self.growth
    }

    pub(super) fn do_growth(&mut self, action: GrowthAction) {
        match action {
            GrowthAction::SetBeside(beside) => self.ask_growth(|request| request.beside = beside),
            GrowthAction::SetCurve(curve) => self.ask_growth(|request| request.curve = curve),
            GrowthAction::SetStandardWeight(standard) => {
                self.ask_growth(|request| request.standard_weight = standard);
            }
            GrowthAction::ChooseFish(fish) => self.growth.chosen = fish,
            GrowthAction::OpenScanOf(fish) => self.open_scan_of(&fish),
            GrowthAction::LeaveOut { fish, why } => self.decide_on(&fish, true, &why),
            GrowthAction::TakeIn { fish, why } => self.decide_on(&fish, false, &why),
        }
    }

    fn ask_growth(&mut self, change: impl FnOnce(&mut GrowthRequest)) {
        let before = self.growth.request.clone();
        change(&mut self.growth.request);
        if self.growth.request != before {
            self.growth_is_stale();
        }
    }

    /// Readings, decisions or settings have changed: findings on their way are dropped.
    pub(super) fn growth_is_stale(&mut self) {
        self.growth.is_stale = true;
        self.growth.job = None;
        self.report.is_stale();
    }

    /// Stops what is worked out for the desk; what was found before stays.
    pub(super) fn stop_growth(&mut self) {
        self.growth.job = None;
    }

    fn open_scan_of(&mut self, fish: &str) {
        let Some(survey) = &self.survey else { return };
        let has = |entry: &super::session::ListEntry| entry.fish.iter().any(|one| one.key == fish);
        match survey.entries().iter().position(has) {
            Some(place) => {
                self.desk = Desk::Read;
                self.perform(super::action::Action::SelectScan(place));
            }
            None => self.notices.report(format!("fish {fish} has no scan on the reading list")),
        }
    }

    fn decide_on(&mut self, fish: &str, is_left_out: bool, why: &str) {
        let Some(survey) = &self.survey else { return };
        let Some(reader) = self.reader.clone() else {
            self.notices.report("say who you are first: a decision carries a name");
            return;
        };
        let folder = survey.folder().to_owned();
        if self.growth.deciding.is_some() {
            self.notices.say("the last decision is being saved: try again in a moment");
            return;
        }
        let (fish, why) = (fish.to_owned(), why.to_owned());
        let work = move |_: &Progress| {
            let there = load_exclusions(&folder).exclusions;
            let seen = standing_exclusions(&there).get(fish.as_str()).map(|one| one.id.clone());
            let whom = (fish.as_str(), is_left_out);
            exclude(&folder, whom, (&reader, &why), seen.as_deref(), Timestamp::now())
                .map_err(|error| error.to_string())?;
            let words = if is_left_out { "is left out" } else { "is taken in again" };
            Ok(format!("fish {fish} {words}; the reason is on record"))
        };
        match Job::start("save the decision", &self.wake, work) {
            Ok(job) => self.growth.deciding = Some(job),
            Err(error) => self.notices.report(format!("cannot save the decision: {error}")),
        }
    }

    fn poll_exclusion(&mut self) {
        let Some(job) = &self.growth.deciding else { return };
        match job.poll() {
            Polled::Pending => return,
            Polled::Done(Ok(words)) => {
                self.notices.say(words);
                self.lengths_are_stale();
            }
            Polled::Done(Err(error)) => self.notices.report(error),
            Polled::Lost => self.notices.report("saving the decision broke off: try again"),
        }
        self.growth.deciding = None;
    }

    pub(super) fn poll_growth(&mut self) {
        self.poll_exclusion();
        if let Some(job) = &self.growth.job {
            match job.poll() {
                Polled::Pending => return,
                Polled::Done(Ok(found)) => self.growth.found = found,
                Polled::Done(Err(Stopped)) => {}
                Polled::Lost => self.notices.report("working out growth broke off"),
            }
            self.growth.job = None;
        }
        let is_wanted = self.desk == Desk::Growth && self.may_show_lengths();
        if !(self.growth.is_stale && is_wanted) {
            return;
        }
        let Some(survey) = &self.survey else { return };
        self.growth.is_stale = false;
        self.growth.request.lengths = self.lengths.request();
        let (files, reader, request) =
            (Arc::clone(&survey.files), self.reader.clone(), self.growth.request.clone());
        let work =
            move |watch: &Progress| growth_findings(&files, reader.as_ref(), &request, watch);
        match Job::start("work out growth", &self.wake, work) {
            Ok(job) => self.growth.job = Some(job),
            Err(error) => self.notices.report(format!("cannot work out growth: {error}")),
        }
    }
}
