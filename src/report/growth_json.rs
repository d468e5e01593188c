//! Growth as JSON. Field names are fixed; a value that does not exist is `null`.

use serde_json::{Map, Value, json};

use crate::analysis::condition::{CATEGORY_NAMES, Percentage, SizeStructure};
use crate::analysis::condition_summary::ConditionSummary;
use crate::analysis::growth::{
    Bootstrap, Comparison, Fit, FittedGrowth, GroupGrowth, GrowthStudy, predict,
};
use crate::analysis::population::weighted_lengths::WeightedAge;
use crate::analysis::uncertainty::Propagated;
use crate::analysis::year_effects::YearEffects;

use super::uncertainty_json::{propagated_json, sources_json};

/// What stands beside the curves where a survey gives it.
#[derive(Debug, Clone, Default)]
pub struct GrowthExtras {
    /// Good and poor years, one for each piece in which ages and years hang together.
    pub year_effects: Vec<YearEffects>,
    /// Condition.
    pub condition: Option<ConditionSummary>,
    /// Every known error carried to lengths and parameters, where asked for.
    pub uncertainty: Option<Propagated>,
    /// Mean length at age by the age-length key, where asked for.
    pub by_key: Option<Vec<WeightedAge>>,
}

/// The document for a study. `error` names input that was bad besides it.
pub fn growth_json(study: &GrowthStudy, extras: &GrowthExtras, error: Option<&str>) -> Value {
    let mut document = group_object(study, &study.whole);
    let groups: Vec<Value> = study
        .groups
        .iter()
        .map(|group| {
            let mut object = Map::new();
            object.insert("group".to_owned(), json!(group.group));
            object.extend(group_object(study, group));
            Value::Object(object)
        })
        .collect();
    let comparison: Vec<Value> = study
        .comparison
        .iter()
        .flat_map(|comparison| comparison.comparisons.iter().map(comparison_object))
        .collect();
    let fields = [
        ("grouped_by", json!(study.grouped_by)),
        ("groups", json!(groups)),
        ("comparison", json!(comparison)),
        ("curves", ranking(study)),
        ("year_effects", year_effects(&extras.year_effects)),
        ("condition", extras.condition.as_ref().map_or(Value::Null, condition)),
        ("uncertainty", extras.uncertainty.as_ref().map_or(Value::Null, sources_json)),
        ("uncertainty_detail", extras.uncertainty.as_ref().map_or(Value::Null, propagated_json)),
        ("length_at_age_by_key", extras.by_key.as_deref().map_or(Value::Null, by_key)),
    ];
    for (name, value) in fields {
        document.insert(name.to_owned(), value);
    }
    if let Some(error) = error {
        document.insert("error".to_owned(), json!(error));
    }
    Value::Object(document)
}

/// The document where nothing could be read.
pub fn growth_error_json(curve: &str, error: &str) -> Value {
    let mut document = empty_object(curve, 0, error);
    for name in ["groups", "comparison"] {
        document.insert(name.to_owned(), json!([]));
    }
    for name in ["year_effects", "condition", "uncertainty"] {
        document.insert(name.to_owned(), Value::Null);
    }
    Value::Object(document)
}

fn group_object(study: &GrowthStudy, group: &GroupGrowth) -> Map<String, Value> {
    match &group.outcome {
        Ok(fitted) => fitted_object(fitted),
        Err(error) => empty_object(study.curve.word(), group.n, &error.to_string()),
    }
}

fn empty_object(curve: &str, n: usize, error: &str) -> Map<String, Value> {
    into_map(json!({
        "curve": curve, "n": n, "converged": false, "parameters": [], "rss": null, "residual_sd": null,
        "log_likelihood": null, "aicc": null, "bootstrap": null, "warnings": [], "error": error,
    }))
}

fn into_map(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

fn fitted_object(fitted: &FittedGrowth) -> Map<String, Value> {
    let fit = &fitted.fit;
    let parameters: Vec<Value> = fit
        .parameters
        .iter()
        .zip(&fitted.profiles)
        .map(|(parameter, profile)| {
            json!({
                "name": parameter.name, "estimate": parameter.estimate, "se": parameter.se,
                "ci95": parameter.ci95, "ci95_profile": profile, "fixed": parameter.is_fixed,
                "identified": !parameter.on_bound,
            })
        })
        .collect();
    into_map(json!({
        "curve": fit.curve.word(),
        "formula": fit.curve.formula(),
        "source": fit.curve.source(),
        "error_model": fit.error.word(),
        "n": fit.n,
        "n_fish": fit.n_fish,
        "n_ages": fit.n_ages(),
        "converged": fit.converged,
        "parameters": parameters,
        "rss": fit.rss,
        "df": fit.df,
        "residual_sd": fit.residual_sd,
        "log_likelihood": fit.log_likelihood,
        "aicc": fit.aicc,
        "bootstrap": fitted.bootstrap.as_ref().map(bootstrap_object),
        "length_at_age": length_at_age(fit),
        "starts": { "tried": fit.starts_tried, "agreeing": fit.starts_agreeing },
        "warnings": fitted.warnings(),
        "error": null,
    }))
}

fn bootstrap_object(bootstrap: &Bootstrap) -> Value {
    json!({
        "replicates": bootstrap.replicates,
        "failed": bootstrap.failed,
        "seed": bootstrap.seed,
        "parameters": bootstrap.parameters.iter().map(|parameter| json!({
            "name": parameter.name,
            "median": parameter.interval.map(|interval| interval.median),
            "ci95": parameter.interval.map(|interval| interval.ci95),
        })).collect::<Vec<_>>(),
    })
}

/// Whole ages within the sample.
pub(super) fn whole_ages(fit: &Fit) -> impl Iterator<Item = f64> {
    let (youngest, oldest) = fit.age_range();
    let (first, last) = (youngest.ceil().max(0.0) as u32, oldest.floor().clamp(0.0, 200.0) as u32);
    (first..=last).map(f64::from)
}

fn length_at_age(fit: &Fit) -> Vec<Value> {
    whole_ages(fit)
        .filter_map(|age| predict(fit, age))
        .map(|band| {
            json!({ "age": band.age, "mean": band.mean, "ci95": band.ci95, "prediction95": band.pi95 })
        })
        .collect()
}

fn comparison_object(test: &Comparison) -> Value {
    json!({
        "hypothesis": test.hypothesis, "chi2": test.chi2, "df": test.df, "p": test.p, "f": test.f,
        "f_df": test.f_df, "f_p": test.f_p, "rss": test.rss, "converged": test.converged,
    })
}

fn ranking(study: &GrowthStudy) -> Value {
    study
        .ranking
        .iter()
        .map(|entry| {
            json!({ "curve": entry.curve, "aicc": entry.aicc, "delta": entry.delta, "weight": entry.weight })
        })
        .collect()
}

fn year_effects(pieces: &[YearEffects]) -> Value {
    if pieces.is_empty() {
        return Value::Null;
    }
    pieces
        .iter()
        .enumerate()
        .flat_map(|(piece, effects)| effects.years.iter().map(move |year| (piece, year)))
        .map(|(piece, year)| {
            json!({
                "year": year.year, "n": year.n, "effect": year.effect, "se": year.se, "ci95": year.ci95,
                "percent": year.percent, "few_increments": year.is_thin, "piece": piece + 1,
            })
        })
        .collect()
}

fn condition(summary: &ConditionSummary) -> Value {
    let standard = summary.standard.as_ref().map(|standard| {
        json!({
            "species": standard.species, "intercept": standard.intercept, "slope": standard.slope,
            "minimum_mm": standard.minimum_mm, "source": standard.source,
        })
    });
    json!({
        "n_weighed": summary.n_weighed,
        "standard_weight": standard,
        "relative_weight": {
            "n": summary.n_relative,
            "n_below_minimum": summary.n_below_minimum,
            "mean": summary.mean_relative_weight,
            "by_category": summary.by_category.iter().map(|row| json!({
                "category": row.category, "n": row.n, "mean": row.mean, "se": row.se,
            })).collect::<Vec<_>>(),
        },
        "fulton_k_mean": summary.mean_fulton_k,
        "size_structure": summary.size_structure.as_ref().map(size_structure),
        "categories_source": summary.categories_source,
    })
}

fn size_structure(found: &SizeStructure) -> Value {
    let at_least: Map<String, Value> = CATEGORY_NAMES
        .iter()
        .zip(found.at_least)
        .map(|(name, count)| ((*name).to_owned(), json!(count)))
        .collect();
    let psd = found.psd.map(|values| {
        let named = ["PSD", "PSD-P", "PSD-M", "PSD-T"].iter().zip(values);
        Value::Object(named.map(|(name, value)| ((*name).to_owned(), percentage(&value))).collect())
    });
    let steps = found.increments.map(|values| {
        let named = ["S-Q", "Q-P", "P-M", "M-T", "T"].iter().zip(values);
        Value::Object(named.map(|(name, value)| ((*name).to_owned(), json!(value))).collect())
    });
    json!({ "n": found.n, "at_least": at_least, "psd": psd, "increments": steps })
}

fn by_key(rows: &[WeightedAge]) -> Value {
    rows.iter()
        .map(|row| {
            json!({
                "age": row.age, "n_aged": row.n_aged, "n_expected": row.n_expected, "mean_mm": row.mean_mm,
                "sd_mm": row.sd_mm, "se_mm": row.se_mm, "ci95_mm": row.ci95_mm, "plain_mean_mm": row.plain_mean_mm,
            })
        })
        .collect()
}

fn percentage(value: &Percentage) -> Value {
    json!({
        "percent": value.percent, "ci95_wilson": value.wilson95,
        "ci95_clopper_pearson": value.clopper_pearson95,
    })
}
