//! `check`: every fault of a survey with its file, row and column.

use std::fmt::Write;

use super::flags::SurveyFlags;
use super::{BAD_DATA, DONE, Failure, output};
use crate::store::collection::OpenSurvey;
use crate::workbench::check_survey::{SurveyCheck, check_json, check_survey};

/// Runs the verb.
pub fn run(flags: &SurveyFlags) -> Result<u8, Failure> {
    let survey = OpenSurvey::open(&flags.survey).map_err(|error| Failure::data(error.to_string()))?;
    let check = output::with_progress("checking sidecars", |watch| check_survey(&survey, watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    if flags.json {
        output::json(&check_json(&check))?;
    } else {
        output::result(&text_of(&check))?;
    }
    Ok(if check.has_errors() { BAD_DATA } else { DONE })
}

fn text_of(check: &SurveyCheck) -> String {
    let mut text =
        format!("{}\n{} fish, {} scans, {} sidecars\n", check.survey, check.fish, check.scans, check.readings);
    for problem in &check.problems {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{problem}");
    }
    let errors = check.problems.iter().filter(|problem| problem.is_error()).count();
    let _ = writeln!(text, "{errors} errors, {} warnings", check.problems.len() - errors);
    text
}
