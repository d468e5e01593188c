//! Two programs on one shared folder, two readers marking at once, one of them killed in the middle: every sidecar is
//! whole, and each reader's marks are theirs alone.
//!
//! The children are this test binary itself, reading through the workbench as the window does.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use kurbo::Point;
use winterline::domain::axis::Axis;
use winterline::domain::reading::{MarkKind, ReaderInitials, ReadingState};
use winterline::domain::units::Pixels;
use winterline::marking::command::Command as Edit;
use winterline::proposing::{Proposals, Refusal};
use winterline::store::collection::OpenSurvey;
use winterline::store::file_name::sidecar_path;
use winterline::store::sidecar::load_sidecar;
use winterline::workbench::action::{Action, Verb};
use winterline::workbench::workbench::{Services, Workbench};

use crate::killed::wait_for;
use crate::run::{SOUND, survey_with};

const SURVEY: &str = "WINTERLINE_TEST_SHARED_SURVEY";
const READER: &str = "WINTERLINE_TEST_SHARED_READER";

/// Where each reader marks, pixels: no place is common to both.
fn places(reader: &str) -> [f64; 3] {
    if reader == "kb" { [11.0, 23.0, 35.0] } else { [14.0, 26.0, 38.0] }
}

#[test]
fn child_marks_for_a_while() {
    let (Some(survey), Some(reader)) = (std::env::var_os(SURVEY), std::env::var(READER).ok())
    else {
        return;
    };
    mark_for_a_while(Path::new(&survey), &reader);
}

/// Confirms and reopens both scans again and again for two seconds, saying each time when it is shown as saved.
fn mark_for_a_while(survey: &Path, reader: &str) {
    let services = Services::new(Arc::new(|_, _| Ok(Proposals::refused(Refusal::NoEvidence))));
    let mut workbench = Workbench::new(services, Arc::new(|| ()));
    workbench.perform(Action::SetReader(reader.to_owned()));
    workbench.perform(Action::Open(survey.to_owned()));
    let axis = Axis::straight(Point::new(4.0, 24.0), Point::new(60.0, 24.0)).unwrap();
    let began = Instant::now();
    let mut round = 0_usize;
    while began.elapsed() < Duration::from_secs(2) {
        let place = round % 2;
        wait_for(|| {
            workbench.poll();
            workbench.survey().is_some()
        });
        workbench.perform(Action::SelectScan(place));
        wait_for(|| {
            workbench.poll();
            workbench.scan().is_some_and(|scan| scan.place() == place && !scan.is_proposing())
        });
        if workbench.scan().is_some_and(|scan| !scan.is_draft()) {
            workbench.perform(Verb::Reopen.into());
        }
        let has_marks =
            workbench.scan().is_some_and(|s| s.reading().is_some_and(|r| !r.marks.is_empty()));
        if !has_marks {
            let edge = Pixels(50.0);
            workbench.perform(Action::Edit(Edit::SetAxis {
                impression: 1,
                axis: axis.clone(),
                edge,
            }));
            for at in places(reader).map(Pixels) {
                let kind = MarkKind::Annulus;
                workbench.perform(Action::Edit(Edit::AddMark { impression: 1, at, kind }));
            }
            workbench.perform(Verb::EdgeWide.into());
        }
        let note = format!("{reader} {round}");
        workbench.perform(Action::Edit(Edit::SetNote { impression: 1, note }));
        workbench.perform(Verb::Confirm.into());
        wait_for(|| {
            workbench.poll();
            workbench.scan().is_some_and(|scan| scan.is_confirmed_on_disk())
        });
        assert!(workbench.notices().problems().is_empty(), "{:?}", workbench.notices());
        round += 1;
        let mut out = std::io::stdout().lock();
        writeln!(out, "saved {round}").unwrap();
        out.flush().unwrap();
    }
}

fn start(survey: &Path, reader: &str) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "shared_folder::child_marks_for_a_while", "--nocapture"])
        .env(SURVEY, survey)
        .env(READER, reader)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Rounds a child told of before it ended or was killed.
fn rounds(child: &mut Child, until: usize) -> usize {
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let told = lines.map_while(Result::ok).filter(|line| line.contains("saved "));
    told.take(until).count()
}

#[test]
fn two_readers_at_once_and_one_killed_leave_whole_sidecars_of_their_own() {
    let (_folder, survey) = survey_with(SOUND);
    let settings = std::fs::read_to_string(survey.join("survey.json")).unwrap();
    std::fs::write(survey.join("survey.json"), settings.replace("[\"kb\"]", "[\"kb\", \"mt\"]"))
        .unwrap();
    let (mut kb, mut mt) = (start(&survey, "kb"), start(&survey, "mt"));
    // Killed after its third confirmation, in the middle of whatever it does next.
    assert_eq!(rounds(&mut mt, 3), 3);
    mt.kill().unwrap();
    mt.wait().unwrap();
    assert!(rounds(&mut kb, usize::MAX) > 3);
    assert!(kb.wait().unwrap().success());
    let open = OpenSurvey::open(&survey).unwrap();
    assert_eq!(open.sidecars.len(), 4);
    for reader in ["kb", "mt"] {
        for scan in ["AR-1.tif", "AR-2.png"] {
            let initials = ReaderInitials::new(reader).unwrap();
            let path = sidecar_path(&survey, scan, &initials).unwrap();
            let loaded = load_sidecar(&path).unwrap();
            assert_eq!(loaded.reading.reader, initials);
            let impressions = loaded.reading.impressions.iter().chain(&loaded.earlier);
            for one in impressions {
                let at: Vec<f64> = one.marks.iter().map(|mark| mark.position.0).collect();
                assert_eq!(at, places(reader), "{reader} on {scan}");
                assert!(one.note.is_empty() || one.note.starts_with(reader), "{}", one.note);
            }
            let confirmed = loaded.reading.confirmed().next().unwrap();
            assert_eq!(confirmed.state, ReadingState::Confirmed);
        }
    }
}
