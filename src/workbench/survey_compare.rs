//! Mean length at age of a survey against a standard, and what both kinds of standard have in common.

use std::collections::BTreeMap;

use super::survey_growth::SurveyLengths;
use super::survey_lengths::LeftOut;
use crate::analysis::index_interval::index_interval;
use crate::analysis::reference::{GrowthIndex, SampleKind, check_reference, growth_index};
use crate::domain::fish::{Fish, Sex};
use crate::domain::reading::Structure;
use crate::domain::reference::{LengthBasis, ReferenceLength};
use crate::domain::survey::Survey;
use crate::domain::survey_summary::{AgedLengths, ComparedFish, count_reasons};
use crate::domain::units::Millimetres;

/// One survey of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedSurvey {
    /// Name of the survey.
    pub name: String,
    /// Water; its surveys together are left out of their own standard.
    pub water: String,
    /// Structure read.
    pub structure: Structure,
    /// Species compared.
    pub species: String,
    /// Its lengths at age.
    pub lengths: AgedLengths,
}

impl ComparedSurvey {
    /// A survey with its lengths.
    pub fn of(survey: &Survey, lengths: &SurveyLengths<'_>) -> Self {
        Self {
            name: survey.name.clone(),
            water: survey.water.clone(),
            structure: survey.structure,
            species: lengths.species.clone(),
            lengths: lengths.for_comparison(true),
        }
    }
}

impl SurveyLengths<'_> {
    /// What a comparison needs of the lengths. Without `names` the fish left out are only counted.
    pub fn for_comparison(&self, names: bool) -> AgedLengths {
        let fish = self.fish.iter().map(|one| ComparedFish {
            key: if names { one.fish.key.clone() } else { String::new() },
            row: one.fish.row,
            sex: one.fish.sex,
            captured: captured(one.fish),
            lengths_mm: one.lengths_mm.clone(),
        });
        AgedLengths {
            basis: self.basis,
            length_type: self.length_type,
            fish: fish.collect(),
            left_out: if names { self.left_out.clone() } else { Vec::new() },
            left_out_by_reason: count_reasons(self.left_out.iter().map(|one| one.reason.as_str())),
        }
    }
}

fn captured(fish: &Fish) -> Option<(i16, u8)> {
    let day = fish.captured?;
    Some((day.year(), u8::try_from(day.month()).ok()?))
}

/// A survey against its standard.
#[derive(Debug, Clone, PartialEq)]
pub struct AgainstStandard {
    /// Means, deviations and the index.
    pub index: GrowthIndex,
    /// The ages of the standard. Where the standard is made of waters its percentiles are left out here.
    pub standard: Vec<ReferenceLength>,
    /// Months of capture that were compared; empty for annulus lengths.
    pub months: Vec<u8>,
    /// Fish that were compared.
    pub n_fish: usize,
    /// Fish left out: caught in other months, or of unknown or another sex.
    pub left_out: Vec<LeftOut>,
}

/// Fish that are compared, and those that are not.
pub(super) type Kept<'a> = (Vec<&'a ComparedFish>, Vec<LeftOut>);

/// Compares a survey with the rows of a reference for its species and basis.
///
/// At capture only fish of the reference's months are compared. Rows for both sexes together are used where there are
/// any; else the rows of each sex, weighted at each age by the fish of that sex in the sample, and fish of unknown sex
/// are left out.
///
/// # Errors
/// One plain line: no such rows, or a reference of another kind.
pub fn against_reference(
    survey: &ComparedSurvey,
    reference: &[ReferenceLength],
    min_fish: usize,
) -> Result<AgainstStandard, String> {
    against_reference_of_sex(survey, reference, min_fish, None)
}

/// As [`against_reference`], for the fish of one sex and the rows of that sex where `sex` names one.
///
/// # Errors
/// As [`against_reference`].
pub fn against_reference_of_sex(
    survey: &ComparedSurvey,
    reference: &[ReferenceLength],
    min_fish: usize,
    sex: Option<Sex>,
) -> Result<AgainstStandard, String> {
    let lengths = &survey.lengths;
    let basis = lengths.basis;
    let is_meant = |row: &&ReferenceLength| {
        row.species.trim().eq_ignore_ascii_case(survey.species.trim()) && row.basis == basis
    };
    let mut rows: Vec<ReferenceLength> = reference.iter().filter(is_meant).cloned().collect();
    let has_both = sex.is_none() && rows.iter().any(|row| row.sex == Sex::Unknown);
    rows.retain(|row| match sex {
        Some(sex) => row.sex == sex,
        None => (row.sex == Sex::Unknown) == has_both,
    });
    let Some(first) = rows.first() else {
        let of_sex = sex.map(|sex| format!("{} ", sex.word())).unwrap_or_default();
        return Err(format!(
            "the reference has no row for {of_sex}'{}' on the basis {}: add them or choose another basis",
            survey.species,
            basis.word()
        ));
    };
    let months = if basis == LengthBasis::Capture { first.months.clone() } else { Vec::new() };
    let mut kept = match basis {
        LengthBasis::Annulus => (lengths.fish.iter().collect(), Vec::new()),
        LengthBasis::Capture => of_months(lengths, &months),
    };
    if let Some(sex) = sex {
        kept = of_sex(kept, sex);
    }
    let (mut kept, mut left_out) = kept;
    let kind = SampleKind {
        basis,
        months: if months.is_empty() { lengths.months() } else { months.clone() },
        length_type: lengths.length_type,
        structure: Some(survey.structure),
    };
    check_reference(&rows, &kind).map_err(|error| error.to_string())?;
    if !has_both {
        let is_known = |one: &&ComparedFish| one.sex != Sex::Unknown;
        let unknown = kept.iter().filter(|one| !is_known(one));
        left_out.extend(
            unknown.map(|one| without(one, "its sex is not known, and the reference is by sex")),
        );
        kept.retain(is_known);
        rows = weighted_by_sex(&rows, &kept);
    }
    let mut found = judged(&kept, rows, basis, min_fish, months);
    found.left_out = left_out;
    Ok(found)
}

/// At each age the mean of the sexes' rows, weighted by the fish of each sex (direct standardisation); the SD is that of
/// the mixture. An age at which a sex of the sample has no row is left out.
fn weighted_by_sex(rows: &[ReferenceLength], fish: &[&ComparedFish]) -> Vec<ReferenceLength> {
    let mut counts: BTreeMap<u32, BTreeMap<Sex, f64>> = BTreeMap::new();
    for one in fish {
        for (age, _) in &one.lengths_mm {
            *counts.entry(*age).or_default().entry(one.sex).or_default() += 1.0;
        }
    }
    let at_age = |(age, sexes): (&u32, &BTreeMap<Sex, f64>)| {
        let n: f64 = sexes.values().sum();
        let parts: Option<Vec<(f64, &ReferenceLength)>> = sexes
            .iter()
            .map(|(sex, count)| {
                Some((count / n, rows.iter().find(|row| row.age == *age && row.sex == *sex)?))
            })
            .collect();
        let parts = parts?;
        let mean = parts.iter().map(|(share, row)| share * row.mean.value()).sum::<f64>();
        let variance: Option<f64> = parts
            .iter()
            .map(|(share, row)| {
                Some(share * (row.sd?.value().powi(2) + (row.mean.value() - mean).powi(2)))
            })
            .sum();
        let like = parts.first()?.1;
        Some(ReferenceLength {
            sex: Sex::Unknown,
            mean: Millimetres(mean),
            sd: variance.map(|variance| Millimetres(variance.sqrt())),
            n: None,
            percentiles: if parts.len() == 1 { like.percentiles.clone() } else { Vec::new() },
            source: format!("{}; sexes weighted as in the sample", like.source),
            ..like.clone()
        })
    };
    counts.iter().filter_map(at_age).collect()
}

/// The fish caught in some of `months`.
pub(super) fn of_months<'a>(lengths: &'a AgedLengths, months: &[u8]) -> Kept<'a> {
    let (mut kept, mut others) = (Vec::new(), Vec::new());
    for one in &lengths.fish {
        if one.captured.is_some_and(|(_, month)| months.contains(&month)) {
            kept.push(one);
        } else {
            let reason = "caught in other months than those compared, or without a date";
            others.push(without(one, reason));
        }
    }
    (kept, others)
}

/// Of the fish kept so far those of one sex.
pub(super) fn of_sex((mut kept, mut others): Kept<'_>, sex: Sex) -> Kept<'_> {
    let reason = format!("its sex is not known to be {}", sex.word());
    others.extend(kept.iter().filter(|one| one.sex != sex).map(|one| without(one, &reason)));
    kept.retain(|one| one.sex == sex);
    (kept, others)
}

fn without(fish: &ComparedFish, reason: &str) -> LeftOut {
    LeftOut { fish: fish.key.clone(), row: fish.row, reason: reason.to_owned() }
}

/// The fish against the ages of a standard; nobody is left out yet.
pub(super) fn judged(
    fish: &[&ComparedFish],
    standard: Vec<ReferenceLength>,
    basis: LengthBasis,
    min_fish: usize,
    months: Vec<u8>,
) -> AgainstStandard {
    let by_fish: Vec<Vec<(u32, f64)>> = fish.iter().map(|one| one.lengths_mm.clone()).collect();
    let pairs: Vec<(u32, f64)> = by_fish.iter().flatten().copied().collect();
    let mut index = growth_index(&pairs, &standard, min_fish);
    if basis == LengthBasis::Annulus {
        // Lengths at the annuli of one fish are not independent: the fish is the unit.
        let used: Vec<u32> =
            index.ages.iter().filter(|age| age.is_used).map(|age| age.age).collect();
        index.ci95_mm =
            index.mean_deviation_mm.and_then(|centre| index_interval(centre, &by_fish, &used));
    }
    AgainstStandard { index, standard, months, n_fish: fish.len(), left_out: Vec::new() }
}
