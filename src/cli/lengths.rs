//! `lengths`: length at every earlier age, from a survey or from a table of radii.

use std::path::Path;

use serde_json::Value;

use super::ages_from::{insert, reader_of, ruled, ruled_json};
use super::flags::LengthsFlags;
use super::growth::faults_of;
use super::method::{method_of, stated_errors};
use super::{BAD_DATA, DONE, Failure, output};
use crate::analysis::back_calculation::{
    Excluded, LengthsResult, Method, Options, Reason, SampleFish, back_calculate,
};
use crate::analysis::uncertainty::{
    ErrorInputs, Propagated, Scope, Settings, UncertainFish, propagate,
};
use crate::report::lengths_json::{lengths_error_json, lengths_json};
use crate::report::lengths_table::{lengths_csv, lengths_text};
use crate::report::uncertainty_json::{propagated_json, sources_json};
use crate::report::uncertainty_table::propagated_text;
use crate::store::collection::OpenSurvey;
use crate::store::radii_table::parse_radii;
use crate::workbench::survey_lengths::{LeftOut, survey_options, survey_sample};
use crate::workbench::survey_uncertainty::{
    StatedErrors, error_inputs, errors_of_table, uncertain_fish,
};

/// A sample ready for calculation.
struct Sample {
    fish: Vec<SampleFish>,
    options: Options,
    left_out: Vec<LeftOut>,
    /// The same fish with their other readings.
    uncertain: Vec<UncertainFish>,
    errors: ErrorInputs,
    /// One line for each row that cannot be used.
    faults: Vec<String>,
    /// Whose ages a survey's are.
    ages_from: Option<Value>,
}

/// Runs the verb.
pub fn run(flags: &LengthsFlags) -> Result<u8, Failure> {
    let method = method_of(&flags.method)?;
    let stated = stated_errors(&flags.errors)?;
    let word = method.word();
    let sample = match (&flags.radii, &flags.survey) {
        (Some(file), _) => radii_sample(file, flags.sheet.as_deref(), &stated),
        (None, Some(folder)) => sample_of_survey(folder, flags, &stated),
        (None, None) => return Err(Failure::usage("name a survey folder or a table with --radii")),
    };
    let sample = match sample {
        Ok(sample) => sample,
        Err(failure) => return failed(flags, word, failure),
    };
    let uncertainty = match propagated(flags, &method, &sample) {
        Ok(found) => found,
        Err(failure) => return failed(flags, word, failure),
    };
    let result = match back_calculate(&sample.fish, method, &sample.options) {
        Ok(result) => with_left_out(result, &sample.left_out),
        Err(error) => return failed(flags, word, Failure::data(error.to_string())),
    };
    let fault = (!sample.faults.is_empty()).then(|| sample.faults.join("; "));
    if flags.json {
        let mut document = lengths_json(&result, fault.as_deref());
        insert(&mut document, sample.ages_from);
        if let (Some(object), Some(found)) = (document.as_object_mut(), &uncertainty) {
            object.insert("uncertainty".to_owned(), sources_json(found));
            object.insert("uncertainty_detail".to_owned(), propagated_json(found));
        }
        output::json(&document)?;
    } else if flags.csv {
        let table = lengths_csv(&result).map_err(|error| Failure::data(error.to_string()))?;
        output::result(&table)?;
    } else {
        let errors = uncertainty.as_ref().map(propagated_text).unwrap_or_default();
        output::result(&format!("{}{errors}", lengths_text(&result)))?;
    }
    for fault in &sample.faults {
        output::message(fault);
    }
    Ok(if sample.faults.is_empty() { DONE } else { BAD_DATA })
}

fn propagated(
    flags: &LengthsFlags,
    method: &Method,
    sample: &Sample,
) -> Result<Option<Propagated>, Failure> {
    let Some(count) = flags.errors.uncertainty else { return Ok(None) };
    let settings =
        Settings { replicates: count as usize, seed: flags.seed, scope: Scope::Population };
    output::with_progress("carrying errors", |watch| {
        propagate(&sample.uncertain, method, &sample.errors, None, settings, watch)
    })
    .map(Some)
    .map_err(|error| Failure::data(error.to_string()))
}

/// With `--json` a failure is a document too.
fn failed(flags: &LengthsFlags, method: &str, failure: Failure) -> Result<u8, Failure> {
    if flags.json {
        output::json(&lengths_error_json(method, &failure.message))?;
    }
    Err(failure)
}

fn with_left_out(mut result: LengthsResult, left_out: &[LeftOut]) -> LengthsResult {
    result.excluded.extend(left_out.iter().map(|one| Excluded {
        fish: one.fish.clone(),
        row: Some(one.row),
        reason: Reason::NotRead { why: one.reason.clone() },
    }));
    result
}

fn radii_sample(
    file: &Path,
    sheet: Option<&str>,
    stated: &StatedErrors,
) -> Result<Sample, Failure> {
    let text = output::table(file, sheet)?;
    let name = &text.name;
    let table =
        parse_radii(&text.bytes).map_err(|error| Failure::data(format!("{error}: '{name}'")))?;
    let mut faults = faults_of(&text.problems);
    let of_rows = table.faults.iter().map(|fault| {
        let column = if fault.column.is_empty() {
            String::new()
        } else {
            format!(", column '{}'", fault.column)
        };
        format!("{name}, row {}{column}: {}", fault.row, fault.message)
    });
    faults.extend(of_rows);
    for column in &table.unused_columns {
        output::message(&format!("{name}: the column '{column}' is not used"));
    }
    let fish = SampleFish::from_rows(&table.rows);
    Ok(Sample {
        uncertain: fish.iter().cloned().map(UncertainFish::once).collect(),
        errors: errors_of_table(stated),
        fish,
        options: Options::default(),
        left_out: Vec::new(),
        faults,
        ages_from: None,
    })
}

fn sample_of_survey(
    folder: &Path,
    flags: &LengthsFlags,
    stated: &StatedErrors,
) -> Result<Sample, Failure> {
    let survey = OpenSurvey::open(folder).map_err(|error| Failure::data(error.to_string()))?;
    let reader = reader_of(&survey, flags.reader.as_deref())?;
    let readings = output::with_progress("loading readings", |watch| survey.load_readings(watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    let found = ruled(&survey, readings, flags.ages_from, &reader)?;
    let sample = survey_sample(&survey, &found.readings, &found.reader);
    let faults = faults_of(survey.problems.iter().chain(&found.readings.problems));
    Ok(Sample {
        uncertain: uncertain_fish(&survey, &found.readings, &found.reader, &sample.fish),
        errors: error_inputs(&survey, &found.readings, &found.reader, stated),
        fish: sample.fish,
        options: survey_options(&survey),
        left_out: sample.left_out,
        faults,
        ages_from: Some(ruled_json(&found)),
    })
}
