//! From a survey folder to what a comparison keeps of it, and the same for a whole archive with its index.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::survey_growth::{LengthsWanted, aged_species, lengths_of_species};
use super::survey_lengths::{default_reader, survey_sample};
use super::survey_readings::{AgesFrom, RuledReadings, readings_by_rule, rule_in_words};
use crate::analysis::back_calculation::Method;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::ReaderInitials;
use crate::domain::reference::LengthBasis;
use crate::domain::resolution::Rule;
use crate::domain::survey_summary::SurveySummary;
use crate::store::archive::{ArchiveSurvey, find_surveys};
use crate::store::archive_index::ArchiveIndex;
use crate::store::collection::OpenSurvey;
use crate::store::error::{StoreError, tells_of_system};
use crate::store::problem::Problem;
use crate::store::survey_stamp::SurveyStamp;

/// What a summary is made under.
#[derive(Debug, Clone, PartialEq)]
pub struct SummaryWanted {
    /// Capture or annulus.
    pub basis: LengthBasis,
    /// How radii become lengths.
    pub method: Method,
    /// Reader whose readings are used; `None` for the first of each survey.
    pub reader: Option<ReaderInitials>,
    /// Whose ages count.
    pub ages_from: AgesFrom,
}

impl SummaryWanted {
    /// All of it in words, alike only for like settings.
    fn settings(&self) -> String {
        let reader = self.reader.as_ref().map(|one| one.as_str().to_ascii_lowercase());
        format!("{:?} {:?} {reader:?} {:?}", self.basis, self.method, self.ages_from)
    }
}

/// Reads a survey as a comparison needs it; with `names` the fish left out are named, else only counted. The inner error
/// is one line: the survey cannot be opened, or nobody has read it.
///
/// # Errors
/// [`Stopped`] when `progress` was asked to stop.
pub fn summarise(
    folder: &Path,
    wanted: &SummaryWanted,
    names: bool,
    progress: &Progress,
) -> Result<Result<SurveySummary, String>, Stopped> {
    let survey = match OpenSurvey::open(folder) {
        Ok(survey) => survey,
        Err(error) => return Ok(Err(error.to_string())),
    };
    let Some(reader) = wanted.reader.clone().or_else(|| default_reader(&survey)) else {
        return Ok(Err(
            "nobody has read this survey yet: read it first, or name a reader in survey.json"
                .to_owned(),
        ));
    };
    let readings = survey.load_readings_in_turn(progress)?;
    let faults = faults_of(survey.problems.iter().chain(&readings.problems));
    let rule = wanted.ages_from.rule(&reader);
    let found = match readings_by_rule(&survey, readings, &rule, &reader) {
        Ok(found) => found,
        Err(error) => return Ok(Err(error.to_string())),
    };
    let sample = survey_sample(&survey, &found.readings, &found.reader);
    let names_of_species = aged_species(&sample);
    let lengths = |species: &String| {
        let wanted = LengthsWanted {
            basis: wanted.basis,
            species: Some(species.clone()),
            method: wanted.method.clone(),
        };
        let found = lengths_of_species(&survey, sample.clone(), species.clone(), &wanted);
        (species.clone(), found.map(|found| found.for_comparison(names)))
    };
    Ok(Ok(SurveySummary {
        species: names_of_species.iter().map(lengths).collect(),
        name: survey.survey.name.clone(),
        water: survey.survey.water.clone(),
        structure: survey.survey.structure,
        ages_by: ages_by(&found),
        faults,
        notes: notes_of(&found, wanted.ages_from),
    }))
}

fn faults_of<'a>(problems: impl Iterator<Item = &'a Problem>) -> Vec<String> {
    problems.filter(|problem| problem.is_error()).map(ToString::to_string).collect()
}

fn ages_by(found: &RuledReadings) -> String {
    match &found.rule {
        Rule::OneReader(reader) => reader.to_string(),
        Rule::Consensus => "consensus".to_owned(),
        Rule::OnlyAgreed => "only agreed".to_owned(),
    }
}

fn notes_of(found: &RuledReadings, from: AgesFrom) -> Vec<String> {
    let mut notes = found.problems.clone();
    if from != AgesFrom::Reader {
        notes.push(format!(
            "{}: {} fish (each rule leaves: {})",
            rule_in_words(&found.rule),
            found.n_fish,
            found.each_rule
        ));
    }
    if found.n_outdated > 0 {
        notes.push(format!(
            "{} decisions are older than a reading of their fish: look at those again",
            found.n_outdated
        ));
    }
    notes
}

/// The surveys of an archive as a comparison needs them.
#[derive(Debug, Clone, PartialEq)]
pub struct ArchiveSummaries {
    /// Each survey in the order of its name, with its summary or why there is none.
    pub surveys: Vec<(ArchiveSurvey, Result<SurveySummary, String>)>,
    /// Folders that could not be looked into, one line each.
    pub problems: Vec<String>,
    /// Summaries that came from the index.
    pub n_from_index: usize,
    /// True where the archive cannot be written to, so that nothing was kept for the next time.
    pub is_read_only: bool,
}

/// Reads all surveys of `archive` side by side. With `use_index` those that have not changed come from its index, and the
/// others are kept there for the next time; without, the index is neither read nor written. What comes out is the same.
///
/// # Errors
/// [`StoreError::Io`] when the archive cannot be listed; inside, [`Stopped`] when `progress` was asked to stop.
pub fn archive_summaries(
    archive: &Path,
    wanted: &SummaryWanted,
    use_index: bool,
    progress: &Progress,
) -> Result<Result<ArchiveSummaries, Stopped>, StoreError> {
    let (surveys, problems) = match find_surveys(archive, progress)? {
        Ok(found) => found,
        Err(stopped) => return Ok(Err(stopped)),
    };
    progress.set_total(surveys.len());
    // A folder without surveys gets no index.
    let index = (use_index && !surveys.is_empty()).then(|| ArchiveIndex::open(archive));
    let settings = wanted.settings();
    let n_from_index = AtomicUsize::new(0);
    let read: Result<Vec<_>, Stopped> = surveys
        .into_par_iter()
        .map(|survey| {
            progress.checkpoint()?;
            let kept = index.as_ref().map(|index| (index, &n_from_index));
            let summary = through_index(&survey, wanted, &settings, kept, progress)?;
            progress.step();
            Ok((survey, summary))
        })
        .collect();
    Ok(read.map(|surveys| ArchiveSummaries {
        surveys,
        problems,
        n_from_index: n_from_index.into_inner(),
        is_read_only: index.is_some_and(|index| !index.is_writable()),
    }))
}

fn through_index(
    survey: &ArchiveSurvey,
    wanted: &SummaryWanted,
    settings: &str,
    index: Option<(&ArchiveIndex, &AtomicUsize)>,
    progress: &Progress,
) -> Result<Result<SurveySummary, String>, Stopped> {
    // The stamp is taken before the files are read: whatever changes in between makes another stamp the next time.
    let index = index
        .and_then(|(index, count)| Some((index, count, SurveyStamp::of(&survey.folder).ok()?)));
    if let Some((index, count, stamp)) = &index
        && let Some(summary) = index.find(survey, stamp, settings)
    {
        count.fetch_add(1, Ordering::Relaxed);
        return Ok(Ok(summary));
    }
    let summary = summarise(&survey.folder, wanted, false, progress)?;
    if let (Some((index, _, stamp)), Ok(summary)) = (&index, &summary)
        && is_of_files_alone(summary)
    {
        index.keep(survey, stamp, settings, summary);
    }
    Ok(summary)
}

/// False where the system refused a file that it may give the next time, though no stamp will tell.
fn is_of_files_alone(summary: &SurveySummary) -> bool {
    !summary.faults.iter().chain(&summary.notes).any(|line| tells_of_system(line))
}
