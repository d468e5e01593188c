//! Writing the reading card of the fish on show, on a thread of its own.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::domain::progress::Progress;
use crate::store::safe_write::{Expected, write_whole};

use super::demo::RESULTS_FOLDER;
use super::job::{Job, Polled};
use super::session_card::Card;
use super::session_card_png::LetterFn;
use super::settings_tone::ScanTone;
use super::workbench::Workbench;

/// Folder of the cards, among the results of the survey.
pub const CARDS_FOLDER: &str = "cards";

impl Workbench {
    /// Writes the reading card of the impression on show, with the scan in `tone`, into the survey's results.
    pub fn export_card(&mut self, tone: ScanTone, lettering: LetterFn) {
        let (Some(survey), Some(scan), Some(reader)) = (&self.survey, &self.scan, &self.reader)
        else {
            self.notices.say("open a scan first: the card is of the fish on show");
            return;
        };
        let reading = scan.document().reading.clone();
        let Some(impression) = scan.reading().cloned() else { return };
        let stem = Path::new(&reading.scan.file).file_stem().unwrap_or_default();
        let stem = stem.to_string_lossy();
        let name = if reading.impressions.len() > 1 {
            format!("{stem}.{}.{reader}.svg", impression.number)
        } else {
            format!("{stem}.{reader}.svg")
        };
        let path = survey.folder.join(RESULTS_FOLDER).join(CARDS_FOLDER).join(name);
        let fish = survey.fish(&impression.fish).cloned();
        let rings = scan.found().map_or_else(Vec::new, |found| {
            let all = found.annuli.iter().chain(&found.checks).chain(&found.alternatives);
            all.filter_map(|one| Some((one.position, one.ring.clone()?))).collect()
        });
        let (raster, survey) = (Arc::clone(scan.raster()), survey.survey().name.clone());
        let work = move |_: &Progress| {
            let card = Card {
                raster: &raster,
                tone,
                reading: &reading,
                impression: &impression,
                fish: fish.as_ref(),
                rings,
                survey: &survey,
            };
            let svg = card.svg().map_err(|error| format!("cannot draw the card: {error}"))?;
            if let Some(folder) = path.parent() {
                std::fs::create_dir_all(folder)
                    .map_err(|error| format!("cannot make '{}': {error}", folder.display()))?;
            }
            write_whole(&path, svg.as_bytes(), Expected::Anything)
                .map_err(|error| error.to_string())?;
            // The same as a picture, for a document or a printer that knows no SVG.
            let png =
                card.png(&lettering).map_err(|error| format!("cannot draw the card: {error}"))?;
            write_whole(&path.with_extension("png"), &png, Expected::Anything)
                .map_err(|error| error.to_string())?;
            Ok(path)
        };
        match Job::start("write the card", &self.wake, work) {
            Ok(job) => self.exporting = Some(job),
            Err(error) => self.notices.report(format!("cannot start writing the card: {error}")),
        }
    }

    /// The card written last, while the program runs.
    pub fn last_card(&self) -> Option<&Path> {
        self.last_card.as_deref()
    }

    pub(super) fn poll_export(&mut self) {
        let Some(job) = &self.exporting else { return };
        let result: Result<PathBuf, String> = match job.poll() {
            Polled::Pending => return,
            Polled::Done(result) => result,
            Polled::Lost => Err("writing the card broke off".to_owned()),
        };
        self.exporting = None;
        match result {
            Ok(path) => {
                let words = format!("reading card written: {} and .png", path.display());
                self.notices.say(words);
                self.last_card = Some(path);
            }
            Err(error) => self.notices.report(error),
        }
    }
}
