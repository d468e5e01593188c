//! What the child does: a reading through the workbench, confirmed, and then nothing until it is killed.

use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use kurbo::Point;
use winterline::domain::axis::Axis;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::reading::{
    EdgeCondition, ImpressionReading, MarkKind, Outcome, ReaderInitials, ReadingState,
    ScanIdentity, ScanReading, Structure,
};
use winterline::domain::units::Pixels;
use winterline::marking::command::Command;
use winterline::proposing::{Proposals, Refusal};
use winterline::workbench::action::{Action, Verb};
use winterline::workbench::workbench::{Services, Workbench};

use super::wait_for;

/// Confirms a reading of the first scan, says when it is shown as saved, and waits.
pub fn read_and_wait(survey: &Path) {
    let services = Services::new(Arc::new(|_, _| Ok(Proposals::refused(Refusal::NoEvidence))));
    let mut workbench = Workbench::new(services, Arc::new(|| ()));
    workbench.perform(Action::SetReader("kb".into()));
    workbench.perform(Action::Open(survey.to_owned()));
    wait_for(|| {
        workbench.poll();
        workbench.scan().is_some_and(|scan| !scan.is_proposing())
    });
    let axis = Axis::straight(Point::new(4.0, 24.0), Point::new(60.0, 24.0)).unwrap();
    let add = |at, kind| Command::AddMark { impression: 1, at: Pixels(at), kind };
    for command in [
        Command::SetAxis { impression: 1, axis, edge: Pixels(56.0) },
        add(20.0, MarkKind::Annulus),
        add(30.0, MarkKind::Check),
        Command::SetEdgeCondition { impression: 1, edge_condition: EdgeCondition::Wide },
    ] {
        workbench.perform(Action::Edit(command));
    }
    workbench.perform(Verb::Confirm.into());
    wait_for(|| {
        workbench.poll();
        workbench.scan().is_some_and(|scan| scan.is_confirmed_on_disk())
    });
    let mut out = std::io::stdout().lock();
    writeln!(out, "shown as saved").unwrap();
    out.flush().unwrap();
    std::thread::sleep(Duration::from_secs(60));
}

/// Opens the first scan and edits and confirms it over and over, each time with the next age; says each one that is
/// shown as saved.
pub fn edit_without_end(survey: &Path) {
    let services = Services::new(Arc::new(|_, _| Ok(Proposals::refused(Refusal::NoEvidence))));
    let mut workbench = Workbench::new(services, Arc::new(|| ()));
    workbench.perform(Action::SetReader("kb".into()));
    // By name: once it is confirmed, the next unread scan would open.
    workbench.perform(Action::OpenScan(survey.to_owned(), "AR-1.tif".into()));
    wait_for(|| {
        workbench.poll();
        workbench.scan().is_some_and(|scan| !scan.is_proposing())
    });
    let reading = workbench.scan().unwrap().reading().unwrap();
    let mut age = reading.age.unwrap_or(0);
    if reading.state == ReadingState::Draft && reading.axis.is_none() {
        let axis = Axis::straight(Point::new(4.0, 24.0), Point::new(60.0, 24.0)).unwrap();
        let set = Command::SetAxis { impression: 1, axis, edge: Pixels(56.0) };
        workbench.perform(Action::Edit(set));
    }
    // A draft does not say which age was confirmed before it: the file does.
    let reader = ReaderInitials::new("kb").unwrap();
    let path = winterline::store::file_name::sidecar_path(survey, "AR-1.tif", &reader).unwrap();
    if let Ok(loaded) = winterline::store::sidecar::load_sidecar(&path) {
        let all = loaded.reading.impressions.iter().chain(&loaded.earlier);
        age = all.filter_map(|one| one.age).max().unwrap_or(age);
    }
    loop {
        age += 1;
        if !workbench.scan().unwrap().is_draft() {
            workbench.perform(Verb::Reopen.into());
        }
        let at = Pixels(10.0 + f64::from(age % 40));
        let add = Command::AddMark { impression: 1, at, kind: MarkKind::Annulus };
        workbench.perform(Action::Edit(add));
        if workbench.scan().unwrap().reading().unwrap().marks.len() > 5 {
            workbench.perform(Action::Edit(Command::DeleteMark { impression: 1, mark: 0 }));
        }
        let edge_condition = EdgeCondition::Wide;
        workbench
            .perform(Action::Edit(Command::SetEdgeCondition { impression: 1, edge_condition }));
        workbench.perform(Action::StateAge(Some(age)));
        workbench.perform(Verb::Confirm.into());
        wait_for(|| {
            workbench.poll();
            workbench.scan().is_some_and(|scan| scan.is_confirmed_on_disk())
        });
        let mut out = std::io::stdout().lock();
        writeln!(out, "saved {age}").unwrap();
        out.flush().unwrap();
    }
}

/// A confirmed reading of the first scan at an age.
pub fn confirmed_reading(reader: &ReaderInitials, age: u32) -> ScanReading {
    let mut one = ImpressionReading::new(1, "1", Structure::Scale);
    one.axis = Some(Axis::straight(Point::new(4.0, 24.0), Point::new(60.0, 24.0)).unwrap());
    one.edge = Some(Pixels(56.0));
    (one.outcome, one.age) = (Some(Outcome::Aged), Some(age));
    one.state = ReadingState::Confirmed;
    ScanReading {
        scan: ScanIdentity {
            file: "AR-1.tif".into(),
            width_px: 64,
            height_px: 48,
            blake3: String::new(),
        },
        reader: reader.clone(),
        calibration: Calibration::new(5.0, 5.0, CalibrationSource::Stated).ok(),
        impressions: vec![one],
    }
}
