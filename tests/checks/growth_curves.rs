//! Growth curves: fits, intervals, AICc, group comparison, starting values. Sources stand in the files of check values.

use serde_json::Value;
use winterline::analysis::growth::conversions::von_bertalanffy_of;
use winterline::analysis::growth::ford_walford::ford_walford;
use winterline::analysis::growth::{
    Curve, ErrorModel, Fit, FitSettings, Observation, Warning, bootstrap, compare_groups, fit,
    predict, profile_interval, rank_curves,
};
use winterline::domain::progress::Progress;

use crate::published::{Comparison, Published, floats};

fn observations(ages: &Value, lengths: &Value) -> Vec<Observation> {
    floats(ages)
        .iter()
        .zip(floats(lengths))
        .enumerate()
        .map(|(fish, (age, length))| Observation::single(*age, length, fish))
        .collect()
}

fn sample(file: &Published) -> Vec<Observation> {
    let input = &file.case("data")["input"];
    observations(&input["age_years"], &input["length_mm"])
}

fn fitted(file: &Published, curve: Curve, error: ErrorModel) -> Fit {
    let settings = FitSettings { error, ..FitSettings::default() };
    let fit = fit(curve, &sample(file), &settings).unwrap();
    assert!(fit.converged && fit.starts_agreeing > 1, "{curve:?}: {:?}", fit.warnings);
    fit
}

/// Names in the files that differ from ours.
fn our_name(name: &str) -> &str {
    match name {
        "G" | "g" => "K",
        other => other,
    }
}

fn compare_fit(check: &mut Comparison, fit: &Fit, expected: &Value) {
    let names: Vec<&String> = expected["parameters"].as_object().unwrap().keys().collect();
    for name in &names {
        let ours = fit.parameter(our_name(name)).unwrap();
        check.number(name, ours.estimate, &expected["parameters"][name.as_str()]);
        check.number(&format!("se {name}"), ours.se.unwrap(), &expected["se"][name.as_str()]);
    }
    for (i, first) in names.iter().enumerate() {
        for (j, second) in names.iter().enumerate() {
            let at = |name: &str| fit.curve.parameter(our_name(name)).unwrap();
            let found = fit.correlation(at(first), at(second)).unwrap();
            check.number(&format!("r {first} {second}"), found, &expected["correlation"][i][j]);
        }
    }
    check.number("rss", fit.rss, &expected["rss"]);
    check.number("sd", fit.residual_sd.unwrap(), &expected["sd"]);
    check.count("df", fit.df, &expected["df"]);
}

/// Every form and both error models against scipy (von Bertalanffy, Gompertz and logistic also against R nls).
#[test]
fn fits_of_every_form() {
    let file = Published::open("09_growth_curves");
    let mut check = Comparison::within(1e-6);
    let francis = Curve::Francis { young: 2.0, old: 10.0 };
    let (additive, multiplicative) = (ErrorModel::Additive, ErrorModel::Multiplicative);
    let mut least = f64::INFINITY;
    for (case, curve, error) in [
        ("von_bertalanffy_with_t0", Curve::VonBertalanffy, additive),
        ("von_bertalanffy_with_L0", Curve::VonBertalanffyL0, additive),
        ("von_bertalanffy_francis", francis, additive),
        ("von_bertalanffy_gallucci_quinn", Curve::GallucciQuinn, additive),
        ("von_bertalanffy_multiplicative", Curve::VonBertalanffy, multiplicative),
        ("gompertz", Curve::Gompertz, additive),
        ("logistic", Curve::Logistic, additive),
    ] {
        let fit = fitted(&file, curve, error);
        compare_fit(&mut check, &fit, &file.case(case)["expected"]);
        if error == additive && von_bertalanffy_of(curve, &fit.row()).is_some() {
            // All von Bertalanffy forms draw one curve.
            least = least.min(fit.rss);
            assert!((fit.rss / least - 1.0).abs() < 1e-12, "{case}");
        }
    }
    assert_eq!(check.compared, 7 * (3 + 3 + 9 + 3));
}

/// Wald and profile limits (the latter also against R MASS), bands for the mean and for single fish.
#[test]
fn intervals_and_bands() {
    let file = Published::open("09_growth_curves");
    let case = file.case("von_bertalanffy_with_t0");
    let fit = fitted(&file, Curve::VonBertalanffy, ErrorModel::Additive);
    let (mut check, mut profile) = (Comparison::within(1e-6), Comparison::within(1e-5));
    for (index, parameter) in fit.parameters.iter().enumerate() {
        let wald = &case["expected"]["wald_ci95"][parameter.name];
        check.numbers(parameter.name, &parameter.ci95.unwrap(), wald);
        let limits = profile_interval(&fit, index).unwrap().map(|limit| limit.unwrap());
        profile.numbers(parameter.name, &limits, &case["expected"]["profile_ci95"][parameter.name]);
    }
    for expected in case["expected"]["predictions"].as_array().unwrap() {
        let band = predict(&fit, expected["t"].as_f64().unwrap()).unwrap();
        check.number("mean", band.mean, &expected["mean"]);
        check.number("se", band.se.unwrap(), &expected["se_mean"]);
        check.numbers("ci", &band.ci95.unwrap(), &expected["ci95"]);
        check.numbers("pi", &band.pi95.unwrap(), &expected["pi95"]);
    }
    assert_eq!((check.compared, profile.compared), (6 + 4 * 6, 6));
}

/// Percentile limits of 2000 resamples of fish agree with another program's within 10 % of the width, and repeat exactly.
#[test]
fn bootstrap_over_fish() {
    let file = Published::open("09_growth_curves");
    let fit = fitted(&file, Curve::VonBertalanffy, ErrorModel::Additive);
    let expected = &file.case("von_bertalanffy_case_bootstrap")["expected"];
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| bootstrap(&fit, 2000, 20_251_103, &Progress::new()).unwrap())
    };
    let found = run(1);
    assert_eq!(found, run(3));
    assert_eq!(found.failed, 0);
    let mut compared = 0;
    for parameter in &found.parameters {
        let limits = floats(&expected[parameter.name]);
        let width = limits[1] - limits[0];
        for (found, wanted) in parameter.interval.unwrap().ci95.iter().zip(&limits) {
            assert!((found - wanted).abs() < 0.1 * width, "{}: {found} {wanted}", parameter.name);
            compared += 1;
        }
    }
    assert_eq!(compared, 6);
}

/// Log-likelihood, AICc, differences and weights of three curves (Burnham & Anderson 2002).
#[test]
fn information_criteria() {
    let file = Published::open("09_growth_curves");
    let expected = &file.case("information_criteria")["expected"];
    let fits: Vec<Fit> = [Curve::Logistic, Curve::VonBertalanffy, Curve::Gompertz]
        .map(|curve| fitted(&file, curve, ErrorModel::Additive))
        .to_vec();
    let mut check = Comparison::within(1e-6);
    for fit in &fits {
        let name = fit.curve.word().replace('-', "_");
        check.number(&name, fit.log_likelihood.unwrap(), &expected[&name]["loglik"]);
    }
    let ranked = rank_curves(&fits);
    let order: Vec<&str> = ranked.iter().map(|entry| entry.curve).collect();
    assert_eq!(order, ["von-bertalanffy", "gompertz", "logistic"]);
    for entry in &ranked {
        let wanted = &expected[entry.curve.replace('-', "_")];
        check.number("aicc", entry.aicc, &wanted["aicc"]);
        check.number("delta", entry.delta, &wanted["delta_aicc"]);
        check.number("weight", entry.weight, &wanted["weight"]);
    }
    assert_eq!(check.compared, 3 + 9);
}

/// L0, omega, phi prime and the age at 95 % of Linf from the fit.
#[test]
fn derived_numbers() {
    let file = Published::open("09_growth_curves");
    let expected = &file.case("conversions")["expected"];
    let fit = fitted(&file, Curve::VonBertalanffy, ErrorModel::Additive);
    let found = von_bertalanffy_of(fit.curve, &fit.row()).unwrap();
    let with_l0 = found.to_form(Curve::VonBertalanffyL0).unwrap();
    let back = von_bertalanffy_of(Curve::VonBertalanffyL0, &with_l0).unwrap();
    let mut check = Comparison::within(1e-6);
    check.number("L0", found.l0(), &expected["L0"]);
    check.number("omega", found.omega(), &expected["omega"]);
    check.number("phi", found.phi_prime(), &expected["phi_prime_log10_K_mm"]);
    check.number("age", found.age_at_share(0.95), &expected["age_at_95_percent_Linf"]);
    check.number("t0", back.t0, &expected["t0_from_L0"]);
    assert_eq!(check.compared, 5);
}

/// Ford 1933; Walford 1946.
#[test]
fn ford_walford_lines() {
    let file = Published::open("10_growth_starting_values");
    let mut check = Comparison::within(1e-8);
    let line = |name: &str| {
        let input = &file.case(name)["input"];
        ford_walford(&floats(&input["ages"]), &floats(&input["mean_length"])).unwrap()
    };
    let (found, expected) = (line("ford_walford"), &file.case("ford_walford")["expected"]);
    check.number("intercept", found.intercept, &expected["intercept"]);
    check.number("slope", found.slope, &expected["slope"]);
    check.number("Linf", found.linf.unwrap(), &expected["Linf"]);
    check.number("K", found.k.unwrap(), &expected["K"]);
    let straight = line("straight_line_growth_has_no_asymptote");
    assert!((straight.slope - 1.0).abs() < 1e-9 && straight.linf.is_none());
    assert_eq!(check.compared, 4);
}

/// Growth in a straight line identifies no limiting length: said, and without standard errors.
#[test]
fn a_straight_line_is_reported_as_not_identified() {
    let file = Published::open("10_growth_starting_values");
    let input = &file.case("straight_line_growth_has_no_asymptote")["input"];
    let rows = observations(&input["ages"], &input["mean_length"]);
    let found = fit(Curve::VonBertalanffy, &rows, &FitSettings::default()).unwrap();
    assert!(found.warnings.iter().any(|w| matches!(w, Warning::NotIdentified { .. })));
    assert!(found.warnings.contains(&Warning::NoAsymptote));
    assert!(found.parameters.iter().all(|p| p.se.is_none() && p.ci95.is_none()));
}

/// Pacific hake: Kimura 1980; Chen, Jackson & Harvey 1992.
#[test]
fn groups_of_pacific_hake() {
    let file = Published::open("11_growth_group_comparison");
    let case = file.case("pacific_hake");
    let (input, expected) = (&case["input"], &case["expected"]);
    let groups =
        ["group1", "group2"].map(|g| observations(&input[g]["age"], &input[g]["length_cm"]));
    let found = compare_groups(Curve::VonBertalanffy, &groups, &FitSettings::default()).unwrap();
    let mut check = Comparison::within(1e-6);
    for (fit, name) in found.fits.iter().zip(["group1", "group2"]) {
        for (index, parameter) in fit.parameters.iter().enumerate() {
            check.number(parameter.name, parameter.estimate, &expected[name][parameter.name]);
            check.number("se", parameter.se.unwrap(), &expected[name]["se"][index]);
        }
        check.number("rss", fit.rss, &expected[name]["rss"]);
        check.count("n", fit.n, &expected[name]["n"]);
    }
    check.number("separate", found.rss_separate, &expected["rss_separate"]);
    check.count("N", found.n, &expected["N"]);
    for test in &found.comparisons {
        let wanted = &expected["tests"][test.hypothesis.replace("the ", "").replace(' ', "_")];
        assert!(test.converged, "{}", test.hypothesis);
        check.number("rss", test.rss, &wanted["rss"]);
        check.number("chi2", test.chi2, &wanted["kimura_chi2"]);
        check.count("df", test.df, &wanted["df"]);
        check.number("p", test.p.unwrap(), &wanted["p"]);
        check.number("F", test.f.unwrap(), &wanted["F"]);
        check.number("F p", test.f_p.unwrap(), &wanted["F_p"]);
        check.count("F df", test.f_df[0], &wanted["F_df"][0]);
        check.count("F df", test.f_df[1], &wanted["F_df"][1]);
        let mut distinct: Vec<f64> = Vec::new();
        for parameter in 0..3 {
            distinct.push(test.rows[0][parameter]);
            if test.rows[1][parameter] != test.rows[0][parameter] {
                distinct.push(test.rows[1][parameter]);
            }
        }
        check.numbers(&test.hypothesis, &distinct, &wanted["parameters"]);
    }
    assert_eq!(check.compared, 2 * 8 + 2 + 4 * 8 + (5 + 5 + 5 + 3));
}

/// Richards 1959 and its special cases; Somers 1988.
#[test]
fn curve_values() {
    let file = Published::open("12_growth_curve_values");
    let mut check = Comparison::within(1e-7);
    for row in file.case("richards_special_cases")["expected"].as_array().unwrap() {
        let t = row["t"].as_f64().unwrap();
        let sigmoid = [500.0, 0.5, 2.0, 0.0, 0.0];
        let richards = |ti: f64, d: f64| Curve::Richards.value(t, &[500.0, 0.5, ti, d, 0.0]);
        check.number("d = 2", richards(2.0, 2.0), &row["delta_2"]);
        check.number("logistic", Curve::Logistic.value(t, &sigmoid), &row["logistic"]);
        // The file does not print its d near 1; 1 + 1e-7 is the one that gives its values.
        check.number("d near 1", richards(2.0, 1.000_000_1), &row["delta_near_1"]);
        check.number("d = 1", richards(2.0, 1.0), &row["gompertz"]);
        check.number("gompertz", Curve::Gompertz.value(t, &sigmoid), &row["gompertz"]);
        check.number("d = 0", richards(0.3, 0.0), &row["delta_0"]);
        let plain = [500.0, 0.5, 0.3, 0.0, 0.0];
        check.number("vb", Curve::VonBertalanffy.value(t, &plain), &row["vb"]);
    }
    let case = file.case("somers_seasonal");
    let at = |name: &str| case["input"][name].as_f64().unwrap();
    let row = ["Linf", "K", "t0", "C", "ts"].map(at);
    let found: Vec<f64> =
        floats(&case["input"]["t"]).iter().map(|t| Curve::Somers.value(*t, &row)).collect();
    check.numbers("somers", &found, &case["expected"]);
    assert_eq!(check.compared, 3 * 7 + 5);
}
