//! Neighbours on the reading list, decoded while the reader is busy with the scan between them.
//!
//! At most two are kept, together at most [`MAX_BYTES`]; larger ones are decoded when they are opened.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use crate::domain::progress::Progress;
use crate::imaging::decode::source::PictureFile;
use crate::imaging::decode::watch::Watch;
use crate::imaging::decode::{Limits, decode_open_file};
use crate::imaging::raster::{Raster, Samples};
use crate::imaging::resolution::Resolution;
use crate::store::file_name::SCANS_FOLDER;
use crate::store::fingerprint::Fingerprint;

use super::job::{Job, Polled};
use super::workbench::Workbench;

/// Decoded neighbours take up at most this much.
pub const MAX_BYTES: usize = 64 << 20;

/// A decoded scan with what its file says of itself.
#[derive(Debug)]
pub(super) struct Picture {
    pub(super) raster: Arc<Raster>,
    pub(super) resolution: Option<Resolution>,
    pub(super) blake3: String,
    length: u64,
    changed: Option<SystemTime>,
}

/// What is kept and what is under way.
#[derive(Default)]
pub(super) struct Ahead {
    /// `None` for a file that cannot be decoded within the limits: it is not tried again.
    kept: Vec<(PathBuf, Option<Arc<Picture>>)>,
    job: Option<(PathBuf, Job<Option<Arc<Picture>>>)>,
}

impl Picture {
    /// Reads and decodes a scan, piece by piece: the file's bytes never stand in memory beside the picture (but for
    /// JPEG and BMP). `watch` sees it grow.
    ///
    /// # Errors
    /// In plain words, with the path.
    pub(super) fn read(path: &Path, limits: &Limits, watch: &Watch) -> Result<Self, String> {
        let told = |error: &dyn std::fmt::Display| format!("{error}: '{}'", path.display());
        let file = PictureFile::open(path, limits).map_err(|error| told(&error))?;
        let changed = changed_at(path);
        let decoded = decode_open_file(&file, limits, watch).map_err(|error| told(&error))?;
        let print = Fingerprint::of_reader(file.reader())
            .map_err(|error| told(&format!("cannot read the scan: {error}")))?;
        let picture = Self {
            raster: Arc::new(decoded.raster),
            resolution: decoded.resolution,
            blake3: print.blake3_hex(),
            length: print.length(),
            changed,
        };
        // Pixels and fingerprint are read one after the other: they must be of one and the same file.
        if picture.is_current(path) {
            Ok(picture)
        } else {
            Err(told(&"the scan changed while it was read: open it again"))
        }
    }

    /// True while the file is the one that was decoded, by length and time.
    pub(super) fn is_current(&self, path: &Path) -> bool {
        std::fs::metadata(path)
            .is_ok_and(|about| about.len() == self.length && about.modified().ok() == self.changed)
    }

    fn bytes(&self) -> usize {
        match self.raster.samples() {
            Samples::Eight(values) => values.len(),
            Samples::Sixteen(values) => values.len() * 2,
        }
    }
}

fn changed_at(path: &Path) -> Option<SystemTime> {
    std::fs::metadata(path).ok()?.modified().ok()
}

impl Ahead {
    /// The picture at `path`, if it has been decoded.
    pub(super) fn find(&self, path: &Path) -> Option<Arc<Picture>> {
        let found = self.kept.iter().find(|(known, _)| known == path)?;
        found.1.clone()
    }

    fn is_known(&self, path: &Path) -> bool {
        self.kept.iter().any(|(known, _)| known == path)
            || self.job.as_ref().is_some_and(|(known, _)| known == path)
    }

    fn keep(&mut self, path: PathBuf, picture: Option<Arc<Picture>>) {
        let taken: usize =
            self.kept.iter().flat_map(|(_, kept)| kept).map(|kept| kept.bytes()).sum();
        let picture = picture.filter(|picture| taken + picture.bytes() <= MAX_BYTES);
        self.kept.push((path, picture));
    }
}

impl Workbench {
    /// Takes in a decoded neighbour and starts on the next, while nothing more pressing is under way.
    pub(super) fn poll_ahead(&mut self) {
        if self.is_practising() {
            return;
        }
        if let Some((path, job)) = self.ahead.job.take() {
            match job.poll() {
                Polled::Pending => {
                    self.ahead.job = Some((path, job));
                    return;
                }
                Polled::Done(picture) => self.ahead.keep(path, picture),
                Polled::Lost => self.ahead.keep(path, None),
            }
        }
        let (Some(survey), Some(scan)) = (&self.survey, &self.scan) else { return };
        // A blind list decodes nothing ahead: its pictures are cut out by their tags.
        if self.opening.is_some() || scan.is_proposing() || self.blind.is_some() {
            return;
        }
        let place = scan.place();
        let neighbours = [place.checked_add(1), place.checked_sub(1)];
        let entries = neighbours.iter().flatten().filter_map(|place| survey.entries.get(*place));
        let folder = survey.folder.join(SCANS_FOLDER);
        let wanted: Vec<PathBuf> = entries.map(|entry| folder.join(&entry.scan)).collect();
        self.ahead.kept.retain(|(path, _)| wanted.contains(path));
        let Some(path) = wanted.into_iter().find(|path| !self.ahead.is_known(path)) else { return };
        let reading = path.clone();
        let work = move |progress: &Progress| {
            let most = MAX_BYTES as u64;
            let limits =
                Limits { max_memory_bytes: most, max_file_bytes: most, ..Limits::default() };
            let watch = Watch::nobody().stopped_by(progress);
            Picture::read(&reading, &limits, &watch).ok().map(Arc::new)
        };
        match Job::start("decode ahead", &self.wake, work) {
            Ok(job) => self.ahead.job = Some((path, job)),
            Err(_) => self.ahead.keep(path, None),
        }
    }

    /// True when both neighbours of the open scan are decoded or known to be too large.
    pub fn is_ahead(&self) -> bool {
        self.scan.is_some() && self.ahead.job.is_none() && !self.ahead.kept.is_empty()
    }
}
