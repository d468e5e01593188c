//! From summaries of surveys to what a comparison shows: each survey against its standard, the waters in order, and the
//! standard they make.

use std::path::{Path, PathBuf};

use super::survey_compare::{AgainstStandard, ComparedSurvey, against_reference_of_sex};
use super::survey_growth::one_species;
use super::survey_lengths::LeftOut;
use super::water_compare::{
    EachOtherWanted, WaterAgainst, against_each_other, standard_of, waters_against_reference,
};
use crate::domain::fish::Sex;
use crate::domain::reference::{LengthBasis, ReferenceLength};
use crate::domain::survey_summary::{AgedLengths, SurveySummary, count_reasons};
use crate::report::compare_json::{
    ComparedAges, ComparedWater, Comparison, RankedWater, YearOfWater,
};

/// What is compared.
#[derive(Debug, Clone, PartialEq)]
pub struct WatersWanted {
    /// Capture or annulus.
    pub basis: LengthBasis,
    /// Species; without one that of the first survey.
    pub species: Option<String>,
    /// Fish an age must have to count.
    pub min_fish: usize,
    /// Only fish of this sex.
    pub sex: Option<Sex>,
}

impl WatersWanted {
    fn each_other(&self, sex: Option<Sex>) -> EachOtherWanted {
        EachOtherWanted { min_fish: self.min_fish, sex }
    }
}

/// A survey to be compared: its folder, whether it is one of an archive, and its summary or why there is none.
pub type ToCompare = (PathBuf, bool, Result<SurveySummary, String>);

/// Compares surveys with a reference, or with each other where there is none. One that cannot be compared says why.
pub fn compare_waters(
    surveys: Vec<ToCompare>,
    reference: Option<&[ReferenceLength]>,
    standard: &'static str,
    wanted: &WatersWanted,
) -> Comparison {
    let mut wanted = wanted.clone();
    let (mut shown, mut compared, mut places) = (Vec::new(), Vec::new(), Vec::new());
    for (folder, is_of_archive, summary) in surveys {
        let mut survey = shown_of(&folder, is_of_archive, &summary);
        if let Ok(summary) = summary {
            match chosen(summary, wanted.species.as_deref()) {
                Ok(one) => {
                    // One species is compared: that of the first survey unless another is named.
                    wanted.species.get_or_insert_with(|| one.species.clone());
                    survey.species.clone_from(&one.species);
                    places.push(shown.len());
                    compared.push(one);
                }
                Err(reason) => add_error(&mut survey, reason),
            }
        }
        shown.push(survey);
    }
    let each_other = wanted.each_other(wanted.sex);
    let (results, waters): (Vec<Result<AgainstStandard, String>>, Vec<WaterAgainst>) =
        match reference {
            Some(rows) => {
                let one = |survey: &ComparedSurvey| {
                    against_reference_of_sex(survey, rows, wanted.min_fish, wanted.sex)
                };
                let waters = waters_against_reference(&compared, rows, each_other);
                (compared.iter().map(one).collect(), waters)
            }
            None => match against_each_other(&compared, each_other) {
                Ok(found) => (found.surveys.into_iter().map(Ok).collect(), found.waters),
                Err(reason) => (compared.iter().map(|_| Err(reason.clone())).collect(), Vec::new()),
            },
        };
    let standard_ages = match reference {
        Some(_) => Vec::new(),
        None => of_sexes(&compared, &wanted).unwrap_or_default(),
    };
    let names: Vec<String> = compared.iter().map(|survey| survey.name.clone()).collect();
    for ((place, result), survey) in places.into_iter().zip(results).zip(compared) {
        let Some(shown) = shown.get_mut(place) else { continue };
        match result {
            Ok(against) => shown_against(shown, against, survey.lengths),
            Err(reason) => add_error(shown, reason),
        }
    }
    Comparison {
        basis: wanted.basis,
        standard,
        min_fish: wanted.min_fish,
        surveys: shown,
        waters: waters.into_iter().map(|water| ranked(water, &names)).collect(),
        standard_ages,
    }
}

/// The standards of every species and sex that surveys make together, ages with enough waters or not.
///
/// # Errors
/// One plain line where surveys of one species cannot be put together.
pub fn standards<'a>(
    surveys: impl Iterator<Item = &'a SurveySummary> + Clone,
    wanted: &WatersWanted,
) -> Result<Vec<ReferenceLength>, String> {
    let mut species: Vec<String> = Vec::new();
    for (name, _) in surveys.clone().flat_map(|survey| &survey.species) {
        let is_wanted = wanted
            .species
            .as_ref()
            .is_none_or(|wanted| wanted.trim().eq_ignore_ascii_case(name.trim()));
        if is_wanted && !species.iter().any(|known| known.trim().eq_ignore_ascii_case(name.trim()))
        {
            species.push(name.clone());
        }
    }
    let mut rows = Vec::new();
    for name in species {
        let of_species: Vec<ComparedSurvey> =
            surveys.clone().filter_map(|survey| chosen(survey.clone(), Some(&name)).ok()).collect();
        rows.extend(of_sexes(&of_species, wanted)?);
    }
    Ok(rows)
}

/// The standard for both sexes together and for each, or for the one that is asked for.
fn of_sexes(
    surveys: &[ComparedSurvey],
    wanted: &WatersWanted,
) -> Result<Vec<ReferenceLength>, String> {
    let sexes = match wanted.sex {
        Some(sex) => vec![Some(sex)],
        None => vec![None, Some(Sex::Female), Some(Sex::Male)],
    };
    let mut rows = Vec::new();
    for sex in sexes {
        rows.extend(standard_of(surveys, wanted.each_other(sex))?);
    }
    Ok(rows)
}

fn chosen(summary: SurveySummary, species: Option<&str>) -> Result<ComparedSurvey, String> {
    let found: Vec<String> = summary.species.iter().map(|(name, _)| name.clone()).collect();
    let species = one_species(&found, species)?;
    let (_, lengths) = summary
        .species
        .into_iter()
        .find(|(name, _)| *name == species)
        .ok_or_else(|| format!("no lengths of '{species}'"))?;
    Ok(ComparedSurvey {
        name: summary.name,
        water: summary.water,
        structure: summary.structure,
        species,
        lengths: lengths?,
    })
}

fn shown_of(
    folder: &Path,
    is_of_archive: bool,
    summary: &Result<SurveySummary, String>,
) -> ComparedWater {
    let name = folder.file_name().map(|name| name.to_string_lossy().into_owned());
    let mut shown = ComparedWater {
        survey: name.unwrap_or_else(|| folder.display().to_string()),
        folder: folder.display().to_string(),
        water: String::new(),
        species: String::new(),
        reader: String::new(),
        compared: None,
        left_out_by_reason: Vec::new(),
        is_left_out_named: !is_of_archive,
        error: None,
    };
    match summary {
        Ok(summary) => {
            shown.survey.clone_from(&summary.name);
            shown.water.clone_from(&summary.water);
            shown.reader.clone_from(&summary.ages_by);
            shown.error = (!summary.faults.is_empty()).then(|| summary.faults.join("; "));
        }
        Err(reason) => shown.error = Some(reason.clone()),
    }
    shown
}

fn add_error(shown: &mut ComparedWater, reason: String) {
    shown.error = Some(match shown.error.take() {
        Some(before) => format!("{before}; {reason}"),
        None => reason,
    });
}

fn shown_against(shown: &mut ComparedWater, against: AgainstStandard, lengths: AgedLengths) {
    let mut by_reason = lengths.left_out_by_reason;
    let more = count_reasons(against.left_out.iter().map(|one| one.reason.as_str()));
    for (reason, n) in more {
        match by_reason.iter_mut().find(|(known, _)| *known == reason) {
            Some((_, known)) => *known += n,
            None => by_reason.push((reason, n)),
        }
    }
    shown.left_out_by_reason = by_reason;
    let named: &[&[LeftOut]] =
        if shown.is_left_out_named { &[&lengths.left_out, &against.left_out] } else { &[] };
    let left_out =
        named.iter().flat_map(|some| some.iter()).map(|one| (one.fish.clone(), one.reason.clone()));
    shown.compared = Some(ComparedAges { left_out: left_out.collect(), ..compared_ages(against) });
}

fn compared_ages(against: AgainstStandard) -> ComparedAges {
    ComparedAges {
        left_out: Vec::new(),
        index: against.index,
        standard: against.standard,
        months: against.months,
        n_fish: against.n_fish,
    }
}

fn ranked(water: WaterAgainst, names: &[String]) -> RankedWater {
    let years = water.years.iter().map(|(year, against)| YearOfWater {
        year: *year,
        n_fish: against.n_fish,
        index_mm: against.index.mean_deviation_mm,
        ci95_mm: against.index.ci95_mm,
    });
    RankedWater {
        surveys: water.surveys.iter().filter_map(|place| names.get(*place).cloned()).collect(),
        years: years.collect(),
        rank: water.rank,
        n_overlapping: water.n_overlapping,
        trend: water.trend,
        water: water.water,
        compared: compared_ages(water.against),
    }
}
