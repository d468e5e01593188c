//! From the confirmed readings of a survey to lengths at age on one basis, for curves and for comparisons.

use std::collections::HashMap;

use super::survey_lengths::{LeftOut, SurveySample, survey_options, survey_sample};
use crate::analysis::back_calculation::{
    FishLengths, LengthsResult, Method, SampleFish, back_calculate,
};
use crate::analysis::condition_summary::{ConditionSummary, summarise_condition};
use crate::domain::age::{
    BirthdayRule, MonthDay, decimal_age_from_new_year, decimal_age_since_hatch, year_class,
};
use crate::domain::fish::{Fish, LengthType};
use crate::domain::length_at_age::{LengthAtAge, LengthAtAgeTable};
use crate::domain::reading::ReaderInitials;
use crate::domain::reference::LengthBasis;
use crate::domain::units::Millimetres;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;

/// What lengths at age are asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthsWanted {
    /// Capture or annulus.
    pub basis: LengthBasis,
    /// Species; needed where fish of several were aged.
    pub species: Option<String>,
    /// How radii become lengths.
    pub method: Method,
}

/// A fish with all its lengths at age.
#[derive(Debug, Clone, PartialEq)]
pub struct AgedFish<'a> {
    /// The fish.
    pub fish: &'a Fish,
    /// Age at capture, whole years.
    pub age: u32,
    /// Whole age and length in mm: one pair at capture, or one for each annulus.
    pub lengths_mm: Vec<(u32, f64)>,
    /// Year class, where known or given by date and age.
    pub year_class: Option<i16>,
}

/// The lengths at age of a survey.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyLengths<'a> {
    /// Capture or annulus.
    pub basis: LengthBasis,
    /// Species of the fish; empty where the field sheet names none.
    pub species: String,
    /// How the lengths were taken.
    pub length_type: LengthType,
    /// Fish with lengths.
    pub fish: Vec<AgedFish<'a>>,
    /// Fish without, and why.
    pub left_out: Vec<LeftOut>,
    /// The back-calculation; `None` at capture.
    pub calculated: Option<LengthsResult>,
    /// How many of the fish left out somebody left out by hand.
    pub n_left_out_by_hand: usize,
    /// Fish with radii of the species, as they went into it.
    pub sample: Vec<SampleFish>,
}

/// Gathers lengths at age of `reader`.
///
/// # Errors
/// One plain line: no fish of the species, several species, several length types, or a back-calculation that fails.
pub fn survey_lengths_at_age<'a>(
    survey: &'a OpenSurvey,
    readings: &SurveyReadings,
    reader: &ReaderInitials,
    wanted: &LengthsWanted,
) -> Result<SurveyLengths<'a>, String> {
    let sample = survey_sample(survey, readings, reader);
    let found = aged_species(&sample);
    let species = one_species(&found, wanted.species.as_deref())?;
    lengths_of_species(survey, sample, species, wanted)
}

/// Species of the fish that were aged, each once, in the order of the field sheet.
pub fn aged_species(sample: &SurveySample) -> Vec<String> {
    different(sample.fish.iter().map(|one| one.species.as_str()))
}

/// Lengths at age of one species out of a sample.
///
/// # Errors
/// One plain line: several length types, or a back-calculation that fails.
pub fn lengths_of_species<'a>(
    survey: &'a OpenSurvey,
    mut sample: SurveySample,
    species: String,
    wanted: &LengthsWanted,
) -> Result<SurveyLengths<'a>, String> {
    let by_key: HashMap<&str, &Fish> =
        survey.fish.iter().map(|fish| (fish.key.as_str(), fish)).collect();
    let is_of_species =
        |key: &str| by_key.get(key).is_some_and(|fish| same(&fish.species, &species));
    sample.fish.retain(|one| is_of_species(&one.key));
    sample.left_out.retain(|one| is_of_species(&one.fish));
    let mut left_out = sample.left_out;
    let mut calculated = None;
    let fish = match wanted.basis {
        LengthBasis::Capture => {
            let mut fish = Vec::new();
            for one in sample.fish.iter().filter_map(|one| by_key.get(one.key.as_str()).copied()) {
                match (sample.ages.get(&one.key), one.length) {
                    (Some(age), Some(length)) => fish.push(at_capture(one, *age, length, survey)),
                    _ => left_out.push(without(one, "no length at capture")),
                }
            }
            fish
        }
        LengthBasis::Annulus => {
            let result =
                back_calculate(&sample.fish, wanted.method.clone(), &survey_options(survey))
                    .map_err(|error| error.to_string())?;
            left_out.extend(result.excluded.iter().filter_map(|excluded| {
                let reason = excluded.reason.to_string();
                by_key.get(excluded.fish.as_str()).map(|fish| without(fish, &reason))
            }));
            let fish = result
                .fish
                .iter()
                .filter_map(|one| Some(at_annuli(by_key.get(one.key.as_str())?, one)));
            let fish: Vec<AgedFish<'_>> = fish.collect();
            calculated = Some(result);
            fish
        }
    };
    let length_type = one_length_type(&fish)?;
    Ok(SurveyLengths {
        basis: wanted.basis,
        species,
        length_type,
        fish,
        left_out,
        calculated,
        n_left_out_by_hand: sample.n_left_out_by_hand,
        sample: sample.fish,
    })
}

fn without(fish: &Fish, reason: &str) -> LeftOut {
    LeftOut { fish: fish.key.clone(), row: fish.row, reason: reason.to_owned() }
}

fn at_capture<'a>(
    fish: &'a Fish,
    age: u32,
    length: Millimetres,
    survey: &OpenSurvey,
) -> AgedFish<'a> {
    let birthday = survey.survey.birthday_rule.birthday;
    let by_age = fish.captured.and_then(|captured| year_class(age, captured, birthday));
    let year_class = fish.known_year_class.or(by_age);
    AgedFish { fish, age, lengths_mm: vec![(age, length.value())], year_class }
}

fn at_annuli<'a>(fish: &'a Fish, lengths: &FishLengths) -> AgedFish<'a> {
    let age = u32::try_from(lengths.age()).unwrap_or(u32::MAX);
    let lengths_mm = (1..).zip(lengths.lengths_mm.iter().copied()).collect();
    AgedFish { fish, age, lengths_mm, year_class: lengths.year_class }
}

fn same(one: &str, other: &str) -> bool {
    one.trim().eq_ignore_ascii_case(other.trim())
}

/// Species of aged fish, each once, in the order of the field sheet.
pub fn species_of<'a>(fish: impl IntoIterator<Item = &'a Fish>) -> Vec<String> {
    different(fish.into_iter().map(|one| one.species.as_str()))
}

fn different<'a>(species: impl Iterator<Item = &'a str>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for one in species {
        if !found.iter().any(|have| same(have, one)) {
            found.push(one.to_owned());
        }
    }
    found
}

/// The one species that is meant among those `found`.
///
/// # Errors
/// One plain line: none, none of that name, or several and none named.
pub fn one_species(found: &[String], wanted: Option<&str>) -> Result<String, String> {
    match (wanted, found) {
        (_, []) => Err("no fish with a confirmed age: read the survey first".to_owned()),
        (Some(wanted), found) => {
            found.iter().find(|have| same(have, wanted)).cloned().ok_or_else(|| {
                format!(
                    "no aged fish of the species '{wanted}', found {}: name one of these",
                    found.join(", ")
                )
            })
        }
        (None, [only]) => Ok(only.clone()),
        (None, several) => {
            Err(format!("{} are mixed in this survey: name one with --species", several.join(", ")))
        }
    }
}

fn one_length_type(fish: &[AgedFish<'_>]) -> Result<LengthType, String> {
    let first = fish.first().map_or(LengthType::Total, |one| one.fish.length_type);
    match fish.iter().find(|one| one.fish.length_type != first) {
        Some(other) => Err(format!(
            "lengths are {} and {} (fish '{}'): one analysis uses one length type",
            first.word(),
            other.fish.length_type.word(),
            other.fish.key
        )),
        None => Ok(first),
    }
}

/// Columns a curve of a survey can be grouped by.
pub const GROUP_COLUMNS: [&str; 4] = ["sex", "species", "water", "year_class"];

impl SurveyLengths<'_> {
    /// The table a curve is fitted to: one row for each fish, at the last annulus or at capture with a decimal age.
    /// Fish without what their row needs are returned beside it.
    pub fn for_curve(&self, rule: &BirthdayRule) -> (LengthAtAgeTable, Vec<LeftOut>) {
        let (mut rows, mut left_out) = (Vec::new(), Vec::new());
        for one in &self.fish {
            let pair = match (self.basis, one.lengths_mm.last()) {
                (LengthBasis::Annulus, Some((age, length_mm))) => Ok((f64::from(*age), *length_mm)),
                (LengthBasis::Annulus, None) => Err("age 0: no annulus"),
                (LengthBasis::Capture, Some((_, length_mm))) => decimal_age(one, rule)
                    .map(|age| (age, *length_mm))
                    .ok_or("no capture date for its decimal age"),
                (LengthBasis::Capture, None) => Err("no length at capture"),
            };
            match pair {
                Ok((age, length)) if length > 0.0 => rows.push(self.row(one, age, length)),
                Ok(_) => left_out.push(without(one.fish, "length at age is not above 0")),
                Err(reason) => left_out.push(without(one.fish, reason)),
            }
        }
        let group_columns = GROUP_COLUMNS.map(str::to_owned).to_vec();
        (LengthAtAgeTable { group_columns, rows }, left_out)
    }

    fn row(&self, one: &AgedFish<'_>, age: f64, length: f64) -> LengthAtAge {
        let fish = one.fish;
        let year_class = one.year_class.map(|year| year.to_string()).unwrap_or_default();
        let groups =
            vec![fish.sex.word().to_owned(), fish.species.clone(), fish.water.clone(), year_class];
        LengthAtAge {
            fish: Some(fish.key.clone()),
            age,
            length,
            weight: 1.0,
            groups,
            row: fish.row,
        }
    }

    /// Condition of all fish of the species on the field sheet that were measured; `None` where none was weighed.
    pub fn condition(&self, survey: &OpenSurvey) -> Option<ConditionSummary> {
        let of_species =
            survey.fish.iter().filter(|fish| fish.count == 1 && same(&fish.species, &self.species));
        let measured: Vec<(f64, Option<f64>)> =
            of_species.filter_map(|fish| Some((fish.length?.value(), fish.weight_g))).collect();
        summarise_condition(&measured, None, None).ok().filter(|summary| summary.n_weighed > 0)
    }

    /// Months the fish were caught in, 1 to 12, rising.
    pub fn months(&self) -> Vec<u8> {
        let mut months: Vec<u8> = self.fish.iter().filter_map(|one| month_of(one.fish)).collect();
        months.sort_unstable();
        months.dedup();
        months
    }

    /// Whole age and length in mm of every fish and age.
    pub fn pairs(&self) -> Vec<(u32, f64)> {
        self.fish.iter().flat_map(|one| one.lengths_mm.iter().copied()).collect()
    }
}

/// Month of capture, 1 to 12.
pub fn month_of(fish: &Fish) -> Option<u8> {
    u8::try_from(fish.captured?.month()).ok()
}

/// Decimal age by the survey's rule: whole years plus the share of the calendar year with birthday 1 January, else
/// days since the birthday in the year class over 365.25.
fn decimal_age(one: &AgedFish<'_>, rule: &BirthdayRule) -> Option<f64> {
    let captured = one.fish.captured?;
    if rule.birthday == MonthDay::NEW_YEAR {
        return Some(decimal_age_from_new_year(one.age, captured));
    }
    let hatched = year_class(one.age, captured, rule.birthday)?;
    decimal_age_since_hatch(hatched, rule.birthday, captured)
}
