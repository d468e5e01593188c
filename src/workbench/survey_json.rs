//! A survey's readings and problems as JSON.

use serde_json::{Value, json};

use crate::domain::reading::ReaderInitials;
use crate::store::collection::OpenSurvey;
use crate::store::error::StoreError;
use crate::store::problem::Problem;
use crate::store::sidecar::sidecar_text;
use crate::store::survey_check::{SurveyCheck, SurveyReadings};

/// The readings of one reader or of all, each as its sidecar holds it.
///
/// # Errors
/// [`StoreError`] when a reading cannot be put into text.
pub fn readings_json(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    reader: Option<&ReaderInitials>,
) -> Result<Value, StoreError> {
    let mut list = Vec::with_capacity(readings.sidecars.len());
    for sidecar in &readings.sidecars {
        if reader.is_none_or(|reader| sidecar.reading.reader == *reader) {
            let text = sidecar_text(&sidecar.reading)?;
            // The text is our own, so it parses.
            list.push(serde_json::from_str::<Value>(&text).unwrap_or(Value::Null));
        }
    }
    Ok(json!({
        "survey": survey.survey.name,
        "readings": list,
        "problems": problems_json(&readings.problems),
        "error": null,
    }))
}

/// What a look at a survey found.
pub fn check_json(survey: &OpenSurvey, check: &SurveyCheck) -> Value {
    json!({
        "survey": survey.survey.name,
        "fish": check.n_fish,
        "scans": check.n_scans,
        "readings": check.n_confirmed,
        "drafts": check.n_drafts,
        "problems": problems_json(&check.problems),
    })
}

/// Problems in the order found.
pub fn problems_json(problems: &[Problem]) -> Value {
    problems
        .iter()
        .map(|problem| {
            json!({
                "severity": problem.severity.word(),
                "file": problem.file,
                "row": problem.row,
                "column": problem.column,
                "message": problem.message,
            })
        })
        .collect()
}
