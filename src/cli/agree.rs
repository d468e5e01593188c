//! `agree`: how well readers agree, from a survey or from a table of ages.

use std::path::Path;

use serde_json::{Map, Value, json};

use super::flags::{AgreeFlags, MeanAgeZeroFlag};
use super::growth::faults_of;
use super::{BAD_DATA, DONE, Failure, output};
use crate::analysis::agreement::AgreementError;
use crate::analysis::agreement::comparison::{Comparison, Settings, compare};
use crate::analysis::agreement::precision::MeanAgeZero;
use crate::analysis::agreement::readings::ReaderAges;
use crate::report::agree_accuracy::{accuracy_json, accuracy_text};
use crate::report::agree_csv::agree_csv;
use crate::report::agree_json::agree_json;
use crate::report::agree_radii::{radii_json, radii_text};
use crate::report::agree_table::agree_text;
use crate::store::ages_table::parse_ages;
use crate::store::collection::OpenSurvey;
use crate::workbench::survey_ages_by_reader::{
    AgesByReader, ages_by_reader, ages_by_reader_and_structure,
};
use crate::workbench::survey_readings::with_closed_lists;

const NOT_INDEPENDENT: &str =
    "not independent: both readers saw proposals, so their agreement says little about the ages";

/// Runs the verb.
pub fn run(flags: &AgreeFlags) -> Result<u8, Failure> {
    let settings = settings_of(flags);
    let done = match (&flags.ages, &flags.survey) {
        (Some(file), _) => of_table(file, flags, settings),
        (None, Some(folder)) => of_survey(folder, flags, settings),
        (None, None) => return Err(Failure::usage("name a survey folder or a table with --ages")),
    };
    match done {
        Ok(faults) => {
            faults.iter().for_each(|fault| output::message(fault));
            Ok(if faults.is_empty() { DONE } else { BAD_DATA })
        }
        Err(failure) => {
            if flags.json && failure.status == BAD_DATA {
                output::json(&nothing(&failure.message))?;
            }
            Err(failure)
        }
    }
}

fn settings_of(flags: &AgreeFlags) -> Settings {
    let usual = Settings::default();
    let mean_age_zero = match flags.mean_age_zero {
        MeanAgeZeroFlag::Zero => MeanAgeZero::Zero,
        MeanAgeZeroFlag::LeftOut => MeanAgeZero::LeftOut,
    };
    Settings { mean_age_zero, seed: flags.seed.unwrap_or(usual.seed), ..usual }
}

/// The document where nothing could be compared.
fn nothing(error: &str) -> Value {
    let empty = json!({"readers": [], "n": null, "percent_agreement": null, "average_percent_error": null,
        "mean_cv_percent": null, "mean_d_percent": null, "mean_age_zero": null, "symmetry": null, "kappa": null,
        "bias": null, "icc": null, "limits": null, "stuart_maxwell": null, "matrix": null});
    let mut document = empty;
    insert(&mut document, "error", json!(error));
    document
}

/// A reader who is not there is a slip on the command line; the rest lies in the data.
fn failure_of(error: &AgreementError) -> Failure {
    match error {
        AgreementError::UnknownReader { .. } | AgreementError::RepeatedReader { .. } => {
            Failure::usage(format!("--readers: {error}"))
        }
        _ => Failure::data(error.to_string()),
    }
}

fn of_table(file: &Path, flags: &AgreeFlags, settings: Settings) -> Result<Vec<String>, Failure> {
    let text = output::table(file, flags.sheet.as_deref())?;
    let read =
        parse_ages(&text.bytes, &text.name).map_err(|error| Failure::data(error.to_string()))?;
    if flags.readers.len() == 1 {
        return Err(Failure::usage("--readers needs two or more readers"));
    }
    let ages =
        ReaderAges::from_table(&read.table, &flags.readers).map_err(|error| failure_of(&error))?;
    let compared = compare(&ages, settings);
    let faults = faults_of(text.problems.iter().chain(&read.problems));
    if flags.json {
        output::json(&agree_json(&compared, joined(&faults).as_deref()))?;
    } else if flags.csv {
        output::result(&agree_csv(&compared).map_err(|error| Failure::data(error.to_string()))?)?;
    } else {
        output::result(&agree_text(&compared))?;
    }
    Ok(faults)
}

fn of_survey(
    folder: &Path,
    flags: &AgreeFlags,
    settings: Settings,
) -> Result<Vec<String>, Failure> {
    let survey = OpenSurvey::open(folder).map_err(|error| Failure::data(error.to_string()))?;
    let readings = output::with_progress("loading readings", |watch| survey.load_readings(watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    let (readings, told) =
        with_closed_lists(&survey, readings).map_err(|error| Failure::data(error.to_string()))?;
    told.iter().for_each(|problem| output::message(problem));
    let mut by_reader = if flags.structures {
        ages_by_reader_and_structure(&survey, &readings)
    } else {
        ages_by_reader(&survey, &readings)
    };
    by_reader.choose(&flags.readers).map_err(|error| failure_of(&error))?;
    let ages = by_reader.ages(None).map_err(|error| failure_of(&error))?;
    let compared = compare(&ages, settings);
    let faults = faults_of(survey.problems.iter().chain(&readings.problems));
    if flags.json {
        let document =
            survey_json(&by_reader, &survey, &compared, settings, joined(&faults).as_deref());
        output::json(&document)?;
    } else if flags.csv {
        output::result(&agree_csv(&compared).map_err(|error| Failure::data(error.to_string()))?)?;
    } else {
        output::result(&survey_text(&by_reader, &survey, &compared))?;
    }
    Ok(faults)
}

fn joined(faults: &[String]) -> Option<String> {
    (!faults.is_empty()).then(|| faults.join("; "))
}

fn insert(document: &mut Value, name: &str, value: Value) {
    if let Some(object) = document.as_object_mut() {
        object.insert(name.to_owned(), value);
    }
}

/// Columns of every pair, in the order of `Comparison::pairs`.
fn pairs(n: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..n).flat_map(move |a| (a + 1..n).map(move |b| (a, b)))
}

fn both_aided(by_reader: &AgesByReader<'_>, (a, b): (usize, usize)) -> bool {
    let aided = |index: usize| by_reader.columns.get(index).is_some_and(|column| column.is_aided);
    aided(a) && aided(b)
}

fn survey_json(
    by_reader: &AgesByReader<'_>,
    survey: &OpenSurvey,
    compared: &Comparison,
    settings: Settings,
    error: Option<&str>,
) -> Value {
    let n = by_reader.columns.len();
    let mut document = agree_json(compared, error);
    if n == 2 {
        label(&mut document, both_aided(by_reader, (0, 1)));
    } else if let Some(blocks) = document.get_mut("pairs").and_then(Value::as_array_mut) {
        blocks
            .iter_mut()
            .zip(pairs(n))
            .for_each(|(block, pair)| label(block, both_aided(by_reader, pair)));
    }
    let readings = by_reader.columns.iter().map(|column| {
        json!({"name": column.name, "reader": column.reader.as_str(), "proposals_shown": column.is_aided,
            "n": column.ages.iter().flatten().count(), "scales_of_different_age": column.unsettled})
    });
    insert(&mut document, "readings", readings.collect());
    for (name, text_of) in GROUPS {
        insert(&mut document, &format!("by_{name}"), by_group(by_reader, text_of, settings));
    }
    let radii = pairs(n).filter_map(|(a, b)| {
        let mut found = radii_json(&by_reader.radii(a, b)?);
        insert(
            &mut found,
            "readers",
            json!([by_reader.columns.get(a)?.name, by_reader.columns.get(b)?.name]),
        );
        Some(found)
    });
    insert(&mut document, "radii", radii.collect());
    let accuracy = by_reader.columns.iter().enumerate().filter_map(|(index, column)| {
        Some(accuracy_json(&by_reader.accuracy(index, survey)?, &column.name))
    });
    insert(&mut document, "accuracy", accuracy.collect());
    document
}

type TextOf = fn(&crate::domain::fish::Fish) -> String;
const GROUPS: [(&str, TextOf); 2] =
    [("species", |fish| fish.species.to_lowercase()), ("sex", |fish| fish.sex.word().to_owned())];

fn by_group(by_reader: &AgesByReader<'_>, text_of: TextOf, settings: Settings) -> Value {
    let groups = by_reader.split(text_of).into_iter().filter_map(|(group, places)| {
        let compared = compare(&by_reader.ages(Some(&places)).ok()?, settings);
        let mut object = Map::new();
        object.insert("group".to_owned(), json!(group));
        if let Value::Object(fields) = agree_json(&compared, None) {
            object.extend(fields);
        }
        Some(Value::Object(object))
    });
    groups.collect()
}

fn label(block: &mut Value, aided: bool) {
    insert(block, "independent", json!(!aided));
    let cautions = block.get_mut("verdict").and_then(|verdict| verdict.get_mut("cautions"));
    if let (true, Some(cautions)) = (aided, cautions.and_then(Value::as_array_mut)) {
        cautions.push(json!(NOT_INDEPENDENT));
    }
}

fn survey_text(by_reader: &AgesByReader<'_>, survey: &OpenSurvey, compared: &Comparison) -> String {
    let mut text = agree_text(compared);
    for (a, b) in pairs(by_reader.columns.len()) {
        let (Some(first), Some(second)) = (by_reader.columns.get(a), by_reader.columns.get(b))
        else {
            continue;
        };
        if both_aided(by_reader, (a, b)) {
            text.push_str(&format!("\n! {} and {}: {NOT_INDEPENDENT}\n", first.name, second.name));
        }
        if let Some(radii) = by_reader.radii(a, b) {
            text.push('\n');
            text.push_str(&radii_text(&radii, &[first.name.clone(), second.name.clone()]));
        }
    }
    for (index, column) in by_reader.columns.iter().enumerate() {
        if let Some(found) = by_reader.accuracy(index, survey) {
            text.push('\n');
            text.push_str(&accuracy_text(&found, &column.name));
        }
    }
    text
}
