//! The program killed with signal 9 straight after a confirmation is shown as saved: nothing is lost.
//!
//! The child is this test binary itself: it reads through the workbench, as the window does, says when a reading is
//! shown as saved, and waits to be killed.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::run::{SOUND, survey_with};
use winterline::domain::reading::{EdgeCondition, MarkKind, Outcome, ReaderInitials, ReadingState};
use winterline::store::file_name::sidecar_path;
use winterline::store::sidecar::load_sidecar;

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

#[path = "killed_child.rs"]
mod child;

/// Waits for something, for at most half a minute.
pub fn wait_for(mut what: impl FnMut() -> bool) {
    let began = Instant::now();
    while !what() {
        assert!(began.elapsed() < Duration::from_secs(30), "waited in vain");
        std::thread::sleep(Duration::from_millis(5));
    }
}
