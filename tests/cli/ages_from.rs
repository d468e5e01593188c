//! Whose ages count: one rule for lengths, growth, ages, compare and report, with how many fish it leaves.

use std::path::Path;

use jiff::Timestamp;
use winterline::domain::reading::ReaderInitials;
use winterline::domain::resolution::Decision;
use winterline::store::collection::OpenSurvey;
use winterline::store::resolution_file::{NewDecision, decide};
use winterline::workbench::resolve_readings::readings_and_resolutions;

use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{text, winterline};

/// Six fish; kb and rt part on the last two. On fish 6 the lead has decided for rt's age of 4.
fn two_readers(folder: &Path) -> std::path::PathBuf {
    let by_kb: Vec<ReadFish> = [2, 3, 3, 2, 3, 3]
        .into_iter()
        .zip([180.0, 230.0, 236.0, 175.0, 240.0, 250.0])
        .map(|(n, mm)| fish(mm, n))
        .collect();
    let mut by_rt = by_kb.clone();
    by_rt[4] = fish(240.0, 4);
    by_rt[5] = fish(250.0, 4);
    let path = survey(folder, "alder-run", "Alder Run", &by_kb);
    read_by(&path, "kb", &by_kb, false);
    read_by(&path, "rt", &by_rt, false);
    let open = OpenSurvey::open(&path).unwrap();
    let readings = open.load_readings(&winterline::domain::progress::Progress::new()).unwrap();
    let all = readings_and_resolutions(&open, &readings).unwrap().readings;
    let new = NewDecision {
        fish: "6".to_owned(),
        considered: all.into_iter().filter(|reading| reading.fish == "6").collect(),
        decision: Decision::Consensus(4),
        by: ReaderInitials::new("lead").unwrap(),
        why: "a crowded third annulus".to_owned(),
        supersedes: None,
    };
    decide(&path, &new, Timestamp::now()).unwrap();
    path
}

fn ages(path: &Path, from: &str) -> Vec<(String, u64)> {
    let run = winterline(&[
        "lengths",
        &text(path),
        "--method",
        "direct-proportion",
        "--ages-from",
        from,
        "--json",
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    assert_eq!(found["ages_from"]["each_rule"], "kb 6, rt 6, consensus 5, only agreed 4");
    let fish = found["fish"].as_array().unwrap();
    fish.iter()
        .map(|one| {
            let name = one["fish"].as_str().unwrap().to_owned();
            (name, one["lengths_mm"].as_array().unwrap().len() as u64)
        })
        .collect()
}

#[test]
fn each_rule_leaves_the_fish_it_says_and_radii_of_the_age_that_counts() {
    let folder = tempfile::tempdir().unwrap();
    let path = two_readers(folder.path());
    let named = |ages: &[(&str, u64)]| {
        ages.iter().map(|(name, n)| ((*name).to_owned(), *n)).collect::<Vec<_>>()
    };
    let one = [("1", 2), ("2", 3), ("3", 3), ("4", 2)];
    assert_eq!(ages(&path, "agreed"), named(&one));
    assert_eq!(ages(&path, "reader"), named(&[&one[..], &[("5", 3), ("6", 3)]].concat()));
    // Decided for rt's age of 4, so rt's radii count.
    assert_eq!(ages(&path, "consensus"), named(&[&one[..], &[("6", 4)]].concat()));
}

#[test]
fn every_analysis_takes_the_rule_and_says_what_it_leaves() {
    let folder = tempfile::tempdir().unwrap();
    let path = text(&two_readers(folder.path()));
    for verb in ["lengths", "ages", "growth", "compare", "report"] {
        let run = winterline(&[verb, &path, "--ages-from", "consensus"]);
        assert!(
            run.err.contains("5 fish (each rule leaves: kb 6, rt 6, consensus 5, only agreed 4)"),
            "{verb}: {}",
            run.err
        );
    }
    let borrow = ["--empty-groups", "borrow"];
    let run =
        winterline(&[&["ages", &path, "--ages-from", "agreed", "--json"][..], &borrow].concat());
    let found = run.json();
    assert_eq!(found["ages_from"]["by"], "only agreed", "{}", run.err);
    assert_eq!(found["ages_from"]["left_out"].as_array().unwrap().len(), 2);
}

/// The ages and lengths of the report's data under a rule, and its page.
fn reported(path: &Path, from: &str) -> (Vec<(String, Option<u64>, usize)>, String) {
    let out = path.join("results");
    let run = winterline(&["report", &text(path), "--data", "--ages-from", from]);
    assert_eq!(run.status, 0, "{}", run.err);
    let document: serde_json::Value =
        serde_json::from_slice(&std::fs::read(out.join("data.json")).unwrap()).unwrap();
    let lengths = document["annuli"].as_array().unwrap();
    let of = |fish: &serde_json::Value| {
        let name = fish["fish"].as_str().unwrap().to_owned();
        let n = lengths.iter().filter(|row| row["fish"] == fish["fish"]).count();
        (name, fish["age_years"].as_u64(), n)
    };
    let fish = document["fish"].as_array().unwrap().iter().map(of).collect();
    (fish, std::fs::read_to_string(out.join("report.html")).unwrap())
}

#[test]
fn the_report_rests_on_the_ages_of_the_rule_and_names_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = two_readers(folder.path());
    let (fish, page) = reported(&path, "consensus");
    // kb and rt part on fish 5, which nobody has decided; on fish 6 the lead took rt's 4.
    let ages: Vec<Option<u64>> = fish.iter().map(|(_, age, _)| *age).collect();
    assert_eq!(ages, [Some(2), Some(3), Some(3), Some(2), None, Some(4)]);
    assert_eq!(fish[5].2, 4, "the radii are those of the age that counts: {fish:?}");
    assert!(page.contains("each rule leaves: kb 6, rt 6, consensus 5, only agreed 4"));
    assert!(page.contains("reader rt"), "the card of fish 6 names who read it");
    assert!(
        !page.contains("no confirmed reading by kb"),
        "fish 5 has one; it is the rule that leaves it out"
    );
    let (fish, page) = reported(&path, "reader");
    assert_eq!(fish[5].1, Some(3));
    assert!(page.contains("Ages by kb"));
}

#[test]
fn paper_method_and_mortality_of_the_report_are_as_asked() {
    let folder = tempfile::tempdir().unwrap();
    let path = two_readers(folder.path());
    let more = ["--paper", "letter", "--method", "direct-proportion", "--no-mortality"];
    let run = winterline(&[&["report", &text(&path)][..], &more].concat());
    assert_eq!(run.status, 0, "{}", run.err);
    let page = std::fs::read_to_string(path.join("results/report.html")).unwrap();
    assert!(page.contains("@page { size: letter; "));
    assert!(
        page.contains("Length at each annulus: direct proportion") && page.contains("Lea 1910")
    );
    assert!(page.contains("not asked for"));
    let both = winterline(&["report", &text(&path), "--no-mortality", "--even-recruitment"]);
    assert_eq!(both.status, 2, "{}", both.err);
}
