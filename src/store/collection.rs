//! A survey folder, opened: settings, fish, scans and sidecars, and all that does not fit together.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use crate::domain::blind::ListName;
use crate::domain::fish::Fish;
use crate::domain::reading::ReaderInitials;
use crate::domain::survey::Survey;

use super::blind::LISTS_FOLDER;
use super::error::StoreError;
use super::field_sheet::{FIELD_SHEET, read_field_sheet};
use super::file_name::{
    SCANS_FOLDER, fault_in, is_scan_name, looks_like_conflict_copy, parse_sidecar_name,
};
use super::fingerprint::Fingerprint;
use super::problem::Problem;
use super::survey_file::read_survey;

const SECOND_COPY: &str = "this looks like a second copy, made by a service that keeps folders in step or by hand; it is not \
                           read: compare it with the original and remove it";

const LIKE_ANOTHER_READER: &str = "these initials are another reader's with an addition, as in a second copy made by a service \
                                   that keeps folders in step: compare it with the original and remove it, or add the \
                                   initials to the readers in survey.json";

/// A sidecar known by its name; nothing in it has been read yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SidecarFile {
    /// File name of the scan.
    pub scan: String,
    /// Reader, by the name of the file.
    pub reader: ReaderInitials,
    /// Where it lies.
    pub path: PathBuf,
}

/// A survey folder as it was when opened. No scan and no sidecar has been opened: 100 000 files cost one listing.
#[derive(Debug, Clone)]
pub struct OpenSurvey {
    /// The folder.
    pub folder: PathBuf,
    /// Settings.
    pub survey: Survey,
    /// What `survey.json` held, to be handed to `write_survey`.
    pub survey_fingerprint: Fingerprint,
    /// Fish of the good rows of the field sheet. Names of scans are as on disk where only letter case differs.
    pub fish: Vec<Fish>,
    /// Fish of the other rows, as far as they could be read. Not for analyses: they only tell whose a scan is.
    pub faulty_fish: Vec<Fish>,
    /// File names of the scans in `scans/`, sorted.
    pub scans: Vec<String>,
    /// Sidecars in `scans/`, sorted by scan and reader.
    pub sidecars: Vec<SidecarFile>,
    /// What does not fit, as far as names and the field sheet tell.
    pub problems: Vec<Problem>,
}

impl OpenSurvey {
    /// Opens the survey in `folder`. Reads only; changes nothing on disk.
    ///
    /// # Errors
    /// [`StoreError::NotASurvey`] and [`StoreError::BadSurvey`] for `survey.json`; [`StoreError::Io`] when the field
    /// sheet or the folder of scans is there and cannot be read. All else is in [`OpenSurvey::problems`].
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        let (survey, survey_fingerprint) = read_survey(folder)?;
        let sheet = read_field_sheet(folder, &survey)?;
        let mut opened = Self {
            folder: folder.to_owned(),
            survey,
            survey_fingerprint,
            fish: sheet.fish,
            faulty_fish: sheet.faulty_fish,
            scans: Vec::new(),
            sidecars: Vec::new(),
            problems: sheet.problems,
        };
        opened.note_second_copies();
        opened.note_odd_lists();
        opened.list_scans()?;
        opened.join_fish_and_scans();
        opened.judge_sidecar_names();
        Ok(opened)
    }

    /// Where a scan lies.
    ///
    /// # Errors
    /// [`StoreError::UnsafeName`] for a name that leads out of the folder.
    pub fn scan_path(&self, scan: &str) -> Result<PathBuf, StoreError> {
        super::file_name::check_file_name(scan)?;
        Ok(self.folder.join(SCANS_FOLDER).join(scan))
    }

    /// The fish that claim a scan, in the order of the field sheet.
    pub fn fish_on<'a>(&'a self, scan: &'a str) -> impl Iterator<Item = &'a Fish> {
        self.fish.iter().filter(move |fish| fish.scans.iter().any(|name| name == scan))
    }

    /// The sidecars of one reader.
    pub fn sidecars_of<'a>(
        &'a self,
        reader: &'a ReaderInitials,
    ) -> impl Iterator<Item = &'a SidecarFile> {
        self.sidecars.iter().filter(move |sidecar| sidecar.reader == *reader)
    }

    /// Second copies of the survey's own files; the scans have their own listing.
    fn note_second_copies(&mut self) {
        let Ok(entries) = std::fs::read_dir(&self.folder) else { return };
        let names = entries.flatten().filter_map(|entry| entry.file_name().into_string().ok());
        let mut copies: Vec<String> = names
            .filter(|name| {
                let stem = name.strip_suffix(".json").or_else(|| name.strip_suffix(".csv"));
                stem.is_some_and(looks_like_conflict_copy)
            })
            .collect();
        copies.sort();
        self.problems.extend(copies.into_iter().map(|name| Problem::warning(name, SECOND_COPY)));
    }

    /// Files in `lists/` that are neither a list nor a reader's readings of one.
    fn note_odd_lists(&mut self) {
        let Ok(entries) = std::fs::read_dir(self.folder.join(LISTS_FOLDER)) else { return };
        let names = entries.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned());
        let mut odd: Vec<String> = names.filter(|name| is_odd_list(name)).collect();
        odd.sort();
        self.problems.extend(odd.into_iter().map(|name| {
            let message = if looks_like_conflict_copy(&name) {
                SECOND_COPY
            } else {
                "this is the name of no list (NAME.json) and of no readings of one (NAME.READER.json); it is not read: \
                 rename or remove it"
            };
            Problem::warning(format!("{LISTS_FOLDER}/{name}"), message)
        }));
    }

    /// One listing of `scans/`, sorted into scans, sidecars and what is neither.
    fn list_scans(&mut self) -> Result<(), StoreError> {
        let folder = self.folder.join(SCANS_FOLDER);
        let entries = match std::fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => {
                let message =
                    "there is no folder of scans: make a folder named scans beside survey.json";
                self.problems.push(Problem::warning(SCANS_FOLDER, message));
                return Ok(());
            }
            Err(error) => return Err(StoreError::io("list the scans", &folder)(error)),
        };
        let mut others = Vec::new();
        for entry in entries {
            let entry = entry.map_err(StoreError::io("list the scans", &folder))?;
            if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                continue;
            }
            match entry.file_name().into_string() {
                Ok(name) => self.sort_in(name, &folder, &mut others),
                Err(name) => {
                    let shown = name.to_string_lossy().into_owned();
                    let message = "the file's name is not UTF-8: rename the file";
                    self.problems.push(Problem::warning(in_scans(&shown), message));
                }
            }
        }
        self.scans.sort();
        let scans = &self.scans;
        self.sidecars.retain(|sidecar| {
            let is_copy = looks_like_conflict_copy(&sidecar.scan)
                && scans.binary_search(&sidecar.scan).is_err();
            if is_copy {
                others.push(name_of(&sidecar.path));
            }
            !is_copy
        });
        self.sidecars.sort_by(|a, b| {
            (&a.scan, a.reader.as_str(), &a.path).cmp(&(&b.scan, b.reader.as_str(), &b.path))
        });
        others.sort();
        self.problems.extend(others.iter().filter_map(|name| judge_other(name)));
        Ok(())
    }

    fn sort_in(&mut self, name: String, folder: &Path, others: &mut Vec<String>) {
        if let Some((scan, reader)) = parse_sidecar_name(&name) {
            let (scan, path) = (scan.to_owned(), folder.join(&name));
            self.sidecars.push(SidecarFile { scan, reader, path });
        } else if is_scan_name(&name) && fault_in(&name).is_none() {
            self.scans.push(name);
        } else {
            others.push(name);
        }
    }

    fn join_fish_and_scans(&mut self) {
        let on_disk: HashSet<&str> = self.scans.iter().map(String::as_str).collect();
        let by_lower: HashMap<String, &str> =
            self.scans.iter().map(|name| (name.to_lowercase(), name.as_str())).collect();
        let mut claimed: HashSet<&str> = HashSet::new();
        let mut problems = Vec::new();
        let mut without = Vec::new();
        for fish in &mut self.fish {
            if fish.scans.is_empty() && fish.count == 1 {
                without.push((fish.row, fish.key.clone()));
            }
            for scan in &mut fish.scans {
                if let Some(found) = on_disk.get(scan.as_str()) {
                    claimed.insert(found);
                } else if let Some(found) = by_lower.get(&scan.to_lowercase()) {
                    let message = format!(
                        "'{scan}' is named '{found}' on disk: write it with the same letters"
                    );
                    problems.push(
                        Problem::warning(FIELD_SHEET, message).at_row(fish.row).in_column("scans"),
                    );
                    claimed.insert(found);
                    *scan = (*found).to_owned();
                } else {
                    let message = format!(
                        "fish '{}' has a scan '{scan}' that is not in the folder scans: add the file or correct the name",
                        fish.key
                    );
                    problems.push(
                        Problem::error(FIELD_SHEET, message).at_row(fish.row).in_column("scans"),
                    );
                }
            }
        }
        let of_faulty = self.faulty_fish.iter().flat_map(|fish| &fish.scans);
        claimed.extend(of_faulty.map(String::as_str));
        problems.extend(fish_without_scan(&without));
        problems.extend(self.scans.iter().filter(|scan| !claimed.contains(scan.as_str())).map(
            |scan| {
                let message = "no fish claims this scan: name it in the scans column of fish.csv";
                Problem::warning(in_scans(scan), message)
            },
        ));
        self.problems.extend(problems);
    }

    /// True for `MH-0012.tif.kb-1.json` beside `MH-0012.tif.kb.json`: services that keep folders in step may add to a
    /// name like that. Readers that survey.json names are readers.
    fn has_longer_initials_than_another(&self, sidecar: &SidecarFile) -> bool {
        let Some((initials, _)) = sidecar.reader.as_str().split_once('-') else { return false };
        let place = self.sidecars.partition_point(|other| other.scan < sidecar.scan);
        let mut same_scan =
            self.sidecars.iter().skip(place).take_while(|other| other.scan == sidecar.scan);
        !self.survey.readers.contains(&sidecar.reader)
            && same_scan.any(|other| other.reader.as_str().eq_ignore_ascii_case(initials))
    }

    fn judge_sidecar_names(&mut self) {
        let scans: HashSet<&str> = self.scans.iter().map(String::as_str).collect();
        let mut first_of: HashMap<(String, ReaderInitials), &SidecarFile> = HashMap::new();
        let mut strangers: BTreeMap<&str, &SidecarFile> = BTreeMap::new();
        let mut problems = Vec::new();
        for sidecar in &self.sidecars {
            let file = in_scans(&name_of(&sidecar.path));
            if !scans.contains(sidecar.scan.as_str()) {
                problems.push(without_scan(sidecar, &file));
            }
            let place = (sidecar.scan.clone(), sidecar.reader.clone());
            if let Some(first) = first_of.get(&place) {
                let message = format!(
                    "initials that differ only in letter case are one reader, who has another sidecar '{}'; only the one in lower \
                     case is read: keep one of the two",
                    name_of(&first.path)
                );
                problems.push(Problem::error(&file, message));
            } else {
                first_of.insert(place, sidecar);
            }
            if self.has_longer_initials_than_another(sidecar) {
                problems.push(Problem::warning(&file, LIKE_ANOTHER_READER));
            } else if !self.survey.readers.is_empty()
                && !self.survey.readers.contains(&sidecar.reader)
            {
                strangers.entry(sidecar.reader.as_str()).or_insert(sidecar);
            }
        }
        for (reader, sidecar) in strangers {
            let message = format!(
                "reader '{reader}' is not among the readers in survey.json: add the initials there; if this is a copy made \
                 by a service that keeps folders in step, compare it with the original and remove it"
            );
            problems.push(Problem::warning(in_scans(&name_of(&sidecar.path)), message));
        }
        self.problems.extend(problems);
    }
}

fn is_odd_list(name: &str) -> bool {
    let Some(stem) = name.strip_suffix(".json").filter(|_| !name.starts_with('.')) else {
        return false;
    };
    let (list, reader) = stem.split_once('.').map_or((stem, None), |(l, r)| (l, Some(r)));
    ListName::new(list).is_err()
        || reader.is_some_and(|reader| ReaderInitials::new(reader).is_err())
}

/// A warning for each fish without a scan.
fn fish_without_scan(without: &[(usize, String)]) -> Vec<Problem> {
    without
        .iter()
        .map(|(row, key)| {
            let message = format!("fish '{key}' has no scan: name its scan, or leave it as a fish that was only measured");
            Problem::warning(FIELD_SHEET, message).at_row(*row).in_column("scans")
        })
        .collect()
}

fn without_scan(sidecar: &SidecarFile, file: &str) -> Problem {
    let message = format!(
        "the scan '{}' of this sidecar is missing: bring the scan back, or give the sidecar the scan's new name",
        sidecar.scan
    );
    Problem::error(file, message)
}

fn judge_other(name: &str) -> Option<Problem> {
    let file = in_scans(name);
    let lower = name.to_lowercase();
    if name.starts_with('.') {
        let is_left_over = lower.contains(".json.");
        return is_left_over.then(|| {
            Problem::warning(file, "left over from a save that was interrupted; the sidecar itself is whole: remove this file")
        });
    }
    if let Some((sidecar, _)) = name.rsplit_once(".unreadable-") {
        let message = format!(
            "this sidecar could not be read and was set aside: mend it and name it '{sidecar}', or remove it"
        );
        return Some(Problem::warning(file, message));
    }
    if lower.ends_with(".json") && looks_like_conflict_copy(name) {
        return Some(Problem::warning(file, SECOND_COPY));
    }
    if lower.ends_with(".json") {
        let message = "this is not the name of a sidecar (SCAN.READER.json, as MH-0012.tif.kb.json); it is not read: rename it";
        return Some(Problem::warning(file, message));
    }
    if is_scan_name(name) {
        let reason = fault_in(name).unwrap_or("rename the file");
        return Some(Problem::warning(file, format!("this scan is not read: {reason}")));
    }
    None
}

/// A file of the scans folder as problems name it.
pub(super) fn in_scans(name: &str) -> String {
    format!("{SCANS_FOLDER}/{name}")
}

pub(super) fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
