//! The program killed with signal 9 straight after a confirmation is shown as saved: nothing is lost.
//!
//! The child is this test binary itself: it reads through the workbench, as the window does, says when a reading is
//! shown as saved, and waits to be killed.

use std::io::{BufRead, BufReader, ErrorKind};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::run::{SOUND, survey_with};
use winterline::domain::reading::{EdgeCondition, MarkKind, Outcome, ReaderInitials, ReadingState};
use winterline::store::file_name::sidecar_path;
use winterline::store::safe_write::Step;
use winterline::store::sidecar::{load_sidecar, save_reading, save_reading_with};

const CHILD: &str = "WINTERLINE_TEST_CHILD_SURVEY";

#[test]
fn child_reads_and_waits() {
    let Some(survey) = std::env::var_os(CHILD) else { return };
    child::read_and_wait(Path::new(&survey));
}

#[test]
fn killed_after_a_confirmation_nothing_is_lost() {
    for _ in 0..5 {
        let (_folder, survey) = survey_with(SOUND);
        let mut process = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "killed::child_reads_and_waits", "--nocapture"])
            .env(CHILD, &survey)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(process.stdout.take().unwrap()).lines();
        let saved = lines.map_while(Result::ok).any(|line| line.contains("shown as saved"));
        // On Unix this is signal 9: no handler and no destructor runs.
        process.kill().unwrap();
        process.wait().unwrap();
        assert!(saved, "the child never showed the reading as saved");
        let reader = ReaderInitials::new("kb").unwrap();
        let loaded = load_sidecar(&sidecar_path(&survey, "AR-1.tif", &reader).unwrap()).unwrap();
        let reading = &loaded.reading.impressions[0];
        assert_eq!(reading.state, ReadingState::Confirmed);
        assert_eq!(reading.outcome, Some(Outcome::Aged));
        assert_eq!(reading.edge_condition, Some(EdgeCondition::Wide));
        let kinds: Vec<MarkKind> = reading.marks.iter().map(|mark| mark.kind).collect();
        assert_eq!(kinds, [MarkKind::Annulus, MarkKind::Check]);
        assert!(
            winterline::store::collection::OpenSurvey::open(&survey).unwrap().problems.is_empty()
        );
    }
}

const EDITING_CHILD: &str = "WINTERLINE_TEST_EDITING_SURVEY";

#[test]
fn child_edits_without_end() {
    let Some(survey) = std::env::var_os(EDITING_CHILD) else { return };
    child::edit_without_end(Path::new(&survey));
}

#[path = "killed_child.rs"]
mod child;

/// Kills the program at random moments of scripted editing and confirming, over and over on the same survey. Every
/// reading that was shown as saved is there afterwards, and no file is damaged. `WINTERLINE_KILLS=200` makes it a campaign.
#[test]
fn killed_at_random_moments_nothing_confirmed_is_lost() {
    let n: u64 = std::env::var("WINTERLINE_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(12);
    let (_folder, survey) = survey_with(SOUND);
    let reader = ReaderInitials::new("kb").unwrap();
    let path = sidecar_path(&survey, "AR-1.tif", &reader).unwrap();
    let (mut random, mut kept, mut confirmed) = (20_251_004_u64, 0, 0);
    let mut unfinished = std::collections::HashSet::new();
    for round in 0..n {
        random =
            random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mut process = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "killed::child_edits_without_end", "--nocapture"])
            .env(EDITING_CHILD, &survey)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let out = BufReader::new(process.stdout.take().unwrap());
        let (sender, heard) = std::sync::mpsc::channel();
        let listener = std::thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                // The test runner's own words stand before the child's first line.
                let saved = line.split("saved ").nth(1).and_then(|n| n.trim().parse::<u32>().ok());
                if let Some(age) = saved {
                    _ = sender.send(age);
                }
            }
        });
        // From before the survey is open to well into the editing.
        std::thread::sleep(Duration::from_millis(30 + (random >> 33) % 900));
        process.kill().unwrap();
        process.wait().unwrap();
        listener.join().unwrap();
        let last = heard.try_iter().last();
        kept = last.unwrap_or(kept);
        confirmed += u64::from(last.is_some());
        for entry in std::fs::read_dir(survey.join("scans")).unwrap() {
            let name = entry.unwrap().file_name().to_string_lossy().into_owned();
            assert!(!name.contains("unreadable"), "round {round}: {name}");
            if name.starts_with('.') {
                unfinished.insert(name);
            }
        }
        if kept == 0 {
            continue;
        }
        let loaded = load_sidecar(&path).unwrap_or_else(|error| panic!("round {round}: {error}"));
        let ages = loaded.reading.impressions.iter().chain(&loaded.earlier);
        let ages: Vec<u32> = ages
            .filter(|one| one.state == ReadingState::Confirmed)
            .filter_map(|one| one.age)
            .collect();
        assert!(
            ages.contains(&kept),
            "round {round}: age {kept} was shown as saved, found {ages:?}"
        );
    }
    println!(
        "{n} kills, {confirmed} after a confirmation, {} in the midst of a write: nothing confirmed lost, no sidecar damaged",
        unfinished.len()
    );
    assert!(n < 10 || confirmed > 0, "no round reached a confirmation");
}

/// Writes that fail at random steps: what was confirmed before stays, and the next write succeeds.
#[test]
fn writes_that_fail_lose_nothing() {
    let n: u64 = std::env::var("WINTERLINE_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    let (_folder, survey) = survey_with(SOUND);
    let reader = ReaderInitials::new("kb").unwrap();
    let path = sidecar_path(&survey, "AR-1.tif", &reader).unwrap();
    let mut random = 7_u64;
    let mut reading = child::confirmed_reading(&reader, 0);
    let mut on_disk = save_reading(&survey, &reader, &reading, None).unwrap();
    let (mut failed, mut kept) = ([0_u32; 4], 0);
    for age in 1..=n as u32 {
        random =
            random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let which = (random >> 40) as usize % 5;
        reading = child::confirmed_reading(&reader, age);
        let saved = save_reading_with(&survey, &reader, &reading, Some(&on_disk), &mut |step| {
            match Step::ALL.iter().position(|one| *one == step) {
                Some(index) if index == which => {
                    failed[index] += 1;
                    let kinds = [ErrorKind::StorageFull, ErrorKind::PermissionDenied];
                    Err(kinds[(random >> 50) as usize % 2].into())
                }
                _ => Ok(()),
            }
        });
        if let Ok(fingerprint) = saved {
            (on_disk, kept) = (fingerprint, age);
        } else {
            assert!(which < 4, "a write failed by itself: {saved:?}");
        }
        let loaded = load_sidecar(&path).unwrap();
        assert_eq!(loaded.reading.impressions[0].age, Some(kept), "after {age}");
        assert_eq!(loaded.earlier.len() as u32, loaded_before(&loaded, kept));
    }
    assert!(n < 40 || failed.iter().all(|times| *times > 0), "{failed:?}");
    println!(
        "{n} writes; failed at create, write, sync, rename: {failed:?}; all confirmed readings kept"
    );
}

/// Every confirmed reading before the one that stands is among the earlier ones, each once and in order.
fn loaded_before(loaded: &winterline::store::sidecar::LoadedSidecar, kept: u32) -> u32 {
    let ages: Vec<u32> = loaded.earlier.iter().filter_map(|one| one.age).collect();
    assert!(ages.windows(2).all(|pair| pair[0] < pair[1]) && ages.iter().all(|age| *age < kept));
    ages.len() as u32
}

/// Waits for something, for at most half a minute.
pub fn wait_for(mut what: impl FnMut() -> bool) {
    let began = Instant::now();
    while !what() {
        assert!(began.elapsed() < Duration::from_secs(30), "waited in vain");
        std::thread::sleep(Duration::from_millis(5));
    }
}
