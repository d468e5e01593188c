//! Mean length at age of several waters against one standard: a reference file, or the waters themselves.

use std::collections::{BTreeMap, BTreeSet};

use super::survey_growth::{AgedFish, SurveyLengths, month_of};
use super::survey_lengths::LeftOut;
use crate::analysis::index_interval::index_interval;
use crate::analysis::reference::{
    GrowthIndex, SampleKind, WaterMeans, check_reference, growth_index, standard_from_waters,
};
use crate::domain::fish::Sex;
use crate::domain::reading::Structure;
use crate::domain::reference::{LengthBasis, ReferenceLength};
use crate::domain::units::Millimetres;

/// One survey of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedSurvey<'a> {
    /// Name of the survey.
    pub name: String,
    /// Water; its surveys together are left out of their own standard.
    pub water: String,
    /// Structure read.
    pub structure: Structure,
    /// Its lengths at age.
    pub lengths: SurveyLengths<'a>,
}

/// A survey against its standard.
#[derive(Debug, Clone, PartialEq)]
pub struct AgainstStandard {
    /// Means, deviations and the index.
    pub index: GrowthIndex,
    /// The ages of the standard.
    pub standard: Vec<ReferenceLength>,
    /// Months of capture that were compared; empty for annulus lengths.
    pub months: Vec<u8>,
    /// Fish that were compared.
    pub n_fish: usize,
    /// Fish left out: caught in other months, or of unknown sex.
    pub left_out: Vec<LeftOut>,
}

/// Compares a survey with the rows of a reference for its species and basis.
///
/// At capture only fish of the reference's months are compared. Rows for both sexes together are used where there are
/// any; else the rows of each sex, weighted at each age by the fish of that sex in the sample, and fish of unknown sex
/// are left out.
///
/// # Errors
/// One plain line: no such rows, or a reference of another kind.
pub fn against_reference(
    survey: &ComparedSurvey<'_>,
    reference: &[ReferenceLength],
    min_fish: usize,
) -> Result<AgainstStandard, String> {
    let lengths = &survey.lengths;
    let basis = lengths.basis;
    let is_meant = |row: &&ReferenceLength| {
        row.species.trim().eq_ignore_ascii_case(lengths.species.trim()) && row.basis == basis
    };
    let mut rows: Vec<ReferenceLength> = reference.iter().filter(is_meant).cloned().collect();
    let has_both = rows.iter().any(|row| row.sex == Sex::Unknown);
    rows.retain(|row| (row.sex == Sex::Unknown) == has_both);
    let Some(first) = rows.first() else {
        return Err(format!(
            "the reference has no row for '{}' on the basis {}: add them or choose another basis",
            lengths.species,
            basis.word()
        ));
    };
    let months = if basis == LengthBasis::Capture { first.months.clone() } else { Vec::new() };
    let (mut kept, mut left_out) = match basis {
        LengthBasis::Annulus => (lengths.fish.iter().collect(), Vec::new()),
        LengthBasis::Capture => of_months(lengths, &months),
    };
    let kind = SampleKind {
        basis,
        months: if months.is_empty() { lengths.months() } else { months.clone() },
        length_type: lengths.length_type,
        structure: Some(survey.structure),
    };
    check_reference(&rows, &kind).map_err(|error| error.to_string())?;
    if !has_both {
        let is_known = |one: &&AgedFish<'_>| one.fish.sex != Sex::Unknown;
        let unknown = kept.iter().filter(|one| !is_known(one)).map(|one| LeftOut {
            fish: one.fish.key.clone(),
            row: one.fish.row,
            reason: "its sex is not known, and the reference is by sex".to_owned(),
        });
        left_out.extend(unknown);
        kept.retain(is_known);
        rows = weighted_by_sex(&rows, &kept);
    }
    Ok(judged(&kept, rows, basis, min_fish, months, left_out))
}

/// At each age the mean of the sexes' rows, weighted by the fish of each sex (direct standardisation); the SD is that of
/// the mixture. An age at which a sex of the sample has no row is left out.
fn weighted_by_sex(rows: &[ReferenceLength], fish: &[&AgedFish<'_>]) -> Vec<ReferenceLength> {
    let mut counts: BTreeMap<u32, BTreeMap<Sex, f64>> = BTreeMap::new();
    for one in fish {
        for (age, _) in &one.lengths_mm {
            *counts.entry(*age).or_default().entry(one.fish.sex).or_default() += 1.0;
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

/// Compares each survey with the mean of the other waters. At capture only months that every survey has are compared.
///
/// # Errors
/// One plain line where the surveys cannot be compared at all: no month in common, or unlike lengths or structures.
pub fn against_each_other(
    surveys: &[ComparedSurvey<'_>],
    min_fish: usize,
) -> Result<Vec<AgainstStandard>, String> {
    let Some(first) = surveys.first() else { return Ok(Vec::new()) };
    let basis = first.lengths.basis;
    for other in surveys {
        if other.lengths.length_type != first.lengths.length_type
            || other.structure != first.structure
        {
            return Err(format!(
                "'{}' and '{}' differ in length type or structure: compare surveys of one kind",
                first.name, other.name
            ));
        }
    }
    let months = match basis {
        LengthBasis::Annulus => Vec::new(),
        LengthBasis::Capture => common_months(surveys)?,
    };
    let kept: Vec<(Vec<&AgedFish<'_>>, Vec<LeftOut>)> = surveys
        .iter()
        .map(|survey| match basis {
            LengthBasis::Annulus => (survey.lengths.fish.iter().collect(), Vec::new()),
            LengthBasis::Capture => of_months(&survey.lengths, &months),
        })
        .collect();
    let like = ReferenceLength {
        species: first.lengths.species.clone(),
        sex: Sex::Unknown,
        age: 0,
        basis,
        months: months.clone(),
        length_type: first.lengths.length_type,
        structure: Some(first.structure),
        mean: Millimetres(0.0),
        sd: None,
        n: None,
        percentiles: Vec::new(),
        source: String::new(),
        row: 0,
    };
    let waters = water_means(surveys, &kept, min_fish);
    let judge =
        |(survey, (fish, others)): (&ComparedSurvey<'_>, &(Vec<&AgedFish<'_>>, Vec<LeftOut>))| {
            let own = waters.iter().position(|water| water.name == water_key(survey));
            let standard = standard_from_waters(&waters, own, 1, &like);
            judged(fish, standard, basis, min_fish, months.clone(), others.clone())
        };
    Ok(surveys.iter().zip(&kept).map(judge).collect())
}

fn water_key(survey: &ComparedSurvey<'_>) -> String {
    let water = survey.water.trim().to_lowercase();
    if water.is_empty() { survey.name.to_lowercase() } else { water }
}

/// Means at ages with enough fish, the surveys of one water together.
fn water_means(
    surveys: &[ComparedSurvey<'_>],
    kept: &[(Vec<&AgedFish<'_>>, Vec<LeftOut>)],
    min_fish: usize,
) -> Vec<WaterMeans> {
    let mut waters: BTreeMap<String, BTreeMap<u32, (f64, usize)>> = BTreeMap::new();
    for (survey, (fish, _)) in surveys.iter().zip(kept) {
        let sums = waters.entry(water_key(survey)).or_default();
        for (age, length_mm) in fish.iter().flat_map(|one| &one.lengths_mm) {
            let entry = sums.entry(*age).or_default();
            *entry = (entry.0 + length_mm, entry.1 + 1);
        }
    }
    let means = |sums: BTreeMap<u32, (f64, usize)>| {
        let enough = sums.into_iter().filter(|(_, (_, n))| *n >= min_fish);
        enough.map(|(age, (sum, n))| (age, sum / n as f64, n)).collect()
    };
    waters.into_iter().map(|(name, sums)| WaterMeans { name, means: means(sums) }).collect()
}

fn common_months(surveys: &[ComparedSurvey<'_>]) -> Result<Vec<u8>, String> {
    let sets: Vec<BTreeSet<u8>> =
        surveys.iter().map(|survey| survey.lengths.months().into_iter().collect()).collect();
    let common: Vec<u8> =
        (1..=12).filter(|month| sets.iter().all(|months| months.contains(month))).collect();
    if common.is_empty() {
        return Err(
            "no month of capture is common to all surveys: compare surveys of one season, or use --basis annulus"
                .to_owned(),
        );
    }
    Ok(common)
}

fn of_months<'b, 'a>(
    lengths: &'b SurveyLengths<'a>,
    months: &[u8],
) -> (Vec<&'b AgedFish<'a>>, Vec<LeftOut>) {
    let (mut kept, mut others) = (Vec::new(), Vec::new());
    for one in &lengths.fish {
        if month_of(one.fish).is_some_and(|month| months.contains(&month)) {
            kept.push(one);
        } else {
            let reason = "caught in other months than those compared, or without a date".to_owned();
            others.push(LeftOut { fish: one.fish.key.clone(), row: one.fish.row, reason });
        }
    }
    (kept, others)
}

fn judged(
    fish: &[&AgedFish<'_>],
    standard: Vec<ReferenceLength>,
    basis: LengthBasis,
    min_fish: usize,
    months: Vec<u8>,
    left_out: Vec<LeftOut>,
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
    AgainstStandard { index, standard, months, n_fish: fish.len(), left_out }
}
