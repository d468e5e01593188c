//! `check`: every fault of a survey with its file, row and column.

use std::fmt::Write;

use super::flags::SurveyFlags;
use super::{BAD_DATA, DONE, Failure, output};
use crate::store::collection::OpenSurvey;
use crate::store::problem::{Problem, is_clean};
use crate::store::survey_check::SurveyCheck;
use crate::workbench::survey_json::check_json;

/// Runs the verb.
pub fn run(flags: &SurveyFlags) -> Result<u8, Failure> {
    let survey =
        OpenSurvey::open(&flags.survey).map_err(|error| Failure::data(error.to_string()))?;
    let check = output::with_progress("checking the survey", |watch| survey.check(watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    if flags.json {
        output::json(&check_json(&survey, &check))?;
    } else {
        output::result(&text_of(&survey, &check))?;
    }
    Ok(if is_clean(&check.problems) { DONE } else { BAD_DATA })
}

fn text_of(survey: &OpenSurvey, check: &SurveyCheck) -> String {
    let mut text = format!(
        "{}\n{} fish, {} scans, {} confirmed readings, {} drafts\n",
        survey.survey.name, check.n_fish, check.n_scans, check.n_confirmed, check.n_drafts
    );
    for problem in &check.problems {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{problem}");
    }
    let errors = check.problems.iter().filter(|problem| Problem::is_error(problem)).count();
    let _ = writeln!(text, "{errors} errors, {} warnings", check.problems.len() - errors);
    text
}
