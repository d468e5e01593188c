//! From a survey folder to the report of it: every analysis once, with what each leaves out.

use std::collections::HashMap;
use std::path::Path;

use super::report_request::{MortalityAsked, ReportRequest};
use super::survey_ages::survey_ages;
use super::survey_ages_by_reader::ages_by_reader;
use super::survey_compare::{ComparedSurvey, against_reference};
use super::survey_growth::{LengthsWanted, SurveyLengths, survey_lengths_at_age};
use super::survey_increments::{growth_years, increments_of};
use super::survey_lengths::{LeftOut, default_reader, survey_options, survey_sample};
use super::survey_readings::{RuledReadings, readings_by_rule, rule_in_words, with_closed_lists};
use super::survey_report_cards::reading_cards;
use super::survey_report_facts::{
    add_exclusions, condition_by_length, facts_of, is_of_the_report, sample_counts,
};
use super::survey_report_inputs::inputs_of;
use crate::analysis::agreement::comparison::{Comparison, Settings as AgreementSettings, compare};
use crate::analysis::back_calculation::{
    Method, MethodComparison, back_calculate, compare_methods,
};
use crate::analysis::growth::{Curve, FitSettings, GrowthStudy, study_growth};
use crate::analysis::population::PopulationError;
use crate::analysis::population::age_length_key::EmptyGroups;
use crate::analysis::population::catch_curve::Withheld;
use crate::analysis::population::catch_per_effort::Effort;
use crate::analysis::population::length_groups::LengthGroups;
use crate::analysis::population::study::{AgeStudy, Background, Settings, StudyError, age_study};
use crate::analysis::reference::DEFAULT_MINIMUM_PER_AGE;
use crate::domain::fish::{Fish, Sex};
use crate::domain::progress::Progress;
use crate::domain::reading::ReaderInitials;
use crate::domain::reference::LengthBasis;
use crate::domain::resolution::Rule;
use crate::domain::survey::LengthUnit;
use crate::report::compare_json::ComparedAges;
use crate::report::report_units::ReportUnits;
use crate::report::survey_report::{
    AgesUsed, Chapter, Exclusion, FishPoint, Provenance, SampleCounts, SurveyReport,
};
use crate::store::blind_error::BlindError;
use crate::store::collection::OpenSurvey;
use crate::store::error::StoreError;
use crate::store::survey_check::{SurveyReadings, SurveyTables};

/// Width of the length groups of the key in inches; in other units 25 mm (common practice, no source).
const GROUP_IN: f64 = 1.0;
const GROUP_MM: f64 = 25.0;

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// The survey cannot be opened or its tables cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Blind lists or decisions cannot be listed.
    #[error(transparent)]
    Lists(#[from] BlindError),
    /// Nobody has read.
    #[error("nobody has read this survey yet: read it first, or name a reader in survey.json")]
    NoReader,
    /// Nothing to report on.
    #[error("{0}")]
    NoSample(String),
    /// A table could not be written as CSV.
    #[error("a table could not be written: {0}")]
    Table(String),
    /// No workbook.
    #[error(transparent)]
    Workbook(#[from] crate::report::data::WorkbookError),
    /// Someone asked to stop.
    #[error(transparent)]
    Stopped(#[from] crate::domain::progress::Stopped),
}

/// A survey with all its files loaded, and what the report says of it.
#[derive(Debug, Clone)]
pub struct GatheredSurvey {
    /// The survey.
    pub survey: OpenSurvey,
    /// All its readings, those of closed blind lists among them.
    pub readings: SurveyReadings,
    /// Those that count under the rule of ages, under the initials of the report's reader.
    pub counted: SurveyReadings,
    /// The report.
    pub report: SurveyReport,
}

/// Everything at hand while a report is gathered.
pub(super) struct Desk<'a> {
    pub survey: &'a OpenSurvey,
    /// Those that count.
    pub readings: &'a SurveyReadings,
    /// Everybody's, closed blind lists included.
    pub all: &'a SurveyReadings,
    pub ages: AgesUsed,
    /// Why fish have no age under the rule, by key.
    pub without_age: HashMap<&'a str, &'a str>,
    /// What was wrong with lists and decisions.
    pub list_problems: &'a [String],
    pub tables: &'a SurveyTables,
    pub reader: &'a ReaderInitials,
    pub species: String,
    pub request: &'a ReportRequest,
}

impl Desk<'_> {
    /// True for a fish of the report's species.
    pub fn is_own(&self, fish: &Fish) -> bool {
        fish.species.trim().eq_ignore_ascii_case(self.species.trim())
    }

    /// The same with the reason of the rule of ages where that is why a fish has no reading that counts: the sample alone
    /// would name one reader, whoever's ages count.
    pub fn with_reasons(&self, left_out: &[LeftOut]) -> Vec<LeftOut> {
        let reason = |one: &LeftOut| match self.without_age.get(one.fish.as_str()) {
            _ if self.ages.is_one_reader => one.reason.clone(),
            Some(why) => (*why).to_owned(),
            None if one.reason.starts_with("no confirmed reading by ") => {
                "no confirmed reading".to_owned()
            }
            None => one.reason.clone(),
        };
        left_out.iter().map(|one| LeftOut { reason: reason(one), ..one.clone() }).collect()
    }

    fn wanted(&self, basis: LengthBasis) -> LengthsWanted {
        LengthsWanted {
            basis,
            species: Some(self.species.clone()),
            method: self.request.method.clone(),
        }
    }
}

/// Gathers the report of the survey in `folder`. Reads only. The same folder and request give the same report on any
/// machine, with any number of processors.
///
/// # Errors
/// [`ReportError`]: the survey cannot be opened, nobody has read it, the species cannot be told, or someone asked to stop.
pub fn gather_report(
    folder: &Path,
    request: &ReportRequest,
    progress: &Progress,
) -> Result<GatheredSurvey, ReportError> {
    let survey = OpenSurvey::open(folder)?;
    let reader =
        request.reader.clone().or_else(|| default_reader(&survey)).ok_or(ReportError::NoReader)?;
    let loaded = survey.load_readings(progress)?;
    let tables = survey.load_tables()?;
    let rule = request.ages_from.rule(&reader);
    let ruled = readings_by_rule(&survey, loaded.clone(), &rule, &reader)?;
    let (all, _) = with_closed_lists(&survey, loaded)?;
    let species = species_of(&survey, &ruled.readings, &ruled.reader, request)?;
    let desk = Desk {
        survey: &survey,
        readings: &ruled.readings,
        all: &all,
        ages: ages_used(&ruled),
        without_age: ruled
            .left_out
            .iter()
            .map(|one| (one.fish.as_str(), one.reason.as_str()))
            .collect(),
        list_problems: &ruled.problems,
        tables: &tables,
        reader: &ruled.reader,
        species,
        request,
    };
    let report = report_of(&desk, progress)?;
    Ok(GatheredSurvey { survey, readings: all, counted: ruled.readings, report })
}

fn ages_used(ruled: &RuledReadings) -> AgesUsed {
    AgesUsed {
        rule: rule_in_words(&ruled.rule),
        is_one_reader: matches!(ruled.rule, Rule::OneReader(_)),
        n_fish: ruled.n_fish,
        each_rule: ruled.each_rule.clone(),
        n_outdated: ruled.n_outdated,
    }
}

/// The species asked for, else that of the survey's settings, else the only one that was aged.
fn species_of(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    reader: &ReaderInitials,
    request: &ReportRequest,
) -> Result<String, ReportError> {
    let has = |name: &str| {
        survey.fish.iter().find(|fish| fish.species.trim().eq_ignore_ascii_case(name.trim()))
    };
    if let Some(asked) = &request.species {
        return has(asked).map(|fish| fish.species.clone()).ok_or_else(|| {
            ReportError::NoSample(format!("no fish of the species '{asked}' is on the field sheet"))
        });
    }
    if let Some(fish) = has(&survey.survey.species).filter(|_| !survey.survey.species.is_empty()) {
        return Ok(fish.species.clone());
    }
    let wanted = LengthsWanted {
        basis: LengthBasis::Capture,
        species: None,
        method: request.method.clone(),
    };
    survey_lengths_at_age(survey, readings, reader, &wanted)
        .map(|found| found.species)
        .map_err(ReportError::NoSample)
}

fn report_of(desk: &Desk<'_>, progress: &Progress) -> Result<SurveyReport, ReportError> {
    let Desk { survey, readings, reader, request, .. } = desk;
    let mut exclusions = Vec::new();
    let calculated =
        survey_lengths_at_age(survey, readings, reader, &desk.wanted(LengthBasis::Annulus));
    if let Ok(found) = &calculated {
        let left_out = desk.with_reasons(&found.left_out);
        add_exclusions(&mut exclusions, survey, "back-calculated lengths", &left_out);
    }
    let at_basis = match request.basis {
        LengthBasis::Annulus => calculated.clone(),
        LengthBasis::Capture => {
            survey_lengths_at_age(survey, readings, reader, &desk.wanted(LengthBasis::Capture))
        }
    };
    let (growth, curve_points) = growth_of(desk, &at_basis, &mut exclusions, progress)?;
    let against = against_of(desk, &at_basis, &mut exclusions);
    let lengths = calculated.as_ref().map_err(Clone::clone).and_then(|found| {
        found.calculated.clone().ok_or_else(|| "none were worked out".to_owned())
    });
    let (year_effects, year_notes) = match &lengths {
        Ok(result) => growth_years(&increments_of(&result.fish)),
        Err(reason) => (Vec::new(), vec![reason.clone()]),
    };
    let ages = ages_of(desk, &mut exclusions, progress)?;
    let (agreement, aided_pairs) = agreement_of(desk);
    let sexes: HashMap<&str, &Fish> =
        survey.fish.iter().map(|fish| (fish.key.as_str(), fish)).collect();
    let points: Vec<FishPoint> = lengths.as_ref().map_or_else(
        |_| Vec::new(),
        |result| {
            let all = result.fish.iter().map(|one| FishPoint {
                fish: one.key.clone(),
                sex: sexes.get(one.key.as_str()).map_or(Sex::Unknown, |fish| fish.sex),
                age: u32::try_from(one.age()).unwrap_or(u32::MAX),
                length_mm: one.length_at_capture_mm,
                radius_um: Some(one.radius_at_capture_um).filter(|um| *um > 0.0),
            });
            all.collect()
        },
    );
    let (cards, scans) = if request.chapters.contains(&Chapter::Cards) {
        reading_cards(desk, lengths.as_ref().ok(), progress)?
    } else {
        (Vec::new(), Vec::new())
    };
    let mut counts: SampleCounts = sample_counts(desk);
    counts.with_lengths = points.len();
    Ok(SurveyReport {
        units: request.units,
        paper: request.paper,
        chapters: request.chapters.clone(),
        provenance: Provenance {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            settings: settings_in_words(desk, &ages),
            inputs: inputs_of(desk, scans)?,
        },
        facts: facts_of(desk),
        counts,
        exclusions,
        faults: faults_of(desk),
        agreement,
        aided_pairs,
        hypotheses: hypotheses_of(desk),
        lengths,
        points,
        basis: request.basis,
        curve_points,
        growth,
        against,
        year_effects,
        year_notes,
        stocking: stocking_of(desk),
        condition: condition_of(desk, &at_basis),
        condition_by_length: condition_by_length(
            desk,
            groups(request.units, survey.survey.length_unit),
        ),
        ages: ages.map(|(study, _)| study),
        cards,
    })
}

type Lengths<'a> = Result<SurveyLengths<'a>, String>;
type Points = Vec<(f64, f64, Sex)>;

fn growth_of(
    desk: &Desk<'_>,
    lengths: &Lengths<'_>,
    exclusions: &mut Vec<Exclusion>,
    progress: &Progress,
) -> Result<(Result<GrowthStudy, String>, Points), ReportError> {
    let lengths = match lengths {
        Ok(lengths) => lengths,
        Err(reason) => return Ok((Err(reason.clone()), Vec::new())),
    };
    let (table, left_out) = lengths.for_curve(&desk.survey.survey.birthday_rule);
    add_exclusions(exclusions, desk.survey, "growth curve", &desk.with_reasons(&left_out));
    let sex = table.group_column("sex");
    let points = table
        .rows
        .iter()
        .map(|row| {
            let word = sex.and_then(|column| row.groups.get(column)).map_or("", String::as_str);
            (row.age, row.length, Sex::from_word(word).unwrap_or_default())
        })
        .collect();
    if table.rows.is_empty() {
        return Ok((Err("no fish has an age and a length".to_owned()), points));
    }
    let study =
        study_growth(Curve::VonBertalanffy, &table, sex, &FitSettings::default(), None, progress)?;
    let study = match &study.whole.outcome {
        Err(error) => Err(error.to_string()),
        Ok(_) => Ok(study),
    };
    Ok((study, points))
}

fn against_of(
    desk: &Desk<'_>,
    lengths: &Lengths<'_>,
    exclusions: &mut Vec<Exclusion>,
) -> Result<ComparedAges, String> {
    let lengths = lengths.clone()?;
    let Some(reference) = &desk.tables.reference else {
        return Err(
            "no standard is at hand: add reference.csv with its source to the survey".to_owned()
        );
    };
    let compared = ComparedSurvey::of(&desk.survey.survey, &lengths);
    let found = against_reference(&compared, reference, DEFAULT_MINIMUM_PER_AGE)?;
    let left_out = desk.with_reasons(&found.left_out);
    add_exclusions(exclusions, desk.survey, "growth against the standard", &left_out);
    Ok(ComparedAges {
        left_out: found.left_out.iter().map(|one| (one.fish.clone(), one.reason.clone())).collect(),
        index: found.index,
        standard: found.standard,
        months: found.months,
        n_fish: found.n_fish,
    })
}

/// Groups of one inch where fish were measured in inches or the report is in inches, else of 25 mm.
fn groups(units: ReportUnits, measured_in: LengthUnit) -> Option<LengthGroups> {
    let made = match (units, measured_in) {
        (_, LengthUnit::Inch) | (ReportUnits::Us, _) => {
            LengthGroups::new(GROUP_IN, LengthUnit::Inch)
        }
        (_, LengthUnit::Centimetre) => LengthGroups::new(GROUP_MM / 10.0, LengthUnit::Centimetre),
        (_, LengthUnit::Millimetre) => LengthGroups::new(GROUP_MM, LengthUnit::Millimetre),
    };
    made.ok()
}

/// The study, and what was done about length groups without an aged fish.
type Ages = Result<(AgeStudy, &'static str), String>;

fn ages_of(
    desk: &Desk<'_>,
    exclusions: &mut Vec<Exclusion>,
    progress: &Progress,
) -> Result<Ages, ReportError> {
    let sample = survey_ages(
        desk.survey,
        desk.readings,
        desk.tables.clone(),
        desk.reader,
        Some(&desk.species),
        None,
    );
    let sample = match sample {
        Ok(sample) => sample,
        Err(error) => return Ok(Err(error.to_string())),
    };
    let own: Vec<_> = sample.left_out.iter().filter(|one| is_of_the_report(one)).cloned().collect();
    add_exclusions(exclusions, desk.survey, "age composition", &desk.with_reasons(&own));
    let Some(groups) = groups(desk.request.units, desk.survey.survey.length_unit) else {
        return Ok(Err("no length groups".to_owned()));
    };
    let background = Background {
        year: sample.year,
        species: sample.species.clone(),
        effort: sample.effort.as_deref().filter(|runs| !runs.is_empty()).map(Effort::Runs),
        stocked: sample.stocked.clone(),
    };
    let mut settings = Settings::new(groups);
    settings.even_recruitment = desk.request.mortality == MortalityAsked::EvenRecruitment;
    let mut what = "none needed";
    loop {
        match age_study(&sample.fish, &settings, &background, progress) {
            Ok(mut study) => {
                if desk.request.mortality == MortalityAsked::No {
                    study.catch_curve = Err(Withheld::NotAskedFor);
                }
                return Ok(Ok((study, what)));
            }
            Err(StudyError::Stopped(stopped)) => return Err(stopped.into()),
            Err(StudyError::Data(PopulationError::EmptyGroups { .. }))
                if settings.empty == EmptyGroups::Refuse =>
            {
                settings.empty = EmptyGroups::Merge;
                what = "merged with the nearest group that has some";
            }
            Err(StudyError::Data(error)) => return Ok(Err(error.to_string())),
        }
    }
}

fn settings_in_words(desk: &Desk<'_>, ages: &Ages) -> Vec<(String, String)> {
    let mut settings = desk.request.in_words();
    settings.push(("Species".to_owned(), desk.species.clone()));
    settings.push(("Ages that count".to_owned(), desk.ages.rule.clone()));
    settings.push((
        "Fish an age needs for the growth index".to_owned(),
        DEFAULT_MINIMUM_PER_AGE.to_string(),
    ));
    if let Ok((study, what)) = ages {
        let groups = study.key.groups;
        settings.push((
            "Length groups of the key".to_owned(),
            format!("{} {}", groups.width(), groups.unit().word()),
        ));
        settings.push(("Length groups without an aged fish".to_owned(), (*what).to_owned()));
        if let Some(drawn) = &study.bootstrap {
            settings.push(("Seed of samples drawn anew".to_owned(), drawn.seed.to_string()));
        }
    }
    let agreement = AgreementSettings::default();
    settings.push((
        "Fish of mean age 0 in percent error and CV".to_owned(),
        agreement.mean_age_zero.word().to_owned(),
    ));
    settings.push(("Seed of simulated probabilities".to_owned(), agreement.seed.to_string()));
    settings
}

type Compared = (Result<Comparison, String>, Vec<[String; 2]>);

fn agreement_of(desk: &Desk<'_>) -> Compared {
    let by_reader = ages_by_reader(desk.survey, desk.all);
    if by_reader.columns.len() < 2 {
        return (
            Err("only one reader has aged fish of this survey: have some re-read blind".to_owned()),
            Vec::new(),
        );
    }
    let own: Vec<usize> = by_reader
        .fish
        .iter()
        .enumerate()
        .filter(|(_, fish)| desk.is_own(fish))
        .map(|(place, _)| place)
        .collect();
    let mut pairs = Vec::new();
    for (index, first) in by_reader.columns.iter().enumerate() {
        let others = by_reader.columns.iter().skip(index + 1);
        let aided = others.filter(|second| first.is_aided && second.is_aided);
        pairs.extend(aided.map(|second| [first.name.clone(), second.name.clone()]));
    }
    match by_reader.ages(Some(&own)) {
        Ok(ages) => {
            let compared = compare(&ages, AgreementSettings::default());
            if compared.pairs.iter().all(|pair| pair.precision.n == 0) {
                let reason =
                    "no fish of the species was aged by two readers: have some re-read blind";
                return (Err(reason.to_owned()), pairs);
            }
            (Ok(compared), pairs)
        }
        Err(error) => (Err(error.to_string()), pairs),
    }
}

/// Scale- and body-proportional lengths of the same fish; `None` where one of them cannot be worked out.
fn hypotheses_of(desk: &Desk<'_>) -> Option<MethodComparison> {
    let own: std::collections::HashSet<&str> = desk
        .survey
        .fish
        .iter()
        .filter(|fish| desk.is_own(fish))
        .map(|fish| fish.key.as_str())
        .collect();
    let mut sample = survey_sample(desk.survey, desk.readings, desk.reader);
    sample.fish.retain(|fish| own.contains(fish.key.as_str()));
    let options = survey_options(desk.survey);
    let scale = back_calculate(&sample.fish, Method::ScaleProportional, &options).ok()?;
    let body = back_calculate(&sample.fish, Method::BodyProportional, &options).ok()?;
    Some(compare_methods(&scale, &body))
}

fn condition_of(
    desk: &Desk<'_>,
    lengths: &Lengths<'_>,
) -> Option<crate::analysis::condition_summary::ConditionSummary> {
    lengths.as_ref().ok()?.condition(desk.survey)
}

fn stocking_of(desk: &Desk<'_>) -> Vec<crate::domain::stocking::Stocking> {
    let same = |a: &str, b: &str| a.trim().eq_ignore_ascii_case(b.trim());
    let all = desk.tables.stocking.iter().flatten();
    let water = &desk.survey.survey.water;
    all.filter(|one| {
        same(&one.species, &desk.species) && (one.water.is_empty() || same(&one.water, water))
    })
    .cloned()
    .collect()
}

fn faults_of(desk: &Desk<'_>) -> Vec<String> {
    let all =
        desk.survey.problems.iter().chain(&desk.readings.problems).chain(&desk.tables.problems);
    let of_files = all.filter(|problem| problem.is_error()).map(ToString::to_string);
    of_files.chain(desk.list_problems.iter().cloned()).collect()
}
