//! `compare`: mean length at age of several waters against a reference file or against each other.

use std::path::Path;

use super::flags::CompareFlags;
use super::growth::{Loaded, compared_of, faults_of, load, reader_of, wanted_of};
use super::{BAD_DATA, DONE, Failure, output};
use crate::domain::reference::ReferenceLength;
use crate::report::compare_json::{ComparedAges, ComparedWater, compare_json};
use crate::report::compare_table::{compare_csv, compare_text};
use crate::store::reference_file::read_reference;
use crate::workbench::survey_compare::{ComparedSurvey, against_each_other, against_reference};
use crate::workbench::survey_growth::{LengthsWanted, survey_lengths_at_age};

/// Runs the verb.
pub fn run(flags: &CompareFlags) -> Result<u8, Failure> {
    let wanted = wanted_of(flags.basis, flags.species.as_ref(), &flags.method)?;
    let reader = reader_of(flags.reader.as_deref())?;
    let mut faults = Vec::new();
    let reference = match &flags.reference {
        Some(file) => match reference_of(file, &mut faults) {
            Ok(rows) => Some(rows),
            Err(failure) => {
                if flags.json {
                    let error = Some(failure.message.as_str());
                    output::json(&compare_json(
                        &[],
                        wanted.basis,
                        "a reference file",
                        flags.min_fish as usize,
                        error,
                    ))?;
                }
                return Err(failure);
            }
        },
        None => None,
    };
    let loaded: Vec<(&Path, Result<Loaded, Failure>)> = flags
        .surveys
        .iter()
        .map(|folder| (folder.as_path(), load(folder, reader.as_ref(), flags.ages_from)))
        .collect();
    let mut waters: Vec<ComparedWater> =
        loaded.iter().map(|(folder, one)| shown(folder, one)).collect();
    judge(&loaded, &mut waters, &wanted, reference.as_deref(), flags.min_fish as usize);
    print(flags, &wanted, &waters, &faults)?;
    for water in &waters {
        if let Some(error) = &water.error {
            output::message(&format!("{}: {error}", water.folder));
        }
    }
    faults.iter().for_each(|fault| output::message(fault));
    let is_clean = faults.is_empty() && waters.iter().all(|water| water.error.is_none());
    Ok(if is_clean { DONE } else { BAD_DATA })
}

fn print(
    flags: &CompareFlags,
    wanted: &LengthsWanted,
    waters: &[ComparedWater],
    faults: &[String],
) -> Result<(), Failure> {
    let standard = match &flags.reference {
        Some(_) => "a reference file",
        None => "the mean of the other waters of this comparison",
    };
    if flags.json {
        let error = (!faults.is_empty()).then(|| faults.join("; "));
        return output::json(&compare_json(
            waters,
            wanted.basis,
            standard,
            flags.min_fish as usize,
            error.as_deref(),
        ));
    }
    if flags.csv {
        let table =
            compare_csv(waters, wanted.basis).map_err(|error| Failure::data(error.to_string()))?;
        return output::result(&table);
    }
    output::result(&compare_text(waters, wanted.basis, standard))
}

fn reference_of(file: &Path, faults: &mut Vec<String>) -> Result<Vec<ReferenceLength>, Failure> {
    let name = file.display().to_string();
    match read_reference(file, &name) {
        Ok(Some(sheet)) => {
            let found = faults_of(&sheet.problems);
            if sheet.rows.is_empty() {
                let reason = found.into_iter().next();
                return Err(Failure::data(
                    reason.unwrap_or_else(|| format!("the reference holds no row: '{name}'")),
                ));
            }
            faults.extend(found);
            Ok(sheet.rows)
        }
        Ok(None) => {
            Err(Failure::data(format!("there is no reference file '{name}': check the path")))
        }
        Err(error) => Err(Failure::data(error.to_string())),
    }
}

fn shown(folder: &Path, loaded: &Result<Loaded, Failure>) -> ComparedWater {
    let name = folder.file_name().map(|name| name.to_string_lossy().into_owned());
    let mut water = ComparedWater {
        survey: name.unwrap_or_else(|| folder.display().to_string()),
        folder: folder.display().to_string(),
        water: String::new(),
        species: String::new(),
        reader: String::new(),
        compared: None,
        error: None,
    };
    match loaded {
        Ok(loaded) => {
            water.survey.clone_from(&loaded.survey.survey.name);
            water.water.clone_from(&loaded.survey.survey.water);
            let rule = loaded.ages_from.get("by").and_then(|by| by.as_str());
            rule.unwrap_or(loaded.reader.as_str()).clone_into(&mut water.reader);
            water.error = (!loaded.faults.is_empty()).then(|| loaded.faults.join("; "));
        }
        Err(failure) => water.error = Some(failure.message.clone()),
    }
    water
}

/// Fills in the comparison of every survey that can be compared; the others get their reason.
fn judge(
    loaded: &[(&Path, Result<Loaded, Failure>)],
    waters: &mut [ComparedWater],
    wanted: &LengthsWanted,
    reference: Option<&[ReferenceLength]>,
    min_fish: usize,
) {
    let mut places = Vec::new();
    let mut surveys: Vec<ComparedSurvey<'_>> = Vec::new();
    let mut wanted = wanted.clone();
    for (place, (_, one)) in loaded.iter().enumerate() {
        let (Ok(loaded), Some(water)) = (one, waters.get_mut(place)) else { continue };
        match survey_lengths_at_age(&loaded.survey, &loaded.readings, &loaded.reader, &wanted) {
            Ok(lengths) => {
                // One species is compared: that of the first survey unless another is named.
                wanted.species.get_or_insert_with(|| lengths.species.clone());
                water.species.clone_from(&lengths.species);
                let survey = &loaded.survey.survey;
                let (name, water) = (survey.name.clone(), survey.water.clone());
                surveys.push(ComparedSurvey { name, water, structure: survey.structure, lengths });
                places.push(place);
            }
            Err(reason) => add_error(water, reason),
        }
    }
    let results: Vec<Result<ComparedAges, String>> = match reference {
        Some(reference) => surveys
            .iter()
            .map(|survey| {
                let found = against_reference(survey, reference, min_fish)?;
                Ok(compared_of(found, &survey.lengths.left_out))
            })
            .collect(),
        None => match against_each_other(&surveys, min_fish) {
            Ok(found) => surveys
                .iter()
                .zip(found)
                .map(|(survey, found)| Ok(compared_of(found, &survey.lengths.left_out)))
                .collect(),
            Err(reason) => surveys.iter().map(|_| Err(reason.clone())).collect(),
        },
    };
    for (place, result) in places.into_iter().zip(results) {
        let Some(water) = waters.get_mut(place) else { continue };
        match result {
            Ok(compared) => water.compared = Some(compared),
            Err(reason) => add_error(water, reason),
        }
    }
}

fn add_error(water: &mut ComparedWater, reason: String) {
    water.error = Some(match water.error.take() {
        Some(before) => format!("{before}; {reason}"),
        None => reason,
    });
}
