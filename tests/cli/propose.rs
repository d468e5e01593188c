//! `propose` and `simulate` on pictures of known truth.

use serde_json::{Value, json};

use crate::read_survey::{fish, survey};
use crate::run::{text, winterline};

fn demo_images() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-images")
}

fn read(path: &std::path::Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn radii(list: &Value) -> Vec<f64> {
    list.as_array().unwrap().iter().map(|one| one["um"].as_f64().unwrap()).collect()
}

/// On every picture labelled easy: each annulus within 3 percent of the radius, and no mark too many. The truth is
/// that of the drawing.
#[test]
fn easy_demo_pictures_are_proposed_as_they_were_drawn() {
    let folder = demo_images();
    let truth = read(&folder.join("truth.json"));
    let run = winterline(&["propose", "--jobs", &text(&folder.join("jobs.json")), "--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    let truth = truth.as_array().unwrap();
    assert_eq!(truth.len(), 12);
    let mut n_easy = 0;
    for (true_one, one) in truth.iter().zip(found.as_array().unwrap()) {
        assert_eq!(true_one["image"], one["image"]);
        assert_eq!(one["error"], Value::Null);
        if true_one["difficulty"] != "easy" {
            continue;
        }
        n_easy += 1;
        let (expected, proposed) = (radii(&true_one["annuli"]), radii(&one["annuli"]));
        let allowed = 0.03 * true_one["edge_um"].as_f64().unwrap();
        assert_eq!(expected.len(), proposed.len(), "{}: {expected:?} {proposed:?}", one["image"]);
        for (a, b) in expected.iter().zip(&proposed) {
            assert!((a - b).abs() <= allowed, "{}: {expected:?} {proposed:?}", one["image"]);
        }
    }
    assert!(n_easy >= 8, "{n_easy} easy pictures");
}

#[test]
fn one_bad_job_does_not_stop_the_others() {
    let folder = tempfile::tempdir().unwrap();
    let run = winterline(&[
        "simulate",
        "pictures",
        &text(folder.path()),
        "--count",
        "1",
        "--seed",
        "5",
        "--json",
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert_eq!(run.json()["written"].as_array().unwrap().len(), 3);
    let mut jobs = read(&folder.path().join("jobs.json"));
    let list = jobs.as_array_mut().unwrap();
    list.insert(0, json!({"image": "gone.tif", "structure": "scale"}));
    list.push(json!({"image": "scale-0001.png", "structure": "feather"}));
    std::fs::write(folder.path().join("jobs.json"), jobs.to_string()).unwrap();
    let run = winterline(&["propose", "--jobs", &text(&folder.path().join("jobs.json")), "--json"]);
    assert_eq!(run.status, 1);
    let found = run.json();
    assert_eq!(found.as_array().unwrap().len(), 3);
    assert!(found[0]["error"].as_str().unwrap().contains("gone.tif"));
    assert_eq!(found[1]["error"], Value::Null);
    assert!(found[1]["edge_um"].is_number());
    assert!(found[2]["error"].as_str().unwrap().contains("structure"));
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let folders = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    for folder in &folders {
        let run = winterline(&[
            "simulate",
            "pictures",
            &text(folder.path()),
            "--structure",
            "otolith",
            "--count",
            "2",
            "--seed",
            "9",
        ]);
        assert_eq!(run.status, 0, "{}", run.err);
    }
    for name in ["otolith-0001.png", "otolith-0002.png", "truth.json", "jobs.json"] {
        let [a, b] =
            folders.each_ref().map(|folder| std::fs::read(folder.path().join(name)).unwrap());
        assert_eq!(a, b, "{name}");
    }
}

/// Readings that are too few to say anything are no ground for probabilities: the verb says so and gives none. And no
/// number is given for an annulus at the very margin, since none has been shown to mean anything.
#[test]
fn probabilities_by_own_readings_need_enough_of_them() {
    let folder = tempfile::tempdir().unwrap();
    let own = survey(folder.path(), "alder-run", "Alder Run", &[fish(180.0, 2)]);
    let jobs = read(&demo_images().join("jobs.json"));
    let job = jobs.as_array().unwrap().iter().find(|job| job["structure"] == "scale").unwrap();
    let image = text(&demo_images().join(job["image"].as_str().unwrap()));
    let run = winterline(&["propose", &image, "--structure", "scale", "--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = &run.json()[0];
    assert!(found["annuli"][0]["probability"].is_number());
    for none in
        [&found["annuli"][0]["probability_here"], &found["own_line"], &found["edge_annulus"]]
    {
        assert_eq!(*none, Value::Null);
    }
    let asked = ["propose", &image, "--structure", "scale", "--readings-of", &text(&own), "--json"];
    let run = winterline(&asked);
    assert_eq!((run.status, run.out.as_str()), (1, ""));
    assert!(run.err.contains("0 judged proposals from 0 fish are too few"), "{}", run.err);
    assert!(run.err.contains("alder-run"), "{}", run.err);
}
