//! Tests of ages as JSON, text and CSV.

use serde_json::Value;

use super::ages_json::{AgesNotes, ages_error_json, ages_json};
use super::ages_table::{ages_csv, ages_text};
use crate::analysis::population::assignment::AssignmentRule;
use crate::analysis::population::catch_per_effort::Effort;
use crate::analysis::population::length_groups::LengthGroups;
use crate::analysis::population::sample::SampledFish;
use crate::analysis::population::study::{AgeStudy, Background, Settings, age_study};
use crate::domain::progress::Progress;
use crate::domain::survey::LengthUnit;
use crate::domain::units::Millimetres;

fn study(effort: Option<f64>) -> AgeStudy {
    let mut fish = Vec::new();
    for (age, n) in [(1, 8), (2, 30), (3, 18), (4, 12), (6, 4)] {
        for i in 0..n {
            let length = Millimetres(100.0 * f64::from(age) + f64::from(i));
            fish.push(SampledFish::aged(2, length, age));
        }
    }
    fish.push(SampledFish::unaged(7, Millimetres(310.0)));
    let groups = LengthGroups::new(50.0, LengthUnit::Millimetre).unwrap();
    let settings = Settings {
        replicates: 40,
        assignment: effort.map(|_| (AssignmentRule::default(), 5)),
        ..Settings::new(groups)
    };
    let background =
        Background { year: Some(2025), effort: effort.map(Effort::Total), ..Background::default() };
    age_study(&fish, &settings, &background, &Progress::new()).unwrap()
}

fn names(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

#[test]
fn the_fixed_fields_are_there() {
    let document = ages_json(&study(Some(4.0)), &AgesNotes::default());
    for (value, fields) in [
        (&document, &["key", "composition", "assigned", "catch_curve", "year_classes"][..]),
        (&document["key"][0], &["length_mm", "n", "by_age"]),
        (&document["composition"][0], &["age", "n_expected", "proportion", "se", "catch_per_hour"]),
        (&document["composition"][0]["catch_per_hour"], &["mean", "se", "n_runs"]),
        (&document["assigned"][0], &["row", "age"]),
        (
            &document["catch_curve"]["chapman_robson"],
            &["ages", "S", "S_se", "Z", "Z_se", "A", "c_hat", "S_se_inflated", "Z_se_inflated"],
        ),
        (&document["catch_curve"]["weighted_regression"], &["ages", "Z", "Z_se", "A"]),
        (&document["year_classes"][0], &["year_class", "age", "n", "residual", "stocked"]),
    ] {
        for field in fields {
            assert!(names(value).contains(field), "{field}");
        }
    }
    assert_eq!(document["key"][0]["by_age"]["1"].as_f64(), Some(1.0));
    assert_eq!(document["key"][0]["by_age"]["2"].as_f64(), Some(0.0));
    assert_eq!(document["assigned"][0]["row"], 7);
    assert!(
        document["catch_curve"]["error_from"].as_str().unwrap().contains("bootstrap over fish")
    );
    let mut wanted = names(&document);
    let failed = ages_error_json("no fish");
    let mut found = names(&failed);
    wanted.sort_unstable();
    found.sort_unstable();
    assert_eq!(found, wanted);
}

#[test]
fn what_does_not_exist_is_null() {
    let document = ages_json(&study(None), &AgesNotes::default());
    assert_eq!(document["composition"][0]["catch_per_hour"], Value::Null);
    assert_eq!(document["assigned"], Value::Null);
    assert_eq!(document["withheld"], Value::Null);
    assert_eq!(document["year_classes"][0]["residual"], Value::Null);
    let gap = &document["year_classes"][4];
    assert_eq!(
        (gap["age"].as_u64(), &gap["residual"], &gap["stocked"]),
        (Some(5), &Value::Null, &Value::Null)
    );
    assert_eq!(document["year_classes"][0]["year_class"], 2024);
    let document = ages_json(&study(Some(4.0)), &AgesNotes::default());
    assert_eq!(document["composition"][0]["catch_per_hour"]["se"], Value::Null);
    assert_eq!(document["composition"][0]["catch_per_hour"]["mean"], 2.0);
}

#[test]
fn the_text_names_groups_gaps_and_cautions() {
    let notes = AgesNotes { left_out: vec![("0012".into(), 13, "no length".into())], error: None };
    let text = ages_text(&study(Some(4.0)), &notes);
    for part in [
        "73 fish measured, 72 aged",
        "150-200 mm  no fish",
        "All ages: 18.25 fish an hour over 4.00 hours, without error",
        "bootstrap over fish",
        "0012 (row 13): no length",
        "seed 5",
        "constant recruitment",
    ] {
        assert!(text.contains(part), "{part} not in\n{text}");
    }
}

#[test]
fn the_table_has_a_row_for_each_age() {
    let table = ages_csv(&study(None)).unwrap();
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 6);
    assert!(lines[1].starts_with("1,8,8,"), "{}", lines[1]);
    assert!(lines[1].ends_with(",,,"), "{}", lines[1]);
}
