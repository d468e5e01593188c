//! `compare` of several waters: their order, one water over the years, sexes, species, and the standard they make.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::fixture::Compared;
use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{Run, text, winterline};

fn at_age_2(lengths: &[f64]) -> Vec<ReadFish> {
    lengths.iter().map(|length| fish(*length, 2)).collect()
}

fn read(folder: &Path, name: &str, water: &str, fish: &[ReadFish]) -> PathBuf {
    let path = survey(folder, name, water, fish);
    read_by(&path, "kb", fish, false);
    path
}

fn in_year(day: &'static str, fish: Vec<ReadFish>) -> Vec<ReadFish> {
    fish.into_iter().map(|one| ReadFish { captured: day, ..one }).collect()
}

fn compare(folder: &Path, more: &[&str]) -> Run {
    let usual = ["--basis", "capture", "--min-fish", "2"].map(str::to_owned);
    let mut arguments = vec!["compare".to_owned(), text(folder)];
    arguments.extend(usual);
    arguments.extend(more.iter().map(|&word| word.to_owned()));
    winterline(&arguments)
}

/// Alder Run over three years, and three other waters of one survey each.
fn region() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (day, mean) in [("2023-10-06", 230.0), ("2024-10-06", 236.0), ("2025-10-06", 239.0)] {
        let fish = in_year(day, at_age_2(&[mean - 2.0, mean + 2.0]));
        read(folder.path(), &format!("Alder Run {}", &day[..4]), "Alder Run", &fish);
    }
    for (water, mean) in [("Birch Lake", 200.0), ("Cedar Lake", 220.0), ("Doe Pond", 270.0)] {
        read(folder.path(), &format!("{water} 2025"), water, &at_age_2(&[mean - 2.0, mean + 2.0]));
    }
    folder
}

/// Ranks and deviations worked out by hand: Alder 235, Birch 200, Cedar 220, Doe 270; each against the mean of the others.
#[test]
fn waters_are_put_in_the_order_of_growth() {
    let region = region();
    let run = compare(region.path(), &["--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let (found, mut compared) = (run.json(), Compared::within(1e-12));
    let expected = [
        ("Doe Pond", 270.0 - (235.0 + 200.0 + 220.0) / 3.0),
        ("Alder Run", 235.0 - (200.0 + 220.0 + 270.0) / 3.0),
        ("Cedar Lake", 220.0 - (235.0 + 200.0 + 270.0) / 3.0),
        ("Birch Lake", 200.0 - (235.0 + 220.0 + 270.0) / 3.0),
    ];
    for (place, (water, index_mm)) in expected.iter().enumerate() {
        let shown = &found["waters"][place];
        assert_eq!(shown["water"], *water);
        compared.number(&shown["rank"], &Value::from(place + 1));
        compared.number(&shown["growth_index_mm"], &Value::from(*index_mm));
    }
    assert_eq!(compared.count, 4 * 2);
    assert_eq!(found["waters"][1]["surveys"].as_array().unwrap().len(), 3);
    // Two fish 4 mm apart have wide intervals (t on one degree of freedom, 12.7 x 2 mm): Doe stands apart all the same.
    assert_eq!(found["waters"][0]["overlapping_waters"], 0);
    let words = compare(region.path(), &[]).out;
    assert!(words.contains("Waters by growth") && words.contains("     1  Doe Pond"), "{words}");
}

/// The line through -33.33 + 230, 236, 239 - 200 by hand: the slope is half the difference of its ends.
#[test]
fn one_water_is_shown_over_its_years() {
    let region = region();
    let found = compare(region.path(), &["--json", "--water", "alder run"]).json();
    assert_eq!(found["waters"].as_array().unwrap().len(), 1);
    assert_eq!(found["surveys"].as_array().unwrap().len(), 3);
    let water = &found["waters"][0];
    let mut compared = Compared::within(1e-9);
    for (year, mean) in [(0, 230.0), (1, 236.0), (2, 239.0)] {
        compared.number(&water["years"][year]["growth_index_mm"], &Value::from(mean - 230.0));
        compared.number(&water["years"][year]["year"], &Value::from(2023 + year));
    }
    compared.number(&water["trend"]["slope_mm_per_year"], &Value::from(4.5));
    // Residuals -0.5, 1, -0.5: variance 1.5 on one degree of freedom over the sum of squares 2 of the years.
    compared.number(&water["trend"]["se"], &Value::from((1.5_f64 / 2.0).sqrt()));
    assert_eq!(compared.count, 3 * 2 + 2);
    let words = compare(region.path(), &["--water", "Alder Run"]).out;
    assert!(
        words.contains("Alder Run by year of capture") && words.contains("+4.5 mm a year"),
        "{words}"
    );
    let none = compare(region.path(), &["--water", "Elm Lake"]);
    assert_eq!((none.status, none.err.contains("Elm Lake")), (1, true));
}

/// The standard of all waters: mean of 200, 220, 235, 270, and their quartiles at Hazen's positions.
#[test]
fn the_standard_of_all_waters_is_shown_and_can_be_used() {
    let region = region();
    let file = region.path().join("standard.csv");
    let run = compare(region.path(), &["--json", "--write-standard", &text(&file)]);
    assert_eq!(run.status, 0, "{}", run.err);
    let (found, mut compared) = (run.json(), Compared::within(1e-12));
    let age = &found["standard_ages"][0];
    compared.number(&age["mean_mm"], &Value::from(231.25));
    compared.number(&age["n_waters"], &Value::from(4));
    let percentiles = [(0, 25.0, 210.0), (1, 50.0, 227.5), (2, 75.0, 252.5)];
    for (at, percent, mm) in percentiles {
        compared.number(&age["percentiles"][at]["percent"], &Value::from(percent));
        compared.number(&age["percentiles"][at]["mm"], &Value::from(mm));
    }
    assert_eq!(compared.count, 2 + 3 * 2);
    // It goes back in as a reference, where the water is no longer left out of it.
    let against = compare(region.path(), &["--json", "--reference", &text(&file)]);
    assert_eq!(against.status, 0, "{}", against.err);
    let against = against.json();
    assert_eq!(against["waters"][0]["growth_index_mm"], 270.0 - 231.25);
    assert_eq!(against["standard_ages"], serde_json::json!([]));
}

/// Females of 240 and 260 in two waters, males of 200 and 210: each sex has a standard of its own.
#[test]
fn sexes_have_their_own_standards() {
    let folder = tempfile::tempdir().unwrap();
    let of = |length_mm: f64, sex: &'static str| ReadFish { sex, ..fish(length_mm, 2) };
    let both = |f: f64, m: f64| {
        vec![of(f - 1.0, "f"), of(f + 1.0, "f"), of(m - 1.0, "m"), of(m + 1.0, "m"), of(500.0, "")]
    };
    read(folder.path(), "Alder Run 2025", "Alder Run", &both(240.0, 200.0));
    read(folder.path(), "Birch Lake 2025", "Birch Lake", &both(260.0, 210.0));
    let found = compare(folder.path(), &["--json", "--sex", "female"]).json();
    let survey = &found["surveys"][0];
    assert_eq!(survey["ages"][0]["reference_mm"], 260.0);
    assert_eq!(survey["ages"][0]["mean_mm"], 240.0);
    let left_out = &survey["left_out_by_reason"][0];
    assert_eq!(
        (&left_out["n"], left_out["reason"].as_str().unwrap().contains("female")),
        (&Value::from(3), true)
    );
    let all = compare(folder.path(), &["--json"]).json();
    let mean_of = |sex: Value| {
        let ages = all["standard_ages"].as_array().unwrap();
        ages.iter().find(|age| age["sex"] == sex).unwrap()["mean_mm"].as_f64().unwrap()
    };
    assert_eq!((mean_of("female".into()), mean_of("male".into())), (250.0, 205.0));
    // Two females, two males and one of unknown sex in each water.
    assert!((mean_of(Value::Null) - (1380.0 / 5.0 + 1440.0 / 5.0) / 2.0).abs() < 1e-9);
}

#[test]
fn several_species_are_compared_one_at_a_time() {
    let folder = tempfile::tempdir().unwrap();
    for (name, perch, pike) in [("Alder Run", 200.0, 400.0), ("Birch Lake", 210.0, 440.0)] {
        let path = read(
            folder.path(),
            name,
            name,
            &at_age_2(&[perch - 1.0, perch + 1.0, pike - 1.0, pike + 1.0]),
        );
        let sheet = std::fs::read_to_string(path.join("fish.csv")).unwrap();
        let species = ["species", "yellow perch", "yellow perch", "northern pike", "northern pike"];
        let rows: Vec<String> =
            sheet.lines().zip(species).map(|(row, one)| format!("{row},{one}")).collect();
        std::fs::write(path.join("fish.csv"), rows.join("\n")).unwrap();
    }
    let mixed = compare(folder.path(), &["--json"]);
    assert_eq!(mixed.status, 1);
    assert!(mixed.json()["surveys"][0]["error"].as_str().unwrap().contains("--species"));
    let pike = compare(folder.path(), &["--json", "--species", "northern pike"]);
    assert_eq!(pike.status, 0, "{}", pike.err);
    assert_eq!(pike.json()["surveys"][0]["ages"][0]["reference_mm"], 440.0);
    // The standard is written for each species.
    let file = folder.path().join("standard.csv");
    compare(folder.path(), &["--write-standard", &text(&file)]);
    let rows = std::fs::read_to_string(&file).unwrap();
    assert!(rows.contains("yellow perch,") && rows.contains("northern pike,"), "{rows}");
}
