//! Ages of a whole sample as JSON. Field names are fixed; a value that does not exist is `null`.

use serde_json::{Map, Value, json};

use crate::analysis::population::age_length_key::{AgeLengthKey, KeyGroup};
use crate::analysis::population::assignment::AssignmentRule;
use crate::analysis::population::catch_curve::CatchCurve;
use crate::analysis::population::catch_per_effort::RateOverRuns;
use crate::analysis::population::composition::{Composition, CompositionRow, ShareError};
use crate::analysis::population::study::{AgeStudy, SexAges};
use crate::analysis::population::year_class_strength::YearClassRow;

/// What stands beside a study.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AgesNotes {
    /// Fish left out: key, row, reason.
    pub left_out: Vec<(String, usize, String)>,
    /// Input that was bad besides the result (faulty rows).
    pub error: Option<String>,
}

/// What holds for the whole result.
pub const ASSUMPTIONS: [&str; 4] = [
    "the key holds for this water, year and season only; fish for ageing were drawn at random within length groups",
    "assigned ages are draws from the key, not readings: they enter no comparison of readers",
    "mortality assumes constant recruitment and survival, equal vulnerability from the first age used on, and right ages; \
     ages from scales are often too low in old fish, which makes mortality too high",
    "a year class is called missing only where it is old enough for full catch and at least 5 fish were expected",
];

/// The document for a study.
pub fn ages_json(study: &AgeStudy, notes: &AgesNotes) -> Value {
    let mut document = key_and_composition(study);
    let rest = json!({
        "n_sampled": study.key.n_sampled(),
        "n_aged": study.key.n_aged(),
        "bootstrap": study.bootstrap.as_ref().map(|drawn| json!({
            "replicates": drawn.numbers.len(), "seed": drawn.seed, "over": "fish",
        })),
        "by_sex": study.by_sex.iter().map(sex).collect::<Vec<_>>(),
        "catch_per_hour": study.catch_per_hour.as_ref().map(|rates| json!({
            "all_ages": rate(&rates.all_ages),
            "hours": rates.hours,
            "fish_without_run": rates.n_without_run,
        })),
        "assigned": study.assignment.as_ref().map(|assignment| {
            let of_fish = |one: &crate::analysis::population::assignment::AssignedAge| {
                let fish = (!one.fish.is_empty()).then_some(&one.fish);
                json!({ "row": one.row, "age": one.age, "fish": fish })
            };
            assignment.ages.iter().map(of_fish).collect::<Vec<_>>()
        }),
        "assignment": study.assignment.as_ref().map(|assignment| json!({
            "rule": match assignment.rule {
                AssignmentRule::WholePartsFirst => "whole-parts",
                AssignmentRule::FullyRandom => "random",
            },
            "seed": assignment.seed,
        })),
        "catch_curve": study.catch_curve.as_ref().ok().map(catch_curve),
        "withheld": study.catch_curve.as_ref().err().map(ToString::to_string),
        "year_classes": study.year_classes.iter().map(year_class).collect::<Vec<_>>(),
        "left_out": notes.left_out.iter().map(|(fish, row, reason)| json!({
            "fish": (!fish.is_empty()).then_some(fish), "row": row, "reason": reason,
        })).collect::<Vec<_>>(),
        "warnings": study.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "assumptions": ASSUMPTIONS,
        "error": notes.error,
    });
    if let Value::Object(rest) = rest {
        document.extend(rest);
    }
    Value::Object(document)
}

/// The document where nothing could be worked out.
pub fn ages_error_json(error: &str) -> Value {
    json!({
        "key": [], "groups": null, "gaps": [], "composition": [],
        "n_sampled": 0, "n_aged": 0, "bootstrap": null, "by_sex": [], "catch_per_hour": null,
        "assigned": null, "assignment": null, "catch_curve": null, "withheld": error, "year_classes": [],
        "left_out": [], "warnings": [], "assumptions": [], "error": error,
    })
}

fn key_and_composition(study: &AgeStudy) -> Map<String, Value> {
    let rates = study.catch_per_hour.as_ref().map_or(&[][..], |rates| rates.by_age.as_slice());
    let errors = study.bootstrap.as_ref().map_or(&[][..], |drawn| drawn.shares.as_slice());
    let mut fields = key_fields(&study.key);
    let rows = study.composition.rows.iter().enumerate();
    let rows: Vec<Value> =
        rows.map(|(at, row)| composition_row(row, rates.get(at), errors.get(at))).collect();
    fields.insert("composition".to_owned(), json!(rows));
    fields
}

fn key_fields(key: &AgeLengthKey) -> Map<String, Value> {
    let mut fields = Map::new();
    let rows: Vec<Value> = key.rows.iter().map(|row| key_row(key, row)).collect();
    fields.insert("key".to_owned(), json!(rows));
    fields.insert(
        "groups".to_owned(),
        json!({
            "width": key.groups.width(), "unit": key.groups.unit().word(), "width_mm": key.groups.width_mm(),
        }),
    );
    let gap = |index: &i64| {
        let (from, to) =
            (key.groups.lower_mm(*index), key.groups.lower_mm(index.saturating_add(1)));
        json!({ "length_mm": from, "to_mm": to })
    };
    fields.insert("gaps".to_owned(), json!(key.gaps.iter().map(gap).collect::<Vec<_>>()));
    fields
}

fn key_row(key: &AgeLengthKey, row: &KeyGroup) -> Value {
    let name = |age: &u32| age.to_string();
    let shares: Map<String, Value> =
        key.ages.iter().map(name).zip(row.shares().into_iter().map(|share| json!(share))).collect();
    let counts: Map<String, Value> =
        key.ages.iter().map(name).zip(row.by_age.iter().map(|count| json!(count))).collect();
    let borrowed: Vec<f64> =
        row.borrowed_from.iter().map(|index| key.groups.lower_mm(*index)).collect();
    json!({
        "length_mm": key.groups.lower_mm(row.first),
        "to_mm": key.groups.lower_mm(row.last.saturating_add(1)),
        "n": if row.is_borrowed() { 0 } else { row.aged() },
        "by_age": shares,
        "n_by_age": counts,
        "sampled": row.sampled,
        "unaged": row.unaged(),
        "merged": row.last > row.first,
        "borrowed_from_mm": borrowed,
    })
}

fn composition_row(
    row: &CompositionRow,
    per_hour: Option<&RateOverRuns>,
    error: Option<&ShareError>,
) -> Value {
    json!({
        "age": row.age,
        "n_expected": row.n_expected,
        "proportion": row.proportion,
        "se": row.se,
        "catch_per_hour": per_hour.map(rate),
        "se_n_minus_1": row.se_n_minus_1,
        "se_bootstrap": error.and_then(|error| error.se),
        "ci95_bootstrap": error.and_then(|error| error.interval).map(|interval| interval.ci95),
        "cv": row.cv,
        "n_aged": row.n_aged,
        "mean_length_mm": row.mean_length_mm,
    })
}

fn rate(rate: &RateOverRuns) -> Value {
    json!({ "mean": rate.mean, "se": rate.se, "n_runs": rate.n_runs, "rse_percent": rate.rse_percent() })
}

fn sex(one: &SexAges) -> Value {
    let mut fields = Map::new();
    fields.insert("sex".to_owned(), json!(one.sex.word()));
    fields.insert("n".to_owned(), json!(one.n));
    let (found, error) = match &one.outcome {
        Ok((key, composition)) => (Some((key, composition)), None),
        Err(error) => (None, Some(error.to_string())),
    };
    match found {
        Some((key, composition)) => {
            fields.extend(key_fields(key));
            fields.insert("composition".to_owned(), rows_alone(composition));
        }
        None => {
            fields.insert("key".to_owned(), json!([]));
            fields.insert("composition".to_owned(), json!([]));
        }
    }
    fields.insert("error".to_owned(), json!(error));
    Value::Object(fields)
}

fn rows_alone(composition: &Composition) -> Value {
    composition.rows.iter().map(|row| composition_row(row, None, None)).collect()
}

fn catch_curve(curve: &CatchCurve) -> Value {
    let drawn = curve.bootstrap.as_ref();
    json!({
        "chapman_robson": curve.chapman_robson.as_ref().map(|found| {
            let inflated = |se: f64| found.inflation().map(|factor| se * factor);
            json!({
                "ages": found.ages,
                "S": found.survival,
                "S_se": found.survival_se,
                "Z": found.z,
                "Z_se": found.z_se,
                "A": found.annual_mortality(),
                "c_hat": found.c_hat,
                "S_se_inflated": inflated(found.survival_se),
                "Z_se_inflated": inflated(found.z_se),
                "S_se_bootstrap": drawn.and_then(|drawn| drawn.survival_se),
                "Z_se_bootstrap": drawn.and_then(|drawn| drawn.z_se),
                "S_ci95_bootstrap": drawn.and_then(|drawn| drawn.survival).map(|limits| limits.ci95),
                "Z_ci95_bootstrap": drawn.and_then(|drawn| drawn.z).map(|limits| limits.ci95),
                "Z_less_half_bias_term": found.z_less_half_bias_term(),
                "n": found.n,
                "T": found.t,
                "chi2": found.chi2,
                "observed": found.observed,
                "expected": found.expected,
            })
        }),
        "weighted_regression": curve.regression.as_ref().map(|line| json!({
            "ages": line.ages,
            "Z": line.z,
            "Z_se": line.z_se,
            "A": line.annual_mortality(),
            "Z_ci95": line.z_ci95,
            "Z_se_bootstrap": drawn.and_then(|drawn| drawn.regression_z_se),
            "intercept": line.intercept,
            "weights": line.weights,
            "residuals": line.residuals,
            "ages_without_catch": line.n_without_catch,
        })),
        "error_from": match drawn {
            Some(_) => "bootstrap over fish: the numbers at age come from a key, whose error the formulas leave out",
            None => "binomial, inflated by c_hat: every fish was aged",
        },
        "samples_without_value": drawn.map(|drawn| drawn.failed),
    })
}

fn year_class(row: &YearClassRow) -> Value {
    json!({
        "year_class": row.year_class,
        "age": row.age,
        "n": row.n,
        "residual": row.residual,
        "stocked": row.stocked,
        "n_by_line": row.n_by_line,
        "studentised_residual": row.studentised,
        "strength": row.strength.word(),
    })
}
