//! Kappa, intraclass correlation and limits of agreement against check values 16.

use serde_json::Value;
use winterline::analysis::agreement::icc::intraclass_correlation;
use winterline::analysis::agreement::kappa::{Kappa, KappaWeights, kappa, kappa_with};
use winterline::analysis::agreement::limits::limits_of_agreement;

use crate::agreement::counted;
use crate::published::{Comparison, Published};

const FILE: &str = "16_kappa_icc_limits_of_agreement";

fn values(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn compare(compared: &mut Comparison, found: &Kappa, expected: &Value) {
    compared.number("po", found.observed, &expected["po"]);
    compared.number("pe", found.expected, &expected["pe"]);
    compared.number("kappa", found.estimate, &expected["kappa"]);
    compared.number("se", found.se, &expected["se"]);
    compared.numbers("ci95", &found.ci95, &expected["ci95"]);
    compared.number("se_null", found.se_null, &expected["se_null"]);
    compared.number("z", found.z.unwrap(), &expected["z"]);
    compared.number("p", found.p.unwrap(), &expected["p"]);
}

/// Fleiss, Cohen & Everitt 1969 and Fleiss 1981 (printed values from memory), readers' tables by statsmodels.
#[test]
fn kappa_with_every_weight() {
    let file = Published::open(FILE);
    let mut compared = Comparison::within(1e-8);
    for name in ["Fleiss_Cohen_Everitt_1969_unweighted", "Fleiss_1981", "reader_table_unweighted"] {
        let case = file.case(name);
        assert_eq!(file.relative(case), 1e-8);
        let matrix = counted(0, &case["input"]["table"]);
        let found = kappa(&matrix, KappaWeights::Unweighted).unwrap();
        compare(&mut compared, &found, &case["expected"]);
    }
    for (name, weights) in [
        ("reader_table_linear", KappaWeights::Linear),
        ("reader_table_quadratic", KappaWeights::Quadratic),
    ] {
        let case = file.case(name);
        let found = kappa(&counted(0, &case["input"]["table"]), weights).unwrap();
        compare(&mut compared, &found, &case["expected"]);
    }
    let case = file.case("Fleiss_Cohen_Everitt_1969_weighted");
    let weights: Vec<Vec<f64>> =
        case["input"]["agreement_weights"].as_array().unwrap().iter().map(values).collect();
    let matrix = counted(0, &case["input"]["table"]);
    let found = kappa_with(&matrix, |row, column| weights[row][column]).unwrap();
    compare(&mut compared, &found, &case["expected"]);
    assert_eq!(compared.compared, 6 * 9);
}

/// Fleiss, Cohen & Everitt 1969 as printed: kappa 0.429, variance 0.002885, null variance 0.003082; weighted 0.507,
/// 0.003248, 0.004269. Fleiss 1981: 0.68, null standard error 0.076. From memory, not verified.
#[test]
fn kappa_as_recalled_from_the_page() {
    let file = Published::open(FILE);
    let case = file.case("Fleiss_Cohen_Everitt_1969_weighted");
    let weights: Vec<Vec<f64>> =
        case["input"]["agreement_weights"].as_array().unwrap().iter().map(values).collect();
    let matrix = counted(0, &case["input"]["table"]);
    let plain = kappa(&matrix, KappaWeights::Unweighted).unwrap();
    let weighted = kappa_with(&matrix, |row, column| weights[row][column]).unwrap();
    for (found, [estimate, variance, null_variance]) in
        [(plain, [0.429, 0.002885, 0.003082]), (weighted, [0.507, 0.003248, 0.004269])]
    {
        assert!((found.estimate - estimate).abs() < 0.0005);
        assert!((found.se.powi(2) - variance).abs() < 5e-7);
        assert!((found.se_null.powi(2) - null_variance).abs() < 5e-7);
    }
    let found =
        kappa(&counted(0, &file.case("Fleiss_1981")["input"]["table"]), KappaWeights::Unweighted)
            .unwrap();
    assert!((found.estimate - 0.68).abs() < 0.005 && (found.se_null - 0.076).abs() < 0.0005);
}

/// Shrout & Fleiss 1979 (printed values from memory) and annulus radii by numpy.
#[test]
fn six_forms_of_intraclass_correlation() {
    let file = Published::open(FILE);
    let mut compared = Comparison::within(1e-8);
    let case = file.case("Shrout_Fleiss_1979");
    let judged: Vec<Vec<f64>> =
        case["input"]["targets_by_judges"].as_array().unwrap().iter().map(values).collect();
    six_forms(&mut compared, &judged, &case["expected"]);
    let case = file.case("annulus_radii_two_readers");
    let [first, second] = ["reader1_mm", "reader2_mm"].map(|name| values(&case["input"][name]));
    let radii: Vec<Vec<f64>> = first.into_iter().zip(second).map(|(a, b)| vec![a, b]).collect();
    six_forms(&mut compared, &radii, &case["expected"]);
    assert_eq!(compared.compared, 20);
}

fn six_forms(compared: &mut Comparison, targets: &[Vec<f64>], expected: &Value) {
    let found =
        intraclass_correlation(targets[0].len(), targets.iter().map(Vec::as_slice)).unwrap();
    compared.number("BMS", found.between_targets, &expected["BMS"]);
    compared.number("WMS", found.within_targets, &expected["WMS"]);
    compared.number("JMS", found.between_readers, &expected["JMS"]);
    compared.number("EMS", found.residual, &expected["EMS"]);
    for (name, value) in [
        ("ICC1_1", found.icc_1_1),
        ("ICC2_1", found.icc_2_1),
        ("ICC3_1", found.icc_3_1),
        ("ICC1_k", found.icc_1_k),
        ("ICC2_k", found.icc_2_k),
        ("ICC3_k", found.icc_3_k),
    ] {
        compared.number(name, value.unwrap(), &expected[name]);
    }
}

/// Bland & Altman 1986 (printed values from memory) and annulus radii by scipy.
#[test]
fn limits_of_agreement_of_two_samples() {
    let file = Published::open(FILE);
    let mut compared = Comparison::within(1e-8);
    for name in ["Bland_Altman_1986_peak_flow", "annulus_radii"] {
        let case = file.case(name);
        let (input, expected) = (&case["input"], &case["expected"]);
        let (a, b) = (values(&input["a"]), values(&input["b"]));
        let pairs = a.into_iter().zip(b).map(|(a, b)| (a, b, 1)).collect::<Vec<_>>();
        let multiple = input["limits_multiplier"].as_f64().unwrap();
        let found = limits_of_agreement(pairs.into_iter(), multiple).unwrap();
        compared.count("n", found.n as usize, &expected["n"]);
        compared.number("mean", found.mean, &expected["mean_diff"]);
        compared.number("sd", found.sd, &expected["sd_diff"]);
        compared.number("lower", found.lower, &expected["lower"]);
        compared.number("upper", found.upper, &expected["upper"]);
        compared.numbers("mean", &found.ci95_mean.unwrap(), &expected["ci95_mean"]);
        compared.numbers("lower", &found.ci95_lower.unwrap(), &expected["ci95_lower"]);
        compared.numbers("upper", &found.ci95_upper.unwrap(), &expected["ci95_upper"]);
        compared.number("within", found.within_sd, &expected["within_sd"]);
        compared.number(
            "repeatability",
            found.repeatability,
            &expected["repeatability_coefficient"],
        );
        let trend = found.trend.unwrap();
        compared.number("slope", trend.slope, &expected["proportional_bias_slope"]);
        compared.number("p", trend.p.unwrap(), &expected["proportional_bias_p"]);
    }
    assert_eq!(compared.compared, 2 * 15);
}
