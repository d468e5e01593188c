//! Precision and age bias of readers against check values 13 and 14 and two published examples.

use serde_json::Value;
use winterline::analysis::agreement::bias::{BiasStatus, age_bias, paired_difference};
use winterline::analysis::agreement::matrix::AgeMatrix;
use winterline::analysis::agreement::precision::{
    MeanAgeZero, PercentErrors, Precision, fish_percent_error_and_cv,
};
use winterline::analysis::agreement::readings::ReaderAges;
use winterline::analysis::numerics::holm::holm;
use winterline::analysis::numerics::regression::Line;

use crate::published::{Comparison, Published};

/// A list of whole ages.
pub fn list(value: &Value) -> Vec<u32> {
    let numbers = value.as_array().unwrap_or_else(|| panic!("no list: {value}"));
    numbers.iter().map(|number| u32::try_from(number.as_u64().unwrap()).unwrap()).collect()
}

/// Ages of some readers, all fish read by all.
pub fn readers(columns: &[Vec<u32>]) -> ReaderAges {
    let names = (1..=columns.len()).map(|index| format!("reader {index}")).collect();
    let ages = columns.iter().map(|column| column.iter().copied().map(Some).collect()).collect();
    ReaderAges::new(names, ages).unwrap()
}

/// A counted table with its lowest age.
pub fn counted(lowest: u32, rows: &Value) -> AgeMatrix {
    let rows: Vec<Vec<u64>> = serde_json::from_value(rows.clone()).unwrap();
    AgeMatrix::from_counts(lowest, &rows).unwrap()
}

/// A number that may be missing on both sides.
pub fn optional(compared: &mut Comparison, what: &str, found: Option<f64>, expected: &Value) {
    match found {
        Some(found) => compared.number(what, found, expected),
        None => {
            assert!(expected.is_null(), "{what}: no value, expected {expected}");
            compared.compared += 1;
        }
    }
}

/// A number within an absolute tolerance, such as half a unit of the last printed digit.
pub fn printed(found: f64, expected: &Value, allowed: f64) {
    let expected = expected.as_f64().unwrap();
    assert!(
        (found - expected).abs() <= allowed * (1.0 + 1e-9),
        "found {found}, printed {expected}"
    );
}

fn columns_of(input: &Value) -> Vec<Vec<u32>> {
    if let Some(fish) = input["ages"].as_array() {
        let fish: Vec<Vec<u32>> = fish.iter().map(list).collect();
        return (0..fish[0].len())
            .map(|reader| fish.iter().map(|ages| ages[reader]).collect())
            .collect();
    }
    let names = ["reader1", "reader2", "reader3"].into_iter();
    names.filter(|name| !input[*name].is_null()).map(|name| list(&input[name])).collect()
}

/// Check 13: Beamish & Fournier 1981, Chang 1982; arithmetic by numpy.
#[test]
fn precision_of_two_and_more_readers() {
    let file = Published::open("13_reader_precision");
    let mut compared = Comparison::within(1e-9);
    for case in file.cases() {
        assert_eq!(file.relative(case), 1e-9);
        let (columns, expected) = (columns_of(&case["input"]), &case["expected"]);
        let ages = readers(&columns);
        let precision = Precision::of(&ages.complete());
        compared.count("n", precision.n as usize, &expected["n"]);
        compared.count("readers", columns.len(), &expected["readers"]);
        compared.count("mean age 0", precision.n_mean_age_zero as usize, &expected["n_mean_zero"]);
        let with = precision.percent_errors(MeanAgeZero::Zero);
        let without = precision.percent_errors(MeanAgeZero::LeftOut);
        percent_errors(&mut compared, with, expected, "");
        percent_errors(&mut compared, without, expected, "_excluding_mean_zero");
        compared.number("exact", precision.exact.unwrap(), &expected["PA_all_readers_identical"]);
        compared.number("within 1", precision.within_1.unwrap(), &expected["PA_all_within_1"]);
        each_fish(&mut compared, &columns, expected);
        for (pair, expected) in expected["pairwise"].as_object().unwrap() {
            each_pair(&mut compared, &ages, pair, expected);
        }
    }
    // 11 a case, 12 values of single fish, 5 for each of 7 pairs.
    assert_eq!(compared.compared, 3 * 11 + 12 + 7 * 5);
}

fn percent_errors(compared: &mut Comparison, found: PercentErrors, expected: &Value, ending: &str) {
    let three = [("APE", found.average_percent_error), ("CV", found.mean_cv), ("D", found.mean_d)];
    for (name, value) in three {
        compared.number(name, value.unwrap(), &expected[format!("{name}{ending}")]);
    }
}

fn each_fish(compared: &mut Comparison, columns: &[Vec<u32>], expected: &Value) {
    let Some(errors) = expected["APE_per_fish"].as_array() else { return };
    for (fish, error) in errors.iter().enumerate() {
        let ages: Vec<u32> = columns.iter().map(|column| column[fish]).collect();
        let (percent_error, cv) = fish_percent_error_and_cv(&ages).unwrap();
        compared.number("APE of a fish", percent_error, error);
        compared.number("CV of a fish", cv, &expected["CV_per_fish"][fish]);
    }
}

fn each_pair(compared: &mut Comparison, ages: &ReaderAges, pair: &str, expected: &Value) {
    let (first, second) = pair.split_once('-').unwrap();
    let index = |text: &str| text.parse::<usize>().unwrap() - 1;
    let complete = ages.pair(index(first), index(second)).unwrap();
    let matrix = AgeMatrix::from_ages(&complete).unwrap();
    let precision = Precision::of_matrix(&matrix);
    // Cell by cell and fish by fish must say the same.
    let by_fish = Precision::of(&complete);
    assert_eq!((precision.n, precision.exact), (by_fish.n, by_fish.exact));
    compared.number("PA0", precision.exact.unwrap(), &expected["PA0"]);
    compared.number("PA1", precision.within_1.unwrap(), &expected["PA1"]);
    compared.number("PA2", precision.within_2.unwrap(), &expected["PA2"]);
    let difference = paired_difference(&matrix).unwrap();
    compared.number("mean difference", difference.mean, &expected["mean_diff"]);
    compared.number("sd of differences", difference.sd.unwrap(), &expected["sd_diff"]);
}

/// Check 14: the table of Campana, Annand & McMillan 1995, Student's t, Holm 1979; arithmetic by scipy.
#[test]
fn age_bias_table() {
    let file = Published::open("14_age_bias");
    let case = file.case("reader2_against_reader1");
    let expected = &case["expected"];
    let mut compared = Comparison::within(file.relative(case));
    let ages = readers(&columns_of(&case["input"]));
    let matrix = AgeMatrix::from_ages(&ages.complete()).unwrap();
    let rows = age_bias(&matrix);
    let expected_rows = expected["rows"].as_array().unwrap();
    assert_eq!(rows.len(), expected_rows.len());
    for (row, expected) in rows.iter().zip(expected_rows) {
        compared.count("age", row.age as usize, &expected["ref_age"]);
        compared.count("n", row.n as usize, &expected["n"]);
        compared.number("mean", row.mean, &expected["mean"]);
        for (what, found) in
            [("sd", row.sd), ("se", row.se), ("t", row.t), ("p", row.p), ("p_holm", row.p_holm)]
        {
            optional(&mut compared, what, found, &expected[what]);
        }
        match row.ci95 {
            Some(ci95) => compared.numbers("ci95", &ci95, &expected["ci95"]),
            None => assert!(expected["ci95"].is_null()),
        }
        let status = match row.status {
            BiasStatus::Tested => "tested",
            BiasStatus::TooFew => "n<2, not tested",
            BiasStatus::NoSpread => "zero variance, not tested",
        };
        assert_eq!(expected["status"], status);
    }
    let (overall, expected) = (paired_difference(&matrix).unwrap(), &expected["overall_paired"]);
    compared.count("n", overall.n as usize, &expected["n"]);
    compared.number("mean", overall.mean, &expected["mean_diff"]);
    compared.number("sd", overall.sd.unwrap(), &expected["sd_diff"]);
    compared.number("t", overall.t.unwrap(), &expected["t"]);
    compared.count("df", overall.df as usize, &expected["df"]);
    compared.number("p", overall.p.unwrap(), &expected["p"]);
    // Eight a row and the two limits of ten rows; six of the paired test.
    assert_eq!(compared.compared, 11 * 8 + 10 * 2 + 6);
}

/// Check 14: Holm 1979.
#[test]
fn holm_adjustment_as_published() {
    let file = Published::open("14_age_bias");
    let case = file.case("holm_adjustment");
    let p: Vec<Option<f64>> =
        case["input"]["p"].as_array().unwrap().iter().map(Value::as_f64).collect();
    let mut compared = Comparison::within(file.relative(case));
    let found: Vec<f64> = holm(&p).into_iter().map(Option::unwrap).collect();
    compared.numbers("p", &found, &case["expected"]);
    assert_eq!(compared.compared, 5);
}

/// Chang 1982, Tables 1 and 2 (seen). The printed D follow from the printed CV with the root of 3 taken as 1.73.
#[test]
fn walleye_pollock_of_chang_1982() {
    let file = Published::open("chang_1982");
    let mut compared = 0;
    let mut readings = Vec::new();
    for name in ["reader_1", "reader_2"] {
        let case = file.case(name);
        let columns: Vec<Vec<u32>> =
            case["input"]["readings"].as_array().unwrap().iter().map(list).collect();
        let precision = Precision::of(&readers(&columns).complete());
        let found = precision.counting_zero;
        let [ape, cv, d] =
            [found.average_percent_error, found.mean_cv, found.mean_d].map(Option::unwrap);
        let expected = &case["expected"];
        printed(ape / 100.0, &expected["mean_ape"], 0.00005);
        printed(cv / 100.0, &expected["mean_cv"], 0.00005);
        printed(d / 100.0 * 3_f64.sqrt() / 1.73, &expected["mean_d_with_1_73"], 0.00005);
        let again = &case["recomputed"];
        printed(ape, &again["ape_percent"], 0.00005);
        printed(cv, &again["cv_percent"], 0.00005);
        printed(d, &again["d_percent"], 0.00005);
        printed(precision.exact.unwrap(), &again["exact"], 1e-9);
        printed(precision.within_1.unwrap(), &again["within_1"], 1e-9);
        printed(precision.within_2.unwrap(), &again["within_2"], 1e-9);
        assert_eq!(again["n"], precision.n);
        assert_eq!(again["n_mean_zero"], precision.n_mean_age_zero);
        compared += 11;
        readings.push(columns);
    }
    // The misprint of fish 2: 7, 6, 6 gives 0.0702 and not 0.0717.
    let (error, _) = fish_percent_error_and_cv(&[7, 6, 6]).unwrap();
    assert!((error - 7.02).abs() < 0.005);
    let joined: Vec<Vec<u32>> = readings.iter().map(|columns| columns.concat()).collect();
    let between = Precision::of(&readers(&joined).complete());
    let expected = &file.case("reader_1_against_reader_2")["expected"];
    assert_eq!(expected["pairs"], between.n);
    printed(between.within_1.unwrap(), &expected["within_1_percent"], 0.05);
    printed(between.within_2.unwrap(), &expected["within_2_percent"], 0.05);
    compared += 3;
    assert_eq!(compared, 25);
}

/// Campana, Annand & McMillan 1995, Tables 1 to 3 (seen): 509 otoliths, ager 2 biased.
#[test]
fn biased_agers_of_campana_1995() {
    let file = Published::open("campana_1995");
    let case = file.case("printed");
    let expected = &case["expected"];
    let lowest = u32::try_from(case["input"]["lowest_age"].as_u64().unwrap()).unwrap();
    let matrix = counted(lowest, &case["input"]["table_rows_ager1"]);
    let precision = Precision::of_matrix(&matrix);
    let errors = precision.counting_zero;
    printed(errors.mean_cv.unwrap(), &expected["cv_percent"], 0.005);
    printed(errors.average_percent_error.unwrap(), &expected["ape_percent"], 0.005);
    printed(precision.exact.unwrap(), &expected["percent_agreement"], 0.05);
    let difference = paired_difference(&matrix).unwrap();
    let [low, high] = difference.ci95.unwrap();
    // Printed without its sign: ager 2 is the younger.
    printed(-difference.mean, &expected["mean_difference"], 0.005);
    printed((high - low) / 2.0, &expected["mean_difference_half_width"], 0.005);
    let pairs = matrix.mirror_cells();
    let (older, younger) =
        pairs.iter().fold((0, 0), |sums, pair| (sums.0 + pair.above, sums.1 + pair.below));
    assert_eq!(expected["ager2_older"], older);
    assert_eq!(expected["ager2_younger"], younger);
    assert_eq!(expected["ties"], matrix.n() - older - younger);
    assert!(difference.p.unwrap() < 0.0005);

    let fish = |axis: fn(u32, u32) -> u32| -> Vec<f64> {
        let cells = matrix.cells();
        cells.flat_map(|(a, b, n)| vec![f64::from(axis(a, b)); n as usize]).collect()
    };
    let line = Line::fit(&fish(|first, _| first), &fish(|_, second| second)).unwrap();
    let limits = line.limits95().unwrap();
    let half = |[low, high]: [f64; 2]| (high - low) / 2.0;
    printed(line.r.unwrap(), &expected["correlation"], 0.005);
    printed(line.slope, &expected["slope"], 0.005);
    printed(half(limits.slope), &expected["slope_half_width"], 0.005);
    printed(line.intercept, &expected["intercept"], 0.005);
    printed(half(limits.intercept), &expected["intercept_half_width"], 0.005);
    let mut compared = 14;

    let again = &file.case("recomputed")["expected"];
    let values = [
        ("cv_percent", errors.mean_cv),
        ("ape_percent", errors.average_percent_error),
        ("d_percent", errors.mean_d),
        ("exact", precision.exact),
        ("within_1", precision.within_1),
        ("within_2", precision.within_2),
    ];
    for (name, found) in values {
        printed(found.unwrap(), &again[name], 0.00005);
        compared += 1;
    }
    assert_eq!(again["n"], precision.n);
    assert_eq!(again["n_mean_zero"], precision.n_mean_age_zero);
    compared += 2;
    assert_eq!(compared, 22);
}
