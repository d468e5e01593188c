//! Agreement of readers as JSON. Field names are fixed; a value that does not exist is `null`.

use serde_json::{Map, Value, json};

use crate::analysis::agreement::bias::{BiasRow, PairedDifference};
use crate::analysis::agreement::comparison::{Comparison, PairComparison, Settings};
use crate::analysis::agreement::icc::IntraclassCorrelation;
use crate::analysis::agreement::kappa::{Kappa, KappaWeights};
use crate::analysis::agreement::limits::LimitsOfAgreement;
use crate::analysis::agreement::matrix::AgeMatrix;
use crate::analysis::agreement::precision::Precision;
use crate::analysis::agreement::symmetry::Symmetry;
use crate::analysis::agreement::verdict::Verdict;

/// The document for a comparison. With two readers it is the pair itself; with more, the first block is over all
/// readers, its table-based fields are `null`, and `pairs` holds one block for each pair. `error` names input that
/// was bad besides it (faulty rows).
pub fn agree_json(comparison: &Comparison, error: Option<&str>) -> Value {
    let settings = comparison.settings;
    let mut document = match comparison.pairs.as_slice() {
        [pair] if comparison.readers.len() == 2 => pair_block(pair, settings),
        pairs => {
            let mut block = set_block(comparison);
            let pairs = pairs.iter().map(|pair| Value::Object(pair_block(pair, settings)));
            block.insert("pairs".to_owned(), pairs.collect());
            block
        }
    };
    document.insert("error".to_owned(), json!(error));
    Value::Object(document)
}

fn set_block(comparison: &Comparison) -> Map<String, Value> {
    let first = [
        ("readers", json!(comparison.readers)),
        ("n", json!(comparison.precision.n)),
        ("left_out", json!(comparison.left_out)),
    ];
    let tables = ["symmetry", "kappa", "bias", "difference", "limits", "stuart_maxwell", "matrix"];
    let last = [
        ("icc", json!(comparison.icc.as_ref().map(icc))),
        ("verdict", verdict(&comparison.verdict)),
    ];
    let fields = first
        .into_iter()
        .chain(precision(&comparison.precision, comparison.settings))
        .chain(tables.map(|name| (name, Value::Null)))
        .chain(last);
    fields.map(|(name, value)| (name.to_owned(), value)).collect()
}

fn pair_block(pair: &PairComparison, settings: Settings) -> Map<String, Value> {
    let [first, second] = &pair.readers;
    let directions = [(first, second, &pair.bias_on_first), (second, first, &pair.bias_on_second)];
    let bias: Vec<Value> = directions
        .into_iter()
        .flat_map(|(reference, reader, rows)| {
            rows.iter().map(|row| bias_row_json(reference, reader, row))
        })
        .collect();
    let kappas = KappaWeights::ALL.iter().zip(&pair.kappa);
    let kappas: Map<String, Value> = kappas
        .map(|(weights, value)| (weights.word().to_owned(), json!(value.as_ref().map(kappa))))
        .collect();
    let first = [
        ("readers", json!(pair.readers)),
        ("n", json!(pair.precision.n)),
        ("left_out", json!(pair.left_out)),
    ];
    let last = [
        ("symmetry", pair.symmetry.iter().map(symmetry).collect()),
        ("kappa", Value::Object(kappas)),
        ("bias", Value::Array(bias)),
        ("difference", json!(pair.difference.as_ref().map(difference))),
        ("icc", json!(pair.icc.as_ref().map(icc))),
        ("limits", json!(pair.limits.as_ref().map(limits_json))),
        (
            "stuart_maxwell",
            json!(
                pair.stuart_maxwell
                    .map(|test| json!({ "chi2": test.chi2, "df": test.df, "p": test.p }))
            ),
        ),
        ("matrix", matrix(pair.matrix.as_ref())),
        ("verdict", verdict(&pair.verdict)),
    ];
    let fields = first.into_iter().chain(precision(&pair.precision, settings)).chain(last);
    fields.map(|(name, value)| (name.to_owned(), value)).collect()
}

fn precision(precision: &Precision, settings: Settings) -> Vec<(&'static str, Value)> {
    let errors = precision.percent_errors(settings.mean_age_zero);
    vec![
        (
            "percent_agreement",
            json!({
                "exact": precision.exact,
                "within_1": precision.within_1,
                "within_2": precision.within_2,
            }),
        ),
        ("average_percent_error", json!(errors.average_percent_error)),
        ("mean_cv_percent", json!(errors.mean_cv)),
        ("mean_d_percent", json!(errors.mean_d)),
        (
            "mean_age_zero",
            json!({
                "n": precision.n_mean_age_zero,
                "counted_as": settings.mean_age_zero.word(),
            }),
        ),
    ]
}

fn symmetry(result: &Symmetry) -> Value {
    json!({
        "test": result.test.word(),
        "chi2": result.chi2,
        "df": result.df,
        "p": result.p,
        "p_exact": result.p_exact,
        "p_simulated": result.simulated.map(|simulated| simulated.p),
        "draws": result.simulated.map(|simulated| simulated.draws),
        "seed": result.simulated.map(|simulated| simulated.seed),
        "second_older": result.groups.iter().map(|group| group.above).sum::<u64>(),
        "second_younger": result.groups.iter().map(|group| group.below).sum::<u64>(),
    })
}

fn kappa(kappa: &Kappa) -> Value {
    json!({
        "estimate": kappa.estimate,
        "se": kappa.se,
        "ci95": kappa.ci95,
        "se_null": kappa.se_null,
        "z": kappa.z,
        "p": kappa.p,
        "observed": kappa.observed,
        "expected": kappa.expected,
    })
}

/// One row of an age-bias table.
pub(super) fn bias_row_json(reference: &str, reader: &str, row: &BiasRow) -> Value {
    json!({
        "reference": reference,
        "reader": reader,
        "age": row.age,
        "n": row.n,
        "mean": row.mean,
        "sd": row.sd,
        "se": row.se,
        "ci95": row.ci95,
        "t": row.t,
        "p": row.p,
        "p_holm": row.p_holm,
        "status": row.status.words(),
    })
}

fn difference(difference: &PairedDifference) -> Value {
    json!({
        "direction": "second minus first",
        "n": difference.n,
        "mean": difference.mean,
        "sd": difference.sd,
        "ci95": difference.ci95,
        "t": difference.t,
        "df": difference.df,
        "p": difference.p,
    })
}

fn icc(icc: &IntraclassCorrelation) -> Value {
    json!({
        "of": "ages",
        "n": icc.n,
        "readings": icc.n_readings,
        "icc_1_1": icc.icc_1_1,
        "icc_2_1": icc.icc_2_1,
        "icc_3_1": icc.icc_3_1,
        "icc_1_k": icc.icc_1_k,
        "icc_2_k": icc.icc_2_k,
        "icc_3_k": icc.icc_3_k,
        "mean_squares": {
            "between_fish": icc.between_targets,
            "within_fish": icc.within_targets,
            "between_readers": icc.between_readers,
            "residual": icc.residual,
        },
    })
}

/// Limits of agreement, in the unit of the measurements.
pub(super) fn limits_json(limits: &LimitsOfAgreement) -> Value {
    json!({
        "direction": "second minus first",
        "n": limits.n,
        "multiple": limits.multiple,
        "mean": limits.mean,
        "sd": limits.sd,
        "lower": limits.lower,
        "upper": limits.upper,
        "se_mean": limits.se_mean,
        "se_limit": limits.se_limit,
        "ci95_mean": limits.ci95_mean,
        "ci95_lower": limits.ci95_lower,
        "ci95_upper": limits.ci95_upper,
        "within_sd": limits.within_sd,
        "repeatability": limits.repeatability,
        "trend": limits.trend.map(|trend| json!({ "slope": trend.slope, "se": trend.se, "p": trend.p })),
    })
}

fn matrix(matrix: Option<&AgeMatrix>) -> Value {
    json!({
        "ages": matrix.map_or_else(Vec::new, |matrix| matrix.ages().collect::<Vec<u32>>()),
        "counts": matrix.map_or_else(Vec::new, |matrix| matrix.rows().map(<[u64]>::to_vec).collect::<Vec<_>>()),
    })
}

fn verdict(verdict: &Verdict) -> Value {
    json!({
        "bias": verdict.bias.word(),
        "systematic": verdict.bias.is_systematic(),
        "statements": verdict.statements.iter().map(|statement| json!({
            "text": statement.text,
            "basis": statement.basis.words(),
            "source": (!statement.source.is_empty()).then_some(statement.source),
        })).collect::<Vec<_>>(),
        "next": verdict.next,
        "cautions": verdict.cautions,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::agreement::comparison::compare;
    use crate::analysis::agreement::readings::ReaderAges;

    fn document(columns: &[&[u32]]) -> Value {
        let names = ["kb", "rt", "mo"].iter().take(columns.len()).map(|name| (*name).to_owned());
        let ages =
            columns.iter().map(|column| column.iter().copied().map(Some).collect()).collect();
        let ages = ReaderAges::new(names.collect(), ages).unwrap();
        agree_json(&compare(&ages, Settings::default()), None)
    }

    const PAIR_FIELDS: [&str; 14] = [
        "readers",
        "n",
        "percent_agreement",
        "average_percent_error",
        "mean_cv_percent",
        "mean_d_percent",
        "symmetry",
        "kappa",
        "bias",
        "icc",
        "limits",
        "stuart_maxwell",
        "matrix",
        "mean_age_zero",
    ];

    #[test]
    fn two_readers_fill_every_field() {
        let found = document(&[&[1, 2, 3, 3, 5, 0], &[1, 3, 3, 2, 6, 0]]);
        for field in PAIR_FIELDS {
            assert!(!found[field].is_null(), "{field}");
        }
        assert!(found["pairs"].is_null());
        assert_eq!(found["matrix"]["ages"], json!([0, 1, 2, 3, 4, 5, 6]));
        assert_eq!(found["matrix"]["counts"][2][3], json!(1));
        assert_eq!(found["mean_age_zero"], json!({"n": 1, "counted_as": "zero"}));
        let tests: Vec<&Value> =
            found["symmetry"].as_array().unwrap().iter().map(|t| &t["test"]).collect();
        assert_eq!(tests, ["bowker", "evans-hoenig", "mcnemar"]);
        for field in ["estimate", "se", "ci95", "se_null", "z", "p"] {
            assert!(found["kappa"]["linear"].get(field).is_some(), "{field}");
        }
        for field in ["reference", "age", "n", "mean", "sd", "se", "ci95", "p", "p_holm"] {
            assert!(found["bias"][0].get(field).is_some(), "{field}");
        }
    }

    #[test]
    fn three_readers_have_pairs_and_null_tables() {
        let found = document(&[&[1, 2, 3, 3], &[1, 3, 3, 2], &[1, 2, 4, 3]]);
        for field in ["symmetry", "kappa", "bias", "limits", "stuart_maxwell", "matrix"] {
            assert_eq!(found.get(field), Some(&Value::Null), "{field}");
        }
        assert!(!found["icc"].is_null());
        let pairs = found["pairs"].as_array().unwrap();
        assert_eq!(pairs.len(), 3);
        assert_eq!(pairs[2]["readers"], json!(["rt", "mo"]));
        for field in PAIR_FIELDS {
            assert!(!pairs[0][field].is_null(), "{field}");
        }
    }

    #[test]
    fn what_does_not_exist_is_null() {
        let found = document(&[&[4], &[4]]);
        assert_eq!(found["symmetry"][0]["p"], Value::Null);
        assert_eq!(found["symmetry"][0]["df"], json!(0));
        assert_eq!(found["kappa"]["unweighted"], Value::Null);
        assert_eq!(found["bias"][0]["ci95"], Value::Null);
        assert_eq!(found["percent_agreement"]["exact"], json!(100.0));
        let nobody = document(&[&[], &[]]);
        assert_eq!(nobody["percent_agreement"]["exact"], Value::Null);
        assert_eq!(nobody["matrix"], json!({"ages": [], "counts": []}));
    }
}
