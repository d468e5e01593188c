//! Looking for annuli on the open scan, on a thread of its own.

use std::sync::Arc;

use kurbo::Point;

use crate::domain::axis::Axis;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{ReadingState, Structure};
use crate::proposing::{Proposals, Request};

use super::job::{Job, Polled};
use super::session_evidence::{gather, reach};
use super::workbench::Workbench;

/// What looks for annuli.
pub type ProposeFn =
    Arc<dyn Fn(&Request<'_>, &Progress) -> Result<Proposals, Stopped> + Send + Sync>;

/// What was found, and for what it was looked for.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub(super) impression: u32,
    pub(super) result: Proposals,
}

/// Looking in progress, with the inputs the result will belong to.
pub(super) struct ProposalJob {
    impression: u32,
    axis: Option<Axis>,
    job: Job<Result<Proposals, Stopped>>,
}

impl ProposalJob {
    pub(super) fn progress(&self) -> &Progress {
        self.job.progress()
    }
}

impl Workbench {
    /// Starts to look along the axis as it is, or for an axis too where there is none.
    pub(super) fn start_proposal(&mut self) {
        let Some(scan) = &mut self.scan else { return };
        let Some(reading) = scan.reading() else { return };
        if let Some(blind) = &self.blind {
            if !blind.shows_proposals() {
                self.notices.say("proposals are off on this list");
                return;
            }
            let tag = scan.document().reading.scan.file.clone();
            let (pictures, axis) = (blind.pictures(), reading.axis.clone());
            let (impression, raster) = (scan.impression(), Arc::clone(scan.raster()));
            let (propose, along) = (Arc::clone(&self.services.propose), axis.clone());
            let started = Job::start("propose annuli", &self.wake, move |progress| {
                pictures.propose(&tag, &raster, along, &propose, progress)
            });
            match started {
                Ok(job) => scan.proposing = Some(ProposalJob { impression, axis, job }),
                Err(_) => self.notices.report("cannot start looking for annuli"),
            }
            return;
        }
        let Some(calibration) = scan.document().reading.calibration.clone() else {
            self.notices.say("give the pixel size first: proposals need it");
            return;
        };
        let (impression, axis) = (scan.impression(), reading.axis.clone());
        let (structure, light, bounds) = (reading.structure, reading.light, reading.bounds);
        let focus: Option<Point> = axis.as_ref().map(Axis::focus);
        let (raster, looking_along) = (Arc::clone(scan.raster()), axis.clone());
        let propose = Arc::clone(&self.services.propose);
        let started = Job::start("propose annuli", &self.wake, move |progress| {
            let request = Request {
                raster: &raster,
                calibration,
                structure,
                light,
                bounds,
                focus,
                axis: looking_along,
            };
            propose(&request, progress)
        });
        match started {
            Ok(job) => {
                scan.proposing = Some(ProposalJob { impression, axis, job });
                self.notices.say("looking for annuli");
            }
            Err(error) => self.notices.report(format!("cannot start looking for annuli: {error}")),
        }
    }

    /// Looks by itself where the reader has not begun; afterwards only when asked.
    pub(super) fn start_first_proposal(&mut self) {
        if self.practice.is_some() && !self.practises_with_proposals() {
            return;
        }
        let Some(scan) = &self.scan else { return };
        let Some(reading) = scan.reading() else { return };
        let has_model = matches!(reading.structure, Structure::Scale | Structure::Otolith);
        let is_fresh = reading.state == ReadingState::Draft && reading.marks.is_empty();
        let may_propose = self.blind.as_ref().is_some_and(|blind| blind.shows_proposals());
        let has_scale = scan.document().reading.calibration.is_some() || may_propose;
        let is_apart = reading.bounds.is_some() || scan.document().reading.impressions.len() < 2;
        if has_model && is_fresh && has_scale && is_apart && !scan.is_splitting() {
            self.start_proposal();
        }
    }

    pub(super) fn poll_proposal(&mut self) {
        let Some(scan) = &mut self.scan else { return };
        let Some(running) = &scan.proposing else { return };
        let result = match running.job.poll() {
            Polled::Pending => return,
            Polled::Done(result) => Some(result),
            Polled::Lost => None,
        };
        let (impression, axis) = (running.impression, running.axis.clone());
        scan.proposing = None;
        let axis_now = scan.reading().and_then(|reading| reading.axis.clone());
        if impression != scan.impression() || axis != axis_now {
            return;
        }
        match result {
            Some(Ok(result)) => {
                self.notices.say(summary(&result));
                if let Some(scan) = &mut self.scan {
                    scan.take_in(Found { impression, result });
                }
            }
            Some(Err(Stopped)) => self.notices.say("stopped looking for annuli"),
            None => self.notices.report(
                "looking for annuli broke off: mark this scan by hand, and keep it for a fault report",
            ),
        }
    }

    /// Starts to take strip and profile where the axis has changed; takes them in when they are there.
    pub(super) fn poll_evidence(&mut self) {
        let Some(scan) = &mut self.scan else { return };
        if let Some(running) = &scan.gathering {
            match running.poll() {
                Polled::Pending => return,
                Polled::Done(Some(evidence)) => scan.evidence = Some(evidence),
                Polled::Done(None) | Polled::Lost => {
                    scan.gathering = None;
                    scan.unusable_axis = scan.reading().and_then(|reading| reading.axis.clone());
                    self.notices.report("the axis of this scan cannot be followed: set it again");
                    return;
                }
            }
            scan.gathering = None;
        }
        if !scan.needs_evidence() {
            return;
        }
        let Some(reading) = scan.reading() else { return };
        let Some(axis) = reading.axis.clone() else { return };
        let (end, raster) = (reach(&axis, reading.edge), Arc::clone(scan.raster()));
        let work = move |_: &Progress| gather(&raster, &axis, end).ok();
        match Job::start("straighten the strip", &self.wake, work) {
            Ok(job) => scan.gathering = Some(job),
            Err(error) => self.notices.report(format!("cannot straighten the strip: {error}")),
        }
    }
}

/// One sentence on what was found.
pub(super) fn summary(found: &Proposals) -> String {
    match (&found.refused, found.annuli.len()) {
        (Some(reason), _) => format!("nothing is proposed: {}", reason.message()),
        (None, 0) => "no annulus is proposed: mark by hand what you see".to_owned(),
        (None, 1) => "1 annulus is proposed: accept, move or reject it".to_owned(),
        (None, n) => format!("{n} annuli are proposed: accept, move or reject them"),
    }
}
