//! `ages` on tables of lengths, against the published check values, on a small survey, and its faults.

use std::path::{Path, PathBuf};

use serde_json::Value;
use winterline::domain::reading::{
    ImpressionReading, Outcome, ReaderInitials, ReadingState, ScanIdentity, ScanReading, Structure,
};
use winterline::store::sidecar::save_reading;

use crate::run::{Run, SOUND, survey_with, text, winterline};

fn published(name: &str) -> Value {
    let path = format!("{}/fixtures/published/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn case<'a>(file: &'a Value, name: &str) -> &'a Value {
    file["cases"].as_array().unwrap().iter().find(|case| case["name"] == name).unwrap()
}

fn whole(value: &Value) -> Vec<usize> {
    value.as_array().unwrap().iter().map(|n| n.as_u64().unwrap() as usize).collect()
}

/// Tables of the fish of check 19, as a person would keep them: semicolons, capitals, a byte-order mark.
fn tables(folder: &Path) -> [PathBuf; 2] {
    let file = published("19_age_length_key");
    let input = &case(&file, "key")["input"];
    let unaged_by_group = whole(&case(&file, "assignment_counts")["input"]["unaged_by_bin"]);
    let (mut aged, mut unaged) = ("\u{feff}AGE;Length_mm\r\n".to_owned(), "LENGTH_MM\n".to_owned());
    for (at, lower) in whole(&input["length_bin_lower_mm"]).into_iter().enumerate() {
        let counts = whole(&input["aged_by_bin_rows_age_columns"][at]);
        for (age, count) in whole(&input["ages"]).into_iter().zip(counts) {
            for i in 0..count {
                aged.push_str(&format!("{age};{}\r\n", lower + i));
            }
        }
        for i in 0..unaged_by_group[at] {
            unaged.push_str(&format!("{}\n", lower + i % 25));
        }
    }
    let paths = ["aged.csv", "unaged.csv"].map(|name| folder.join(name));
    std::fs::write(&paths[0], aged).unwrap();
    std::fs::write(&paths[1], unaged).unwrap();
    paths
}

fn ages(paths: &[PathBuf; 2], more: &[&str]) -> Run {
    let mut arguments = vec!["ages".to_owned(), "--aged".into(), text(&paths[0])];
    arguments.extend(["--unaged".into(), text(&paths[1]), "--json".into()]);
    arguments.extend(more.iter().map(|&word| word.to_owned()));
    winterline(&arguments)
}

fn close(found: &Value, expected: &Value, what: &str) {
    let (found, expected) = (found.as_f64().unwrap(), expected.as_f64().unwrap());
    assert!(
        (found - expected).abs() <= 1e-9 * expected.abs().max(1.0),
        "{what}: {found}, {expected}"
    );
}

/// Ketchen 1949; Kimura 1977; Isermann & Knight 2005 (values by numpy), through the program: CSV in, JSON out.
#[test]
fn published_composition_comes_out_of_the_program() {
    let folder = tempfile::tempdir().unwrap();
    let paths = tables(folder.path());
    let run = ages(&paths, &["--width", "25", "--effort", "4.5", "--seed", "7", "--year", "2025"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let (found, file) = (run.json(), published("19_age_length_key"));
    let expected = &case(&file, "key")["expected"];
    let mut compared = 0;
    for (at, row) in found["composition"].as_array().unwrap().iter().enumerate() {
        close(&row["proportion"], &expected["p"][at], "proportion");
        close(&row["n_expected"], &expected["numbers_at_age"][at], "number");
        close(&row["se"], &expected["se_p_divisor_n"][at], "error");
        close(&row["se_n_minus_1"], &expected["se_p_divisor_n_minus_1"][at], "error, n - 1");
        let rate = row["catch_per_hour"]["mean"].as_f64().unwrap();
        assert!((rate - row["n_expected"].as_f64().unwrap() / 4.5).abs() < 1e-9);
        assert!(row["catch_per_hour"]["se"].is_null());
        compared += 4;
    }
    for (at, row) in found["key"].as_array().unwrap().iter().enumerate() {
        for age in 1..=6 {
            close(&row["by_age"][age.to_string()], &expected["key"][at][age - 1], "share");
            compared += 1;
        }
    }
    assert_eq!(compared, 6 * 4 + 8 * 6);
    assert_eq!(found["assigned"].as_array().unwrap().len(), 343);
    assert_eq!(found["year_classes"][0]["year_class"], 2024);
    assert!(found["year_classes"][0]["stocked"].is_null());
    // The catch peaks at the last age but one: nothing is left to tell mortality from.
    assert!(found["catch_curve"].is_null());
    assert!(found["withheld"].as_str().unwrap().contains("2 ages) is too small"));
    let stated = ages(&paths, &["--width", "25", "--first-age", "3"]).json();
    let curve = &stated["catch_curve"];
    assert!(curve["error_from"].as_str().unwrap().starts_with("bootstrap over fish"));
    assert!(curve["chapman_robson"]["Z_se_bootstrap"].as_f64().unwrap() > 0.0);
    let again =
        ages(&paths, &["--width", "25", "--effort", "4.5", "--seed", "7", "--year", "2025"]);
    assert_eq!(again.out, run.out);
    let without_seed = ages(&paths, &["--width", "25"]);
    assert!(without_seed.json()["assigned"].is_null());
}

/// Robson & Chapman 1961, rock bass: S = 0.4475, standard error 0.0238 (from memory, recomputed).
#[test]
fn rock_bass_through_the_program() {
    let folder = tempfile::tempdir().unwrap();
    let paths = ["aged.csv", "unaged.csv"].map(|name| folder.path().join(name));
    let mut aged = "length_mm,age\n".to_owned();
    for (age, count) in [(0, 118), (1, 73), (2, 36), (3, 14), (4, 1), (5, 1)] {
        aged.push_str(&format!("{},{age}\n", 100 + 20 * age).repeat(count));
    }
    std::fs::write(&paths[0], aged).unwrap();
    std::fs::write(&paths[1], "length_mm\n").unwrap();
    let run = ages(&paths, &["--width", "10", "--first-age", "0"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let document = run.json();
    let found = &document["catch_curve"]["chapman_robson"];
    assert!((found["S"].as_f64().unwrap() - 0.4475).abs() < 0.00005);
    assert!((found["S_se"].as_f64().unwrap() - 0.0238).abs() < 0.00005);
    let file = published("20_catch_curve");
    let expected = &case(&file, "Robson_Chapman_1961_rock_bass")["expected"];
    for (ours, theirs) in [
        ("Z", "Z"),
        ("Z_se", "se_Z"),
        ("A", "A"),
        ("c_hat", "c_hat"),
        ("S_se_inflated", "se_S_inflated"),
        ("Z_se_inflated", "se_Z_inflated"),
    ] {
        close(&found[ours], &expected[theirs], ours);
    }
    assert!(document["bootstrap"].is_null());
}

#[test]
fn fish_measured_in_inches_are_grouped_in_inches() {
    let folder = tempfile::tempdir().unwrap();
    let paths = ["aged.csv", "unaged.csv"].map(|name| folder.path().join(name));
    std::fs::write(&paths[0], "length_mm,age\n279.4,3\n254.0,2\n").unwrap();
    std::fs::write(&paths[1], "length_mm\n279.4\n276.86\n").unwrap();
    let document = ages(&paths, &["--width-in", "1"]).json();
    let rows: Vec<(f64, u64)> = document["key"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| (row["length_mm"].as_f64().unwrap(), row["sampled"].as_u64().unwrap()))
        .collect();
    assert_eq!(rows.iter().map(|row| row.1).collect::<Vec<_>>(), [2, 2]);
    assert!((rows[1].0 - 279.4).abs() < 1e-9);
}

#[test]
fn a_group_without_aged_fish_blocks_until_it_is_merged_or_borrows() {
    let folder = tempfile::tempdir().unwrap();
    let paths = ["aged.csv", "unaged.csv"].map(|name| folder.path().join(name));
    std::fs::write(&paths[0], "length_mm,age\n210,1\n260,2\n").unwrap();
    std::fs::write(&paths[1], "length_mm\n212\n230\n").unwrap();
    let refused = ages(&paths, &["--width", "25"]);
    assert_eq!(refused.status, 1);
    let error = refused.json()["error"].as_str().unwrap().to_owned();
    assert!(error.contains("225-250 mm") && refused.err.contains("225-250 mm"), "{error}");
    let merged = ages(&paths, &["--width", "25", "--empty-groups", "merge"]);
    assert_eq!((merged.status, merged.json()["key"].as_array().unwrap().len()), (0, 2));
    let borrowed = ages(&paths, &["--width", "25", "--empty-groups", "borrow"]).json();
    assert_eq!(borrowed["key"][1]["by_age"]["2"], 0.5);
    assert_eq!(borrowed["key"][1]["borrowed_from_mm"], serde_json::json!([200.0, 250.0]));
}

#[test]
fn runs_without_catch_count_as_zero() {
    let folder = tempfile::tempdir().unwrap();
    let paths = ["aged.csv", "unaged.csv"].map(|name| folder.path().join(name));
    std::fs::write(&paths[0], "length_mm,age,run\n210,1,a\n211,1,a\n").unwrap();
    std::fs::write(&paths[1], "length_mm,run\n212,b\n").unwrap();
    let runs = folder.path().join("runs.csv");
    std::fs::write(&runs, "run,hours\na,1\nb,0.5\nc,2\n").unwrap();
    let found = ages(&paths, &["--width", "25", "--effort", &text(&runs)]).json();
    let rate = &found["composition"][0]["catch_per_hour"];
    // Rates of 2, 2 and 0 fish an hour.
    assert!((rate["mean"].as_f64().unwrap() - 4.0 / 3.0).abs() < 1e-12);
    assert!((rate["se"].as_f64().unwrap() - 2.0 / 3.0).abs() < 1e-12);
    assert_eq!(rate["n_runs"], 3);
    let missing = ages(&paths, &["--width", "25", "--effort", "no-such.csv"]);
    assert_eq!(missing.status, 1);
    assert!(missing.err.contains("no-such.csv"), "{}", missing.err);
}

#[test]
fn faulty_rows_are_named_and_the_others_used() {
    let folder = tempfile::tempdir().unwrap();
    let paths = tables(folder.path());
    let mut aged = std::fs::read_to_string(&paths[0]).unwrap();
    aged.push_str("old;300\r\n4;\r\n");
    std::fs::write(&paths[0], aged).unwrap();
    let run = ages(&paths, &["--width", "25"]);
    assert_eq!(run.status, 1);
    let document = run.json();
    let error = document["error"].as_str().unwrap();
    assert!(error.contains("aged.csv, row 62, column 'AGE'"), "{error}");
    assert_eq!(document["composition"].as_array().unwrap().len(), 6);
    assert_eq!(document["left_out"][0]["reason"], "no length in the table of aged fish");
    assert!(run.err.contains("row 62"), "{}", run.err);
}

#[test]
fn a_wrong_command_line_leaves_with_2() {
    let folder = tempfile::tempdir().unwrap();
    let paths = tables(folder.path());
    let aged = text(&paths[0]);
    for more in [
        &[][..],
        &["--width", "0"],
        &["--width", "25", "--width-in", "1"],
        &["--width", "25", "--effort", "-3"],
        &["--width", "25", "--seed", "x"],
        &["--width", "25", "--first-age", "900"],
    ] {
        let run = ages(&paths, more);
        assert_eq!(run.status, 2, "{more:?}: {}", run.err);
        assert_eq!(run.out, "");
    }
    assert_eq!(winterline(&["ages"]).status, 2);
    assert_eq!(winterline(&["ages", "--aged", &aged, "--width", "25"]).status, 2);
    let missing =
        winterline(&["ages", "--aged", "none.csv", "--unaged", &aged, "--width", "25", "--json"]);
    assert_eq!(missing.status, 1);
    assert!(missing.json()["error"].as_str().unwrap().contains("none.csv"));
}

#[test]
fn a_survey_nobody_aged_says_so() {
    let (_folder, survey) = survey_with(SOUND);
    let run = winterline(&["ages", &text(&survey), "--json"]);
    assert_eq!(run.status, 1);
    assert!(run.json()["error"].as_str().unwrap().contains("no fish has both a length and an age"));
}

/// A confirmed age of a survey's first fish; the second stays unaged.
fn age_first_fish(survey: &Path, age: u32) {
    let reader = ReaderInitials::new("kb").unwrap();
    let impression = ImpressionReading {
        outcome: Some(Outcome::Aged),
        age: Some(age),
        state: ReadingState::Confirmed,
        confirmed: Some("2025-11-03T09:00:00Z".parse().unwrap()),
        ..ImpressionReading::new(1, "1", Structure::Scale)
    };
    let scan = ScanIdentity {
        file: "AR-1.tif".into(),
        width_px: 64,
        height_px: 48,
        blake3: String::new(),
    };
    let reading = ScanReading {
        scan,
        reader: reader.clone(),
        calibration: None,
        impressions: vec![impression],
    };
    save_reading(survey, &reader, &reading, None).unwrap();
}

#[test]
fn confirmed_readings_of_a_survey_give_the_key() {
    let (_folder, survey) = survey_with(SOUND);
    age_first_fish(&survey, 3);
    std::fs::write(survey.join("stocking.csv"), "date,species,number\n2022,yellow perch,900\n")
        .unwrap();
    let wide = ["ages", &text(&survey), "--width", "50", "--seed", "1", "--json"];
    let blocked = winterline(&wide);
    assert_eq!(blocked.status, 1);
    assert!(blocked.json()["error"].as_str().unwrap().contains("200-250 mm, which holds 1 fish"));
    let run = winterline(&[&wide[..], &["--empty-groups", "merge"]].concat());
    assert_eq!(run.status, 0, "{}", run.err);
    let document = run.json();
    assert_eq!(document["composition"][0]["n_expected"], 2.0);
    assert_eq!(document["assigned"], serde_json::json!([{ "row": 3, "age": 3, "fish": "2" }]));
    let class = &document["year_classes"][0];
    assert_eq!((&class["year_class"], &class["stocked"]), (&2022.into(), &900.into()));
    assert_eq!(class["strength"], "not judged");
}
