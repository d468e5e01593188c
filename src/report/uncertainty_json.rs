//! Errors carried to lengths and parameters, as JSON. Field names are fixed; a value that does not exist is `null`.

use serde_json::{Map, Value, json};

use crate::analysis::uncertainty::{Propagated, Scope, Source};

/// Every source with its share of the variance; `null` where its size is not known.
pub fn sources_json(found: &Propagated) -> Value {
    found
        .sources
        .iter()
        .map(|one| json!({ "source": one.source.name(), "share": one.share, "note": one.note }))
        .collect()
}

/// Limits of mean lengths and parameters with all sources together, and the shares of each.
pub fn propagated_json(found: &Propagated) -> Value {
    json!({
        "replicates": found.replicates,
        "seed": found.seed,
        "speaks_of": match found.scope {
            Scope::Population => "the population",
            Scope::TheseFish => "these fish",
        },
        "n_fish": found.n_fish,
        "failed_relations": found.failed_relations,
        "failed_curves": found.failed_curves,
        "by_age": found.by_age.iter().map(|row| json!({
            "age": row.age, "n": row.n, "mean_mm": row.mean_mm, "se_mm": row.se_mm, "ci95_mm": row.ci95_mm,
            "shares": shares(&row.shares),
        })).collect::<Vec<_>>(),
        "parameters": found.parameters.iter().map(|one| json!({
            "name": one.name, "estimate": one.estimate, "se": one.se, "ci95": one.ci95,
            "shares": shares(&one.shares),
        })).collect::<Vec<_>>(),
        "curve_error": found.curve_error,
        "other_hypothesis": found.other_hypothesis.map(|(age, mm)| json!({ "age": age, "difference_mm": mm })),
        "warnings": found.warnings(),
    })
}

fn shares(shares: &[(Source, f64)]) -> Value {
    let named = shares.iter().map(|(source, share)| (source.name().to_owned(), json!(share)));
    Value::Object(named.collect::<Map<_, _>>())
}
