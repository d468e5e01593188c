//! The reading list of a survey: every scan with how far a reader is, and filing what closed blind lists hold of them.

use std::path::Path;

use crate::domain::reading::{
    Certainty, Confidence, ImpressionReading, ReaderInitials, ScanReading,
};
use crate::store::blind_filing::file_closed_lists;
use crate::store::collection::OpenSurvey;
use crate::store::sidecar::load_sidecar;

use super::job::Polled;
use super::session::{ListEntry, current};
use super::session_disputed::disputed_scans;
use super::session_save::ListState;
use super::workbench::Workbench;

/// What filing a reader's closed blind lists left: the reading list as it is now, and what was in the way.
pub(super) struct Filing {
    pub(super) entries: Vec<ListEntry>,
    n_filed: usize,
    pub(super) problems: Vec<String>,
}

impl Workbench {
    /// Takes in the reading list of a reader who has just said who they are, and opens their first unread scan.
    pub(super) fn poll_filing(&mut self) {
        let Some(job) = &self.filing else { return };
        let filing = match job.poll() {
            Polled::Pending => return,
            Polled::Done(filing) => Some(filing),
            Polled::Lost => None,
        };
        self.filing = None;
        if let (Some(survey), Some(Filing { entries, n_filed, problems })) =
            (&mut self.survey, filing)
        {
            survey.entries = entries;
            problems.into_iter().for_each(|problem| self.notices.report(problem));
            if n_filed > 0 {
                self.notices.say(format!("{n_filed} readings of closed blind lists filed"));
            }
        }
        self.open_first_unread();
    }
}

/// Files what closed blind lists hold of a reader beside the scans, and lists how far that reader is.
pub(super) fn filed(files: &OpenSurvey, folder: &Path, reader: &ReaderInitials) -> Filing {
    let known = &files.survey.readers;
    let is_reader = known.is_empty() || known.contains(reader);
    let (n_filed, problems) = match is_reader.then(|| file_closed_lists(folder, reader)) {
        Some(Ok(filed)) => (filed.n_readings, filed.problems),
        Some(Err(error)) => (0, vec![error.to_string()]),
        None => (0, Vec::new()),
    };
    Filing { entries: reading_list(files, folder, Some(reader)), n_filed, problems }
}

/// The scans of a survey in the order of the field sheet, then those no fish claims, with the reader's state.
pub(super) fn reading_list(
    files: &OpenSurvey,
    folder: &Path,
    reader: Option<&ReaderInitials>,
) -> Vec<ListEntry> {
    let mut entries: Vec<ListEntry> = Vec::new();
    let disputed = disputed_scans(files);
    let on_sheet =
        files.fish.iter().flat_map(|fish| fish.scans.iter().map(move |scan| (scan, Some(fish))));
    let in_folder = files.scans.iter().map(|scan| (scan, None));
    for (scan, fish) in on_sheet.chain(in_folder) {
        let fish = fish.cloned();
        match entries.iter_mut().find(|entry| entry.scan == *scan) {
            Some(entry) => entry.fish.extend(fish),
            None => {
                let (state, is_doubtful) = state_on_disk(folder, scan, reader);
                let fish = fish.into_iter().collect();
                let (is_disputed, scan) = (disputed.contains(scan), scan.clone());
                entries.push(ListEntry { scan, fish, state, is_doubtful, is_disputed });
            }
        }
    }
    entries
}

fn state_on_disk(folder: &Path, scan: &str, reader: Option<&ReaderInitials>) -> (ListState, bool) {
    use crate::store::file_name::sidecar_path;
    let path = reader.and_then(|reader| sidecar_path(folder, scan, reader).ok());
    let loaded = path.filter(|path| path.exists()).and_then(|path| load_sidecar(&path).ok());
    loaded.map_or((ListState::Unread, false), |loaded| {
        let reading = current(&loaded.reading);
        (ListState::of(&reading), is_doubtful(&reading))
    })
}

/// True where a mark is doubtful or the confidence in a whole reading is poor.
pub(super) fn is_doubtful(reading: &ScanReading) -> bool {
    reading.impressions.iter().any(is_doubtful_impression)
}

/// True where a mark is doubtful or the confidence in the whole reading is poor.
pub(super) fn is_doubtful_impression(impression: &ImpressionReading) -> bool {
    impression.confidence == Some(Confidence::Poor)
        || impression.marks.iter().any(|mark| mark.certainty == Certainty::Doubtful)
}
