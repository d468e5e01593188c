//! Keeps the settings on disk: read at the start, written a moment after a change, on a thread of its own.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::domain::progress::Progress;
use crate::workbench::job::{Job, Polled, Wake};
use crate::workbench::settings::Settings;

/// A change is written this long after it was made, so that a slider makes one write.
const DELAY: Duration = Duration::from_millis(600);

/// The file the settings are kept in.
#[derive(Default)]
pub struct SettingsKeeper {
    path: Option<PathBuf>,
    on_disk: Settings,
    changed: Option<(Settings, Instant)>,
    job: Option<Job<Result<(), String>>>,
}

impl SettingsKeeper {
    /// Reads the settings at `path`. A file that cannot be used is left alone: nothing is then written.
    pub fn open(path: Option<PathBuf>) -> (Self, Settings, Vec<String>) {
        let Some(path) = path else {
            return (Self::default(), Settings::default(), Vec::new());
        };
        match Settings::load(&path) {
            Ok((settings, problems)) => {
                let keeper =
                    Self { path: Some(path), on_disk: settings.clone(), ..Self::default() };
                (keeper, settings, problems)
            }
            Err(problem) => (Self::default(), Settings::default(), vec![problem]),
        }
    }

    /// Where they are kept; `None` where they are not.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// Writes `settings` when they have changed and stood still for a moment. Returns why a write failed, and how
    /// soon to ask again.
    pub fn keep(&mut self, settings: &Settings, wake: &Wake) -> (Option<String>, Option<Duration>) {
        let Some(path) = self.path.clone() else { return (None, None) };
        let mut problem = None;
        if let Some(job) = &self.job {
            match job.poll() {
                Polled::Pending => return (None, None),
                Polled::Done(Ok(())) => {}
                Polled::Done(Err(error)) => problem = Some(error),
                Polled::Lost => problem = Some("the settings were not written".to_owned()),
            }
            self.job = None;
        }
        if *settings == self.on_disk {
            self.changed = None;
            return (problem, None);
        }
        let since = match &self.changed {
            Some((seen, since)) if seen == settings => *since,
            _ => {
                self.changed = Some((settings.clone(), Instant::now()));
                Instant::now()
            }
        };
        let left = DELAY.saturating_sub(since.elapsed());
        if !left.is_zero() {
            return (problem, Some(left));
        }
        self.on_disk = settings.clone();
        let written = settings.clone();
        let work = move |_: &Progress| written.save(&path);
        self.job = Job::start("save the settings", wake, work).ok();
        (problem, None)
    }

    /// Writes what is not yet written and waits for it, before the window closes.
    pub fn finish(&mut self, settings: &Settings) {
        if let Some(job) = self.job.take() {
            _ = job.wait();
        }
        if let Some(path) = self.path.as_deref().filter(|_| *settings != self.on_disk)
            && settings.save(path).is_ok()
        {
            self.on_disk = settings.clone();
        }
    }
}
