//! Fish left out of lengths and growth: `excluded/ID.json`, one new file for each decision, never rewritten.
//!
//! As with decisions on ages, the name is made from the fish and the decision whose place it takes, so that two people who
//! decide at once want the same name and exactly one gets it.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::domain::exclusion::{Exclusion, standing_exclusions};
use crate::domain::reading::ReaderInitials;

use super::blind_error::BlindError;
use super::blind_file::{Kind, to_text};
use super::decision_files::{decision_id, decision_names, decision_path, keep_decision};
use super::error::StoreError;
use super::problem::Problem;

/// Folder of these decisions, inside the survey folder.
pub const EXCLUDED_FOLDER: &str = "excluded";

const EXCLUSION: Kind = Kind { what: "the exclusion", format: "winterline-exclusion", version: 1 };

#[derive(Debug, Serialize, Deserialize)]
struct ExclusionV1 {
    format: String,
    version: u64,
    program_version: String,
    id: String,
    fish: String,
    left_out: bool,
    by: String,
    when: String,
    why: String,
    supersedes: Option<String>,
    #[serde(flatten)]
    other: Map<String, Value>,
}

/// All such decisions of a survey.
#[derive(Debug, Clone, Default)]
pub struct Exclusions {
    /// Those that could be read, in order of time.
    pub exclusions: Vec<Exclusion>,
    /// What was wrong with the others.
    pub problems: Vec<Problem>,
}

/// Loads all decisions. A damaged one is told and left as it is.
pub fn load_exclusions(survey: &Path) -> Exclusions {
    let folder = survey.join(EXCLUDED_FOLDER);
    let mut all = Exclusions::default();
    let names = match decision_names(&folder) {
        Ok(names) => names,
        Err(error) if error.kind() == ErrorKind::NotFound => return all,
        Err(error) => {
            let error = StoreError::io("list the fish left out", &folder)(error);
            all.problems.push(Problem::error(EXCLUDED_FOLDER, error.to_string()));
            return all;
        }
    };
    for name in names {
        let file = format!("{EXCLUDED_FOLDER}/{name}");
        match load_exclusion(&folder.join(&name)) {
            Ok(one) if name == format!("{}.json", one.id) => all.exclusions.push(one),
            Ok(one) => all.problems.push(Problem::warning(
                file,
                format!("the exclusion {} lies under another name and is not used: it may be a second copy", one.id),
            )),
            Err(error) => all.problems.push(Problem::error(file, error.to_string())),
        }
    }
    all.exclusions.sort_by(|a, b| (a.when, &a.id).cmp(&(b.when, &b.id)));
    all
}

fn load_exclusion(path: &Path) -> Result<Exclusion, BlindError> {
    let bytes = std::fs::read(path).map_err(StoreError::io("read the exclusion", path))?;
    let file: ExclusionV1 = EXCLUSION.parse(path, &bytes)?;
    let wrong = |reason: String| EXCLUSION.unreadable(path, reason);
    Ok(Exclusion {
        by: ReaderInitials::new(&file.by).map_err(|error| wrong(format!("at by: {error}")))?,
        when: file
            .when
            .parse()
            .map_err(|_| wrong(format!("at when: expected a time, found '{}'", file.when)))?,
        id: file.id,
        fish: file.fish,
        is_left_out: file.left_out,
        why: file.why,
        supersedes: file.supersedes,
    })
}

/// Leaves a fish out, or takes it in again, as a new file; gives the decision and its path.
///
/// # Errors
/// [`BlindError::BadDecision`] without a fish or a reason, and where nothing would change; [`BlindError::DecidedByOther`]
/// when somebody has decided on this fish since `seen`, the decision that was on screen; [`StoreError::Io`]. Nothing is
/// overwritten.
pub fn exclude(
    survey: &Path,
    (fish, is_left_out): (&str, bool),
    (by, why): (&ReaderInitials, &str),
    seen: Option<&str>,
    when: Timestamp,
) -> Result<(Exclusion, PathBuf), BlindError> {
    let bad = |reason: &str| BlindError::BadDecision { reason: reason.to_owned() };
    if fish.is_empty() {
        return Err(bad("names no fish: choose one"));
    }
    if why.trim().is_empty() {
        return Err(bad("gives no reason: write why"));
    }
    let there = load_exclusions(survey).exclusions;
    let now = standing_exclusions(&there).get(fish).copied();
    if let Some(other) = now.filter(|other| Some(other.id.as_str()) != seen) {
        let path = exclusion_path(survey, &other.id);
        return Err(BlindError::DecidedByOther { path, by: other.by.to_string() });
    }
    if now.is_some_and(|now| now.is_left_out) == is_left_out {
        return Err(bad(if is_left_out {
            "is made already"
        } else {
            "takes in a fish that is not left out"
        }));
    }
    let made = Exclusion {
        id: decision_id(&format!("excluded\n{fish}"), seen),
        fish: fish.to_owned(),
        is_left_out,
        by: by.clone(),
        when,
        why: why.trim().to_owned(),
        supersedes: seen.map(str::to_owned),
    };
    let path = exclusion_path(survey, &made.id);
    let text = to_text(&ExclusionV1::of(&made), &path)?;
    keep_decision(&path, &text, |path| Ok(load_exclusion(path)?.by.to_string()))?;
    Ok((made, path))
}

fn exclusion_path(survey: &Path, id: &str) -> PathBuf {
    decision_path(survey, EXCLUDED_FOLDER, id)
}

impl ExclusionV1 {
    fn of(one: &Exclusion) -> Self {
        Self {
            format: EXCLUSION.format.to_owned(),
            version: EXCLUSION.version,
            program_version: env!("CARGO_PKG_VERSION").to_owned(),
            id: one.id.clone(),
            fish: one.fish.clone(),
            left_out: one.is_left_out,
            by: one.by.as_str().to_owned(),
            when: one.when.to_string(),
            why: one.why.clone(),
            supersedes: one.supersedes.clone(),
            other: Map::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kb() -> ReaderInitials {
        ReaderInitials::new("kb").unwrap()
    }

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(second).unwrap()
    }

    #[test]
    fn a_fish_is_left_out_and_taken_in_again() {
        let folder = tempfile::tempdir().unwrap();
        let out = |is_left_out, why: &str, seen: Option<&str>, second| {
            exclude(folder.path(), ("001", is_left_out), (&kb(), why), seen, at(second))
        };
        let (first, path) = out(true, " torn margin ", None, 10).unwrap();
        assert!(path.is_file() && first.why == "torn margin");
        assert!(matches!(out(true, "again", None, 11), Err(BlindError::DecidedByOther { .. })));
        assert!(matches!(out(true, "x", Some(&first.id), 12), Err(BlindError::BadDecision { .. })));
        let (second, _) = out(false, "margin is whole", Some(&first.id), 13).unwrap();
        let all = load_exclusions(folder.path());
        assert_eq!(all.exclusions, [first, second]);
        assert!(!standing_exclusions(&all.exclusions)["001"].is_left_out);
    }

    #[test]
    fn a_reason_is_needed_and_damage_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let without = exclude(folder.path(), ("001", true), (&kb(), "  "), None, at(1));
        assert!(matches!(without, Err(BlindError::BadDecision { .. })));
        assert!(load_exclusions(folder.path()).exclusions.is_empty());
        let place = folder.path().join(EXCLUDED_FOLDER);
        std::fs::create_dir_all(&place).unwrap();
        std::fs::write(place.join("x.json"), "{ \"format\": \"winterline-excl").unwrap();
        let all = load_exclusions(folder.path());
        assert!(
            all.problems[0].is_error() && all.problems[0].to_string().contains("excluded/x.json")
        );
    }
}
