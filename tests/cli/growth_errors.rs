//! Errors carried to lengths and growth, methods and units by choice, weights by a key, and fish left out by hand.

use jiff::Timestamp;
use serde_json::Value;
use winterline::domain::reading::ReaderInitials;
use winterline::store::exclusion_file::exclude;

use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{text, winterline};

/// Thirty fish of ages 2 to 6.
fn read_fish(shift_um: f64) -> Vec<ReadFish> {
    (0..30u32)
        .map(|i| {
            let n = 2 + i % 5;
            let annuli_um: Vec<f64> = (1..=n)
                .map(|a| {
                    1500.0 * (1.0 - (-0.4 * f64::from(a)).exp()) + 9.0 * f64::from(i % 3) + shift_um
                })
                .collect();
            let radius_um = annuli_um[annuli_um.len() - 1] + 40.0 - shift_um;
            let length_mm = (radius_um * 0.25 + f64::from(i % 4) - 1.5).round();
            ReadFish { length_mm, radius_um, annuli_um, ..fish(0.0, n) }
        })
        .collect()
}

/// Read by kb, and by mt as well with every annulus 10 µm farther out.
fn twice_read() -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().unwrap();
    let read = read_fish(0.0);
    let path = survey(folder.path(), "Alder Run 2025", "Alder Run", &read);
    read_by(&path, "kb", &read, false);
    read_by(&path, "mt", &read_fish(10.0), false);
    (folder, text(&path))
}

fn share(document: &Value, source: &str) -> Value {
    let sources = document["uncertainty"].as_array().unwrap();
    sources.iter().find(|one| one["source"] == source).unwrap()["share"].clone()
}

#[test]
fn every_source_is_given_its_share_or_named_as_unknown() {
    let (_folder, path) = twice_read();
    let run = winterline(&["growth", &path, "--intercept", "0", "--uncertainty", "200", "--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    assert_eq!(found["uncertainty"].as_array().unwrap().len(), 7);
    // Radii of the two readers differ by 10 µm everywhere: sqrt(100/2) = 7.07 µm within reader.
    assert!(share(&found, "mark placement").as_f64().unwrap() > 0.0);
    assert!(share(&found, "disagreement of readers").as_f64().unwrap() > 0.0);
    for missing in
        ["length at capture", "calibration", "focus placement", "relation of length and radius"]
    {
        assert_eq!(share(&found, missing), Value::Null, "{missing}");
    }
    let known: f64 = found["uncertainty"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|one| one["share"].as_f64())
        .sum();
    assert!((known - 1.0).abs() < 1e-9, "{known}");
    let detail = &found["uncertainty_detail"];
    assert_eq!((&detail["replicates"], &detail["n_fish"]), (&Value::from(200), &Value::from(30)));
    let linf = &detail["parameters"][0];
    assert_eq!(
        (&linf["name"], &linf["estimate"]),
        (&Value::from("Linf"), &found["parameters"][0]["estimate"])
    );
    let again =
        winterline(&["growth", &path, "--intercept", "0", "--uncertainty", "200", "--json"]);
    assert_eq!(again.out, run.out);
    let stated = [
        "growth",
        &path,
        "--intercept",
        "0",
        "--intercept-error",
        "6",
        "--length-error",
        "2",
        "--uncertainty",
        "200",
        "--json",
    ];
    let stated = winterline(&stated).json();
    assert!(share(&stated, "length at capture").as_f64().unwrap() > 0.0);
    assert!(share(&stated, "relation of length and radius").as_f64().unwrap() > 0.0);
}

#[test]
fn lengths_carry_errors_too() {
    let (_folder, path) = twice_read();
    let found =
        winterline(&["lengths", &path, "--uncertainty", "150", "--seed", "4", "--json"]).json();
    let rows = found["uncertainty_detail"]["by_age"].as_array().unwrap();
    assert_eq!(rows.len(), found["by_age"].as_array().unwrap().len());
    for (carried, plain) in rows.iter().zip(found["by_age"].as_array().unwrap()) {
        assert_eq!(carried["n"], plain["n"]);
        let (a, b) = (carried["mean_mm"].as_f64().unwrap(), plain["mean_mm"].as_f64().unwrap());
        assert!((a - b).abs() < 1e-9);
    }
    let words = winterline(&["lengths", &path, "--uncertainty"]).out;
    assert!(words.contains("Share of the variance by source") && words.contains("1000 replicates"));
    let plain = winterline(&["lengths", &path, "--json"]).json();
    assert_eq!(plain["uncertainty"], Value::Null);
}

#[test]
fn method_and_unit_are_a_choice() {
    let (_folder, path) = twice_read();
    let linf = |more: &[&str]| {
        let mut arguments = vec!["growth", &path, "--json"];
        arguments.extend(more);
        let found = winterline(&arguments).json();
        (found["parameters"][0]["estimate"].as_f64().unwrap(), found["length_unit"].clone())
    };
    let direct = linf(&["--method", "direct-proportion"]);
    assert!((direct.0 - linf(&["--intercept", "0"]).0).abs() < 1e-6 * direct.0);
    assert!((direct.0 - linf(&["--method", "body-proportional"]).0).abs() > 1e-6 * direct.0);
    // The international inch of 1959: 25.4 mm.
    let inches = linf(&["--method", "direct-proportion", "--unit", "in"]);
    assert!((inches.0 * 25.4 / direct.0 - 1.0).abs() < 1e-6);
    assert_eq!((direct.1, inches.1), (Value::from("mm"), Value::from("in")));
    for wrong in [
        &["--method", "by-eye"][..],
        &["--method", "modified-fry"],
        &["--uncertainty", "200", "--mark-error", "-3"],
        &["--uncertainty", "200", "--unit", "in"],
        &["--mark-error", "3"],
    ] {
        let mut arguments = vec!["growth", path.as_str()];
        arguments.extend(wrong);
        assert_eq!(winterline(&arguments).status, 2, "{wrong:?}");
    }
}

/// All fish aged: every aged fish stands for itself, and weighting changes nothing.
#[test]
fn weights_of_a_fully_aged_sample_are_1() {
    let (_folder, path) = twice_read();
    let plain = winterline(&["growth", &path, "--json"]).json();
    let weighted = winterline(&["growth", &path, "--weight-by-key", "--json"]).json();
    assert_eq!(
        (&plain["weighting"], &weighted["weighting"]),
        (&Value::from("none"), &Value::from("age-length key"))
    );
    let at = |found: &Value| found["parameters"][0]["estimate"].as_f64().unwrap();
    assert!((at(&plain) - at(&weighted)).abs() < 1e-6 * at(&plain));
    for row in weighted["length_at_age_by_key"].as_array().unwrap() {
        let (a, b) = (row["mean_mm"].as_f64().unwrap(), row["plain_mean_mm"].as_f64().unwrap());
        assert!((a - b).abs() < 1e-9, "{row}");
    }
}

#[test]
fn a_fish_left_out_by_hand_is_out_of_everything_and_counted() {
    let (_folder, path) = twice_read();
    let key = winterline(&["lengths", &path, "--json"]).json()["fish"][2]["fish"].clone();
    let key = key.as_str().unwrap();
    let kb = ReaderInitials::new("kb").unwrap();
    let whom = (key, true);
    exclude(std::path::Path::new(&path), whom, (&kb, "margin torn"), None, Timestamp::UNIX_EPOCH)
        .unwrap();
    let growth = winterline(&["growth", &path, "--json"]).json();
    assert_eq!((&growth["n"], &growth["left_out_by_hand"]), (&Value::from(29), &Value::from(1)));
    let reason = "left out by kb: margin torn";
    let named = |rows: &Value| {
        rows.as_array().unwrap().iter().any(|one| one["fish"] == key && one["reason"] == reason)
    };
    assert!(named(&growth["left_out"]), "{}", growth["left_out"]);
    assert!(named(&winterline(&["lengths", &path, "--json"]).json()["excluded"]));
    let check = winterline(&["check", &path, "--json"]);
    assert_eq!(check.status, 0, "{}", check.out);
}
