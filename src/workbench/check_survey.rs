//! Looking a survey over: what the folder tells, what every sidecar tells, and whether each scan is the one read.

use std::collections::HashMap;

use rayon::prelude::*;
use serde_json::{Value, json};

use super::survey_readings::load_readings;
use crate::domain::progress::{Progress, Stopped};
use crate::store::collection::OpenSurvey;
use crate::store::fingerprint::Fingerprint;
use crate::store::problem::{Problem, Severity};
use crate::store::sidecar::LoadedSidecar;

/// What a look at a survey found.
#[derive(Debug, Clone)]
pub struct SurveyCheck {
    /// Name of the survey.
    pub survey: String,
    /// Fish on the field sheet.
    pub fish: usize,
    /// Scans on disk.
    pub scans: usize,
    /// Sidecars that could be read.
    pub readings: usize,
    /// Everything that does not fit.
    pub problems: Vec<Problem>,
}

impl SurveyCheck {
    /// True while any problem is an error.
    pub fn has_errors(&self) -> bool {
        self.problems.iter().any(Problem::is_error)
    }
}

/// Checks a survey, hashing every scan that was read.
///
/// # Errors
/// [`Stopped`] when `watch` was asked to stop.
pub fn check_survey(survey: &OpenSurvey, watch: &Progress) -> Result<SurveyCheck, Stopped> {
    let readings = load_readings(survey, None, watch)?;
    let mut problems = survey.problems.clone();
    problems.extend(readings.problems.iter().cloned());
    let mut by_scan: HashMap<&str, Vec<&LoadedSidecar>> = HashMap::new();
    for sidecar in &readings.sidecars {
        by_scan.entry(sidecar.reading.scan.file.as_str()).or_default().push(sidecar);
    }
    let mut scans: Vec<(&str, Vec<&LoadedSidecar>)> = by_scan.into_iter().collect();
    scans.sort_by_key(|(scan, _)| *scan);
    let changed: Vec<Vec<Problem>> = scans
        .par_iter()
        .map(|(scan, sidecars)| {
            watch.checkpoint()?;
            Ok(changed_scan(survey, scan, sidecars))
        })
        .collect::<Result<_, Stopped>>()?;
    problems.extend(changed.into_iter().flatten());
    problems.extend(readings.sidecars.iter().flat_map(|sidecar| strangers(survey, sidecar)));
    Ok(SurveyCheck {
        survey: survey.survey.name.clone(),
        fish: survey.fish.len(),
        scans: survey.scans.len(),
        readings: readings.sidecars.len(),
        problems,
    })
}

/// A reading whose scan is no longer the file that was read.
fn changed_scan(survey: &OpenSurvey, scan: &str, sidecars: &[&LoadedSidecar]) -> Vec<Problem> {
    let Ok(path) = survey.scan_path(scan) else { return Vec::new() };
    // A missing scan is a problem of the listing already.
    let Ok(Some(now)) = Fingerprint::of_file(&path) else { return Vec::new() };
    let hash = now.blake3_hex();
    sidecars
        .iter()
        .filter(|sidecar| sidecar.reading.scan.blake3 != hash)
        .map(|sidecar| {
            let message = format!(
                "the scan '{scan}' is not the file that was read (its hash differs): bring the old scan back, or read it again"
            );
            Problem::error(file_of(sidecar), message)
        })
        .collect()
}

/// Readings of fish that the field sheet does not know.
fn strangers(survey: &OpenSurvey, sidecar: &LoadedSidecar) -> Vec<Problem> {
    sidecar
        .reading
        .impressions
        .iter()
        .filter(|impression| !survey.fish.iter().any(|fish| fish.key == impression.fish))
        .map(|impression| {
            let message = if impression.fish.is_empty() {
                format!("impression {} belongs to no fish yet: name its fish", impression.number)
            } else {
                format!(
                    "impression {} belongs to fish '{}', which is not on the field sheet: correct one of the two",
                    impression.number, impression.fish
                )
            };
            Problem::warning(file_of(sidecar), message)
        })
        .collect()
}

fn file_of(sidecar: &LoadedSidecar) -> String {
    let name = sidecar.path.file_name().unwrap_or_default().to_string_lossy();
    format!("scans/{name}")
}

/// The result as JSON.
pub fn check_json(check: &SurveyCheck) -> Value {
    json!({
        "survey": check.survey,
        "fish": check.fish,
        "scans": check.scans,
        "readings": check.readings,
        "problems": problems_json(&check.problems),
    })
}

/// Problems as JSON.
pub fn problems_json(problems: &[Problem]) -> Value {
    problems
        .iter()
        .map(|problem| {
            let severity = if problem.severity == Severity::Error { "error" } else { "warning" };
            json!({
                "severity": severity,
                "file": problem.file,
                "row": problem.row,
                "column": problem.column,
                "message": problem.message,
            })
        })
        .collect()
}
