//! `ages`: ages of a whole sample from the fish that were aged, from a survey or from tables of lengths.

use std::path::Path;

use serde_json::Value;

use super::ages_from::{insert, reader_of, ruled, ruled_json};
use super::flags::{AgesFlags, AssignFlag, EmptyGroupsFlag};
use super::{BAD_DATA, DONE, Failure, output};
use crate::analysis::population::age_length_key::EmptyGroups;
use crate::analysis::population::assignment::AssignmentRule;
use crate::analysis::population::catch_per_effort::Effort;
use crate::analysis::population::length_groups::LengthGroups;
use crate::analysis::population::study::{Background, Settings, age_study};
use crate::domain::effort::EffortRun;
use crate::domain::survey::LengthUnit;
use crate::report::ages_json::{AgesNotes, ages_error_json, ages_json};
use crate::report::ages_table::{ages_csv, ages_text};
use crate::store::collection::OpenSurvey;
use crate::store::effort_file::read_effort;
use crate::store::lengths_table::{LengthsTable, parse_aged_lengths, parse_unaged_lengths};
use crate::store::problem::Problem;
use crate::workbench::survey_ages::{AgesSample, survey_ages, table_ages};

/// Width of length groups where a survey is given without one: 25 mm, or 1 in where fish were measured in inches
/// (common practice, no source).
const USUAL_WIDTH_MM: f64 = 25.0;
const USUAL_WIDTH_IN: f64 = 1.0;

/// A sample ready for the key.
struct Gathered {
    sample: AgesSample,
    /// The unit its fish were measured in.
    unit: LengthUnit,
    /// Everything wrong with its files.
    problems: Vec<Problem>,
    /// Whose ages a survey's are.
    ages_from: Option<Value>,
}

/// Runs the verb.
pub fn run(flags: &AgesFlags) -> Result<u8, Failure> {
    let worked_out = work_out(flags);
    if flags.json
        && let Err(failure) = &worked_out
        && failure.status == BAD_DATA
    {
        // With --json bad data makes a document too.
        output::json(&ages_error_json(&failure.message))?;
    }
    worked_out
}

fn work_out(flags: &AgesFlags) -> Result<u8, Failure> {
    let total_hours = total_hours(flags)?;
    let stated_width = stated_width(flags)?;
    let mut gathered = match (&flags.aged, &flags.unaged, &flags.survey) {
        (Some(aged), Some(unaged), _) => gather_tables(aged, unaged, flags.year)?,
        (_, _, Some(folder)) => gather_survey(folder, flags)?,
        _ => {
            return Err(Failure::usage("name a survey folder, or tables with --aged and --unaged"));
        }
    };
    let groups = groups(stated_width, gathered.unit)?;
    if let (Some(file), None) = (&flags.effort, total_hours) {
        gathered.sample.effort = Some(effort_of(Path::new(file), &mut gathered.problems)?);
    }
    let sample = &gathered.sample;
    let faults: Vec<String> =
        gathered.problems.iter().filter(|one| one.is_error()).map(ToString::to_string).collect();
    for problem in &gathered.problems {
        output::message(&problem.to_string());
    }
    let background = Background {
        year: sample.year,
        species: sample.species.clone(),
        effort: match (total_hours, &sample.effort) {
            (Some(hours), _) => Some(Effort::Total(hours)),
            (None, runs) => runs.as_deref().filter(|runs| !runs.is_empty()).map(Effort::Runs),
        },
        stocked: sample.stocked.clone(),
    };
    let settings = settings(flags, groups);
    let study = output::with_progress("drawing samples anew", |watch| {
        age_study(&sample.fish, &settings, &background, watch)
    })
    .map_err(|error| Failure::data(with_faults(error.to_string(), &faults)))?;
    let notes = AgesNotes {
        left_out: sample
            .left_out
            .iter()
            .map(|one| (one.fish.clone(), one.row, one.reason.clone()))
            .collect(),
        error: (!faults.is_empty()).then(|| faults.join("; ")),
    };
    if flags.json {
        let mut document = ages_json(&study, &notes);
        insert(&mut document, gathered.ages_from);
        output::json(&document)?;
    } else if flags.csv {
        output::result(&ages_csv(&study).map_err(|error| Failure::data(error.to_string()))?)?;
    } else {
        output::result(&ages_text(&study, &notes))?;
    }
    Ok(if faults.is_empty() { DONE } else { BAD_DATA })
}

/// Faulty rows may be why nothing could be worked out: they belong to the same line.
fn with_faults(error: String, faults: &[String]) -> String {
    if faults.is_empty() { error } else { format!("{error} ({})", faults.join("; ")) }
}

fn settings(flags: &AgesFlags, groups: LengthGroups) -> Settings {
    let rule = match flags.assign {
        AssignFlag::WholeParts => AssignmentRule::WholePartsFirst,
        AssignFlag::Random => AssignmentRule::FullyRandom,
    };
    let usual = Settings::new(groups);
    Settings {
        empty: match flags.empty_groups {
            EmptyGroupsFlag::Refuse => EmptyGroups::Refuse,
            EmptyGroupsFlag::Merge => EmptyGroups::Merge,
            EmptyGroupsFlag::Borrow => EmptyGroups::Borrow,
        },
        by_sex: flags.by_sex,
        assignment: flags.seed.map(|seed| (rule, seed)),
        bootstrap_seed: flags.seed.unwrap_or(usual.bootstrap_seed),
        first_age: flags.first_age,
        even_recruitment: flags.even_recruitment,
        ..usual
    }
}

/// Hours given as a number; `None` where the flag names a file or is not there.
fn total_hours(flags: &AgesFlags) -> Result<Option<f64>, Failure> {
    match flags.effort.as_deref().and_then(|text| text.trim().parse::<f64>().ok()) {
        Some(hours) if hours.is_finite() && hours > 0.0 => Ok(Some(hours)),
        Some(hours) => Err(Failure::usage(format!(
            "--effort needs hours above 0 or a table of runs, found {hours}"
        ))),
        None => Ok(None),
    }
}

fn stated_width(flags: &AgesFlags) -> Result<Option<LengthGroups>, Failure> {
    let made = match (flags.width, flags.width_in) {
        (Some(mm), _) => LengthGroups::new(mm, LengthUnit::Millimetre),
        (None, Some(inches)) => LengthGroups::new(inches, LengthUnit::Inch),
        (None, None) if flags.survey.is_none() => {
            return Err(Failure::usage(
                "tables need the width of length groups: --width MM or --width-in IN",
            ));
        }
        (None, None) => return Ok(None),
    };
    made.map(Some).map_err(|error| Failure::usage(error.to_string()))
}

fn groups(stated: Option<LengthGroups>, unit: LengthUnit) -> Result<LengthGroups, Failure> {
    let usual = || match unit {
        LengthUnit::Inch => LengthGroups::new(USUAL_WIDTH_IN, unit),
        LengthUnit::Centimetre => LengthGroups::new(USUAL_WIDTH_MM / 10.0, unit),
        LengthUnit::Millimetre => LengthGroups::new(USUAL_WIDTH_MM, unit),
    };
    stated.map_or_else(usual, Ok).map_err(|error| Failure::usage(error.to_string()))
}

fn gather_tables(aged: &Path, unaged: &Path, year: Option<i16>) -> Result<Gathered, Failure> {
    type Parse = fn(&[u8], &str) -> Result<LengthsTable, crate::store::error::StoreError>;
    let table = |file: &Path, parse: Parse| -> Result<LengthsTable, Failure> {
        let text = output::table(file, None)?;
        let mut table =
            parse(&text.bytes, &text.name).map_err(|error| Failure::data(error.to_string()))?;
        table.problems.extend(text.problems.into_iter().filter(Problem::is_error));
        Ok(table)
    };
    let aged = table(aged, parse_aged_lengths)?;
    let unaged = table(unaged, parse_unaged_lengths)?;
    let sample = table_ages(&aged, &unaged, year);
    let problems = aged.problems.into_iter().chain(unaged.problems).collect();
    Ok(Gathered { sample, unit: LengthUnit::Millimetre, problems, ages_from: None })
}

fn gather_survey(folder: &Path, flags: &AgesFlags) -> Result<Gathered, Failure> {
    let data = |error: &dyn std::fmt::Display| Failure::data(error.to_string());
    let survey = OpenSurvey::open(folder).map_err(|error| data(&error))?;
    let reader = reader_of(&survey, flags.reader.as_deref())?;
    let readings = output::with_progress("loading readings", |watch| survey.load_readings(watch))
        .map_err(|stopped| data(&stopped))?;
    let tables = survey.load_tables().map_err(|error| data(&error))?;
    let problems: Vec<Problem> = [&survey.problems, &readings.problems, &tables.problems]
        .into_iter()
        .flatten()
        .filter(|problem| problem.is_error())
        .cloned()
        .collect();
    let species = flags.species.as_deref();
    let found = ruled(&survey, readings, flags.ages_from, &reader)?;
    let sample = survey_ages(&survey, &found.readings, tables, &found.reader, species, flags.year)
        .map_err(|error| data(&error))?;
    let ages_from = Some(ruled_json(&found));
    Ok(Gathered { sample, unit: survey.survey.length_unit, problems, ages_from })
}

fn effort_of(file: &Path, problems: &mut Vec<Problem>) -> Result<Vec<EffortRun>, Failure> {
    let name = file.display().to_string();
    let sheet = read_effort(file, &name).map_err(|error| Failure::data(error.to_string()))?;
    let Some(sheet) = sheet else {
        return Err(Failure::data(format!(
            "cannot read the effort: there is no such file, and it is no number of hours: '{name}'"
        )));
    };
    problems.extend(sheet.problems);
    Ok(sheet.rows)
}
