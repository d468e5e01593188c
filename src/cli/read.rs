//! `read`: the window on a survey, or its readings as JSON.

use super::flags::ReadFlags;
use super::{BAD_DATA, DONE, Ending, Failure, output};
use crate::domain::reading::ReaderInitials;
use crate::store::collection::OpenSurvey;
use crate::workbench::survey_json::readings_json;

/// Runs the verb.
pub fn run(flags: &ReadFlags) -> Result<Ending, Failure> {
    let reader = flags
        .reader
        .as_deref()
        .map(ReaderInitials::new)
        .transpose()
        .map_err(|error| Failure::usage(error.to_string()))?;
    // Opened here as well as in the window, so that a wrong path is told where it was typed.
    let survey =
        OpenSurvey::open(&flags.survey).map_err(|error| Failure::data(error.to_string()))?;
    if !flags.json {
        return Ok(Ending::OpenWindow { survey: Some(flags.survey.clone()), reader });
    }
    let readings = output::with_progress("loading readings", |watch| survey.load_readings(watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    let value = readings_json(&survey, &readings, reader.as_ref())
        .map_err(|error| Failure::data(error.to_string()))?;
    output::json(&value)?;
    for problem in &readings.problems {
        output::message(&problem.to_string());
    }
    Ok(Ending::Exit(if readings.problems.is_empty() { DONE } else { BAD_DATA }))
}
