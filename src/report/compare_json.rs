//! Length at age against a standard as JSON. Field names are fixed; a value that does not exist is `null`.

use serde_json::{Map, Value, json};

use crate::analysis::reference::{AgeComparison, GrowthIndex, Percentile};
use crate::domain::reference::{LengthBasis, ReferenceLength};

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
    /// Bad input.
    pub error: Option<String>,
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

/// The document of a comparison. `standard` says where the standard comes from.
pub fn compare_json(
    waters: &[ComparedWater],
    basis: LengthBasis,
    standard: &str,
    min_fish: usize,
    error: Option<&str>,
) -> Value {
    json!({
        "basis": basis.word(),
        "standard": standard,
        "min_fish": min_fish,
        "surveys": waters.iter().map(|water| water_json(water, basis)).collect::<Vec<_>>(),
        "error": error,
    })
}

fn water_json(water: &ComparedWater, basis: LengthBasis) -> Value {
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
