//! `growth`: curves through lengths at age, from a survey or from a table.

use std::path::Path;

use serde_json::{Value, json};

use super::ages_from::{ruled, ruled_json};
use super::flags::{AgesFromFlag, BasisFlag, ErrorFlag, GrowthFlags, MethodFlags};
use super::growth_survey::{carried, scale_to, unit_word, weigh};
use super::method::{method_of, stated_errors};
use super::{BAD_DATA, DONE, Failure, output};
use crate::analysis::growth::{
    BootstrapSettings, Curve, ErrorModel, FitSettings, GrowthStudy, study_growth,
};
use crate::domain::length_at_age::LengthAtAgeTable;
use crate::domain::reading::ReaderInitials;
use crate::domain::reference::LengthBasis;
use crate::report::compare_json::{ComparedAges, against_json};
use crate::report::compare_table::against_text;
use crate::report::growth_csv::growth_csv;
use crate::report::growth_json::{GrowthExtras, growth_error_json, growth_json};
use crate::report::growth_table::growth_text;
use crate::store::collection::OpenSurvey;
use crate::store::length_at_age_table::parse_lengths_at_age;
use crate::store::problem::Problem;
use crate::store::survey_check::SurveyReadings;
use crate::workbench::survey_compare::{AgainstStandard, ComparedSurvey, against_reference};
use crate::workbench::survey_growth::{LengthsWanted, survey_lengths_at_age};
use crate::workbench::survey_increments::{growth_years, increments_of};
use crate::workbench::survey_lengths::{LeftOut, default_reader};
use crate::workbench::survey_readings::RuledReadings;

/// Fish an age must have to enter a growth index, where nothing else is said.
const MIN_FISH: usize = crate::analysis::reference::DEFAULT_MINIMUM_PER_AGE;

/// Everything a study is made from.
#[derive(Default)]
struct Material {
    table: LengthAtAgeTable,
    extras: GrowthExtras,
    /// What the document says besides, by field.
    more: Vec<(&'static str, Value)>,
    /// The same for a terminal.
    text: String,
    /// One line for each row or file that cannot be used.
    faults: Vec<String>,
}

/// Runs the verb.
pub fn run(flags: &GrowthFlags) -> Result<u8, Failure> {
    let curve = Curve::from_word(&flags.curve, 0.0, 1.0).ok_or_else(|| {
        let known = Curve::WORDS.join(", ");
        Failure::usage(format!("--curve '{}' is not known: use one of {known}", flags.curve))
    })?;
    let settings = settings_of(flags, curve)?;
    let done = match (&flags.length_at_age, &flags.survey) {
        (Some(_), _) if flags.errors.uncertainty.is_some() => {
            let words = "--uncertainty needs a survey: a table of lengths at age holds no marks; use --bootstrap";
            return Err(Failure::usage(words));
        }
        (Some(file), _) => of_table(file, flags.sheet.as_deref()),
        (None, Some(folder)) => of_survey(folder, flags, &settings),
        (None, None) => {
            return Err(Failure::usage("name a survey folder or a table with --length-at-age"));
        }
    };
    match done.and_then(|material| study_and_print(flags, &settings, material)) {
        Ok(status) => Ok(status),
        Err(failure) => {
            if flags.json && failure.status == BAD_DATA {
                output::json(&growth_error_json(curve.word(), &failure.message))?;
            }
            Err(failure)
        }
    }
}

fn settings_of(flags: &GrowthFlags, curve: Curve) -> Result<FitSettings, Failure> {
    let mut fixed: Vec<(String, f64)> = Vec::new();
    for text in &flags.fix {
        let usage = |message: String| Failure::usage(format!("--fix '{text}': {message}"));
        let (name, value) = text
            .split_once('=')
            .ok_or_else(|| usage("write it as NAME=VALUE, such as t0=0".to_owned()))?;
        let name = name.trim();
        let names = curve.parameter_names();
        let Some(name) = names.iter().find(|known| known.eq_ignore_ascii_case(name)) else {
            return Err(usage(format!("{} has the parameters {}", curve.word(), names.join(", "))));
        };
        let value: f64 =
            value.trim().parse().map_err(|_| usage("the value is no number".to_owned()))?;
        let must_be_positive = !["t0", "ti", "ts", "C", "d"].contains(name);
        if !value.is_finite() || (must_be_positive && value <= 0.0) {
            return Err(usage("give a finite number, above 0 for lengths and rates".to_owned()));
        }
        if fixed.iter().any(|(have, _)| have == name) {
            return Err(usage(format!("{name} is fixed twice")));
        }
        fixed.push(((*name).to_owned(), value));
    }
    if fixed.len() == curve.n_parameters() {
        return Err(Failure::usage(format!(
            "--fix: leave at least one parameter of {} free",
            curve.word()
        )));
    }
    if flags.bootstrap == Some(0) {
        return Err(Failure::usage("--bootstrap needs one replicate or more"));
    }
    let error = match flags.error {
        ErrorFlag::Additive => ErrorModel::Additive,
        ErrorFlag::Multiplicative => ErrorModel::Multiplicative,
    };
    Ok(FitSettings { error, fixed, ..FitSettings::default() })
}

fn study_and_print(
    flags: &GrowthFlags,
    settings: &FitSettings,
    material: Material,
) -> Result<u8, Failure> {
    let Material { table, extras, more, text, faults } = material;
    if table.rows.is_empty() {
        let reason = faults
            .first()
            .map_or_else(|| "no row holds an age and a length".to_owned(), Clone::clone);
        return Err(Failure::data(reason));
    }
    let by = flags.by.as_deref().map(|name| grouping(&table, name)).transpose()?;
    let ages = || table.rows.iter().map(|row| row.age);
    let (youngest, oldest) = (ages().fold(f64::INFINITY, f64::min), ages().fold(0.0, f64::max));
    let Some(curve) = Curve::from_word(&flags.curve, youngest, oldest) else {
        return Err(Failure::usage(format!("--curve '{}' is not known", flags.curve)));
    };
    let resampling = flags
        .bootstrap
        .map(|count| BootstrapSettings { replicates: count as usize, seed: flags.seed });
    let study = output::with_progress("fitting growth curves", |watch| {
        study_growth(curve, &table, by, settings, resampling, watch)
    })
    .map_err(|stopped| Failure::data(stopped.to_string()))?;
    let mut faults = faults;
    if let Err(error) = &study.whole.outcome {
        faults.push(error.to_string());
    }
    print(flags, &study, &extras, more, &text, &faults)?;
    faults.iter().for_each(|fault| output::message(fault));
    Ok(if faults.is_empty() { DONE } else { BAD_DATA })
}

fn print(
    flags: &GrowthFlags,
    study: &GrowthStudy,
    extras: &GrowthExtras,
    more: Vec<(&'static str, Value)>,
    text: &str,
    faults: &[String],
) -> Result<(), Failure> {
    if flags.json {
        let error = (!faults.is_empty()).then(|| faults.join("; "));
        let mut document = growth_json(study, extras, error.as_deref());
        if let Some(object) = document.as_object_mut() {
            object.extend(more.into_iter().map(|(name, value)| (name.to_owned(), value)));
        }
        return output::json(&document);
    }
    if flags.csv {
        return output::result(
            &growth_csv(study).map_err(|error| Failure::data(error.to_string()))?,
        );
    }
    output::result(&format!("{text}{}", growth_text(study, extras)))
}

fn grouping(table: &LengthAtAgeTable, name: &str) -> Result<usize, Failure> {
    table.group_column(name).ok_or_else(|| {
        let known = if table.group_columns.is_empty() {
            "none".to_owned()
        } else {
            table.group_columns.join(", ")
        };
        Failure::usage(format!("--by '{name}' is no column to group by, found {known}"))
    })
}

fn of_table(file: &Path, sheet: Option<&str>) -> Result<Material, Failure> {
    let text = output::table(file, sheet)?;
    let name = &text.name;
    let sheet = parse_lengths_at_age(&text.bytes, name)
        .map_err(|error| Failure::data(error.to_string()))?;
    if sheet.n_incomplete > 0 {
        output::message(&format!(
            "{name}: {} rows without an age or a length are left out",
            sheet.n_incomplete
        ));
    }
    Ok(Material {
        more: vec![("rows_incomplete", json!(sheet.n_incomplete))],
        faults: faults_of(text.problems.iter().chain(&sheet.problems)),
        table: sheet.table,
        ..Material::default()
    })
}

/// A survey with its readings and the reader whose readings count.
pub(super) struct Loaded {
    pub(super) survey: OpenSurvey,
    pub(super) readings: SurveyReadings,
    pub(super) reader: ReaderInitials,
    pub(super) faults: Vec<String>,
    pub(super) ages_from: Value,
}

/// Opens a survey and loads its readings.
pub(super) fn load(
    folder: &Path,
    reader: Option<&ReaderInitials>,
    from: AgesFromFlag,
) -> Result<Loaded, Failure> {
    let survey = OpenSurvey::open(folder).map_err(|error| Failure::data(error.to_string()))?;
    let Some(reader) = reader.cloned().or_else(|| default_reader(&survey)) else {
        return Err(Failure::data(
            "nobody has read this survey yet: read it first, or name a reader in survey.json",
        ));
    };
    let readings = output::with_progress("loading readings", |watch| survey.load_readings(watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    let faults = faults_of(survey.problems.iter().chain(&readings.problems));
    let found = ruled(&survey, readings, from, &reader)?;
    let ages_from = ruled_json(&found);
    let RuledReadings { readings, reader, .. } = found;
    Ok(Loaded { survey, readings, reader, faults, ages_from })
}

/// One line for each error among problems.
pub(super) fn faults_of<'a>(problems: impl IntoIterator<Item = &'a Problem>) -> Vec<String> {
    problems.into_iter().filter(|problem| problem.is_error()).map(ToString::to_string).collect()
}

/// The reader named by a flag.
pub(super) fn reader_of(flag: Option<&str>) -> Result<Option<ReaderInitials>, Failure> {
    flag.map(|text| ReaderInitials::new(text).map_err(|error| Failure::usage(error.to_string())))
        .transpose()
}

/// What a flag asks for.
pub(super) fn wanted_of(
    basis: BasisFlag,
    species: Option<&String>,
    method: &MethodFlags,
) -> Result<LengthsWanted, Failure> {
    let method = method_of(method)?;
    let basis = match basis {
        BasisFlag::Capture => LengthBasis::Capture,
        BasisFlag::Annulus => LengthBasis::Annulus,
    };
    Ok(LengthsWanted { basis, species: species.cloned(), method })
}

/// A comparison as reports take it.
pub(super) fn compared_of(against: AgainstStandard, left_out: &[LeftOut]) -> ComparedAges {
    let lost =
        left_out.iter().chain(&against.left_out).map(|one| (one.fish.clone(), one.reason.clone()));
    ComparedAges {
        left_out: lost.collect(),
        index: against.index,
        standard: against.standard,
        months: against.months,
        n_fish: against.n_fish,
    }
}

fn of_survey(
    folder: &Path,
    flags: &GrowthFlags,
    settings: &FitSettings,
) -> Result<Material, Failure> {
    let wanted = wanted_of(flags.basis, flags.species.as_ref(), &flags.method)?;
    let stated = stated_errors(&flags.errors)?;
    let loaded = load(folder, reader_of(flags.reader.as_deref())?.as_ref(), flags.ages_from)?;
    let Loaded { survey, readings, reader, mut faults, ages_from } = loaded;
    let lengths =
        survey_lengths_at_age(&survey, &readings, &reader, &wanted).map_err(Failure::data)?;
    // Growth years rest on back-calculated lengths whatever the curve is fitted to.
    let annuli = LengthsWanted { basis: LengthBasis::Annulus, ..wanted.clone() };
    let calculated = survey_lengths_at_age(&survey, &readings, &reader, &annuli);
    let (year_effects, mut notes) = match calculated.map(|found| found.calculated) {
        Ok(Some(result)) => growth_years(&increments_of(&result.fish)),
        Ok(None) => (Vec::new(), Vec::new()),
        Err(reason) => (Vec::new(), vec![format!("no growth years: {reason}")]),
    };
    let (mut table, no_row) = lengths.for_curve(&survey.survey.birthday_rule);
    let by_key = weigh(flags, &survey, &readings, &reader, &lengths, &mut table, &mut notes)?;
    let uncertainty = carried(
        flags,
        &wanted,
        settings,
        &stated,
        (&survey, &readings, &reader),
        &lengths,
        &table,
    )?;
    scale_to(flags.unit, &mut table);
    let condition = lengths.condition(&survey);
    let mut left_out = lengths.left_out.clone();
    left_out.extend(no_row);
    let tables = survey.load_tables().map_err(|error| Failure::data(error.to_string()))?;
    faults.extend(faults_of(&tables.problems));
    let mut more = vec![
        ("basis", json!(lengths.basis.word())),
        ("reader", json!(reader.as_str())),
        ("species", json!(lengths.species)),
        ("ages_from", ages_from),
        ("length_unit", json!(unit_word(flags.unit))),
        ("weighting", json!(if flags.weight_by_key { "age-length key" } else { "none" })),
        ("left_out_by_hand", json!(lengths.n_left_out_by_hand)),
        ("method", json!(wanted.method.word())),
        (
            "left_out",
            left_out.iter().map(|one| json!({"fish": one.fish, "reason": one.reason})).collect(),
        ),
    ];
    let compared = ComparedSurvey::of(&survey.survey, &lengths);
    let mut text = String::new();
    let mut against = Value::Null;
    if let Some(reference) = &tables.reference {
        match against_reference(&compared, reference, MIN_FISH) {
            Ok(found) => {
                let found = compared_of(found, &[]);
                text.push_str("Growth against the reference of the survey\n");
                text.push_str(&against_text(&found));
                text.push('\n');
                against = against_json(&found, compared.lengths.basis);
            }
            Err(reason) => notes.push(format!("no growth index: {reason}")),
        }
    }
    more.push(("against_reference", against));
    more.push(("notes", json!(notes)));
    if !left_out.is_empty() {
        notes.push(format!("{} fish are left out of the curve", left_out.len()));
    }
    notes.iter().for_each(|note| output::message(note));
    let extras = GrowthExtras { year_effects, condition, uncertainty, by_key };
    Ok(Material { table, extras, more, text, faults })
}
