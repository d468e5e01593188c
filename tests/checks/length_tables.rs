//! Lee's phenomenon and the tables of lengths (Lee 1912, 1920; Ricker 1969; Holm 1979), and a published table of
//! direct-proportion lengths (Deason & Hile 1947).

use winterline::analysis::back_calculation::{
    Method, Options, SampleFish, back_calculate, compare_methods,
};
use winterline::domain::units::{Micrometres, Millimetres};

use crate::back_calculation::{given, sample};
use crate::published::{Comparison, Published};

#[test]
fn slopes_of_lees_phenomenon() {
    let published = Published::open("05_lee_phenomenon_and_length_tables");
    let case = published.case("slope_by_annulus");
    let sample = sample(&case["input"]["fish"]);
    let result = back_calculate(&sample, given(55.0), &Options::default()).unwrap();
    let expected = case["expected"].as_array().unwrap();
    assert_eq!(result.lee.len(), expected.len());
    let mut c = Comparison::within(published.relative(case));
    for (row, expected) in result.lee.iter().zip(expected) {
        c.count("annulus", row.annulus, &expected["annulus"]);
        c.count("n", row.n, &expected["n"]);
        c.number("slope", row.slope, &expected["slope_mm_per_year"]);
        c.number("se", row.se, &expected["se"]);
        c.number("t", row.t.unwrap(), &expected["t"]);
        c.number("p", row.p.unwrap(), &expected["p"]);
        c.number("p adjusted", row.p_holm.unwrap(), &expected["p_holm"]);
    }
    assert_eq!(c.compared, 49);
}

#[test]
fn tables_by_year_class_and_grand_means() {
    let published = Published::open("05_lee_phenomenon_and_length_tables");
    let case = published.case("year_class_table");
    let sample = sample(&published.case("slope_by_annulus")["input"]["fish"]);
    let tables = back_calculate(&sample, given(55.0), &Options::default()).unwrap().tables;
    let expected = &case["expected"];
    let classes = expected["by_year_class"].as_object().unwrap();
    assert_eq!(tables.by_year_class.len(), classes.len());
    let mut c = Comparison::within(published.relative(case));
    for row in &tables.by_year_class {
        let expected = &classes[&row.group.to_string()];
        c.count("n", row.n, &expected["n"]);
        c.numbers("class mean", &row.means_mm, &expected["mean_length_at_annulus"]);
    }
    for (row, expected) in tables.by_age.iter().zip(expected["n_by_annulus"].as_array().unwrap()) {
        c.count("n by age", row.n, expected);
    }
    let means = &tables.grand_means;
    c.numbers("over fish", &means.over_fish, &expected["grand_mean_over_fish"]);
    let over_classes = &expected["mean_of_year_class_means"];
    c.numbers("over year classes", &means.over_year_classes, over_classes);
    c.numbers("increments", &tables.increments_mm, &expected["mean_increment"]);
    c.numbers("sums", &tables.increment_sums_mm, &expected["sum_of_mean_increments"]);
    assert_eq!(c.compared, 6 + 28 + 9 + 36);
}

/// The smallest uncertainty of the choice of hypothesis (Francis 1990): the largest gap of the two hypotheses in
/// the reference lengths of the same sample.
#[test]
fn the_largest_difference_of_two_methods_is_the_largest_reference_one() {
    let published = Published::open("01_backcalc_linear");
    let sample = sample(&published.case("regressions")["input"]["fish"]);
    let run = |method| back_calculate(&sample, method, &Options::default()).unwrap();
    let compared = compare_methods(&run(Method::ScaleProportional), &run(Method::BodyProportional));
    let reference = |case: &str| published.case(case)["expected"].clone();
    let scale = reference("scale_proportional_linear_S_on_L");
    let body = reference("body_proportional_linear_L_on_S");
    let mut largest = (0.0, String::new(), 0);
    for (key, lengths) in scale.as_object().unwrap() {
        for (index, length) in lengths.as_array().unwrap().iter().enumerate() {
            let gap = length.as_f64().unwrap() - body[key][index].as_f64().unwrap();
            if gap.abs() > f64::abs(largest.0) {
                largest = (gap, key.clone(), index + 1);
            }
        }
    }
    let found = compared.largest.unwrap();
    assert_eq!((found.fish.clone(), found.annulus), (largest.1, largest.2));
    assert!((found.difference_mm() - largest.0).abs() < 1e-6);
    assert_eq!(compared.by_age.iter().map(|row| row.n).sum::<usize>(), 60);
}

/// Deason & Hile 1947, Trans. Am. Fish. Soc. 74:88-142, Table 8, p. 108: male kiyi, mean direct-proportion
/// standard length (mm) at each year by age group, with the printed grand averages.
const DEASON_HILE: [(u32, &[f64]); 6] = [
    (7, &[112.0, 171.0]),
    (37, &[99.0, 144.0, 179.0]),
    (71, &[101.0, 143.0, 174.0, 197.0]),
    (44, &[97.0, 136.0, 166.0, 186.0, 202.0]),
    (11, &[96.0, 137.0, 163.0, 180.0, 197.0, 211.0]),
    (2, &[94.0, 136.0, 168.0, 189.0, 202.0, 210.0, 221.0]),
];
const GRAND_AVERAGES: [f64; 7] = [100.0, 142.0, 172.0, 192.0, 201.0, 211.0, 221.0];
const NUMBERS: [usize; 7] = [172, 172, 165, 128, 57, 13, 2];
const INCREMENTS: [f64; 7] = [100.0, 42.0, 30.0, 20.0, 9.0, 10.0, 10.0];

#[test]
fn deason_and_hile_table_8() {
    // Direct proportion gives a printed length back from a radius in proportion to it.
    let mut sample = Vec::new();
    for (n, lengths) in DEASON_HILE {
        for i in 0..n {
            let annuli = lengths.iter().map(|length| Micrometres(10.0 * length)).collect();
            let key = format!("{}-{i}", lengths.len());
            let (length, total) = (Some(Millimetres(250.0)), Some(Micrometres(2500.0)));
            sample.push(SampleFish::new(key, length, total, annuli));
        }
    }
    let result = back_calculate(&sample, Method::DirectProportion, &Options::default()).unwrap();
    let mut compared = 0;
    for (index, row) in result.tables.by_age.iter().enumerate() {
        // The first mean, 99.59, was printed as 100: half a unit of the last printed digit throughout.
        assert!((row.mean_mm - GRAND_AVERAGES[index]).abs() <= 0.5, "{row:?}");
        assert_eq!(row.n, NUMBERS[index]);
        compared += 2;
    }
    for (row, (n, lengths)) in result.tables.by_age_at_capture.iter().zip(DEASON_HILE) {
        assert_eq!((row.group, row.n), (lengths.len(), n as usize));
        for (found, printed) in row.means_mm.iter().zip(lengths) {
            assert!((found - printed).abs() < 1e-9);
            compared += 1;
        }
    }
    // Printed increments are differences of the rounded averages.
    let means: Vec<f64> =
        result.tables.grand_means.over_fish.iter().map(|mean| mean.round()).collect();
    for (index, printed) in INCREMENTS.iter().enumerate() {
        let before = if index == 0 { 0.0 } else { means[index - 1] };
        assert_eq!(means[index] - before, *printed);
        compared += 1;
    }
    assert_eq!(compared, 14 + 27 + 7);
}
