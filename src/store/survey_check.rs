//! Everything that can be found wrong with a survey by opening all of its files.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use rayon::prelude::*;

use crate::domain::effort::EffortRun;
use crate::domain::exclusion::Exclusion;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{ImpressionReading, ReadingState};
use crate::domain::reference::ReferenceLength;
use crate::domain::stocking::Stocking;

use super::blind::LISTS_FOLDER;
use super::blind_filing::closed_readings;
use super::collection::{OpenSurvey, SidecarFile, in_scans, name_of};
use super::effort_file::{EFFORT_FILE, read_effort};
use super::error::StoreError;
use super::exclusion_file::load_exclusions;
use super::field_sheet::FIELD_SHEET;
use super::file_name::{SCANS_FOLDER, sidecar_name};
use super::fingerprint::Fingerprint;
use super::problem::Problem;
use super::reference_file::{REFERENCE_FILE, read_reference};
use super::resolution_file::{RESOLVED_FOLDER, load_resolutions};
use super::sheet::Sheet;
use super::sidecar::{LoadedSidecar, load_sidecar, load_sidecar_for_analysis};
use super::stocking_file::{STOCKING_FILE, read_stocking};

/// All sidecars of a survey.
#[derive(Debug, Clone, Default)]
pub struct SurveyReadings {
    /// Those that could be read, sorted by scan and reader.
    pub sidecars: Vec<LoadedSidecar>,
    /// What was wrong with them and with the others.
    pub problems: Vec<Problem>,
    /// Decisions on fish that are left out of lengths and growth.
    pub exclusions: Vec<Exclusion>,
}

/// The tables beside the field sheet; `None` for a file that is not there.
#[derive(Debug, Clone, Default)]
pub struct SurveyTables {
    /// Runs of the gear.
    pub effort: Option<Vec<EffortRun>>,
    /// Stockings.
    pub stocking: Option<Vec<Stocking>>,
    /// The regional standard.
    pub reference: Option<Vec<ReferenceLength>>,
    /// What was wrong with them.
    pub problems: Vec<Problem>,
}

/// The outcome of checking a whole survey.
#[derive(Debug, Clone)]
pub struct SurveyCheck {
    /// Fish on the field sheet, counted-only rows included.
    pub n_fish: usize,
    /// Scans in the folder.
    pub n_scans: usize,
    /// Confirmed readings.
    pub n_confirmed: usize,
    /// Drafts.
    pub n_drafts: usize,
    /// Everything that is wrong.
    pub problems: Vec<Problem>,
}

impl OpenSurvey {
    /// Loads every sidecar, on all cores. Reads only; changes nothing on disk.
    ///
    /// # Errors
    /// [`Stopped`] when `progress` was asked to stop.
    pub fn load_readings(&self, progress: &Progress) -> Result<SurveyReadings, Stopped> {
        progress.set_total(self.sidecars.len());
        let loaded: Result<Vec<_>, Stopped> = self
            .sidecars
            .par_iter()
            .map(|file| {
                progress.checkpoint()?;
                let loaded = load_sidecar(&file.path);
                progress.step();
                Ok((file, loaded))
            })
            .collect();
        Ok(self.gathered(loaded?))
    }

    /// Loads every sidecar one after the other, for comparisons of thousands of surveys that are read side by side. As
    /// [`Self::load_readings`] otherwise, without steps of progress and without a look at stale micrometres, which are
    /// warnings for whoever opens the survey.
    ///
    /// # Errors
    /// [`Stopped`] when `progress` was asked to stop.
    pub fn load_readings_in_turn(&self, progress: &Progress) -> Result<SurveyReadings, Stopped> {
        let mut loaded = Vec::with_capacity(self.sidecars.len());
        for file in &self.sidecars {
            progress.checkpoint()?;
            loaded.push((file, load_sidecar_for_analysis(&file.path)));
        }
        Ok(self.gathered(loaded))
    }

    fn gathered(
        &self,
        loaded: Vec<(&SidecarFile, Result<LoadedSidecar, StoreError>)>,
    ) -> SurveyReadings {
        let fish = self.fish.iter().chain(&self.faulty_fish);
        let fish: HashSet<&str> = fish.map(|fish| fish.key.as_str()).collect();
        let mut readings = SurveyReadings::default();
        for (file, loaded) in loaded {
            match loaded {
                Ok(loaded) => {
                    readings.problems.extend(judge_sidecar(file, &loaded, &fish));
                    // A copy under another name would count as a second reading.
                    if is_what_it_is_named(file, &loaded) && !self.is_twin(file) {
                        readings.sidecars.push(loaded);
                    }
                }
                Err(error) => readings.problems.push(problem_of(file, &error)),
            }
        }
        let excluded = load_exclusions(&self.folder);
        readings.problems.extend(excluded.problems);
        readings.exclusions = excluded.exclusions;
        readings
    }

    /// True for a sidecar beside which the same reader has another one, named in the usual lower case.
    fn is_twin(&self, file: &SidecarFile) -> bool {
        let usual = sidecar_name(&file.scan, &file.reader);
        let same = |other: &&SidecarFile| other.scan == file.scan && other.reader == file.reader;
        name_of(&file.path) != usual
            && self.sidecars.iter().filter(same).any(|other| name_of(&other.path) == usual)
    }

    /// What is wrong with decisions and with closed blind lists.
    fn judge_lists_and_decisions(&self, sidecars: &[LoadedSidecar]) -> Vec<Problem> {
        let decisions = match load_resolutions(&self.folder) {
            Ok(all) => all.problems,
            Err(error) => vec![error.to_string()],
        };
        let lists = match closed_readings(&self.folder, sidecars) {
            Ok(closed) => closed.problems,
            Err(error) => vec![error.to_string()],
        };
        let lists = lists.into_iter().map(|text| Problem::error(LISTS_FOLDER, text));
        decisions
            .into_iter()
            .map(|text| Problem::error(RESOLVED_FOLDER, text))
            .chain(lists)
            .collect()
    }

    /// Reads the tables beside the field sheet. Reads only.
    ///
    /// # Errors
    /// [`StoreError::Io`] when a file is there and cannot be read.
    pub fn load_tables(&self) -> Result<SurveyTables, StoreError> {
        let mut tables = SurveyTables::default();
        let at = |name: &str| self.folder.join(name);
        let problems = &mut tables.problems;
        tables.effort = rows_of(read_effort(&at(EFFORT_FILE), EFFORT_FILE)?, problems);
        tables.stocking =
            rows_of(read_stocking(&at(STOCKING_FILE), STOCKING_FILE, &self.survey)?, problems);
        tables.reference = rows_of(read_reference(&at(REFERENCE_FILE), REFERENCE_FILE)?, problems);
        if let Some(effort) = &tables.effort {
            let without_effort = self.runs_without_effort(effort);
            tables.problems.extend(without_effort);
        }
        Ok(tables)
    }

    /// Compares every scan that has a reading with the hash its sidecars hold, on all cores.
    ///
    /// # Errors
    /// [`Stopped`] when `progress` was asked to stop.
    pub fn compare_scans(
        &self,
        sidecars: &[LoadedSidecar],
        progress: &Progress,
    ) -> Result<Vec<Problem>, Stopped> {
        let mut by_scan: BTreeMap<&str, Vec<&LoadedSidecar>> = BTreeMap::new();
        for sidecar in sidecars.iter().filter(|sidecar| !sidecar.reading.scan.blake3.is_empty()) {
            by_scan.entry(&sidecar.reading.scan.file).or_default().push(sidecar);
        }
        by_scan
            .retain(|scan, _| self.scans.binary_search_by(|have| have.as_str().cmp(scan)).is_ok());
        progress.set_total(progress.counts().1 + by_scan.len());
        let judged: Result<Vec<Vec<Problem>>, Stopped> = by_scan
            .into_par_iter()
            .map(|(scan, sidecars)| {
                progress.checkpoint()?;
                let problems = self.compare_scan(scan, &sidecars);
                progress.step();
                Ok(problems)
            })
            .collect();
        Ok(judged?.into_iter().flatten().collect())
    }

    /// Opens every file of the survey but decodes no scan, and tells all that is wrong. Reads only.
    ///
    /// # Errors
    /// [`Stopped`] when `progress` was asked to stop.
    pub fn check(&self, progress: &Progress) -> Result<SurveyCheck, Stopped> {
        let readings = self.load_readings(progress)?;
        let mut problems = self.problems.clone();
        match self.load_tables() {
            Ok(tables) => problems.extend(tables.problems),
            Err(error) => problems.push(Problem::error("", error.to_string())),
        }
        problems.extend(self.check_lists_and_decisions(&readings.sidecars));
        problems.extend(readings.problems);
        problems.extend(self.judge_lists_and_decisions(&readings.sidecars));
        problems.extend(self.compare_scans(&readings.sidecars, progress)?);
        let count = |state: ReadingState| {
            let impressions = readings.sidecars.iter().flat_map(|file| &file.reading.impressions);
            impressions.filter(|impression| impression.state == state).count()
        };
        Ok(SurveyCheck {
            n_fish: self.fish.iter().map(|fish| fish.count as usize).sum(),
            n_scans: self.scans.len(),
            n_confirmed: count(ReadingState::Confirmed),
            n_drafts: count(ReadingState::Draft),
            problems,
        })
    }

    fn compare_scan(&self, scan: &str, sidecars: &[&LoadedSidecar]) -> Vec<Problem> {
        let path = self.folder.join(SCANS_FOLDER).join(scan);
        let found = match Fingerprint::of_file(&path) {
            Ok(Some(found)) => found.blake3_hex(),
            Ok(None) => return Vec::new(),
            Err(error) => return vec![Problem::error(in_scans(scan), error.to_string())],
        };
        let other = sidecars.iter().filter(|sidecar| sidecar.reading.scan.blake3 != found);
        other
            .map(|sidecar| {
                let message = format!(
                    "the scan '{scan}' is not the picture these readings were made on (its hash differs): bring the old scan \
                     back, or read the new one again"
                );
                Problem::error(in_scans(&name_of(&sidecar.path)), message).in_column("scan.blake3")
            })
            .collect()
    }

    fn runs_without_effort(&self, effort: &[EffortRun]) -> Vec<Problem> {
        let known: HashSet<&str> = effort.iter().map(|run| run.run.as_str()).collect();
        let mut told: BTreeSet<&str> = BTreeSet::new();
        let fish = self.fish.iter().filter(|fish| !fish.run.is_empty());
        fish.filter(|fish| !known.contains(fish.run.as_str()) && told.insert(&fish.run))
            .map(|fish| {
                let message = format!(
                    "run '{}' is not in effort.csv: add it there, or correct the run",
                    fish.run
                );
                Problem::warning(FIELD_SHEET, message).at_row(fish.row).in_column("run")
            })
            .collect()
    }
}

fn rows_of<T>(sheet: Option<Sheet<T>>, problems: &mut Vec<Problem>) -> Option<Vec<T>> {
    sheet.map(|sheet| {
        problems.extend(sheet.problems);
        sheet.rows
    })
}

/// True where a sidecar says the scan and the reader that its name says, and each impression once in each state.
fn is_what_it_is_named(file: &SidecarFile, loaded: &LoadedSidecar) -> bool {
    let reading = &loaded.reading;
    reading.reader == file.reader
        && reading.scan.file == file.scan
        && twice_in_one_state(&reading.impressions).is_none()
}

/// The number of an impression that stands twice, confirmed or as a draft.
fn twice_in_one_state(impressions: &[ImpressionReading]) -> Option<u32> {
    let mut seen = HashSet::new();
    impressions.iter().find(|one| !seen.insert((one.number, one.state))).map(|one| one.number)
}

/// A newer program's file is only a warning: it is whole, and this program leaves it alone.
fn problem_of(file: &SidecarFile, error: &StoreError) -> Problem {
    let name = in_scans(&name_of(&file.path));
    match error {
        StoreError::NewerVersion { .. } => Problem::warning(name, error.to_string()),
        _ => Problem::error(name, error.to_string()),
    }
}

/// What a sidecar that can be read says that does not fit its name or the field sheet.
fn judge_sidecar(file: &SidecarFile, loaded: &LoadedSidecar, fish: &HashSet<&str>) -> Vec<Problem> {
    let name = in_scans(&name_of(&file.path));
    let reading = &loaded.reading;
    let mut problems = Vec::new();
    if reading.reader != file.reader {
        let message = format!(
            "expected readings of '{}' by the file's name, found '{}': name the file after the reader",
            file.reader, reading.reader
        );
        problems.push(Problem::error(&name, message).in_column("reader"));
    }
    if reading.scan.file != file.scan {
        let message = format!(
            "expected readings on '{}' by the file's name, found '{}': name the file after the scan",
            file.scan, reading.scan.file
        );
        problems.push(Problem::error(&name, message).in_column("scan.file"));
    }
    if let Some(number) = twice_in_one_state(&reading.impressions) {
        let message = format!(
            "expected one confirmed reading and one draft of each impression, found impression {number} twice in one \
             state; the file is not used: remove one of the two"
        );
        problems.push(Problem::error(&name, message).in_column("impressions"));
    }
    if loaded.is_read_only() {
        let message = format!(
            "written by a newer program (version {}): it can be looked at, not changed; install a newer program",
            loaded.version
        );
        problems.push(Problem::warning(&name, message).in_column("version"));
    }
    for key in &loaded.stale_micrometres {
        let message = "the micrometres do not fit the pixels and the calibration; the pixels count: open the reading and \
                       save it again";
        problems.push(Problem::warning(&name, message).in_column(key));
    }
    let impressions = reading.impressions.iter().enumerate();
    problems.extend(impressions.filter_map(|(index, impression)| {
        stranger(impression, fish).map(|message| {
            Problem::error(&name, message).in_column(format!("impressions[{index}].fish"))
        })
    }));
    problems
}

fn stranger(impression: &ImpressionReading, fish: &HashSet<&str>) -> Option<String> {
    if impression.fish.is_empty() {
        return (impression.state == ReadingState::Confirmed).then(|| {
            format!(
                "impression {} is confirmed and belongs to no fish: say which",
                impression.number
            )
        });
    }
    (!fish.contains(impression.fish.as_str())).then(|| {
        format!(
            "impression {} belongs to fish '{}', which is not in fish.csv: add the fish there or correct one",
            impression.number, impression.fish
        )
    })
}
