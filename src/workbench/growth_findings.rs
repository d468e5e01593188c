//! Everything the growth of a survey comes to, worked out in one go: paths of fish, the curve with its errors, growth
//! years, the standard, condition, two methods side by side, and the conclusion in words.

use crate::analysis::back_calculation::{
    LengthsResult, Method, MethodComparison, back_calculate, compare_methods,
};
use crate::analysis::condition::StandardWeight;
use crate::analysis::condition_summary::{ConditionSummary, summarise_condition};
use crate::analysis::growth::{Curve, FitSettings, FittedGrowth, study_growth};
use crate::analysis::growth_verdict::{GrowthEvidence, GrowthVerdict, growth_verdict};
use crate::analysis::reference::DEFAULT_MINIMUM_PER_AGE;
use crate::analysis::uncertainty::{
    CurveRows, CurveWanted, Propagated, Scope, Settings, UncertaintyError, propagate,
};
use crate::analysis::year_effects::YearEffects;
use crate::domain::exclusion::{Exclusion, standing_exclusions};
use crate::domain::fish::Sex;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::ReaderInitials;
use crate::domain::reference::LengthBasis;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;

use super::session_lengths::LengthsRequest;
use super::survey_compare::{AgainstStandard, ComparedSurvey, against_reference};
use super::survey_growth::{LengthsWanted, SurveyLengths, survey_lengths_at_age};
use super::survey_increments::{growth_years, increments_of};
use super::survey_key_weights::KeyWeights;
use super::survey_lengths::{LeftOut, default_reader, survey_options};
use super::survey_uncertainty::{StatedErrors, error_inputs, uncertain_fish};

/// Replicates of the simulation of errors on the desk.
const REPLICATES: usize = 1000;

/// How growth is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct GrowthRequest {
    /// How radii become lengths.
    pub lengths: LengthsRequest,
    /// The method set beside it; `None`: no second one.
    pub beside: Option<LengthsRequest>,
    /// Curve, as on the command line.
    pub curve: &'static str,
    /// Species; `None` where the survey has one.
    pub species: Option<String>,
    /// Standard weight, where a person has entered one with its source.
    pub standard_weight: Option<StandardWeight>,
}

impl Default for GrowthRequest {
    fn default() -> Self {
        Self {
            lengths: LengthsRequest::default(),
            beside: None,
            curve: "von-bertalanffy",
            species: None,
            standard_weight: None,
        }
    }
}

/// One fish's growth.
#[derive(Debug, Clone, PartialEq)]
pub struct FishPath {
    /// Its key.
    pub key: String,
    /// Sex.
    pub sex: Sex,
    /// Age at capture, whole years.
    pub age: u32,
    /// Year class, where known.
    pub year_class: Option<i16>,
    /// Age and length in mm at each annulus.
    pub points: Vec<[f64; 2]>,
}

/// The growth of a survey.
#[derive(Debug, Clone, PartialEq)]
pub struct GrowthFindings {
    /// How it was asked for.
    pub request: GrowthRequest,
    /// Whose readings it rests on.
    pub reader: ReaderInitials,
    /// The species.
    pub species: String,
    /// Every fish with lengths.
    pub paths: Vec<FishPath>,
    /// The curve through the last annulus of each fish, or why there is none.
    pub curve: Result<FittedGrowth, String>,
    /// Errors carried to mean lengths and curve, or why not.
    pub uncertainty: Result<Propagated, String>,
    /// Good and poor years.
    pub years: Vec<YearEffects>,
    /// Against the standard of the survey, or why not; `None` without a standard.
    pub against: Option<Result<AgainstStandard, String>>,
    /// Condition; `None` where no fish was weighed.
    pub condition: Option<ConditionSummary>,
    /// The two methods side by side.
    pub beside: Option<Result<MethodComparison, String>>,
    /// The conclusion.
    pub verdict: GrowthVerdict,
    /// Fish without lengths, and why.
    pub left_out: Vec<LeftOut>,
    /// Fish that somebody left out, with the decision.
    pub excluded: Vec<Exclusion>,
    /// What was found on the way.
    pub notes: Vec<String>,
}

/// Works it all out; `None` where nobody has read the survey.
///
/// # Errors
/// [`Stopped`] when someone asked to stop. What cannot be worked out stands in the result with its reason; an `Err` inside
/// says that there are no lengths at all.
pub fn growth_findings(
    files: &OpenSurvey,
    reader: Option<&ReaderInitials>,
    request: &GrowthRequest,
    progress: &Progress,
) -> Result<Option<Result<GrowthFindings, String>>, Stopped> {
    // Listed afresh: readings and decisions have been written since the survey was opened.
    let opened = OpenSurvey::open(&files.folder);
    let files = opened.as_ref().unwrap_or(files);
    let Some(reader) = reader.cloned().or_else(|| default_reader(files)) else { return Ok(None) };
    let readings = files.load_readings(progress)?;
    let wanted = LengthsWanted {
        basis: LengthBasis::Annulus,
        species: request.species.clone(),
        method: request.lengths.method(),
    };
    match survey_lengths_at_age(files, &readings, &reader, &wanted) {
        Ok(lengths) => {
            let material = Material { files, readings: &readings, reader: &reader, request };
            material.findings(lengths, progress).map(|found| Some(Ok(found)))
        }
        Err(reason) => Ok(Some(Err(reason))),
    }
}

struct Material<'a> {
    files: &'a OpenSurvey,
    readings: &'a SurveyReadings,
    reader: &'a ReaderInitials,
    request: &'a GrowthRequest,
}

impl Material<'_> {
    fn findings(
        &self,
        lengths: SurveyLengths<'_>,
        progress: &Progress,
    ) -> Result<GrowthFindings, Stopped> {
        let calculated = lengths.calculated.clone();
        let (years, mut notes) = calculated
            .as_ref()
            .map_or_else(Default::default, |found| growth_years(&increments_of(&found.fish)));
        let key = KeyWeights::of(self.files, self.readings, self.reader, &lengths.species, None);
        notes.extend(key.ok().and_then(|weights| weights.warning()));
        let curve = self.curve(&lengths, progress)?;
        let uncertainty = self.uncertainty(&lengths, progress)?;
        let condition = self.condition(&lengths);
        let beside = self.beside(calculated.as_ref(), &lengths);
        let (paths, species) = (paths(&lengths), lengths.species.clone());
        let left_out = lengths.left_out.clone();
        let against = self.against(lengths, &mut notes);
        let lee_annuli = calculated.as_ref().map_or(0, |found| {
            found
                .lee
                .iter()
                .filter(|row| row.slope < 0.0 && row.p_holm.is_some_and(|p| p < 0.05))
                .count()
        });
        let verdict = growth_verdict(&GrowthEvidence {
            index: against.as_ref().and_then(|found| found.as_ref().ok()).map(|found| &found.index),
            years: &years,
            condition: condition.as_ref(),
            curve: curve.as_ref().ok(),
            uncertainty: uncertainty.as_ref().ok(),
            lee_annuli,
            n_fish: paths.len(),
            n_left_out: left_out.len(),
        });
        let standing = standing_exclusions(&self.readings.exclusions);
        let excluded = standing.into_values().filter(|one| one.is_left_out).cloned().collect();
        Ok(GrowthFindings {
            request: self.request.clone(),
            reader: self.reader.clone(),
            species,
            paths,
            curve,
            uncertainty,
            years,
            against,
            condition,
            beside,
            verdict,
            left_out,
            excluded,
            notes,
        })
    }

    fn curve(
        &self,
        lengths: &SurveyLengths<'_>,
        progress: &Progress,
    ) -> Result<Result<FittedGrowth, String>, Stopped> {
        let (table, _) = lengths.for_curve(&self.files.survey.birthday_rule);
        let ages = || table.rows.iter().map(|row| row.age);
        let (youngest, oldest) = (ages().fold(f64::INFINITY, f64::min), ages().fold(0.0, f64::max));
        let Some(curve) = Curve::from_word(self.request.curve, youngest, oldest) else {
            return Ok(Err(format!("the curve '{}' is not known", self.request.curve)));
        };
        let settings = FitSettings::default();
        let study = study_growth(curve, &table, None, &settings, None, progress)?;
        Ok(study.whole.outcome.map_err(|error| error.to_string()))
    }

    fn uncertainty(
        &self,
        lengths: &SurveyLengths<'_>,
        progress: &Progress,
    ) -> Result<Result<Propagated, String>, Stopped> {
        let fish = uncertain_fish(self.files, self.readings, self.reader, &lengths.sample);
        let errors = error_inputs(self.files, self.readings, self.reader, &StatedErrors::default());
        let oldest = lengths.fish.iter().map(|one| one.age).max().unwrap_or(1);
        let curve = Curve::from_word(self.request.curve, 1.0, f64::from(oldest.max(2)));
        let wanted = curve.map(|curve| CurveWanted {
            curve,
            settings: FitSettings::default(),
            rows: CurveRows::LastAnnulus,
        });
        let settings = Settings { replicates: REPLICATES, seed: 1, scope: Scope::Population };
        let method = self.request.lengths.method();
        match propagate(&fish, &method, &errors, wanted.as_ref(), settings, progress) {
            Err(UncertaintyError::Stopped(stopped)) => Err(stopped),
            other => Ok(other.map_err(|error| error.to_string())),
        }
    }

    fn condition(&self, lengths: &SurveyLengths<'_>) -> Option<ConditionSummary> {
        let Some(standard) = &self.request.standard_weight else {
            return lengths.condition(self.files);
        };
        let species = lengths.species.trim();
        let measured: Vec<(f64, Option<f64>)> = self
            .files
            .fish
            .iter()
            .filter(|fish| fish.count == 1 && fish.species.trim().eq_ignore_ascii_case(species))
            .filter_map(|fish| Some((fish.length?.value(), fish.weight_g)))
            .collect();
        let found = summarise_condition(&measured, Some(standard), None).ok();
        found.filter(|summary| summary.n_weighed > 0)
    }

    fn beside(
        &self,
        first: Option<&LengthsResult>,
        lengths: &SurveyLengths<'_>,
    ) -> Option<Result<MethodComparison, String>> {
        let method: Method = self.request.beside?.method();
        let second = back_calculate(&lengths.sample, method, &survey_options(self.files));
        match (first, second) {
            (Some(first), Ok(second)) => Some(Ok(compare_methods(first, &second))),
            (_, Err(error)) => Some(Err(error.to_string())),
            (None, _) => None,
        }
    }

    fn against(
        &self,
        lengths: SurveyLengths<'_>,
        notes: &mut Vec<String>,
    ) -> Option<Result<AgainstStandard, String>> {
        let reference = match self.files.load_tables() {
            Ok(tables) => tables.reference?,
            Err(error) => {
                notes.push(error.to_string());
                return None;
            }
        };
        let compared = ComparedSurvey::of(&self.files.survey, &lengths);
        Some(against_reference(&compared, &reference, DEFAULT_MINIMUM_PER_AGE))
    }
}

fn paths(lengths: &SurveyLengths<'_>) -> Vec<FishPath> {
    lengths
        .fish
        .iter()
        .map(|one| FishPath {
            key: one.fish.key.clone(),
            sex: one.fish.sex,
            age: one.age,
            year_class: one.year_class,
            points: one.lengths_mm.iter().map(|(age, mm)| [f64::from(*age), *mm]).collect(),
        })
        .collect()
}
