//! `compare` of surveys against published check values, against each other, and on what is wrong.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::fixture::{Compared, case, published};
use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{Run, text, winterline};

fn read_survey(folder: &Path, name: &str, water: &str, fish: &[ReadFish]) -> PathBuf {
    let path = survey(folder, name, water, fish);
    read_by(&path, "kb", fish, false);
    path
}

fn compare(surveys: &[&Path], more: &[&str]) -> Run {
    let mut arguments = vec!["compare".to_owned()];
    arguments.extend(surveys.iter().map(|path| text(path)));
    arguments.extend(more.iter().map(|&word| word.to_owned()));
    winterline(&arguments)
}

/// The reference of check 18 as a person would keep it.
fn reference_csv(months: &str) -> String {
    let file = published("18_growth_index");
    let table = &case(&file, "per_fish")["input"]["reference"];
    let mut csv = "species,age,basis,months,mean_mm,sd_mm,source\n".to_owned();
    for (index, age) in table["age"].as_array().unwrap().iter().enumerate() {
        let (mean, sd) = (&table["mean"][index], &table["sd"][index]);
        csv.push_str(&format!("yellow perch,{age},capture,{months},{mean},{sd},invented\n"));
    }
    csv
}

fn observed() -> Vec<ReadFish> {
    let file = published("18_growth_index");
    let rows = &case(&file, "per_fish")["input"]["observed"];
    let rows = rows.as_array().unwrap().iter();
    rows.map(|row| fish(row[1].as_f64().unwrap(), row[0].as_u64().unwrap() as u32)).collect()
}

/// Check 18: in the manner of Schneider, Laarman & Gowing 2000 and Jackson, Quist & Larscheid 2008; reference invented.
#[test]
fn the_published_index_comes_out_of_the_program() {
    let folder = tempfile::tempdir().unwrap();
    let path = read_survey(folder.path(), "Alder Run 2025", "Alder Run", &observed());
    let reference = folder.path().join("reference.csv");
    std::fs::write(&reference, reference_csv("9 to 10")).unwrap();
    let more = [
        "--reference",
        reference.to_str().unwrap(),
        "--basis",
        "capture",
        "--min-fish",
        "1",
        "--json",
    ];
    let run = compare(&[&path], &more);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    let file = published("18_growth_index");
    let expected = &case(&file, "index")["expected"];
    let survey = &found["surveys"][0];
    let mut compared = Compared::within(1e-9);
    for (index, age) in survey["ages"].as_array().unwrap().iter().enumerate() {
        compared.number(&age["age"], &expected["ages"][index]);
        compared.number(&age["n"], &expected["n"][index]);
        compared.number(&age["mean_mm"], &expected["mean_length"][index]);
        compared.number(&age["deviation_mm"], &expected["deviation"][index]);
        assert_eq!((&age["basis"], &age["percentile"]), (&Value::from("capture"), &Value::Null));
    }
    // A single fish of its age stands where check 18 puts that fish.
    let single = &case(&file, "per_fish")["expected"][0];
    compared.number(&survey["ages"][0]["percent_of_reference"], &single["percent"]);
    compared.number(&survey["ages"][0]["z"], &single["z"]);
    compared.number(&survey["growth_index_mm"], &expected["mean_deviation_unweighted"]);
    compared.number(&survey["growth_index_weighted_mm"], &expected["mean_deviation_weighted_by_n"]);
    compared.number(&survey["mean_percent_of_reference"], &expected["mean_percent_of_age_means"]);
    assert_eq!(compared.count, 24 + 5);
    let limits = &survey["growth_index_ci95_mm"];
    assert!(limits[0].as_f64().unwrap() < -7.2 && limits[1].as_f64().unwrap() > -7.3);
    let strict =
        compare(&[&path], &["--reference", more[1], "--basis", "capture", "--json"]).json();
    assert_eq!(strict["surveys"][0]["growth_index_mm"], Value::Null);
}

#[test]
fn bases_and_months_never_mix() {
    let folder = tempfile::tempdir().unwrap();
    let path = read_survey(folder.path(), "Alder Run 2025", "Alder Run", &observed());
    let reference = folder.path().join("reference.csv");
    std::fs::write(&reference, reference_csv("4 to 5")).unwrap();
    let with = ["--reference", reference.to_str().unwrap(), "--json", "--basis"];
    let annulus = compare(&[&path], &[&with[..], &["annulus"]].concat());
    assert_eq!(annulus.status, 1);
    assert!(
        annulus.json()["surveys"][0]["error"].as_str().unwrap().contains("basis annulus"),
        "{}",
        annulus.out
    );
    // Fish of October are no fish of spring: none is left to compare.
    let spring = compare(&[&path], &[&with[..], &["capture"]].concat()).json();
    assert_eq!(spring["surveys"][0]["n_fish"], 0);
    assert_eq!(spring["surveys"][0]["left_out"].as_array().unwrap().len(), 9);
    assert_eq!(spring["surveys"][0]["growth_index_mm"], Value::Null);
}

fn water(at_2: f64, at_3: f64) -> Vec<ReadFish> {
    [(at_2, 2), (at_2 + 4.0, 2), (at_3, 3), (at_3 + 4.0, 3)]
        .map(|(length, age)| fish(length, age))
        .to_vec()
}

#[test]
fn each_water_is_left_out_of_its_own_standard() {
    let folder = tempfile::tempdir().unwrap();
    let alder = read_survey(folder.path(), "Alder Run 2025", "Alder Run", &water(200.0, 250.0));
    let birch = read_survey(folder.path(), "Birch Lake 2025", "Birch Lake", &water(220.0, 260.0));
    let again = read_survey(folder.path(), "Birch Lake 2024", "birch lake", &water(224.0, 264.0));
    let cedar = read_survey(folder.path(), "Cedar Lake 2025", "Cedar Lake", &water(240.0, 300.0));
    let more = ["--basis", "capture", "--min-fish", "2", "--json"];
    let run = compare(&[&alder, &birch, &again, &cedar], &more);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    let age = |survey: usize, index: usize, field: &str| {
        found["surveys"][survey]["ages"][index][field].as_f64()
    };
    // Means at age 2: Alder 202, Birch 224 over both of its surveys, Cedar 242.
    assert_eq!(age(0, 0, "reference_mm"), Some(233.0));
    assert_eq!(age(1, 0, "reference_mm"), Some(222.0));
    assert_eq!(age(2, 0, "reference_mm"), Some(222.0));
    assert_eq!(age(3, 1, "reference_mm"), Some(258.0));
    assert_eq!(age(0, 0, "deviation_mm"), Some(-31.0));
    // Alder: -31 at age 2; 252 against 283 at age 3.
    assert_eq!(found["surveys"][0]["growth_index_mm"], -31.0);
    assert_eq!(found["surveys"][0]["months"], serde_json::json!([10]));
    let table = compare(&[&alder, &birch], &["--basis", "capture", "--min-fish", "2", "--csv"]).out;
    assert_eq!(table.lines().count(), 5, "{table}");
    let words = compare(&[&alder, &birch], &["--basis", "capture", "--min-fish", "2"]).out;
    // Against each other: -20 at age 2, -10 at age 3.
    assert!(words.contains("growth index -15.0 mm"), "{words}");
}

/// Direct proportion (Lea 1910): the intercept 0 gives lengths at the annuli that can be worked out by hand.
#[test]
fn annulus_means_are_the_back_calculated_ones() {
    let folder = tempfile::tempdir().unwrap();
    let alder = read_survey(
        folder.path(),
        "Alder Run 2025",
        "Alder Run",
        &[fish(200.0, 2), fish(240.0, 2), fish(350.0, 3)],
    );
    let birch = read_survey(
        folder.path(),
        "Birch Lake 2025",
        "Birch Lake",
        &[fish(210.0, 2), fish(364.0, 3)],
    );
    let run = compare(&[&alder, &birch], &["--intercept", "0", "--min-fish", "2", "--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    let mut compared = Compared::within(1e-12);
    let ages = &found["surveys"][0]["ages"];
    // Annuli at 400, 800, ... µm, margin 200 µm beyond: 200 x 0.4, 240 x 0.4, 350 x 2/7 at annulus 1.
    compared.number(&ages[0]["mean_mm"], &Value::from((80.0 + 96.0 + 100.0) / 3.0));
    compared.number(&ages[1]["mean_mm"], &Value::from((160.0 + 192.0 + 200.0) / 3.0));
    compared.number(&ages[0]["reference_mm"], &Value::from((84.0 + 104.0) / 2.0));
    assert_eq!((&ages[2]["n"], &ages[2]["in_index"]), (&Value::from(1), &Value::from(false)));
    assert_eq!((&ages[2]["reference_mm"], &ages[2]["z"]), (&Value::Null, &Value::Null));
    assert_eq!(compared.count, 3);
}

/// A reference by sex is weighted by the fish of each sex (direct standardisation; common practice, no source).
#[test]
fn a_reference_by_sex_is_matched_to_the_sexes_of_the_sample() {
    let folder = tempfile::tempdir().unwrap();
    let of = |length_mm: f64, sex: &'static str| ReadFish { sex, ..fish(length_mm, 2) };
    let read = [of(260.0, "f"), of(260.0, "f"), of(214.0, "m"), of(300.0, "")];
    let alder = read_survey(folder.path(), "Alder Run 2025", "Alder Run", &read);
    let reference = folder.path().join("reference.csv");
    let rows = "yellow perch,female,2,capture,10,250,10\nyellow perch,male,2,capture,10,220,10\n";
    std::fs::write(&reference, format!("species,sex,age,basis,months,mean_mm,sd_mm\n{rows}"))
        .unwrap();
    let more = [
        "--reference",
        reference.to_str().unwrap(),
        "--basis",
        "capture",
        "--min-fish",
        "3",
        "--json",
    ];
    let run = compare(&[&alder], &more);
    assert_eq!(run.status, 0, "{}", run.err);
    let (found, mut compared) = (run.json(), Compared::within(1e-12));
    let age = &found["surveys"][0]["ages"][0];
    compared.number(&age["reference_mm"], &Value::from(240.0));
    compared.number(&age["deviation_mm"], &Value::from(734.0 / 3.0 - 240.0));
    // The mixture's variance: 10 squared within, and 2/3 x 10 squared + 1/3 x 20 squared between the sexes.
    compared.number(&age["z"], &Value::from((734.0 / 3.0 - 240.0) / 300.0_f64.sqrt()));
    assert_eq!((&age["n"], compared.count), (&Value::from(3), 3));
    assert!(
        found["surveys"][0]["left_out"][0]["reason"].as_str().unwrap().contains("sex is not known")
    );
}

#[test]
fn a_bad_survey_does_not_stop_the_rest() {
    let folder = tempfile::tempdir().unwrap();
    let alder = read_survey(folder.path(), "Alder Run 2025", "Alder Run", &water(200.0, 250.0));
    let birch = read_survey(folder.path(), "Birch Lake 2025", "Birch Lake", &water(220.0, 260.0));
    let nothing = folder.path().join("nothing");
    let run =
        compare(&[&alder, &nothing, &birch], &["--basis", "capture", "--min-fish", "2", "--json"]);
    assert_eq!(run.status, 1);
    let found = run.json();
    assert_eq!(found["surveys"].as_array().unwrap().len(), 3);
    assert!(found["surveys"][1]["error"].is_string());
    assert_eq!(found["surveys"][0]["error"], Value::Null);
    assert!(found["surveys"][2]["growth_index_mm"].is_number());
    assert_eq!(run.err.lines().count(), 1, "{}", run.err);
    assert_eq!(compare(&[], &["--json"]).status, 2);
    assert_eq!(compare(&[&alder], &["--basis", "both"]).status, 2);
    assert_eq!(compare(&[&alder], &["--min-fish", "0"]).status, 2);
    let missing = compare(&[&alder], &["--reference", "no-such-file.csv", "--json"]);
    assert_eq!(missing.status, 1);
    assert!(missing.json()["error"].as_str().unwrap().contains("no-such-file.csv"));
}
