//! The workbench without a window: stale results, failing writes, kills, and who may read.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use tempfile::TempDir;
use winterline::domain::reading::{MarkKind, ReadingState};
use winterline::domain::units::Pixels;
use winterline::marking::command::Command;
use winterline::store::error::StoreError;
use winterline::store::sidecar::{load_sidecar, save_reading};
use winterline::workbench::action::{Action, Verb};
use winterline::workbench::session_save::ListState;
use winterline::workbench::workbench::{Services, Workbench};

use crate::pond;

fn until(workbench: &mut Workbench, what: &str, done: impl Fn(&Workbench) -> bool) {
    let start = Instant::now();
    loop {
        workbench.poll();
        if done(workbench) {
            return;
        }
        assert!(start.elapsed() < Duration::from_secs(20), "waited too long for {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn opened(services: Services) -> (Workbench, TempDir) {
    let folder = pond::survey();
    let mut workbench = Workbench::new(services, Arc::new(|| ()));
    workbench.perform(Action::SetReader("kb".into()));
    workbench.perform(Action::Open(folder.path().to_owned()));
    until(&mut workbench, "the scan", |w| w.scan().is_some_and(|scan| !scan.is_proposing()));
    (workbench, folder)
}

fn add(at: f64) -> Action {
    Action::Edit(Command::AddMark { impression: 1, at: Pixels(at), kind: MarkKind::Annulus })
}

#[test]
fn a_draft_is_on_disk_within_a_second_of_the_edit() {
    let (mut workbench, folder) = opened(pond::services());
    let path = folder.path().join("scans/AP-001.png.kb.json");
    workbench.poll();
    assert!(!path.exists(), "looking leaves no file");
    let start = Instant::now();
    workbench.perform(add(50.0));
    until(&mut workbench, "the draft", |w| !w.scan().unwrap().is_unsaved());
    assert!(start.elapsed() < Duration::from_secs(1), "{:?}", start.elapsed());
    let loaded = load_sidecar(&path).unwrap();
    assert_eq!(loaded.reading.impressions[0].marks.len(), 1);
    assert_eq!(loaded.reading.impressions[0].state, ReadingState::Draft);
}

#[test]
fn the_scan_opens_with_the_readers_own_earlier_reading() {
    let (mut workbench, folder) = opened(pond::services());
    workbench.perform(Verb::AcceptAll.into());
    assert!(workbench.finish_saving());
    drop(workbench);
    let mut again = Workbench::new(pond::services(), Arc::new(|| ()));
    again.perform(Action::SetReader("KB".into()));
    again.perform(Action::Open(folder.path().to_owned()));
    until(&mut again, "the scan", |w| w.scan().is_some());
    assert_eq!(again.scan().unwrap().reading().unwrap().marks.len(), 3);
    assert_eq!(again.survey().unwrap().entries()[0].state, ListState::Draft);
    // Another reader sees nothing of it.
    again.perform(Action::SetReader("mt".into()));
    until(&mut again, "the other reader's scan", |w| {
        w.scan().is_some_and(|scan| scan.document().reading.reader.as_str() == "mt")
    });
    assert!(again.scan().unwrap().reading().unwrap().marks.is_empty());
    assert_eq!(again.survey().unwrap().entries()[0].state, ListState::Unread);
}

/// Services whose writes fail while the switch is on.
fn failing(switch: &Arc<AtomicBool>) -> Services {
    let switch = Arc::clone(switch);
    let mut services = pond::services();
    services.save = Arc::new(move |folder, reader, reading, expected| {
        if switch.load(Ordering::SeqCst) {
            let full = std::io::Error::from(std::io::ErrorKind::StorageFull);
            return Err(StoreError::io("save the sidecar", folder)(full));
        }
        save_reading(folder, reader, reading, expected)
    });
    services
}

#[test]
fn a_failed_write_keeps_the_reading_open_and_says_so() {
    let switch = Arc::new(AtomicBool::new(true));
    let (mut workbench, folder) = opened(failing(&switch));
    workbench.perform(Verb::AcceptAll.into());
    workbench.perform(Verb::EdgeNarrow.into());
    workbench.perform(Verb::Confirm.into());
    until(&mut workbench, "the notice", |w| !w.notices().problems().is_empty());
    let scan = workbench.scan().unwrap();
    assert!(scan.is_draft(), "not confirmed before it is on disk");
    assert_eq!(scan.reading().unwrap().marks.len(), 3);
    assert_eq!(workbench.survey().unwrap().entries()[0].state, ListState::Unread);
    // Moving on is not possible while the marks are nowhere but here.
    workbench.perform(Verb::NextScan.into());
    until(&mut workbench, "the refusal", |w| !w.is_saving());
    assert_eq!(workbench.scan().unwrap().place(), 0);
    assert!(!folder.path().join("scans/AP-001.png.kb.json").exists());
    switch.store(false, Ordering::SeqCst);
    workbench.perform(Verb::Confirm.into());
    until(&mut workbench, "the confirmation", |w| w.scan().unwrap().is_confirmed_on_disk());
    assert_eq!(workbench.survey().unwrap().entries()[0].state, ListState::Confirmed);
}

#[test]
fn a_sidecar_changed_by_someone_else_is_not_overwritten() {
    let (mut workbench, folder) = opened(pond::services());
    workbench.perform(add(50.0));
    until(&mut workbench, "the draft", |w| !w.scan().unwrap().is_unsaved());
    let path = folder.path().join("scans/AP-001.png.kb.json");
    let mut text = std::fs::read_to_string(&path).unwrap();
    text.push('\n');
    std::fs::write(&path, &text).unwrap();
    workbench.perform(add(60.0));
    until(&mut workbench, "the notice", |w| !w.notices().problems().is_empty());
    assert!(workbench.notices().problems()[0].text.contains("has changed since it was opened"));
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
    workbench.perform(Verb::Reload.into());
    until(&mut workbench, "the scan again", |w| w.scan().is_some());
    assert_eq!(workbench.scan().unwrap().reading().unwrap().marks.len(), 1);
}

#[test]
fn proposals_for_an_axis_that_has_changed_are_discarded() {
    let gate = Arc::new(AtomicBool::new(false));
    let opened_gate = Arc::clone(&gate);
    let services = Services::new(Arc::new(move |request, progress| {
        // The first search waits; it is for a scan without an axis.
        while request.axis.is_none() && !opened_gate.load(Ordering::SeqCst) {
            progress.checkpoint()?;
            std::thread::sleep(Duration::from_millis(2));
        }
        pond::propose(request, progress)
    }));
    let folder = pond::survey();
    let mut workbench = Workbench::new(services, Arc::new(|| ()));
    workbench.perform(Action::SetReader("kb".into()));
    workbench.perform(Action::Open(folder.path().to_owned()));
    until(&mut workbench, "the scan", |w| w.scan().is_some_and(|scan| scan.is_proposing()));
    workbench.perform(Verb::SelectFocus.into());
    let mine = workbench.scan().unwrap().reading().unwrap().axis.clone();
    assert!(mine.is_some());
    gate.store(true, Ordering::SeqCst);
    until(&mut workbench, "the second search", |w| {
        w.scan().is_some_and(|scan| !scan.is_proposing())
    });
    let scan = workbench.scan().unwrap();
    assert_eq!(scan.reading().unwrap().axis, mine, "the reader's axis stays");
    assert_eq!(scan.document().open_proposals(1).len(), 4);
}

#[test]
fn searching_can_be_stopped() {
    let services = Services::new(Arc::new(|_, progress| {
        loop {
            progress.checkpoint()?;
            std::thread::sleep(Duration::from_millis(2));
        }
    }));
    let folder = pond::survey();
    let mut workbench = Workbench::new(services, Arc::new(|| ()));
    workbench.perform(Action::SetReader("kb".into()));
    workbench.perform(Action::Open(folder.path().to_owned()));
    until(&mut workbench, "the search", |w| w.running().is_some());
    workbench.perform(Verb::CancelJob.into());
    assert!(workbench.running().is_none());
    assert_eq!(workbench.notices().status(), "Stopped looking for annuli");
}

#[test]
fn a_reader_the_survey_does_not_know_is_refused() {
    let folder = pond::survey();
    let mut workbench = Workbench::new(pond::services(), Arc::new(|| ()));
    workbench.perform(Action::Open(folder.path().to_owned()));
    until(&mut workbench, "the survey", |w| w.survey().is_some());
    workbench.perform(Action::SetReader("zz".into()));
    assert!(workbench.reader().is_none());
    assert!(workbench.notices().problems()[0].text.contains("not among the readers"));
    workbench.perform(Action::SetReader("no good".into()));
    assert!(workbench.notices().problems()[1].text.contains("cannot be a reader's initials"));
}

#[test]
fn undoing_a_confirmation_makes_a_draft_of_it_on_disk() {
    let (mut workbench, folder) = opened(pond::services());
    workbench.perform(Verb::OutcomeUnreadable.into());
    workbench.perform(Verb::Confirm.into());
    until(&mut workbench, "the confirmation", |w| w.scan().unwrap().is_confirmed_on_disk());
    workbench.perform(Verb::Undo.into());
    until(&mut workbench, "the draft", |w| !w.scan().unwrap().is_unsaved());
    let loaded = load_sidecar(&folder.path().join("scans/AP-001.png.kb.json")).unwrap();
    assert!(loaded.reading.impressions.iter().any(|i| i.state == ReadingState::Draft));
    assert_eq!(workbench.survey().unwrap().entries()[0].state, ListState::Draft);
}

/// Proposals that arrive are no edit of the reader's: undo takes back the edit, and what is proposed stays the newest.
#[test]
fn undo_and_redo_keep_the_newest_proposals() {
    let searches = Arc::new(std::sync::atomic::AtomicUsize::new(0));
    let counted = Arc::clone(&searches);
    // The second search finds the same places 3 px farther out, and one more.
    let services = Services::new(Arc::new(move |request, progress| {
        let mut found = pond::propose(request, progress)?;
        if counted.fetch_add(1, Ordering::SeqCst) > 0 {
            for proposal in &mut found.annuli {
                proposal.position.0 += 3.0;
            }
            let mut further = found.annuli[0].clone();
            further.position = Pixels(30.0);
            found.annuli.push(further);
        }
        Ok(found)
    }));
    let (mut workbench, _folder) = opened(services);
    let shown = |workbench: &Workbench| crate::desk::open_proposals(workbench);
    let first = shown(&workbench);
    workbench.perform(add(60.0));
    workbench.perform(Verb::AcceptAll.into());
    let accepted = workbench.scan().unwrap().reading().unwrap().marks.len();
    assert_eq!(accepted, first.len(), "one by hand, and all but the alternative");
    workbench.perform(Verb::Propose.into());
    until(&mut workbench, "the second search", |w| !w.scan().unwrap().is_proposing());
    assert_eq!(searches.load(Ordering::SeqCst), 2);
    let newest: Vec<f64> = {
        let mut all: Vec<f64> = pond::RINGS_PX.iter().map(|px| px + 3.0).collect();
        all.extend([30.0, 140.0]);
        all.sort_by(f64::total_cmp);
        all
    };
    assert_eq!(shown(&workbench), newest);
    workbench.perform(Verb::Undo.into());
    assert_eq!(workbench.scan().unwrap().reading().unwrap().marks.len(), 1);
    assert_eq!(shown(&workbench), newest, "after undoing what was accepted");
    workbench.perform(Verb::Undo.into());
    assert_eq!(shown(&workbench), newest, "after undoing the mark");
    assert_eq!(workbench.scan().unwrap().history().undo_name(), None, "no step of its own");
    workbench.perform(Verb::Redo.into());
    workbench.perform(Verb::Redo.into());
    assert_eq!(workbench.scan().unwrap().reading().unwrap().marks.len(), accepted);
    assert_eq!(shown(&workbench), newest, "after redoing both");
}

/// Undo takes back what the reader did with the newest proposals, too: a rejected one is open again.
#[test]
fn a_rejection_is_undone_and_redone_among_the_newest_proposals() {
    let (mut workbench, _folder) = opened(pond::services());
    workbench.perform(add(60.0));
    workbench.perform(Verb::Propose.into());
    until(&mut workbench, "the second search", |w| !w.scan().unwrap().is_proposing());
    let all = crate::desk::open_proposals(&workbench);
    workbench.perform(Action::Edit(Command::RejectProposal { impression: 1, proposal: 0 }));
    assert_eq!(crate::desk::open_proposals(&workbench), all[1..]);
    workbench.perform(Verb::Undo.into());
    assert_eq!(crate::desk::open_proposals(&workbench), all);
    workbench.perform(Verb::Redo.into());
    assert_eq!(crate::desk::open_proposals(&workbench), all[1..]);
}
