//! `lengths`: length at every earlier age, from a survey or from a table of radii.

use std::path::Path;

use serde_json::Value;

use super::ages_from::{insert, ruled, ruled_json};
use super::flags::{LengthsFlags, RegressionFlag};
use super::growth::faults_of;
use super::{BAD_DATA, DONE, Failure, output};
use crate::analysis::back_calculation::{
    Excluded, Intercept, InterceptLine, LengthsResult, Method, Options, Origin, Reason, SampleFish,
    back_calculate,
};
use crate::domain::reading::ReaderInitials;
use crate::domain::units::{Micrometres, Millimetres};
use crate::report::lengths_json::{lengths_error_json, lengths_json};
use crate::report::lengths_table::{lengths_csv, lengths_text};
use crate::store::collection::OpenSurvey;
use crate::store::radii_table::parse_radii;
use crate::workbench::survey_lengths::{LeftOut, default_reader, survey_options, survey_sample};

/// A sample ready for calculation.
struct Sample {
    fish: Vec<SampleFish>,
    options: Options,
    left_out: Vec<LeftOut>,
    /// One line for each row that cannot be used.
    faults: Vec<String>,
    /// Whose ages a survey's are.
    ages_from: Option<Value>,
}

/// Runs the verb.
pub fn run(flags: &LengthsFlags) -> Result<u8, Failure> {
    let method = method_of(flags)?;
    let word = method.word();
    let sample = match (&flags.radii, &flags.survey) {
        (Some(file), _) => radii_sample(file, flags.sheet.as_deref()),
        (None, Some(folder)) => sample_of_survey(folder, flags),
        (None, None) => return Err(Failure::usage("name a survey folder or a table with --radii")),
    };
    let sample = match sample {
        Ok(sample) => sample,
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
        output::json(&document)?;
    } else if flags.csv {
        let table = lengths_csv(&result).map_err(|error| Failure::data(error.to_string()))?;
        output::result(&table)?;
    } else {
        output::result(&lengths_text(&result))?;
    }
    for fault in &sample.faults {
        output::message(fault);
    }
    Ok(if sample.faults.is_empty() { DONE } else { BAD_DATA })
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

fn radii_sample(file: &Path, sheet: Option<&str>) -> Result<Sample, Failure> {
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
    Ok(Sample {
        fish: SampleFish::from_rows(&table.rows),
        options: Options::default(),
        left_out: Vec::new(),
        faults,
        ages_from: None,
    })
}

fn sample_of_survey(folder: &Path, flags: &LengthsFlags) -> Result<Sample, Failure> {
    let survey = OpenSurvey::open(folder).map_err(|error| Failure::data(error.to_string()))?;
    let reader = match flags.reader.as_deref() {
        Some(text) => {
            Some(ReaderInitials::new(text).map_err(|error| Failure::usage(error.to_string()))?)
        }
        None => default_reader(&survey),
    };
    let Some(reader) = reader else {
        return Err(Failure::data(
            "nobody has read this survey yet: read it first, or name a reader in survey.json",
        ));
    };
    let readings = output::with_progress("loading readings", |watch| survey.load_readings(watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    let found = ruled(&survey, readings, flags.ages_from, &reader)?;
    let sample = survey_sample(&survey, &found.readings, &found.reader);
    let faults = faults_of(survey.problems.iter().chain(&found.readings.problems));
    Ok(Sample {
        fish: sample.fish,
        options: survey_options(&survey),
        left_out: sample.left_out,
        faults,
        ages_from: Some(ruled_json(&found)),
    })
}

fn method_of(flags: &LengthsFlags) -> Result<Method, Failure> {
    let line = match flags.regression {
        Some(RegressionFlag::Gm) => InterceptLine::GeometricMean,
        _ => InterceptLine::LeastSquares,
    };
    let method = match flags.method.as_str() {
        "direct-proportion" => Method::DirectProportion,
        "fraser-lee" => Method::FraserLee(match flags.intercept {
            Some(mm) if mm.is_finite() => Intercept::Given {
                length: Millimetres(mm),
                source: flags
                    .intercept_source
                    .clone()
                    .unwrap_or_else(|| "given without a source".into()),
            },
            Some(_) => return Err(Failure::usage("--intercept needs a number of millimetres")),
            None => Intercept::Fitted(line),
        }),
        "scale-proportional" => Method::ScaleProportional,
        "body-proportional" => Method::BodyProportional,
        "power-scale-proportional" => Method::PowerScaleProportional,
        "power-body-proportional" => Method::PowerBodyProportional,
        "quadratic-scale-proportional" => Method::QuadraticScaleProportional,
        "quadratic-body-proportional" => Method::QuadraticBodyProportional,
        "biological-intercept" => Method::BiologicalIntercept(origin_of(flags)?),
        "modified-fry" => Method::ModifiedFry { origin: origin_of(flags)?, intercept: None },
        other => {
            return Err(Failure::usage(format!(
                "--method '{other}' is not known: use one of {}",
                METHODS.join(", ")
            )));
        }
    };
    if flags.method != "fraser-lee" && (flags.intercept.is_some() || flags.regression.is_some()) {
        return Err(Failure::usage("--intercept and --regression belong to --method fraser-lee"));
    }
    Ok(method)
}

const METHODS: [&str; 10] = [
    "direct-proportion",
    "fraser-lee",
    "scale-proportional",
    "body-proportional",
    "power-scale-proportional",
    "power-body-proportional",
    "quadratic-scale-proportional",
    "quadratic-body-proportional",
    "biological-intercept",
    "modified-fry",
];

fn origin_of(flags: &LengthsFlags) -> Result<Origin, Failure> {
    match (flags.origin_length, flags.origin_radius) {
        (Some(mm), Some(um)) if mm.is_finite() && um.is_finite() => {
            Ok(Origin { length: Millimetres(mm), radius: Micrometres(um) })
        }
        _ => Err(Failure::usage(format!(
            "--method {} needs --origin-length MM and --origin-radius UM",
            flags.method
        ))),
    }
}
