//! Back-calculated lengths as JSON. Field names are fixed; a value that does not exist is `null`.

use serde_json::{Value, json};

use crate::analysis::back_calculation::{
    AgeRow, FishLengths, GroupRow, LengthTables, LengthsResult, MethodComparison, Relation,
};

/// The document for a result. `error` names input that was bad besides it (faulty rows); lengths are in mm at full
/// precision, the relation in mm against µm.
pub fn lengths_json(result: &LengthsResult, error: Option<&str>) -> Value {
    let tables = &result.tables;
    json!({
        "method": result.method.word(),
        "intercept_mm": result.intercept_mm,
        "regression": result.relation.as_ref().map(relation),
        "fish": result.fish.iter().map(fish).collect::<Vec<_>>(),
        "by_age": by_age(tables),
        "by_age_at_capture": groups(&tables.by_age_at_capture, "age_at_capture"),
        "by_year_class": groups(&tables.by_year_class, "year_class"),
        "grand_means": {
            "over_fish": tables.grand_means.over_fish,
            "over_year_classes": tables.grand_means.over_year_classes,
        },
        "increments_mm": tables.increments_mm,
        "increment_sums_mm": tables.increment_sums_mm,
        "lee": lee(result),
        "excluded": result.excluded.iter().map(|one| json!({
            "fish": one.fish, "row": one.row, "reason": one.reason.to_string(),
        })).collect::<Vec<_>>(),
        "warnings": result.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "assumption": result.method.assumption(),
        "uncertainty": null,
        "uncertainty_detail": null,
        "error": error,
    })
}

/// The document where nothing could be calculated.
pub fn lengths_error_json(method: &str, error: &str) -> Value {
    json!({
        "method": method,
        "intercept_mm": null,
        "regression": null,
        "fish": [],
        "by_age": [],
        "by_age_at_capture": [],
        "by_year_class": [],
        "grand_means": { "over_fish": [], "over_year_classes": [] },
        "increments_mm": [],
        "increment_sums_mm": [],
        "lee": [],
        "excluded": [],
        "warnings": [],
        "assumption": null,
        "uncertainty": null,
        "uncertainty_detail": null,
        "error": error,
    })
}

/// Two methods side by side, with their largest difference.
pub fn method_comparison_json(comparison: &MethodComparison) -> Value {
    json!({
        "by_age": comparison.by_age.iter().map(|row| json!({
            "age": row.age, "n": row.n, "first_mm": row.first_mm, "second_mm": row.second_mm,
        })).collect::<Vec<_>>(),
        "largest": comparison.largest.as_ref().map(|largest| json!({
            "fish": largest.fish,
            "annulus": largest.annulus,
            "first_mm": largest.first_mm,
            "second_mm": largest.second_mm,
            "difference_mm": largest.difference_mm(),
        })),
        "only_first": comparison.only_first,
        "only_second": comparison.only_second,
    })
}

fn relation(relation: &Relation) -> Value {
    json!({
        "direction": relation.direction.word(),
        "line": relation.line.word(),
        "shape": relation.shape.word(),
        "slope": relation.slope,
        "intercept": relation.intercept,
        "quadratic": relation.quadratic,
        "per_year": relation.per_year,
        "slope_se": relation.slope_se,
        "intercept_se": relation.intercept_se,
        "r_squared": relation.r_squared,
        "residual_sd": relation.residual_sd,
        "n": relation.n,
        "length_range_mm": relation.length_range_mm,
        "radius_range_um": relation.radius_range_um,
        "lack_of_fit": relation.lack_of_fit.map(|test| json!({
            "f": test.f, "df": [1, test.df], "p": test.p,
        })),
        "breusch_pagan": relation.breusch_pagan.map(|test| json!({ "lm": test.lm, "p": test.p })),
        "worth_a_look": relation.worth_a_look,
    })
}

fn fish(fish: &FishLengths) -> Value {
    json!({
        "fish": fish.key,
        "row": fish.row,
        "age": fish.age(),
        "lengths_mm": fish.lengths_mm,
        "length_at_capture_mm": fish.length_at_capture_mm,
        "radius_at_capture_um": fish.radius_at_capture_um,
        "edge_counted": fish.edge_counted,
        "year_class": fish.year_class,
        "n_structures": fish.n_structures,
        "between_structures_sd_mm": fish.between_structures_sd_mm,
        "flags": fish.flags.iter().map(ToString::to_string).collect::<Vec<_>>(),
    })
}

fn by_age(tables: &LengthTables) -> Vec<Value> {
    let row = |row: &AgeRow| {
        json!({
            "age": row.age, "n": row.n, "mean_mm": row.mean_mm, "sd_mm": row.sd_mm, "se_mm": row.se_mm,
        })
    };
    tables.by_age.iter().map(row).collect()
}

fn groups<K: Copy + Into<Value>>(rows: &[GroupRow<K>], name: &str) -> Vec<Value> {
    rows.iter()
        .map(|row| {
            let group: Value = row.group.into();
            json!({ name: group, "n": row.n, "means_mm": row.means_mm, "n_by_age": row.n_by_age })
        })
        .collect()
}

fn lee(result: &LengthsResult) -> Vec<Value> {
    result
        .lee
        .iter()
        .map(|row| {
            json!({
                "annulus": row.annulus, "n": row.n, "slope": row.slope, "se": row.se, "t": row.t, "p": row.p,
                "p_holm": row.p_holm,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::back_calculation::{Method, Options, SampleFish, back_calculate};
    use crate::domain::units::{Micrometres, Millimetres};

    fn keys(value: &Value) -> Vec<&str> {
        value.as_object().unwrap().keys().map(String::as_str).collect()
    }

    fn result(method: Method) -> LengthsResult {
        let fish = |key: &str, length: f64, total: f64| {
            let annuli = vec![Micrometres(0.4 * total)];
            SampleFish::new(key, Some(Millimetres(length)), Some(Micrometres(total)), annuli)
        };
        let sample = [
            fish("1", 200.0, 1500.0),
            fish("2", 300.0, 2000.0),
            fish("3", 350.0, 2600.0),
            fish("4", 90.0, f64::NAN),
        ];
        back_calculate(&sample, method, &Options::default()).unwrap()
    }

    #[test]
    fn what_does_not_exist_is_null() {
        let document = lengths_json(&result(Method::DirectProportion), None);
        assert_eq!(document["regression"], Value::Null);
        assert_eq!(document["intercept_mm"], Value::Null);
        assert_eq!(document["error"], Value::Null);
        assert_eq!(document["fish"][0]["year_class"], Value::Null);
        assert_eq!(document["excluded"][0]["row"], Value::Null);
        assert_eq!(document["excluded"][0]["fish"], "4");
        assert_eq!(document["by_age"][0]["mean_mm"].as_f64(), Some(0.4 * 850.0 / 3.0));
    }

    #[test]
    fn the_fixed_fields_are_there() {
        let document = lengths_json(&result(Method::BodyProportional), Some("row 3"));
        let of_result = [
            "method",
            "intercept_mm",
            "regression",
            "fish",
            "by_age",
            "by_age_at_capture",
            "by_year_class",
            "grand_means",
            "increments_mm",
            "lee",
            "excluded",
            "error",
        ];
        let failed = lengths_error_json("fraser-lee", "no fish");
        for name in of_result {
            assert!(keys(&document).contains(&name), "{name}");
            assert!(keys(&failed).contains(&name), "{name}");
        }
        assert_eq!(keys(&document), keys(&failed));
        for name in [
            "direction",
            "slope",
            "intercept",
            "slope_se",
            "intercept_se",
            "r_squared",
            "residual_sd",
            "n",
        ] {
            assert!(!document["regression"][name].is_null(), "{name}");
        }
        for name in ["fish", "age", "lengths_mm", "flags"] {
            assert!(keys(&document["fish"][0]).contains(&name), "{name}");
        }
        assert_eq!(document["regression"]["direction"], "length-on-radius");
        assert_eq!(document["error"], "row 3");
    }
}
