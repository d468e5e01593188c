//! Mortality and year-class strength against check values 20.

use serde_json::Value;
use winterline::analysis::population::catch_curve::{CatchCurve, FirstAge};
use winterline::analysis::population::chapman_robson::ChapmanRobson;
use winterline::analysis::population::weighted_regression::CatchLine;
use winterline::analysis::population::year_class_strength::strength_over_years;

use crate::published::{Comparison, Published, floats, indices};

const FILE: &str = "20_catch_curve";

fn catch(ages: &Value, counts: &Value) -> Vec<(u32, f64)> {
    indices(ages).into_iter().map(|age| age as u32).zip(floats(counts)).collect()
}

fn compare(compared: &mut Comparison, found: &ChapmanRobson, expected: &Value) {
    let inflation = found.inflation().unwrap();
    for (name, value) in [
        ("n", found.n),
        ("T", found.t),
        ("S", found.survival),
        ("se_S", found.survival_se),
        ("A", found.annual_mortality()),
        ("Z", found.z),
        ("se_Z", found.z_se),
        ("chi2", found.chi2),
        ("c_hat", found.c_hat.unwrap()),
        ("se_S_inflated", found.survival_se * inflation),
        ("se_Z_inflated", found.z_se * inflation),
        ("Z_second_order", found.z_less_half_bias_term()),
    ] {
        compared.number(name, value, &expected[name]);
    }
    compared.numbers("observed", &found.observed, &expected["observed"]);
    compared.numbers("expected", &found.expected, &expected["expected"]);
    compared.count("divisor", found.ages.len() - 1, &expected["c_divisor"]);
}

/// Rock bass, Robson & Chapman 1961, Trans. Am. Fish. Soc. 90:181-189, as reproduced in Seber 1982, section 10:
/// S = 0.4475, n = 243, T = 196, standard error 0.0238 (from memory, recomputed); the rest by numpy.
#[test]
fn rock_bass_of_robson_and_chapman() {
    let file = Published::open(FILE);
    let case = file.case("Robson_Chapman_1961_rock_bass");
    let catch = catch(&case["input"]["coded_age"], &case["input"]["count"]);
    let found = ChapmanRobson::estimate(&catch, 0).unwrap();
    assert!((found.survival - 0.4475).abs() < 0.00005);
    assert!((found.survival_se - 0.0238).abs() < 0.00005);
    let mut compared = Comparison::within(file.relative(case));
    compare(&mut compared, &found, &case["expected"]);
    assert_eq!(compared.compared, 12 + 6 + 6 + 1);
}

/// Chapman & Robson 1960; Smith et al. 2012 for peak plus one; values by numpy.
#[test]
fn chapman_robson_from_the_peak_plus_one() {
    let file = Published::open(FILE);
    let case = file.case("chapman_robson_peak_plus_one");
    let catch = catch(&case["input"]["age"], &case["input"]["count"]);
    assert_eq!(
        FirstAge::CHAPMAN_ROBSON.of(&catch).map(u64::from),
        case["input"]["first_age_used"].as_u64()
    );
    let found = CatchCurve::estimate(&catch, None).unwrap().chapman_robson.unwrap();
    let mut compared = Comparison::within(file.relative(case));
    compare(&mut compared, &found, &case["expected"]);
    assert_eq!(compared.compared, 12 + 8 + 8 + 1);
}

fn compare_line(compared: &mut Comparison, line: &CatchLine, expected: &Value) {
    compared.number("Z", line.z, &expected["Z"]);
    compared.number("se_Z", line.z_se, &expected["se_Z"]);
    compared.numbers("ci95_Z", &line.z_ci95.unwrap(), &expected["ci95_Z"]);
    compared.number("intercept", line.intercept, &expected["intercept"]);
    compared.number("S", line.survival(), &expected["S"]);
    compared.number("A", line.annual_mortality(), &expected["A"]);
    compared.numbers("residuals", &line.residuals, &expected["residuals"]);
    let studentised: Vec<f64> = line.studentised.iter().map(|t| t.unwrap()).collect();
    compared.numbers("studentised", &studentised, &expected["externally_studentized"]);
}

/// Maceina & Bettoli 1998 for the weights; both lines and their residuals by statsmodels.
#[test]
fn weighted_line_from_the_peak() {
    let file = Published::open(FILE);
    let case = file.case("regression_from_peak");
    let (input, expected) = (&case["input"], &case["expected"]);
    let catch = catch(&input["age"], &input["count"]);
    let first = FirstAge::REGRESSION.of(&catch).unwrap();
    assert_eq!(Some(u64::from(first)), input["first_age_used"].as_u64());
    let line = CatchLine::fit(&catch, first).unwrap();
    let mut compared = Comparison::within(file.relative(case));
    for (age, expected) in line.ages.iter().zip(expected["ages"].as_array().unwrap()) {
        compared.count("age", *age as usize, expected);
    }
    compared.numbers("ln catch", &line.ln_catch, &expected["ln_catch"]);
    compared.numbers("weights", &line.weights, &expected["weights"]);
    compare_line(&mut compared, &line, &expected["weighted"]);
    let plain = CatchLine::fit_unweighted(&catch, first).unwrap();
    compare_line(&mut compared, &plain, &expected["unweighted"]);
    assert_eq!(compared.compared, 3 * 9 + 2 * (7 + 18));
}

/// Maceina 1997: mean residual of each year class over three sampling years; values by statsmodels.
#[test]
fn year_class_strength_over_sampling_years() {
    let file = Published::open(FILE);
    let case = file.case("year_class_strength_from_residuals");
    let rows: Vec<(i16, u32, f64)> = case["input"]["rows_year_age_count"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            let row = indices(row);
            (row[0] as i16, row[1] as u32, row[2] as f64)
        })
        .collect();
    let first = case["input"]["first_age_used"].as_u64().unwrap() as u32;
    let found = strength_over_years(&rows, FirstAge::At(first));
    let expected = case["expected"].as_object().unwrap();
    assert_eq!(found.len(), expected.len());
    let mut compared = Comparison::within(1e-9);
    for class in &found {
        let expected = &expected[&class.year_class.to_string()];
        compared.count("n", class.n, &expected["n"]);
        compared.number("mean residual", class.mean_residual, &expected["mean_residual"]);
    }
    assert_eq!(compared.compared, 18);
}

/// Half the bias term against simulation: geometric samples with known survival (the rule behind Chapman & Robson 1960),
/// here with a fixed stream of random numbers.
#[test]
fn half_the_bias_term_removes_most_of_the_bias() {
    let (survival, n, samples) = (0.5_f64, 50, 40_000);
    let mut random = winterline::analysis::numerics::splitmix::SplitMix64::new(9);
    let (mut plain, mut corrected) = (0.0, 0.0);
    for _ in 0..samples {
        let mut counts = std::collections::BTreeMap::new();
        for _ in 0..n {
            let age = ((1.0 - random.next_unit()).ln() / survival.ln()).floor() as u32;
            *counts.entry(age).or_insert(0.0) += 1.0;
        }
        let catch: Vec<(u32, f64)> = counts.into_iter().collect();
        let found = ChapmanRobson::estimate(&catch, 0).unwrap();
        plain += found.z / f64::from(samples);
        corrected += found.z_less_half_bias_term() / f64::from(samples);
    }
    let z = -survival.ln();
    // Plain Z is off by about (1 - S)²/(2 n S) = 0.005; its mean has a standard error of 0.0005 here.
    assert!((plain - z - 0.005).abs() < 0.002, "{plain} against {z}");
    assert!((corrected - z).abs() < 0.002, "{corrected} against {z}");
}
