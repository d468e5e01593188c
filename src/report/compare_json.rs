//! Length at age against a standard as JSON. Field names are fixed; a value that does not exist is `null`.

use serde_json::{Map, Value, json};

use crate::analysis::reference::{AgeComparison, GrowthIndex, Percentile};
use crate::analysis::water_trend::WaterTrend;
use crate::domain::fish::Sex;
use crate::domain::reference::{LengthBasis, ReferenceLength};
use crate::domain::units::Millimetres;

/// One survey as it is shown.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedWater {
    /// Name of the survey, or of its folder where it could not be opened.
    pub survey: String,
    /// Its folder.
    pub folder: String,
    /// Water.
    pub water: String,
    /// Species.
    pub species: String,
    /// Reader whose readings were used.
    pub reader: String,
    /// The comparison; `None` where there is none.
    pub compared: Option<ComparedAges>,
    /// How many fish were left out for each reason.
    pub left_out_by_reason: Vec<(String, usize)>,
    /// False for a survey of an archive, whose fish left out are counted and not named.
    pub is_left_out_named: bool,
    /// Bad input.
    pub error: Option<String>,
}

/// A water with all of its surveys.
#[derive(Debug, Clone, PartialEq)]
pub struct RankedWater {
    /// Its name.
    pub water: String,
    /// Its surveys.
    pub surveys: Vec<String>,
    /// All of its fish against the standard.
    pub compared: ComparedAges,
    /// Place in the order of growth, from 1; `None` without an index.
    pub rank: Option<usize>,
    /// Other waters whose 95 % intervals overlap with its own.
    pub n_overlapping: Option<usize>,
    /// Years of capture, rising.
    pub years: Vec<YearOfWater>,
    /// The line through the years with an index.
    pub trend: Option<WaterTrend>,
}

/// One year of a water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearOfWater {
    /// The year.
    pub year: i16,
    /// Fish compared.
    pub n_fish: usize,
    /// Growth index, mm.
    pub index_mm: Option<f64>,
    /// Its 95 % interval.
    pub ci95_mm: Option<[f64; 2]>,
}

/// Everything a comparison shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Capture or annulus.
    pub basis: LengthBasis,
    /// Where the standard comes from.
    pub standard: &'static str,
    /// Fish an age must have to count.
    pub min_fish: usize,
    /// The surveys.
    pub surveys: Vec<ComparedWater>,
    /// The waters, best growth first.
    pub waters: Vec<RankedWater>,
    /// The standard that all waters make together, both sexes and each; empty with a reference file.
    pub standard_ages: Vec<ReferenceLength>,
}

/// The comparison of one survey.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedAges {
    /// Means, deviations, index.
    pub index: GrowthIndex,
    /// The standard it is compared with.
    pub standard: Vec<ReferenceLength>,
    /// Months compared; empty for annulus lengths.
    pub months: Vec<u8>,
    /// Fish compared.
    pub n_fish: usize,
    /// Fish left out, and why.
    pub left_out: Vec<(String, String)>,
}

/// The document of a comparison.
pub fn compare_json(comparison: &Comparison, error: Option<&str>) -> Value {
    let basis = comparison.basis;
    let surveys = comparison.surveys.iter().map(|water| survey_json(water, basis));
    json!({
        "basis": basis.word(),
        "standard": comparison.standard,
        "min_fish": comparison.min_fish,
        "surveys": surveys.collect::<Vec<_>>(),
        "waters": comparison.waters.iter().map(|water| water_json(water, basis)).collect::<Vec<_>>(),
        "standard_ages": comparison.standard_ages.iter().map(standard_json).collect::<Vec<_>>(),
        "error": error,
    })
}

fn water_json(water: &RankedWater, basis: LengthBasis) -> Value {
    let index = &water.compared.index;
    let years = water.years.iter().map(|year| {
        json!({
            "year": year.year,
            "n_fish": year.n_fish,
            "growth_index_mm": year.index_mm,
            "growth_index_ci95_mm": year.ci95_mm,
        })
    });
    let ages = index.ages.iter().map(|age| age_json(age, &water.compared.standard, basis));
    json!({
        "water": water.water,
        "surveys": water.surveys,
        "rank": water.rank,
        "n_fish": water.compared.n_fish,
        "ages": ages.collect::<Vec<_>>(),
        "growth_index_mm": index.mean_deviation_mm,
        "growth_index_ci95_mm": index.ci95_mm,
        "overlapping_waters": water.n_overlapping,
        "years": years.collect::<Vec<_>>(),
        "trend": water.trend.map(|trend| json!({
            "slope_mm_per_year": trend.slope_mm_per_year,
            "se": trend.slope_se,
            "ci95": trend.ci95,
            "p": trend.p,
        })),
    })
}

fn standard_json(age: &ReferenceLength) -> Value {
    let percentile =
        |(percent, length): &(f64, Millimetres)| json!({"percent": percent, "mm": length.value()});
    json!({
        "species": age.species,
        "sex": (age.sex != Sex::Unknown).then(|| age.sex.word()),
        "age": age.age,
        "mean_mm": age.mean.value(),
        "sd_mm": age.sd.map(|sd| sd.value()),
        "n_waters": age.n,
        "percentiles": age.percentiles.iter().map(percentile).collect::<Vec<_>>(),
    })
}

fn survey_json(water: &ComparedWater, basis: LengthBasis) -> Value {
    let mut object = Map::new();
    let text = |text: &str| if text.is_empty() { Value::Null } else { json!(text) };
    for (name, value) in [
        ("survey", text(&water.survey)),
        ("folder", text(&water.folder)),
        ("water", text(&water.water)),
        ("species", text(&water.species)),
        ("reader", text(&water.reader)),
    ] {
        object.insert(name.to_owned(), value);
    }
    match &water.compared {
        Some(compared) => {
            if let Value::Object(fields) = against_json(compared, basis) {
                object.extend(fields);
            }
            if !water.is_left_out_named {
                object.insert("left_out".to_owned(), Value::Null);
            }
            let by_reason = water.left_out_by_reason.iter();
            let by_reason = by_reason.map(|(reason, n)| json!({"reason": reason, "n": n}));
            object.insert("left_out_by_reason".to_owned(), by_reason.collect());
        }
        None => {
            object.insert("ages".to_owned(), json!([]));
            object.insert("growth_index_mm".to_owned(), Value::Null);
            object.insert("growth_index_ci95_mm".to_owned(), Value::Null);
        }
    }
    object.insert("error".to_owned(), json!(water.error));
    Value::Object(object)
}

/// A sample against its standard.
pub fn against_json(compared: &ComparedAges, basis: LengthBasis) -> Value {
    let index = &compared.index;
    json!({
        "basis": basis.word(),
        "months": compared.months,
        "n_fish": compared.n_fish,
        "left_out": compared.left_out.iter().map(|(fish, reason)| json!({"fish": fish, "reason": reason}))
            .collect::<Vec<_>>(),
        "ages": index.ages.iter().map(|age| age_json(age, &compared.standard, basis)).collect::<Vec<_>>(),
        "min_fish": index.minimum_per_age,
        "ages_in_index": index.ages.iter().filter(|age| age.is_used).map(|age| age.age).collect::<Vec<_>>(),
        "growth_index_mm": index.mean_deviation_mm,
        "growth_index_ci95_mm": index.ci95_mm,
        "growth_index_weighted_mm": index.weighted_deviation_mm,
        "mean_percent_of_reference": index.mean_percent,
    })
}

fn age_json(age: &AgeComparison, standard: &[ReferenceLength], basis: LengthBasis) -> Value {
    let reference = standard.iter().find(|row| row.age == age.age);
    let standing = age.standing.as_ref();
    let percentile = standing.and_then(|standing| standing.percentile);
    let (within, outside) = match percentile {
        Some(Percentile::At(percent)) => (Some(percent), None),
        Some(beyond) => (None, Some(beyond.to_string())),
        None => (None, None),
    };
    json!({
        "age": age.age,
        "n": age.n,
        "mean_mm": age.mean_mm,
        "sd_mm": age.sd_mm,
        "basis": basis.word(),
        "reference_mm": reference.map(|row| row.mean.value()),
        "reference_n": reference.and_then(|row| row.n),
        "reference_source": reference.map(|row| row.source.as_str()),
        "deviation_mm": standing.map(|standing| standing.deviation_mm),
        "percent_of_reference": standing.map(|standing| standing.percent),
        "percentile": within,
        "percentile_outside": outside,
        "z": standing.and_then(|standing| standing.z),
        "in_index": age.is_used,
    })
}
