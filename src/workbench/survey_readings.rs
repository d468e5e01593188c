//! All readings of a survey, loaded from their sidecars.

use rayon::prelude::*;
use serde_json::{Value, json};

use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::ReaderInitials;
use crate::store::collection::{OpenSurvey, SidecarFile};
use crate::store::error::StoreError;
use crate::store::problem::Problem;
use crate::store::sidecar::{LoadedSidecar, load_sidecar, sidecar_text};

/// The readings that could be loaded, and a problem for each sidecar that could not.
#[derive(Debug, Clone, Default)]
pub struct SurveyReadings {
    /// In the order of scan and reader.
    pub sidecars: Vec<LoadedSidecar>,
    /// Sidecars that cannot be read.
    pub problems: Vec<Problem>,
}

/// Loads the sidecars of a survey, of one reader or of all, on all cores.
///
/// # Errors
/// [`Stopped`] when `watch` was asked to stop.
pub fn load_readings(
    survey: &OpenSurvey,
    reader: Option<&ReaderInitials>,
    watch: &Progress,
) -> Result<SurveyReadings, Stopped> {
    let wanted: Vec<&SidecarFile> =
        survey.sidecars.iter().filter(|sidecar| reader.is_none_or(|reader| sidecar.reader == *reader)).collect();
    watch.set_total(wanted.len());
    let loaded: Vec<Result<LoadedSidecar, Problem>> = wanted
        .par_iter()
        .map(|sidecar| {
            watch.checkpoint()?;
            let loaded = load_sidecar(&sidecar.path).map_err(|error| problem_of(sidecar, &error));
            watch.step();
            Ok(loaded)
        })
        .collect::<Result<_, Stopped>>()?;
    let mut readings = SurveyReadings::default();
    for one in loaded {
        match one {
            Ok(sidecar) => readings.sidecars.push(sidecar),
            Err(problem) => readings.problems.push(problem),
        }
    }
    Ok(readings)
}

fn problem_of(sidecar: &SidecarFile, error: &StoreError) -> Problem {
    let name = sidecar.path.file_name().unwrap_or_default().to_string_lossy();
    Problem::error(format!("scans/{name}"), error.to_string())
}

/// The readings as one JSON document: each as its sidecar holds it.
///
/// # Errors
/// [`StoreError`] when a reading cannot be put into text.
pub fn readings_json(survey: &OpenSurvey, readings: &SurveyReadings) -> Result<Value, StoreError> {
    let mut list = Vec::with_capacity(readings.sidecars.len());
    for sidecar in &readings.sidecars {
        let text = sidecar_text(&sidecar.reading)?;
        // The text is our own, so it parses.
        list.push(serde_json::from_str::<Value>(&text).unwrap_or(Value::Null));
    }
    Ok(json!({
        "survey": survey.survey.name,
        "readings": list,
        "problems": super::check_survey::problems_json(&readings.problems),
        "error": null,
    }))
}
