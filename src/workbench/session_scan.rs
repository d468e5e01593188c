//! One scan under the reader's eyes: its picture, the history of its reading, what is selected.

use std::sync::Arc;
use std::time::Instant;

use crate::domain::age::{AgeAssignment, marginal_increment_ratio};
use crate::domain::axis::Axis;
use crate::domain::reading::{ImpressionReading, Outcome, ReadingState};
use crate::domain::survey::Survey;
use crate::domain::units::Pixels;
use crate::imaging::raster::Raster;
use crate::imaging::resolution::Resolution;
use crate::marking::command::{Command, CommandError};
use crate::marking::document::{Document, open_proposals_from};
use crate::marking::history::History;
use crate::proposing::Proposals;
use crate::simulate::truth::PictureTruth;
use crate::store::fingerprint::Fingerprint;

use super::job::Job;
use super::session::Sibling;
use super::session_evidence::{Evidence, reach};
use super::session_propose::{Found, ProposalJob};
use super::session_selection::{Handle, mark_at, neighbour};
use super::session_slide::SlideJob;

/// A scan that is open.
pub struct OpenScan {
    /// Its place on the reading list.
    pub(super) place: usize,
    pub(super) raster: Arc<Raster>,
    pub(super) resolution: Option<Resolution>,
    pub(super) history: History,
    pub(super) impression: u32,
    pub(super) selected: Option<Handle>,
    pub(super) outcome: Outcome,
    pub(super) stated_age: Option<u32>,
    pub(super) length_asked: bool,
    /// What lies on disk now; `None` where there is no sidecar yet.
    pub(super) on_disk: Option<Fingerprint>,
    /// Set by the reader's own edits only: a scan that was merely looked at leaves no file behind.
    pub(super) is_touched: bool,
    pub(super) edited_at: Option<Instant>,
    pub(super) found: Vec<Found>,
    pub(super) proposing: Option<ProposalJob>,
    /// The boxes of a slide being looked for.
    pub(super) splitting: Option<SlideJob>,
    /// The other scans of the fish on this one.
    pub(super) siblings: Vec<Sibling>,
    /// What is known of a simulated structure.
    pub(super) truth: Option<Box<PictureTruth>>,
    /// Its reading has been counted.
    pub(super) is_scored: bool,
    pub(super) evidence: Option<Evidence>,
    pub(super) gathering: Option<Job<Option<Evidence>>>,
    /// An axis that could not be followed: not tried again until it changes.
    pub(super) unusable_axis: Option<Axis>,
}

/// Results kept for axes the reader may come back to by undo.
const MAX_FOUND: usize = 4;

impl OpenScan {
    pub(super) fn new(
        place: usize,
        raster: Arc<Raster>,
        document: Document,
        on_disk: Option<Fingerprint>,
    ) -> Self {
        let first = document.reading.impressions.first();
        let impression = first.map_or(1, |impression| impression.number);
        let mut scan = Self {
            place,
            raster,
            resolution: None,
            history: History::new(document),
            impression,
            selected: None,
            outcome: Outcome::Aged,
            stated_age: None,
            length_asked: false,
            on_disk,
            is_touched: false,
            edited_at: None,
            found: Vec::new(),
            proposing: None,
            splitting: None,
            siblings: Vec::new(),
            truth: None,
            is_scored: false,
            evidence: None,
            gathering: None,
            unusable_axis: None,
        };
        scan.turn_to(impression);
        scan
    }

    /// Its place on the reading list.
    pub fn place(&self) -> usize {
        self.place
    }

    /// The picture.
    pub fn raster(&self) -> &Arc<Raster> {
        &self.raster
    }

    /// The pixel size the scan's own file states.
    pub fn resolution(&self) -> Option<&Resolution> {
        self.resolution.as_ref()
    }

    /// The document as it stands.
    pub fn document(&self) -> &Document {
        self.history.present()
    }

    /// The steps to undo and redo.
    pub fn history(&self) -> &History {
        &self.history
    }

    /// Number of the impression being read.
    pub fn impression(&self) -> u32 {
        self.impression
    }

    /// The reading of that impression.
    pub fn reading(&self) -> Option<&ImpressionReading> {
        self.document().impression(self.impression)
    }

    /// What the reader has hold of.
    pub fn selected(&self) -> Option<Handle> {
        self.selected
    }

    /// What Confirm will say.
    pub fn outcome(&self) -> Outcome {
        self.reading().and_then(|reading| reading.outcome).unwrap_or(self.outcome)
    }

    /// The age the reader states against the rule, if any.
    pub fn stated_age(&self) -> Option<u32> {
        self.stated_age
    }

    /// Strip and profile. After an edit of the axis the earlier ones stay until the new ones are there.
    pub fn evidence(&self) -> Option<&Evidence> {
        self.evidence.as_ref()
    }

    /// What was found along the axis as it is now; `None` while nothing was.
    pub fn found(&self) -> Option<&Proposals> {
        let axis = self.reading()?.axis.as_ref();
        let fits = |found: &&Found| {
            found.impression == self.impression
                && (axis.is_none() || found.result.axis.as_ref() == axis)
        };
        self.found.iter().rev().find(fits).map(|found| &found.result)
    }

    /// True while annuli are looked for.
    pub fn is_proposing(&self) -> bool {
        self.proposing.is_some()
    }

    /// True while the impressions of a slide are looked for.
    pub fn is_splitting(&self) -> bool {
        self.splitting.is_some()
    }

    /// What is known of a simulated structure, once its reading is confirmed.
    pub fn truth(&self) -> Option<&PictureTruth> {
        self.truth.as_deref().filter(|_| !self.is_draft())
    }

    /// True where the reader has asked to see the length at capture of this fish.
    pub fn is_length_shown(&self) -> bool {
        self.length_asked
    }

    /// True while the reading can be edited.
    pub fn is_draft(&self) -> bool {
        self.reading().is_some_and(|reading| reading.state == ReadingState::Draft)
    }

    /// True while something the reader did is not on disk.
    pub fn is_unsaved(&self) -> bool {
        self.is_touched && self.history.is_unsaved()
    }

    /// True where a sidecar of this reader lies on disk.
    pub fn has_file(&self) -> bool {
        self.on_disk.is_some()
    }

    /// True when the reading is confirmed, and so on disk.
    pub fn is_confirmed_on_disk(&self) -> bool {
        !self.is_draft() && !self.history.is_unsaved()
    }

    /// Capture date of the fish this impression belongs to is `captured`; its age by the rule of the survey.
    pub fn age_by_rule(
        &self,
        captured: Option<jiff::civil::Date>,
        survey: &Survey,
    ) -> Option<AgeAssignment> {
        self.document().age_by_rule(self.impression, captured, &survey.birthday_rule)
    }

    /// Plus growth over the last whole increment; `None` without annuli or margin.
    pub fn plus_growth_share(&self) -> Option<f64> {
        let reading = self.reading()?;
        let (axis, edge) = (reading.axis.as_ref()?, reading.edge?);
        // In micrometres where they are known: pixels may be longer one way than the other.
        let measure = |at: Pixels| match &self.document().reading.calibration {
            Some(scale) => axis.micrometres_at(at, scale).0,
            None => at.0,
        };
        let radii: Vec<f64> = reading.annuli().map(|mark| measure(mark.position)).collect();
        marginal_increment_ratio(&radii, measure(edge))
    }

    pub(super) fn turn_to(&mut self, impression: u32) {
        if self.document().impression(impression).is_none() {
            return;
        }
        self.impression = impression;
        self.selected = None;
        self.length_asked = false;
        self.proposing = None;
        let reading = self.reading();
        let (age, outcome) = reading.map_or((None, None), |reading| (reading.age, reading.outcome));
        self.stated_age = age;
        self.outcome = outcome.unwrap_or(Outcome::Aged);
    }

    pub(super) fn edit(&mut self, command: &Command) -> Result<(), CommandError> {
        self.history.perform(command)?;
        self.touch();
        self.reselect(command);
        Ok(())
    }

    pub(super) fn step_back(&mut self) -> bool {
        let done = self.history.undo();
        self.after_step(done)
    }

    pub(super) fn step_forward(&mut self) -> bool {
        let done = self.history.redo();
        self.after_step(done)
    }

    /// Takes in proposals that have just arrived, without a step to undo: they take the place of earlier ones along the
    /// same axis in every document undo and redo can come to.
    pub(super) fn take_in(&mut self, found: Found) {
        let (impression, axis) = (found.impression, found.result.axis.clone());
        let result = found.result.clone();
        self.found.push(found);
        let surplus = self.found.len().saturating_sub(MAX_FOUND);
        self.found.drain(..surplus);
        self.show_found();
        self.history.amend_others(|document| {
            let reading = document.impression(impression)?;
            let fits = reading.axis == axis && axis.is_some();
            let proposals = open_proposals_from(&result, &reading.marks);
            fits.then_some(Command::SetProposals { impression, proposals })
        });
    }

    /// Puts proposals that arrived meanwhile before the reader, without a step to undo.
    pub(super) fn show_found(&mut self) {
        let impression = self.impression;
        let Some(found) = self.found().cloned() else { return };
        let Some(reading) = self.reading() else { return };
        if reading.state == ReadingState::Confirmed {
            return;
        }
        let has_axis = reading.axis.is_some();
        let proposals = open_proposals_from(&found, &reading.marks);
        let is_shown = !proposals.is_empty();
        // Each is refused only where the reading has changed since; then there is nothing to show.
        if let (false, Some(axis), Some(edge)) = (has_axis, found.axis, found.edge) {
            _ = self.history.amend(&Command::SetAxis { impression, axis, edge });
        }
        _ = self.history.amend(&Command::SetProposals { impression, proposals });
        if is_shown {
            let shown = Command::RecordShown { impression, proposals: true, length: false };
            _ = self.history.amend(&shown);
        }
        self.keep_selection_valid();
    }

    /// True when strip and profile do not belong to the axis as it is now.
    pub(super) fn needs_evidence(&self) -> bool {
        let Some(axis) = self.reading().and_then(|reading| reading.axis.as_ref()) else {
            return false;
        };
        if self.unusable_axis.as_ref() == Some(axis) {
            return false;
        }
        let end = reach(axis, self.reading().and_then(|reading| reading.edge));
        self.evidence.as_ref().is_none_or(|shown| shown.axis != *axis || shown.end != end)
    }

    pub(super) fn touch(&mut self) {
        self.is_touched = true;
        self.edited_at = Some(Instant::now());
    }

    fn after_step(&mut self, done: bool) -> bool {
        if done {
            self.touch();
            if !self.document().proposals.contains_key(&self.impression) {
                self.show_found();
            }
            self.keep_selection_valid();
        }
        done
    }

    pub(super) fn keep_selection_valid(&mut self) {
        let at =
            |handle| super::session_selection::position(self.document(), self.impression, handle);
        if self.selected.is_some_and(|handle| at(handle).is_none()) {
            self.selected = None;
        }
    }

    /// Keeps hold of the same thing where an edit has changed its number.
    fn reselect(&mut self, command: &Command) {
        let Some(reading) = self.reading() else { return };
        match command {
            Command::AddMark { at, .. } => self.selected = mark_at(reading, *at),
            Command::MoveMark { to, .. } | Command::MoveProposal { to, .. } => {
                self.selected = mark_at(reading, *to);
            }
            Command::AcceptProposal { proposal, .. } | Command::RejectProposal { proposal, .. } => {
                // The one outwards has taken the number of the one decided; the innermost if it was the last.
                let open = self.document().open_proposals(self.impression).len();
                self.selected = match open {
                    0 => None,
                    _ if *proposal < open => Some(Handle::Proposal(*proposal)),
                    _ => Some(Handle::Proposal(0)),
                };
            }
            Command::DeleteMark { mark, .. } => {
                let before = mark.checked_sub(1).map(Handle::Mark);
                let next = neighbour(self.document(), self.impression, before, true);
                self.selected = next.filter(|handle| *handle != Handle::Margin);
            }
            _ => {}
        }
        self.keep_selection_valid();
    }
}
