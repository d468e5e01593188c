//! Decisions of the lead: `resolved/ID.json`, one new file for each, never rewritten.
//!
//! The name of a decision is made from the fish and the decision whose place it takes. So the decisions on a fish
//! form a chain, and two leads who decide on the same fish at once want the same name: exactly one gets it.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::domain::one_line::one_line;
use crate::domain::reading::{ImpressionReading, Outcome, ReaderInitials, ScanReading};
use crate::domain::resolution::{Decision, FishReading, Resolution, standing};

use super::blind_error::BlindError;
use super::blind_file::{Kind, to_text};
use super::decision_files::{decision_id, decision_names, decision_path, keep_decision};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::sidecar_v1::ImpressionV1;
use super::word::Word;

/// Folder of the decisions, inside the survey folder.
pub const RESOLVED_FOLDER: &str = "resolved";

const RESOLUTION: Kind = Kind { what: "the decision", format: "winterline-resolution", version: 1 };

#[derive(Debug, Serialize, Deserialize)]
struct ResolutionV1 {
    format: String,
    version: u64,
    program_version: String,
    id: String,
    fish: String,
    considered: Vec<ConsideredV1>,
    decision: String,
    age: Option<u32>,
    by: String,
    when: String,
    why: String,
    supersedes: Option<String>,
    #[serde(flatten)]
    other: Map<String, Value>,
}

#[derive(Debug, Serialize, Deserialize)]
struct ConsideredV1 {
    scan: String,
    impression: u32,
    reader: String,
    blake3: String,
    outcome: Option<Word<Outcome>>,
    age: Option<u32>,
    #[serde(flatten)]
    other: Map<String, Value>,
}

/// A decision that is about to be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewDecision {
    /// Key of the fish.
    pub fish: String,
    /// The readings decided upon.
    pub considered: Vec<FishReading>,
    /// The decision.
    pub decision: Decision,
    /// Who decides.
    pub by: ReaderInitials,
    /// Why, in words.
    pub why: String,
    /// The decision that was on screen and whose place this takes; `None` where there was none.
    pub supersedes: Option<String>,
}

/// All decisions of a survey.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Resolutions {
    /// Those that could be read, in order of time.
    pub resolutions: Vec<Resolution>,
    /// What was wrong with the others, one sentence each.
    pub problems: Vec<String>,
}

/// The hash of a confirmed reading: changes with anything that it says, but not with the calibration.
pub fn reading_hash(scan: &ScanReading, impression: &ImpressionReading) -> String {
    let reader = scan.reader.as_str().to_ascii_lowercase();
    let mut impression = ImpressionV1::from_reading(impression, None);
    // Which impression of a fish is preferred says nothing about how this one was read.
    impression.choice = None;
    let text = serde_json::to_string(&impression).unwrap_or_default();
    let whole = format!("{}\n{}\n{reader}\n{text}", scan.scan.file, scan.scan.blake3);
    Fingerprint::of(whole.as_bytes()).blake3_hex()
}

/// Where a decision lies.
pub fn resolution_path(survey: &Path, id: &str) -> PathBuf {
    decision_path(survey, RESOLVED_FOLDER, id)
}

/// Loads all decisions. A damaged one is told and left as it is.
///
/// # Errors
/// [`StoreError::Io`] when the folder is there and cannot be read.
pub fn load_resolutions(survey: &Path) -> Result<Resolutions, BlindError> {
    let folder = survey.join(RESOLVED_FOLDER);
    let mut all = Resolutions::default();
    let names = match decision_names(&folder) {
        Ok(names) => names,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(all),
        Err(error) => return Err(StoreError::io("list the decisions", &folder)(error).into()),
    };
    for name in names {
        match load_resolution(&folder.join(&name)) {
            Ok(resolution) if name == format!("{}.json", resolution.id) => {
                all.resolutions.push(resolution);
            }
            Ok(resolution) => all.problems.push(format!(
                "the decision {} lies under another name and is not used; it may be a second copy: compare it with the \
                 original and remove it: '{}'",
                one_line(&resolution.id),
                one_line(&name)
            )),
            Err(error) => all.problems.push(error.to_string()),
        }
    }
    all.resolutions.sort_by(|a, b| (a.when, &a.id).cmp(&(b.when, &b.id)));
    Ok(all)
}

/// Loads one decision.
///
/// # Errors
/// [`BlindError::Unreadable`], [`BlindError::Newer`], [`StoreError::Io`].
pub fn load_resolution(path: &Path) -> Result<Resolution, BlindError> {
    let bytes = std::fs::read(path).map_err(StoreError::io("read the decision", path))?;
    let file: ResolutionV1 = RESOLUTION.parse(path, &bytes)?;
    file.to_resolution().map_err(|reason| RESOLUTION.unreadable(path, reason))
}

/// Writes a decision as a new file, and gives it with its path.
///
/// # Errors
/// [`BlindError::DecidedByOther`] when somebody has decided on this fish since, [`BlindError::BadDecision`],
/// [`BlindError::Unreadable`] when a damaged decision is in the place, [`StoreError::Io`]. Nothing is overwritten.
pub fn decide(
    survey: &Path,
    new: &NewDecision,
    when: Timestamp,
) -> Result<(Resolution, PathBuf), BlindError> {
    refuse_faults(new)?;
    let there = load_resolutions(survey)?.resolutions;
    let now = standing(&there, &new.fish);
    let is_seen = now.iter().any(|one| Some(one.id.as_str()) == new.supersedes.as_deref());
    if let Some(other) = now.first().filter(|_| !is_seen) {
        let (path, by) = (resolution_path(survey, &other.id), other.by.to_string());
        return Err(BlindError::DecidedByOther { path, by });
    }
    if new.supersedes.is_some() && now.is_empty() {
        let reason = "names an earlier one that is not there: open the fish again".to_owned();
        return Err(BlindError::BadDecision { reason });
    }
    let resolution = Resolution {
        id: decision_id(&new.fish, new.supersedes.as_deref()),
        fish: new.fish.clone(),
        considered: new.considered.clone(),
        decision: new.decision,
        by: new.by.clone(),
        when,
        why: new.why.trim().to_owned(),
        supersedes: new.supersedes.clone(),
    };
    let path = resolution_path(survey, &resolution.id);
    let text = to_text(&ResolutionV1::of(&resolution), &path)?;
    keep_decision(&path, &text, |path| Ok(load_resolution(path)?.by.to_string()))?;
    Ok((resolution, path))
}

fn refuse_faults(new: &NewDecision) -> Result<(), BlindError> {
    let reason = if new.fish.is_empty() {
        "names no fish: choose one"
    } else if new.considered.is_empty() {
        "rests on no reading: choose those it rests on"
    } else if new.considered.iter().any(|reading| reading.fish != new.fish) {
        "rests on a reading of another fish: leave that out"
    } else if new.why.trim().is_empty() {
        "gives no reason: write why"
    } else {
        return Ok(());
    };
    Err(BlindError::BadDecision { reason: reason.to_owned() })
}

impl ResolutionV1 {
    fn of(resolution: &Resolution) -> Self {
        let considered = resolution.considered.iter().map(|reading| ConsideredV1 {
            scan: reading.scan.clone(),
            impression: reading.impression,
            reader: reading.reader.as_str().to_owned(),
            blake3: reading.hash.clone(),
            outcome: reading.outcome.map(Word),
            age: reading.age,
            other: Map::new(),
        });
        Self {
            format: RESOLUTION.format.to_owned(),
            version: RESOLUTION.version,
            program_version: env!("CARGO_PKG_VERSION").to_owned(),
            id: resolution.id.clone(),
            fish: resolution.fish.clone(),
            considered: considered.collect(),
            decision: resolution.decision.word().to_owned(),
            age: resolution.decision.age(),
            by: resolution.by.as_str().to_owned(),
            when: resolution.when.to_string(),
            why: resolution.why.clone(),
            supersedes: resolution.supersedes.clone(),
            other: Map::new(),
        }
    }

    fn to_resolution(&self) -> Result<Resolution, String> {
        let decision = match (self.decision.as_str(), self.age) {
            ("consensus", Some(age)) => Decision::Consensus(age),
            ("third-reading", Some(age)) => Decision::ThirdReading(age),
            ("discard", None) => Decision::Discard,
            (word, age) => {
                return Err(format!(
                    "at decision: expected consensus or third-reading with an age, or discard without, found '{word}' with {}",
                    age.map_or("none".to_owned(), |age| age.to_string())
                ));
            }
        };
        let reader = |key: String, text: &str| {
            ReaderInitials::new(text).map_err(|error| format!("at {key}: {error}"))
        };
        let considered = self.considered.iter().enumerate().map(|(index, one)| {
            Ok::<_, String>(FishReading {
                fish: self.fish.clone(),
                scan: one.scan.clone(),
                impression: one.impression,
                reader: reader(format!("considered[{index}].reader"), &one.reader)?,
                outcome: one.outcome.map(|word| word.0),
                age: one.age,
                hash: one.blake3.clone(),
            })
        });
        Ok(Resolution {
            id: self.id.clone(),
            fish: self.fish.clone(),
            considered: considered.collect::<Result<_, _>>()?,
            decision,
            by: reader("by".to_owned(), &self.by)?,
            when: self
                .when
                .parse()
                .map_err(|_| format!("at when: expected a time, found '{}'", self.when))?,
            why: self.why.clone(),
            supersedes: self.supersedes.clone(),
        })
    }
}
