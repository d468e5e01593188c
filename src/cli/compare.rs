//! `compare`: mean length at age of several waters against a reference file or against each other.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::flags::{AgesFromFlag, CompareFlags, SexFlag};
use super::growth::{faults_of, reader_of, wanted_of};
use super::{BAD_DATA, DONE, Failure, output};
use crate::domain::fish::Sex;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reference::ReferenceLength;
use crate::domain::survey_summary::SurveySummary;
use crate::report::compare_json::{Comparison, compare_json};
use crate::report::compare_table::{compare_csv, compare_text};
use crate::store::archive::is_archive;
use crate::store::reference_file::{read_reference, write_reference};
use crate::workbench::survey_readings::AgesFrom;
use crate::workbench::survey_summary::{SummaryWanted, archive_summaries, summarise};
use crate::workbench::waters::{WatersWanted, compare_waters, standards};

const OF_FILE: &str = "a reference file";
const OF_OTHERS: &str = "the mean of the other waters of this comparison";

/// A survey that was looked at, and whether it is one of an archive.
pub(super) struct Looked {
    folder: PathBuf,
    is_of_archive: bool,
    summary: Result<SurveySummary, String>,
}

/// Runs the verb.
pub fn run(flags: &CompareFlags) -> Result<u8, Failure> {
    let lengths = wanted_of(flags.basis, flags.species.as_ref(), &flags.method)?;
    let summary = SummaryWanted {
        basis: lengths.basis,
        method: lengths.method,
        reader: reader_of(flags.reader.as_deref())?,
        ages_from: match flags.ages_from {
            AgesFromFlag::Reader => AgesFrom::Reader,
            AgesFromFlag::Consensus => AgesFrom::Consensus,
            AgesFromFlag::Agreed => AgesFrom::Agreed,
        },
    };
    let mut faults = Vec::new();
    let reference = match &flags.reference {
        Some(file) => match reference_of(file, &mut faults) {
            Ok(rows) => Some(rows),
            Err(failure) => {
                if flags.json {
                    let nothing = Comparison {
                        basis: lengths.basis,
                        standard: OF_FILE,
                        min_fish: flags.min_fish as usize,
                        surveys: Vec::new(),
                        waters: Vec::new(),
                        standard_ages: Vec::new(),
                    };
                    output::json(&compare_json(&nothing, Some(&failure.message)))?;
                }
                return Err(failure);
            }
        },
        None => None,
    };
    let looked = looked_at(flags, &summary, &mut faults)?;
    let wanted = WatersWanted {
        basis: lengths.basis,
        species: lengths.species,
        min_fish: flags.min_fish as usize,
        sex: flags.sex.map(|sex| match sex {
            SexFlag::Female => Sex::Female,
            SexFlag::Male => Sex::Male,
        }),
    };
    notes(&looked);
    if let Some(file) = &flags.write_standard {
        let rows = standards(looked.iter().filter_map(|one| one.summary.as_ref().ok()), &wanted);
        write_standard(file, rows?)?;
    }
    let standard = if reference.is_some() { OF_FILE } else { OF_OTHERS };
    let surveys = looked.into_iter().map(|one| (one.folder, one.is_of_archive, one.summary));
    let mut comparison = compare_waters(surveys.collect(), reference.as_deref(), standard, &wanted);
    if let Some(water) = &flags.water {
        keep_water(&mut comparison, water)?;
    }
    print(flags, &comparison, &faults)?;
    for survey in &comparison.surveys {
        if let Some(error) = &survey.error {
            output::message(&format!("{}: {error}", survey.folder));
        }
    }
    faults.iter().for_each(|fault| output::message(fault));
    let is_clean = faults.is_empty() && comparison.surveys.iter().all(|one| one.error.is_none());
    Ok(if is_clean { DONE } else { BAD_DATA })
}

impl From<String> for Failure {
    fn from(message: String) -> Self {
        Self::data(message)
    }
}

/// All surveys named, and those of the archives named, in order.
fn looked_at(
    flags: &CompareFlags,
    wanted: &SummaryWanted,
    faults: &mut Vec<String>,
) -> Result<Vec<Looked>, Failure> {
    let stopped = |stopped: Stopped| Failure::data(stopped.to_string());
    if !flags.surveys.iter().any(|folder| is_archive(folder)) {
        return output::with_progress("reading surveys", |watch| {
            watch.set_total(flags.surveys.len());
            flags
                .surveys
                .par_iter()
                .map(|folder| by_name(folder, wanted, watch))
                .collect::<Result<Vec<_>, _>>()
        })
        .map_err(stopped);
    }
    let mut all = Vec::new();
    for folder in &flags.surveys {
        if !is_archive(folder) {
            let one =
                output::with_progress("reading surveys", |watch| by_name(folder, wanted, watch));
            all.push(one.map_err(stopped)?);
            continue;
        }
        let found = output::with_progress("reading the archive", |watch| {
            archive_summaries(folder, wanted, !flags.without_index, watch)
        });
        let found = found.map_err(|error| Failure::data(error.to_string()))?.map_err(stopped)?;
        faults.extend(found.problems);
        if found.surveys.is_empty() {
            let one = summarise(folder, wanted, true, &Progress::new());
            let summary = one.map_err(stopped)?;
            all.push(Looked { folder: folder.clone(), is_of_archive: false, summary });
            continue;
        }
        if found.is_read_only {
            output::message(
                "the archive cannot be written to, so no index is kept: every survey will be read anew the next time",
            );
        }
        if !flags.without_index {
            output::message(&format!(
                "{} surveys in '{}': {} unchanged since they were last compared, {} read",
                found.surveys.len(),
                folder.display(),
                found.n_from_index,
                found.surveys.len() - found.n_from_index
            ));
        }
        all.extend(found.surveys.into_iter().map(|(survey, summary)| Looked {
            folder: survey.folder,
            is_of_archive: true,
            summary,
        }));
    }
    Ok(all)
}

fn by_name(folder: &Path, wanted: &SummaryWanted, watch: &Progress) -> Result<Looked, Stopped> {
    let summary = summarise(folder, wanted, true, watch)?;
    watch.step();
    Ok(Looked { folder: folder.to_owned(), is_of_archive: false, summary })
}

fn notes(looked: &[Looked]) {
    for one in looked {
        let notes = one.summary.as_ref().map_or(&[][..], |summary| summary.notes.as_slice());
        for note in notes {
            match one.is_of_archive {
                true => output::message(&format!("{}: {note}", one.folder.display())),
                false => output::message(note),
            }
        }
    }
}

fn write_standard(file: &Path, rows: Vec<ReferenceLength>) -> Result<(), Failure> {
    if rows.is_empty() {
        return Err(Failure::data("no age has enough fish for a standard: lower --min-fish"));
    }
    write_reference(file, &rows, None).map_err(|error| Failure::data(error.to_string()))?;
    output::message(&format!("wrote a standard of {} rows: '{}'", rows.len(), file.display()));
    Ok(())
}

/// Leaves one water and its surveys.
fn keep_water(comparison: &mut Comparison, water: &str) -> Result<(), Failure> {
    let is_meant = |name: &str| name.trim().to_lowercase() == water.trim().to_lowercase();
    comparison.waters.retain(|one| is_meant(&one.water));
    comparison.surveys.retain(|one| is_meant(&one.water));
    if comparison.waters.is_empty() && comparison.surveys.is_empty() {
        return Err(Failure::data(format!(
            "no survey of the water '{water}': write it as in survey.json"
        )));
    }
    Ok(())
}

fn print(flags: &CompareFlags, comparison: &Comparison, faults: &[String]) -> Result<(), Failure> {
    if flags.json {
        let error = (!faults.is_empty()).then(|| faults.join("; "));
        return output::json(&compare_json(comparison, error.as_deref()));
    }
    if flags.csv {
        let table = compare_csv(&comparison.surveys, comparison.basis)
            .map_err(|error| Failure::data(error.to_string()))?;
        return output::result(&table);
    }
    output::result(&compare_text(comparison, flags.water.is_some()))
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
