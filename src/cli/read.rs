//! `read`: the window on a survey, or its readings as JSON.

use std::path::Path;

use super::flags::ReadFlags;
use super::{BAD_DATA, DONE, Ending, Failure, output};
use crate::domain::blind::ListName;
use crate::domain::reading::ReaderInitials;
use crate::store::blind::load_list;
use crate::store::blind_error::BlindError;
use crate::store::collection::OpenSurvey;
use crate::workbench::blind_json::blind_readings_json;
use crate::workbench::survey_json::readings_json;

/// Runs the verb.
pub fn run(flags: &ReadFlags) -> Result<Ending, Failure> {
    let reader = flags
        .reader
        .as_deref()
        .map(ReaderInitials::new)
        .transpose()
        .map_err(|error| Failure::usage(error.to_string()))?;
    let list = flags.list.as_deref().map(ListName::new).transpose();
    let list = list.map_err(|error| Failure::usage(error.to_string()))?;
    if list.is_some() && reader.is_none() && !flags.json {
        return Err(Failure::usage(
            "--list needs --reader INITIALS: they name the file the readings go to",
        ));
    }
    // Opened here as well as in the window, so that a wrong path is told where it was typed.
    let survey =
        OpenSurvey::open(&flags.survey).map_err(|error| Failure::data(error.to_string()))?;
    if !flags.json {
        if let Some(list) = &list {
            list_is_there(&flags.survey, list)?;
        }
        return Ok(Ending::OpenWindow { survey: Some(flags.survey.clone()), reader, list });
    }
    if let Some(list) = &list {
        let value = blind_readings_json(&survey, list, reader.as_ref())
            .map_err(|error| Failure::data(error.to_string()))?;
        output::json(&value)?;
        return Ok(Ending::Exit(DONE));
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

/// A wrong name or a closed list is told where it was typed; what is wrong inside a list may name fish and is not told.
fn list_is_there(survey: &Path, list: &ListName) -> Result<(), Failure> {
    match load_list(survey, list) {
        Ok(loaded) if loaded.list.closed.is_some() => {
            let closed = BlindError::Closed { name: list.to_string() };
            Err(Failure::data(closed.to_string()))
        }
        Err(BlindError::NoSuchList { name }) => {
            Err(Failure::data(BlindError::NoSuchList { name }.to_string()))
        }
        _ => Ok(()),
    }
}
