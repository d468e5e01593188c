//! Control charts and the interval of a share against check values 27: Shewhart 1931; Montgomery, Introduction to
//! Statistical Quality Control; Wilson 1927; arithmetic by numpy and statsmodels.

use winterline::analysis::quality::control_chart::{
    individuals_chart, share_chart, wilson_interval,
};

use crate::published::{Comparison, Published};

const FILE: &str = "27_quality_control";

#[test]
fn individuals_chart_of_batch_cv() {
    let file = Published::open(FILE);
    let case = file.case("individuals_chart_of_batch_CV");
    let values: Vec<f64> = serde_json::from_value(case["input"].clone()).unwrap();
    let found = individuals_chart(&values).unwrap();
    let mut compared = Comparison::within(file.relative(case));
    compared.number("centre", found.centre, &case["expected"]["centre"]);
    compared.number("range", found.mean_moving_range, &case["expected"]["mean_moving_range"]);
    compared.number("sigma", found.sigma, &case["expected"]["sigma"]);
    compared.number("upper", found.upper, &case["expected"]["ucl"]);
    compared.number("lower", found.lower, &case["expected"]["lcl"]);
    let outside: Vec<usize> =
        serde_json::from_value(case["expected"]["out_of_control_index"].clone()).unwrap();
    assert_eq!(found.outside, outside);
    assert_eq!(compared.compared, 5);
}

#[test]
fn share_chart_of_exact_agreement() {
    let file = Published::open(FILE);
    let case = file.case("p_chart_of_exact_agreement");
    let batches: Vec<(u64, u64)> =
        serde_json::from_value(case["input"]["n_and_agree"].clone()).unwrap();
    let found = share_chart(&batches).unwrap();
    let mut compared = Comparison::within(file.relative(case));
    compared.number("centre", found.centre, &case["expected"]["centre"]);
    for (index, (share, limits)) in found.shares.iter().zip(&found.limits).enumerate() {
        compared.number("share", share.unwrap(), &case["expected"]["p"][index]);
        compared.numbers("limits", &limits.unwrap(), &case["expected"]["limits"][index]);
    }
    assert_eq!(compared.compared, 1 + 5 * 3);
}

#[test]
fn wilson_intervals() {
    let file = Published::open(FILE);
    let case = file.case("wilson_intervals");
    let trials: Vec<(u64, u64)> = serde_json::from_value(case["input"].clone()).unwrap();
    let expected: Vec<[f64; 2]> = serde_json::from_value(case["expected"].clone()).unwrap();
    let mut compared = 0;
    for ((successes, n), expected) in trials.into_iter().zip(expected) {
        let found = wilson_interval(successes, n).unwrap();
        for (found, expected) in found.into_iter().zip(expected) {
            // Relative as the file says; the lower end at no success is 0, which the file holds as 3e-17.
            let allowed = if expected.abs() < 1e-12 { 1e-12 } else { 1e-9 * expected };
            assert!((found - expected).abs() <= allowed, "{successes} of {n}: {found} {expected}");
            compared += 1;
        }
    }
    assert_eq!(compared, 6);
}
