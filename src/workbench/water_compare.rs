//! Many waters against each other: the standard they make, each water left out of its own, their order, and how each
//! changed over the years.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use super::survey_compare::{
    AgainstStandard, ComparedSurvey, Kept, against_reference_of_sex, judged, of_months, of_sex,
};
use crate::analysis::reference::{SortedWaters, WaterMeans, length_at_percent};
use crate::analysis::water_trend::{WaterTrend, water_trend};
use crate::domain::fish::Sex;
use crate::domain::reference::{LengthBasis, ReferenceLength};
use crate::domain::survey_summary::{AgedLengths, ComparedFish};
use crate::domain::units::Millimetres;

/// Percentiles that a standard is written with.
const PERCENTS: [f64; 5] = [10.0, 25.0, 50.0, 75.0, 90.0];

/// Surveys against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct EachOther {
    /// Each survey, in their order.
    pub surveys: Vec<AgainstStandard>,
    /// Each water with all of its surveys, best growth first, those without an index last.
    pub waters: Vec<WaterAgainst>,
}

/// A water against the others.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterAgainst {
    /// Its name as first written.
    pub water: String,
    /// Places of its surveys.
    pub surveys: Vec<usize>,
    /// All of its fish against the standard.
    pub against: AgainstStandard,
    /// Place in the order of growth, from 1; `None` without an index.
    pub rank: Option<usize>,
    /// Other waters whose 95 % intervals overlap with its own; `None` without an interval.
    pub n_overlapping: Option<usize>,
    /// Each year of capture against the standard, rising.
    pub years: Vec<(i16, AgainstStandard)>,
    /// The line through the years with an index.
    pub trend: Option<WaterTrend>,
}

/// What is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EachOtherWanted {
    /// Fish an age of a water must have to count.
    pub min_fish: usize,
    /// Only fish of this sex; `None` for all.
    pub sex: Option<Sex>,
}

/// Compares each survey with the mean of the other waters. At capture only months that every survey has are compared.
///
/// # Errors
/// One plain line where the surveys cannot be compared at all: no month in common, or unlike lengths or structures.
pub fn against_each_other(
    surveys: &[ComparedSurvey],
    wanted: EachOtherWanted,
) -> Result<EachOther, String> {
    let Some(like) = like_all(surveys)? else {
        return Ok(EachOther { surveys: Vec::new(), waters: Vec::new() });
    };
    let kept = kept(surveys, &like.months, wanted.sex);
    let waters = Waters::of(surveys, &kept, wanted.min_fish);
    let against = |fish: &[&ComparedFish], standard: &[ReferenceLength]| {
        judged(fish, standard.to_vec(), like.basis, wanted.min_fish, like.months.clone())
    };
    let compared: Vec<(Option<WaterAgainst>, Vec<_>)> = (0..waters.members.len())
        .into_par_iter()
        .map(|place| {
            let standard = waters.sorted.standard(Some(place), 1, &like);
            let own = waters.members.get(place).map_or(&[][..], Vec::as_slice);
            let judge = |fish: &[&ComparedFish]| Some(against(fish, &standard));
            let fish_of = |place: usize| kept.get(place).map_or(&[][..], |kept| kept.0.as_slice());
            let each = own.iter().filter_map(|place| {
                let mut against = without_percentiles(judge(fish_of(*place))?);
                against.left_out = kept.get(*place).map(|kept| kept.1.clone()).unwrap_or_default();
                Some((*place, against))
            });
            (whole_water(own, surveys, &fish_of, &judge), each.collect())
        })
        .collect();
    let (found, each): (Vec<_>, Vec<_>) = compared.into_iter().unzip();
    let mut each: Vec<(usize, AgainstStandard)> = each.into_iter().flatten().collect();
    each.sort_by_key(|(place, _)| *place);
    let mut found: Vec<WaterAgainst> = found.into_iter().flatten().collect();
    rank(&mut found);
    // Every survey belongs to one water, so there is one for each.
    Ok(EachOther { surveys: each.into_iter().map(|(_, against)| against).collect(), waters: found })
}

/// The waters of `surveys` in the order of growth against a reference. A water that cannot be compared is left out; its
/// surveys say why.
pub fn waters_against_reference(
    surveys: &[ComparedSurvey],
    reference: &[ReferenceLength],
    wanted: EachOtherWanted,
) -> Vec<WaterAgainst> {
    let fish_of: Vec<Vec<&ComparedFish>> =
        surveys.iter().map(|survey| survey.lengths.fish.iter().collect()).collect();
    let fish_of = |place: usize| fish_of.get(place).map_or(&[][..], Vec::as_slice);
    let water = |own: Vec<usize>| {
        let first = surveys.get(*own.first()?)?;
        let judge = |fish: &[&ComparedFish]| {
            let fish = fish.iter().map(|one| (*one).clone()).collect();
            let lengths = AgedLengths {
                fish,
                left_out: Vec::new(),
                left_out_by_reason: Vec::new(),
                ..first.lengths
            };
            let together = ComparedSurvey {
                name: first.name.clone(),
                water: first.water.clone(),
                species: first.species.clone(),
                structure: first.structure,
                lengths,
            };
            against_reference_of_sex(&together, reference, wanted.min_fish, wanted.sex).ok()
        };
        whole_water(&own, surveys, &fish_of, &judge)
    };
    let mut found: Vec<WaterAgainst> = members(surveys).into_values().filter_map(water).collect();
    rank(&mut found);
    found
}

/// All surveys of a water together, and by year.
fn whole_water<'a>(
    own: &[usize],
    surveys: &[ComparedSurvey],
    fish_of: &dyn Fn(usize) -> &'a [&'a ComparedFish],
    judge: &dyn Fn(&[&'a ComparedFish]) -> Option<AgainstStandard>,
) -> Option<WaterAgainst> {
    let all: Vec<&ComparedFish> = own.iter().flat_map(|place| fish_of(*place)).copied().collect();
    let against = without_percentiles(judge(&all)?);
    let mut by_year: BTreeMap<i16, Vec<&ComparedFish>> = BTreeMap::new();
    for fish in all {
        if let Some((year, _)) = fish.captured {
            by_year.entry(year).or_default().push(fish);
        }
    }
    let years: Vec<(i16, AgainstStandard)> = by_year
        .into_iter()
        .filter_map(|(year, fish)| Some((year, without_percentiles(judge(&fish)?))))
        .collect();
    let line: Vec<(i16, f64)> = years
        .iter()
        .filter_map(|(year, against)| Some((*year, against.index.mean_deviation_mm?)))
        .collect();
    let first = own.first().and_then(|place| surveys.get(*place))?;
    Some(WaterAgainst {
        water: name_of(first).to_owned(),
        surveys: own.to_vec(),
        against,
        rank: None,
        n_overlapping: None,
        trend: water_trend(&line),
        years,
    })
}

/// The standard all surveys make together: at each age the mean of water means, their SD and percentiles.
///
/// # Errors
/// As [`against_each_other`].
pub fn standard_of(
    surveys: &[ComparedSurvey],
    wanted: EachOtherWanted,
) -> Result<Vec<ReferenceLength>, String> {
    let Some(like) = like_all(surveys)? else { return Ok(Vec::new()) };
    let kept = kept(surveys, &like.months, wanted.sex);
    let waters = Waters::of(surveys, &kept, wanted.min_fish);
    let like = ReferenceLength { sex: wanted.sex.unwrap_or(Sex::Unknown), ..like };
    let mut standard = waters.sorted.standard(None, 1, &like);
    for age in &mut standard {
        let table = std::mem::take(&mut age.percentiles);
        age.percentiles = PERCENTS
            .iter()
            .filter_map(|percent| Some((*percent, length_at_percent(*percent, &table)?)))
            .collect();
    }
    Ok(standard)
}

/// A row of the standard with what all surveys have in common; `None` without surveys.
fn like_all(surveys: &[ComparedSurvey]) -> Result<Option<ReferenceLength>, String> {
    let Some(first) = surveys.first() else { return Ok(None) };
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
    let basis = first.lengths.basis;
    let months = match basis {
        LengthBasis::Annulus => Vec::new(),
        LengthBasis::Capture => common_months(surveys)?,
    };
    Ok(Some(ReferenceLength {
        species: first.species.clone(),
        sex: Sex::Unknown,
        age: 0,
        basis,
        months,
        length_type: first.lengths.length_type,
        structure: Some(first.structure),
        mean: Millimetres(0.0),
        sd: None,
        n: None,
        percentiles: Vec::new(),
        source: String::new(),
        row: 0,
    }))
}

fn common_months(surveys: &[ComparedSurvey]) -> Result<Vec<u8>, String> {
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

fn kept<'a>(surveys: &'a [ComparedSurvey], months: &[u8], sex: Option<Sex>) -> Vec<Kept<'a>> {
    let one = |survey: &'a ComparedSurvey| {
        let kept = match survey.lengths.basis {
            LengthBasis::Annulus => (survey.lengths.fish.iter().collect(), Vec::new()),
            LengthBasis::Capture => of_months(&survey.lengths, months),
        };
        match sex {
            Some(sex) => of_sex(kept, sex),
            None => kept,
        }
    };
    surveys.iter().map(one).collect()
}

/// The waters of a comparison, in the order of their names.
struct Waters {
    members: Vec<Vec<usize>>,
    sorted: SortedWaters,
}

impl Waters {
    fn of(surveys: &[ComparedSurvey], kept: &[Kept<'_>], min_fish: usize) -> Self {
        let by_name = members(surveys);
        let means: Vec<WaterMeans> =
            by_name.iter().map(|(name, own)| water_means(name, own, kept, min_fish)).collect();
        Self { members: by_name.into_values().collect(), sorted: SortedWaters::new(&means) }
    }
}

/// Places of the surveys of each water.
fn members(surveys: &[ComparedSurvey]) -> BTreeMap<String, Vec<usize>> {
    let mut by_name: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (place, survey) in surveys.iter().enumerate() {
        by_name.entry(water_key(survey)).or_default().push(place);
    }
    by_name
}

/// The percentiles of thousands of waters, for each of thousands of surveys, would fill the memory.
fn without_percentiles(mut against: AgainstStandard) -> AgainstStandard {
    against.standard.iter_mut().for_each(|age| age.percentiles = Vec::new());
    against
}

fn name_of(survey: &ComparedSurvey) -> &str {
    let water = survey.water.trim();
    if water.is_empty() { &survey.name } else { water }
}

/// What tells waters apart: the name without regard to case; a survey without one is a water by itself.
fn water_key(survey: &ComparedSurvey) -> String {
    name_of(survey).to_lowercase()
}

/// Means at ages with enough fish, the surveys of one water together.
fn water_means(name: &str, own: &[usize], kept: &[Kept<'_>], min_fish: usize) -> WaterMeans {
    let mut sums: BTreeMap<u32, (f64, usize)> = BTreeMap::new();
    let fish = own.iter().filter_map(|place| kept.get(*place)).flat_map(|(fish, _)| fish);
    for (age, length_mm) in fish.flat_map(|one| &one.lengths_mm) {
        let entry = sums.entry(*age).or_default();
        *entry = (entry.0 + length_mm, entry.1 + 1);
    }
    let enough = sums.into_iter().filter(|(_, (_, n))| *n >= min_fish);
    let means = enough.map(|(age, (sum, n))| (age, sum / n as f64, n)).collect();
    WaterMeans { name: name.to_owned(), means }
}

/// Puts the waters in the order of growth and says how many each is not clearly apart from.
fn rank(waters: &mut [WaterAgainst]) {
    let index = |water: &WaterAgainst| water.against.index.mean_deviation_mm;
    waters.sort_by(|a, b| match (index(a), index(b)) {
        (Some(a), Some(b)) => b.total_cmp(&a),
        (a, b) => b.is_some().cmp(&a.is_some()),
    });
    let intervals: Vec<Option<[f64; 2]>> =
        waters.iter().map(|water| water.against.index.ci95_mm).collect();
    for (place, water) in waters.iter_mut().enumerate() {
        water.rank = index(water).map(|_| place + 1);
        water.n_overlapping = water.against.index.ci95_mm.map(|[low, high]| {
            let others = intervals.iter().enumerate().filter(|(other, _)| *other != place);
            let overlaps = |limits: &[f64; 2]| limits[0] <= high && low <= limits[1];
            others
                .filter_map(|(_, limits)| limits.as_ref())
                .filter(|limits| overlaps(limits))
                .count()
        });
    }
}
