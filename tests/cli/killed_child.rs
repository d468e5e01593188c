//! What the child does: a reading through the workbench, confirmed, and then nothing until it is killed.

use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use kurbo::Point;
use winterline::domain::axis::Axis;
use winterline::domain::reading::{EdgeCondition, MarkKind};
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
