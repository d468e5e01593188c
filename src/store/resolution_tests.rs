//! Decisions on disk: round trips, chains, two leads at once, damage.

use std::path::Path;
use std::sync::Barrier;

use jiff::Timestamp;

use crate::domain::reading::{Outcome, ReadingState};
use crate::domain::resolution::{Decision, FishReading, Resolution, standing};

use super::blind_error::BlindError;
use super::blind_tests::{at, reader};
use super::resolution_file::{
    NewDecision, RESOLVED_FOLDER, decide, load_resolution, load_resolutions, reading_hash,
    resolution_path,
};
use super::sidecar_tests::{confirmed, impression};

fn new(by: &str, supersedes: Option<&Resolution>) -> NewDecision {
    let one = |who: &str, age: u32| FishReading {
        fish: "0012".to_owned(),
        scan: "MH-0012.tif".to_owned(),
        impression: 1,
        reader: reader(who),
        outcome: Some(Outcome::Aged),
        age: Some(age),
        hash: format!("{who}{age}"),
    };
    NewDecision {
        fish: "0012".to_owned(),
        considered: vec![one("kb", 4), one("tv", 5)],
        decision: Decision::Consensus(4),
        by: reader(by),
        why: "the outermost mark is a check".to_owned(),
        supersedes: supersedes.map(|earlier| earlier.id.clone()),
    }
}

/// Decides once more on the fish, whatever stands.
pub(super) fn decide_next(survey: &Path) {
    let there = load_resolutions(survey).unwrap().resolutions;
    let now = standing(&there, "0012");
    decide(survey, &new("lead", now.first().copied()), Timestamp::now()).unwrap();
}

#[test]
fn decisions_go_there_and_back_and_form_a_chain() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(
        load_resolutions(folder.path()).unwrap(),
        super::resolution_file::Resolutions::default()
    );
    let (first, path) =
        decide(folder.path(), &new("lead", None), at("2025-07-01T08:00:00Z")).unwrap();
    assert_eq!(load_resolution(&path).unwrap(), first);
    assert_eq!(path, resolution_path(folder.path(), &first.id));
    let before = std::fs::read(&path).unwrap();

    let blind = decide(folder.path(), &new("mo", None), at("2025-07-02T08:00:00Z")).unwrap_err();
    assert!(blind.to_string().contains("lead decided on this fish meanwhile"), "{blind}");
    let mut second = new("mo", Some(&first));
    second.decision = Decision::Discard;
    let (second, _) = decide(folder.path(), &second, at("2025-07-03T08:00:00Z")).unwrap();
    let late = decide(folder.path(), &new("kb", Some(&first)), at("2025-07-04T08:00:00Z"));
    assert!(matches!(late, Err(BlindError::DecidedByOther { by, .. }) if by == "mo"));
    let mut third = new("lead", Some(&second));
    third.decision = Decision::ThirdReading(5);
    let (third, _) = decide(folder.path(), &third, at("2025-07-05T08:00:00Z")).unwrap();
    let all = load_resolutions(folder.path()).unwrap();
    assert_eq!(all.resolutions, [first, second, third.clone()]);
    assert_eq!(all.problems, Vec::<String>::new());
    assert_eq!(standing(&all.resolutions, "0012"), [&third]);
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn of_two_leads_who_decide_at_once_exactly_one_wins_and_the_other_is_told() {
    for round in 0..40 {
        let folder = tempfile::tempdir().unwrap();
        let barrier = Barrier::new(2);
        let results: Vec<Result<Resolution, BlindError>> = std::thread::scope(|scope| {
            let decide_as = |who: &'static str| {
                let (folder, barrier) = (folder.path(), &barrier);
                scope.spawn(move || {
                    let mut wish = new(who, None);
                    wish.decision =
                        if who == "lead" { Decision::Discard } else { Decision::Consensus(5) };
                    // They may not even have looked at the same readings.
                    wish.considered.truncate(if who == "lead" { 1 } else { 2 });
                    barrier.wait();
                    decide(folder, &wish, Timestamp::now()).map(|(resolution, _)| resolution)
                })
            };
            let threads = [decide_as("lead"), decide_as("mo")];
            threads.map(|thread| thread.join().unwrap()).into_iter().collect()
        });
        let (won, lost): (Vec<_>, Vec<_>) = results.into_iter().partition(Result::is_ok);
        assert_eq!((won.len(), lost.len()), (1, 1), "round {round}");
        let winner = won.into_iter().next().unwrap().unwrap();
        let told = lost.into_iter().next().unwrap().unwrap_err();
        assert!(
            matches!(&told, BlindError::DecidedByOther { by, .. } if *by == winner.by.to_string()),
            "{told}"
        );
        assert_eq!(load_resolutions(folder.path()).unwrap().resolutions, [winner]);
        assert_eq!(std::fs::read_dir(folder.path().join(RESOLVED_FOLDER)).unwrap().count(), 1);
    }
}

#[test]
fn damaged_decisions_are_told_and_never_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let (_, path) = decide(folder.path(), &new("lead", None), at("2025-07-01T08:00:00Z")).unwrap();
    let good = std::fs::read(&path).unwrap();
    let mut n_damaged = 0;
    for cut in (0..good.len() - 2).step_by(5) {
        std::fs::write(&path, &good[..cut]).unwrap();
        let all = load_resolutions(folder.path()).unwrap();
        assert_eq!((all.resolutions.len(), all.problems.len()), (0, 1));
        assert!(all.problems[0].contains("the decision cannot be read"), "{}", all.problems[0]);
        let error =
            decide(folder.path(), &new("mo", None), at("2025-07-02T08:00:00Z")).unwrap_err();
        assert!(matches!(error, BlindError::Unreadable { .. }), "{error}");
        assert_eq!(std::fs::read(&path).unwrap(), good[..cut]);
        n_damaged += 1;
    }
    assert!(n_damaged > 50);
    // A copy under another name is no second decision.
    std::fs::write(&path, &good).unwrap();
    std::fs::copy(&path, path.with_file_name("copy.json")).unwrap();
    let all = load_resolutions(folder.path()).unwrap();
    assert_eq!((all.resolutions.len(), all.problems.len()), (1, 1));
}

#[test]
fn what_does_not_hold_together_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let base = || new("lead", None);
    let cases = [
        (NewDecision { fish: String::new(), ..base() }, "names no fish"),
        (NewDecision { considered: Vec::new(), ..base() }, "rests on no reading"),
        (NewDecision { fish: "0013".to_owned(), ..base() }, "reading of another fish"),
        (NewDecision { why: "  ".to_owned(), ..base() }, "gives no reason"),
        (
            NewDecision { supersedes: Some("gone".to_owned()), ..base() },
            "names an earlier one that is not there",
        ),
    ];
    for (wish, expected) in cases {
        let error = decide(folder.path(), &wish, Timestamp::UNIX_EPOCH).unwrap_err().to_string();
        assert!(error.contains(expected), "{error}");
    }
    assert!(!folder.path().join(RESOLVED_FOLDER).exists());
}

#[test]
fn the_hash_changes_with_the_reading_and_not_with_the_calibration() {
    let scan = confirmed();
    let one = impression(1, ReadingState::Confirmed);
    let hash = reading_hash(&scan, &one);
    assert_eq!(hash.len(), 64);
    let mut other = one.clone();
    other.marks.pop();
    assert_ne!(reading_hash(&scan, &other), hash);
    let mut uncalibrated = scan.clone();
    uncalibrated.calibration = None;
    assert_eq!(reading_hash(&uncalibrated, &one), hash);
    uncalibrated.reader = reader("tv");
    assert_ne!(reading_hash(&uncalibrated, &one), hash);
}
