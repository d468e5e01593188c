//! Proposing on every unread scan of the survey while the reader goes on with their work.
//!
//! What is found is kept until another survey is opened (some tens of kilobytes a scan) and put before the
//! reader when the scan is opened. Nothing is written: a scan without a reading stays unread.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};

use crate::domain::progress::Progress;
use crate::imaging::decode::Limits;
use crate::imaging::decode::watch::Watch;
use crate::proposing::{Proposals, Request};
use crate::store::file_name::SCANS_FOLDER;

use super::job::{Job, Polled};
use super::session::calibration;
use super::session_ahead::Picture;
use super::session_propose::Found;
use super::session_save::ListState;
use super::workbench::Workbench;

/// What came of one scan: its fingerprint and what was found on its first impression.
type BatchResult = Result<(String, Proposals), String>;

/// The work under way.
pub(super) struct Batch {
    job: Job<()>,
    results: Receiver<BatchResult>,
    failed: Vec<String>,
    n_done: usize,
}

impl Batch {
    pub(super) fn progress(&self) -> &Progress {
        self.job.progress()
    }
}

/// Proposals waiting for their scans to be opened, by the scans' fingerprints.
pub(super) type Waiting = HashMap<String, Proposals>;

impl Workbench {
    /// Starts on all unread scans.
    pub(super) fn start_batch(&mut self) {
        if self.batch.is_some() {
            self.notices.say("the unread scans are being worked through already");
            return;
        }
        let (Some(survey), Some(_)) = (&self.survey, &self.reader) else {
            self.notices.say("open a survey and type your initials first");
            return;
        };
        let here = self.place();
        let unread = survey.entries.iter().enumerate();
        let unread = unread
            .filter(|(place, entry)| entry.state == ListState::Unread && Some(*place) != here)
            // A slide with several fish waits for its boxes.
            .filter(|(_, entry)| entry.fish.len() < 2);
        let folder = survey.folder.join(SCANS_FOLDER);
        let paths: Vec<_> = unread.map(|(_, entry)| folder.join(&entry.scan)).collect();
        if paths.is_empty() {
            self.notices.say("no unread scan is left to propose on");
            return;
        }
        let (files, propose) = (Arc::clone(&survey.files), Arc::clone(&self.services.propose));
        let (sender, results) = channel();
        let (n, wake) = (paths.len(), Arc::clone(&self.wake));
        let work = move |progress: &Progress| {
            progress.set_total(paths.len());
            let survey = &files.survey;
            for path in &paths {
                if progress.is_stopped() {
                    return;
                }
                let watch = Watch::nobody().stopped_by(progress);
                let picture = Picture::read(path, &Limits::default(), &watch);
                let result = picture.and_then(|picture| {
                    let scale = calibration(survey, picture.resolution);
                    let scale =
                        scale.ok_or_else(|| format!("no pixel size: '{}'", path.display()))?;
                    let request = Request {
                        raster: &picture.raster,
                        calibration: scale,
                        structure: survey.structure,
                        light: survey.light,
                        bounds: None,
                        focus: None,
                        axis: None,
                    };
                    // Its own progress: the steps within a scan are none of the batch's.
                    let found = propose(&request, &Progress::new());
                    found.map(|found| (picture.blake3, found)).map_err(|_| "stopped".to_owned())
                });
                progress.step();
                if sender.send(result).is_err() {
                    return;
                }
                wake();
            }
        };
        match Job::start("propose on unread scans", &self.wake, work) {
            Ok(job) => {
                self.batch = Some(Batch { job, results, failed: Vec::new(), n_done: 0 });
                self.notices.say(format!("looking for annuli on {n} unread scans"));
            }
            Err(error) => self.notices.report(format!("cannot start looking for annuli: {error}")),
        }
    }

    /// Stops the batch; what it has found stays.
    pub(super) fn stop_batch(&mut self) {
        self.poll_batch();
        match self.batch.take() {
            Some(batch) => {
                self.notices.say(format!("stopped after {} unread scans", batch.n_done));
            }
            None => self.notices.say("nothing is being looked for on unread scans"),
        }
    }

    pub(super) fn poll_batch(&mut self) {
        let Some(batch) = &mut self.batch else { return };
        // Asked before the results: whatever was sent before the end is then in the channel.
        let is_over = batch.job.poll() != Polled::Pending;
        while let Ok(result) = batch.results.try_recv() {
            batch.n_done += 1;
            match result {
                Ok((scan, found)) => _ = self.waiting.insert(scan, found),
                Err(reason) => batch.failed.push(reason),
            }
        }
        if !is_over {
            return;
        }
        let Some(batch) = self.batch.take() else { return };
        self.notices.say(format!("looked for annuli on {} unread scans", batch.n_done));
        if let Some(first) = batch.failed.first() {
            let n = batch.failed.len();
            self.notices
                .report(format!("{n} of the unread scans gave nothing; the first: {first}"));
        }
    }

    /// Puts what the batch found before the reader of a scan just opened; true where there was something.
    pub(super) fn show_waiting(&mut self) -> bool {
        let Some(scan) = &mut self.scan else { return false };
        let is_fresh = !scan.has_file() && scan.reading().is_some_and(|r| r.marks.is_empty());
        let known = self.waiting.get(&scan.document().reading.scan.blake3);
        let (true, Some(result)) = (is_fresh, known.cloned()) else { return false };
        let impression = scan.impression();
        self.notices.say(super::session_propose::summary(&result));
        scan.found.push(Found { impression, result });
        scan.show_found();
        true
    }

    /// Another survey is open: what was found belongs to the one before.
    pub(super) fn forget_batch(&mut self) {
        self.batch = None;
        self.waiting.clear();
    }

    /// How many scans have proposals waiting.
    pub fn n_waiting(&self) -> usize {
        self.waiting.len()
    }
}
