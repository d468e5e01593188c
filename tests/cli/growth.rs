//! `growth` on tables against published check values, on a survey, and on what is wrong.

use serde_json::Value;

use crate::fixture::{Compared, case, published};
use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{text, winterline};

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

/// Writes text to a file and runs `growth` on it.
fn growth(table: &str, more: &[&str]) -> crate::run::Run {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("lengths.csv");
    std::fs::write(&path, table).unwrap();
    let mut arguments = vec!["growth".to_owned(), "--length-at-age".into(), text(&path)];
    arguments.extend(more.iter().map(|&word| word.to_owned()));
    winterline(&arguments)
}

/// The sample of check 09 with a byte-order mark, semicolons and columns the other way round.
fn sample() -> String {
    let file = published("09_growth_curves");
    let input = &case(&file, "data")["input"];
    let rows = numbers(&input["age_years"]).into_iter().zip(numbers(&input["length_mm"]));
    let rows: Vec<String> = rows.map(|(age, length)| format!("{length};{age}")).collect();
    format!("\u{feff}LENGTH;Age\r\n{}\r\n", rows.join("\r\n"))
}

/// Check 09: von Bertalanffy (Beverton & Holt 1957), Gallucci & Quinn 1979, Gompertz and logistic (Ricker 1975); values by
/// scipy and R.
#[test]
fn published_curves_come_out_of_the_program() {
    let file = published("09_growth_curves");
    let table = sample();
    let mut compared = Compared::within(1e-6);
    for (name, more, renamed) in [
        ("von_bertalanffy_with_t0", &["--curve", "von-bertalanffy"][..], ""),
        ("von_bertalanffy_with_L0", &["--curve", "von-bertalanffy-l0"], ""),
        ("von_bertalanffy_gallucci_quinn", &["--curve", "gallucci-quinn"], ""),
        (
            "von_bertalanffy_multiplicative",
            &["--curve", "von-bertalanffy", "--error", "multiplicative"],
            "",
        ),
        ("gompertz", &["--curve", "gompertz"], "G"),
        ("logistic", &["--curve", "logistic"], "g"),
    ] {
        let mut arguments = vec!["--json"];
        arguments.extend(more);
        let run = growth(&table, &arguments);
        assert_eq!(run.status, 0, "{}", run.err);
        let (found, expected) = (run.json(), &case(&file, name)["expected"]);
        assert_eq!((&found["converged"], &found["n"]), (&Value::from(true), &Value::from(70)));
        for parameter in found["parameters"].as_array().unwrap() {
            let ours = parameter["name"].as_str().unwrap();
            let theirs = if ours == "K" && !renamed.is_empty() { renamed } else { ours };
            compared.number(&parameter["estimate"], &expected["parameters"][theirs]);
            compared.number(&parameter["se"], &expected["se"][theirs]);
            if name == "von_bertalanffy_with_t0" {
                compared.number(&parameter["ci95"][0], &expected["wald_ci95"][theirs][0]);
                compared.number(&parameter["ci95"][1], &expected["wald_ci95"][theirs][1]);
            }
        }
        compared.number(&found["rss"], &expected["rss"]);
    }
    assert_eq!(compared.count, 6 * 7 + 6);
}

/// Check 11: Pacific hake of Kimura 1980, males and females; chi-square recomputed, printed values not seen.
#[test]
fn hake_grow_apart_as_published() {
    let file = published("11_growth_group_comparison");
    let hake = case(&file, "pacific_hake");
    let mut table = "sex,age,length\n".to_owned();
    for group in ["group1", "group2"] {
        let input = &hake["input"][group];
        for (age, length) in numbers(&input["age"]).into_iter().zip(numbers(&input["length_cm"])) {
            table.push_str(&format!("{},{age},{length}\n", input["name"].as_str().unwrap()));
        }
    }
    let run = growth(&table, &["--by", "Sex", "--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    let mut compared = Compared::within(1e-5);
    // Groups come in alphabetical order: females first.
    for (group, name) in found["groups"].as_array().unwrap().iter().zip(["group2", "group1"]) {
        for (parameter, expected) in
            group["parameters"].as_array().unwrap().iter().zip(["Linf", "K", "t0"])
        {
            compared.number(&parameter["estimate"], &hake["expected"][name][expected]);
        }
    }
    for test in found["comparison"].as_array().unwrap() {
        let name = match test["hypothesis"].as_str().unwrap() {
            "all the same" => "all_same".to_owned(),
            one => one.replace(' ', "_"),
        };
        let expected = &hake["expected"]["tests"][name];
        compared.number(&test["chi2"], &expected["kimura_chi2"]);
        compared.number(&test["df"], &expected["df"]);
    }
    assert_eq!(compared.count, 6 + 8);
}

/// Check 09, 2000 resamples of fish by numpy: other draws, so the limits agree only within their own scatter.
#[test]
fn the_bootstrap_is_repeated_by_its_seed() {
    let file = published("09_growth_curves");
    let expected = &case(&file, "von_bertalanffy_case_bootstrap")["expected"];
    let table = sample();
    let run = |seed: &str| {
        growth(&table, &["--bootstrap", "1000", "--seed", seed, "--json"]).json()["bootstrap"]
            .clone()
    };
    let found = run("7");
    assert_eq!((&found["replicates"], &found["seed"]), (&Value::from(1000), &Value::from(7)));
    assert_eq!(found, run("7"));
    assert_ne!(found, run("8"));
    for parameter in found["parameters"].as_array().unwrap() {
        let theirs = numbers(&expected[parameter["name"].as_str().unwrap()]);
        let ours = numbers(&parameter["ci95"]);
        for (ours, other) in ours.iter().zip(&theirs) {
            assert!(
                (ours - other).abs() < 0.12 * (theirs[1] - theirs[0]),
                "{parameter}: {theirs:?}"
            );
        }
    }
}

#[test]
fn wrong_tables_and_wrong_words_are_told_apart() {
    let run = growth("age,length\n1,150\n2,x\n3,300\n4,350\n5,390\n6,420\n", &["--json"]);
    assert_eq!(run.status, 1);
    let found = run.json();
    assert_eq!((&found["n"], &found["bootstrap"]), (&Value::from(5), &Value::Null));
    assert!(
        found["error"].as_str().unwrap().contains("row 3, column 'length'"),
        "{}",
        found["error"]
    );
    assert!(run.err.contains("row 3, column 'length'"), "{}", run.err);
    let few = growth("age,length\n1,150\n2,200\n", &["--json"]);
    assert_eq!(few.status, 1);
    assert_eq!(
        (few.json()["rss"].clone(), few.json()["year_effects"].clone()),
        (Value::Null, Value::Null)
    );
    assert!(few.err.contains("2 distinct ages"), "{}", few.err);
    let none = growth("age,weight\n1,150\n", &["--json"]);
    assert_eq!(none.status, 1);
    assert!(none.json()["error"].is_string());
    for wrong in [
        &["--curve", "line"][..],
        &["--fix", "L=3"],
        &["--fix", "K"],
        &["--fix", "K=-1"],
        &["--by", "sex"],
        &["--bootstrap", "0"],
        &["--error", "none"],
    ] {
        let mut arguments = vec!["--json"];
        arguments.extend(wrong);
        let run = growth(&sample(), &arguments);
        assert_eq!((run.status, run.out.as_str()), (2, ""), "{wrong:?}: {}", run.err);
    }
}

#[test]
fn a_fixed_parameter_stays_where_it_is() {
    let run = growth(&sample(), &["--fix", "t0=0", "--json"]);
    let found = run.json();
    assert_eq!(found["parameters"][2]["estimate"], 0.0);
    assert_eq!(
        (&found["parameters"][2]["se"], &found["parameters"][2]["fixed"]),
        (&Value::Null, &Value::from(true))
    );
    let table = growth(&sample(), &["--fix", "t0=0", "--csv"]).out;
    assert_eq!(table.lines().count(), 4);
    assert!(table.lines().nth(3).unwrap().ends_with(",true"), "{table}");
}

/// Fish of ages 2 to 6 with growth that slows down, by direct proportion of equal steps.
fn read_fish() -> Vec<ReadFish> {
    (0..30u32)
        .map(|i| {
            let n = 2 + i % 5;
            let annuli_um: Vec<f64> = (1..=n)
                .map(|a| 1500.0 * (1.0 - (-0.4 * f64::from(a)).exp()) + f64::from(i % 3))
                .collect();
            let radius_um = annuli_um[annuli_um.len() - 1] + 40.0;
            let length_mm = (radius_um * 0.25 + f64::from(i % 4) - 1.5).round();
            ReadFish { length_mm, radius_um, annuli_um, ..fish(0.0, n) }
        })
        .collect()
}

#[test]
fn a_survey_gives_curve_and_growth_years() {
    let folder = tempfile::tempdir().unwrap();
    let read = read_fish();
    let path = survey(folder.path(), "Alder Run 2025", "Alder Run", &read);
    read_by(&path, "kb", &read, false);
    let run = winterline(&["growth", &text(&path), "--intercept", "0", "--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    assert_eq!((&found["n"], &found["basis"]), (&Value::from(30), &Value::from("annulus")));
    // Each fish brings its last annulus only: 6 fish of each of 5 ages.
    assert_eq!((&found["n_fish"], &found["n_ages"]), (&Value::from(30), &Value::from(5)));
    let years = found["year_effects"].as_array().unwrap();
    let increments: i64 = years.iter().map(|year| year["n"].as_i64().unwrap()).sum();
    // One closed zone for each annulus, none beyond the last: 6 x (2 + 3 + 4 + 5 + 6).
    assert_eq!(increments, 120);
    let sum: f64 = years.iter().map(|year| year["effect"].as_f64().unwrap()).sum();
    assert!(sum.abs() < 1e-9, "{sum}");
    assert_eq!(years[0]["year"], 2019);
    assert_eq!(found["condition"], Value::Null);
    let capture = winterline(&["growth", &text(&path), "--basis", "capture", "--json"]).json();
    assert_eq!((&capture["n"], &capture["basis"]), (&Value::from(30), &Value::from("capture")));
    // Whole years and the share of the calendar year: 2 to 6 years and 278 of 365 days.
    let ages = capture["length_at_age"].as_array().unwrap();
    assert_eq!((ages[0]["age"].as_f64(), ages.len()), (Some(3.0), 4));
    let words = winterline(&["growth", &text(&path)]).out;
    assert!(words.contains("Growth years: 120 increments of 30 fish"), "{words}");
}

#[test]
fn a_survey_nobody_has_read_is_said_to_be_so() {
    let folder = tempfile::tempdir().unwrap();
    let path = survey(folder.path(), "Alder Run 2025", "Alder Run", &[fish(250.0, 3)]);
    let run = winterline(&["growth", &text(&path), "--json"]);
    assert_eq!(run.status, 1);
    assert!(
        run.json()["error"].as_str().unwrap().contains("no fish with a confirmed age"),
        "{}",
        run.out
    );
    assert_eq!(run.err.lines().count(), 1, "{}", run.err);
}
