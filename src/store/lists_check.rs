//! What is wrong with blind lists, their readings and decisions. Told to the lead, so fish and scans are named.

use std::collections::HashSet;

use super::blind::{LISTS_FOLDER, list_names, load_list};
use super::blind_error::BlindError;
use super::blind_filing::closed_readings;
use super::blind_readings::{blind_readings_path, load_blind_readings, readers_of_list};
use super::collection::OpenSurvey;
use super::fingerprint::Fingerprint;
use super::problem::Problem;
use super::resolution_file::{RESOLVED_FOLDER, load_resolutions};
use super::sidecar::LoadedSidecar;
use crate::domain::blind::ListName;
use crate::domain::resolution::standing;

impl OpenSurvey {
    /// Checks the folders `lists` and `resolved`. Reads only.
    pub(super) fn check_lists_and_decisions(&self, sidecars: &[LoadedSidecar]) -> Vec<Problem> {
        let mut problems = Vec::new();
        match list_names(&self.folder) {
            Ok(names) => names.iter().for_each(|name| self.check_list(name, &mut problems)),
            Err(error) => problems.push(problem_of(LISTS_FOLDER, &error)),
        }
        match closed_readings(&self.folder, sidecars) {
            Ok(closed) => {
                let told = closed.problems.into_iter();
                problems.extend(told.map(|what| Problem::error(LISTS_FOLDER, what)));
                for reading in closed.readings {
                    let file = format!("{LISTS_FOLDER}/");
                    let message = format!(
                        "readings of {} on '{}' in a closed list are not filed beside the scan yet: they are counted, and filed when {} opens the survey",
                        reading.reader, reading.scan.file, reading.reader
                    );
                    problems.push(Problem::warning(file, message));
                }
            }
            Err(error) => problems.push(problem_of(LISTS_FOLDER, &error)),
        }
        self.check_decisions(sidecars, &mut problems);
        problems.dedup();
        problems
    }

    fn check_list(&self, name: &ListName, problems: &mut Vec<Problem>) {
        let file = format!("{LISTS_FOLDER}/{}.json", name.as_str().to_ascii_lowercase());
        let list = match load_list(&self.folder, name) {
            Ok(loaded) => loaded.list,
            Err(error) => {
                problems.push(problem_of(&file, &error));
                return;
            }
        };
        let fish: HashSet<&str> = self.fish.iter().map(|fish| fish.key.as_str()).collect();
        for (index, entry) in list.entries.iter().enumerate() {
            if !fish.contains(entry.fish.as_str()) {
                let message = format!(
                    "the list holds fish '{}', which is not in fish.csv: add the fish there, or draw a new list",
                    entry.fish
                );
                let at = format!("entries[{index}].fish");
                problems.push(Problem::error(&file, message).in_column(at));
            }
            let path = self.scan_path(&entry.scan.file);
            let found = path
                .map_err(|error| error.to_string())
                .and_then(|path| Fingerprint::of_file(&path).map_err(|error| error.to_string()));
            let fault = match found {
                Ok(Some(found)) if found.blake3_hex() == entry.scan.blake3 => continue,
                Ok(Some(_)) => "is another picture than when the list was drawn: bring that one back, or draw a new list".to_owned(),
                Ok(None) => "is not in the folder scans: bring it back".to_owned(),
                Err(error) => error,
            };
            let message = format!("the scan '{}' {fault}", entry.scan.file);
            problems
                .push(Problem::error(&file, message).in_column(format!("entries[{index}].scan")));
        }
        self.check_readings(name, &list.id, problems);
    }

    fn check_readings(&self, name: &ListName, id: &str, problems: &mut Vec<Problem>) {
        let Ok(readers) = readers_of_list(&self.folder, name) else { return };
        for reader in readers {
            let path = blind_readings_path(&self.folder, name, &reader);
            let file = path.file_name().unwrap_or_default().to_string_lossy();
            let file = format!("{LISTS_FOLDER}/{file}");
            match load_blind_readings(&path) {
                Ok(read) if read.head.id != id => {
                    let message = format!(
                        "these readings belong to another list '{}': take them to the survey it was drawn in",
                        read.head.name
                    );
                    problems.push(Problem::error(file, message).in_column("list_id"));
                }
                Ok(_) => {}
                Err(error) => problems.push(problem_of(&file, &error)),
            }
        }
    }

    fn check_decisions(&self, sidecars: &[LoadedSidecar], problems: &mut Vec<Problem>) {
        let decided = match load_resolutions(&self.folder) {
            Ok(decided) => decided,
            Err(error) => {
                problems.push(problem_of(RESOLVED_FOLDER, &error));
                return;
            }
        };
        problems
            .extend(decided.problems.into_iter().map(|what| Problem::error(RESOLVED_FOLDER, what)));
        let read: HashSet<&str> = sidecars
            .iter()
            .flat_map(|sidecar| &sidecar.reading.impressions)
            .map(|one| one.fish.as_str())
            .collect();
        let mut told: HashSet<&str> = HashSet::new();
        for one in &decided.resolutions {
            if !told.insert(one.fish.as_str()) {
                continue;
            }
            let file = format!("{RESOLVED_FOLDER}/{}.json", one.id);
            if !self.fish.iter().any(|fish| fish.key == one.fish) {
                let message = format!("fish '{}' is not in fish.csv: add the fish there", one.fish);
                problems.push(Problem::error(&file, message).in_column("fish"));
            } else if !read.contains(one.fish.as_str()) {
                let message = format!(
                    "nobody has read fish '{}' any more: bring its readings back",
                    one.fish
                );
                problems.push(Problem::warning(&file, message).in_column("considered"));
            }
            let several = standing(&decided.resolutions, &one.fish).len();
            if several > 1 {
                let message = format!(
                    "{several} decisions on fish '{}' stand side by side: decide again",
                    one.fish
                );
                problems.push(Problem::error(&file, message));
            }
        }
    }
}

/// A newer program's file is only a warning: it is whole, and this program leaves it alone.
fn problem_of(file: &str, error: &BlindError) -> Problem {
    match error {
        BlindError::Newer { .. } => Problem::warning(file, error.to_string()),
        _ => Problem::error(file, error.to_string()),
    }
}
