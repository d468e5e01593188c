//! What the window shows, written to a file where the environment asks for it: for scripts that press keys and must
//! know when the next may be pressed; never in daily use.
//!
//! `WINTERLINE_STATE_LOG=FILE` writes a line whenever something of it has changed: names and values, with a space between.

use std::fs::File;
use std::io::Write;

use crate::domain::reading::{EdgeCondition, ReadingState};
use crate::workbench::workbench::Workbench;

use super::view::View;

/// The log, and the line written last.
pub struct StateLog {
    out: File,
    last: String,
}

impl StateLog {
    /// The log the environment asks for, if any.
    pub fn from_environment() -> Option<Self> {
        let path = std::env::var_os("WINTERLINE_STATE_LOG")?;
        Some(Self { out: File::create(path).ok()?, last: String::new() })
    }

    /// Writes what is on show, where it is not what was written last.
    pub fn note(&mut self, workbench: &Workbench, view: &View, is_dark: bool) {
        let theme = if is_dark { "dark" } else { "light" };
        let line = format!("{} theme={theme}", line(workbench, view));
        // A log that cannot be written keeps nobody from reading scales.
        if line != self.last && writeln!(self.out, "{line}").is_ok() {
            self.last = line;
        }
    }
}

fn line(workbench: &Workbench, view: &View) -> String {
    let desk = workbench.desk().verb().label().to_lowercase();
    let busy = if workbench.running().is_some() || workbench.is_opening() { "yes" } else { "no" };
    let Some(scan) = workbench.scan() else { return format!("desk={desk} scan=none busy={busy}") };
    let reading = scan.reading();
    let is_shown = view.picture.as_ref().is_some_and(|picture| picture.tone().is_some());
    let edge = reading.and_then(|one| one.edge_condition).map_or("none", EdgeCondition::word);
    let is_confirmed = reading.is_some_and(|one| one.state == ReadingState::Confirmed);
    let put_forward = scan.document().open_proposals(scan.impression());
    let put_forward = put_forward.iter().filter(|open| open.put_forward).count();
    format!(
        "desk={desk} scan={} picture={} busy={busy} proposals={put_forward} marks={} edge={} state={} saved={}",
        scan.document().reading.scan.file.replace(' ', "_"),
        if is_shown { "ready" } else { "coming" },
        reading.map_or(0, |one| one.marks.len()),
        edge.replace(' ', "-"),
        if is_confirmed { "confirmed" } else { "draft" },
        if scan.is_unsaved() { "no" } else { "yes" },
    )
}
