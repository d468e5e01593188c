//! Proposing on all unread scans while reading goes on, and the word about a first annulus out of place.

use egui::Key;

use crate::desk::{Desk, open_proposals};
use crate::pond;

#[test]
fn unread_scans_are_worked_through_and_keep_their_proposals() {
    let mut desk = Desk::open();
    desk.click("Propose on unread");
    desk.until("the batch", |workbench| workbench.n_waiting() > 0 && workbench.running().is_none());
    assert!(desk.has_containing("Looked for annuli on 2 unread scans"));
    desk.key(Key::N);
    desk.until("the next scan", |workbench| workbench.scan().is_some_and(|s| s.place() == 1));
    assert_eq!(open_proposals(desk.workbench()), [100.0, 140.0, 180.0, 240.0]);
    assert!(!desk.folder.path().join("scans/AP-003.png.kb.json").exists());
}

#[test]
fn the_batch_shows_its_progress_and_can_be_stopped() {
    use winterline::workbench::workbench::Services;
    let services = Services::new(std::sync::Arc::new(|request, progress| {
        std::thread::sleep(std::time::Duration::from_millis(400));
        pond::propose(request, progress)
    }));
    let mut desk = Desk::over(pond::survey(), services);
    desk.until("the proposals", |workbench| !open_proposals(workbench).is_empty());
    desk.click("Propose on unread");
    assert!(desk.has("Looking for annuli on unread scans"));
    desk.click("Stop proposing");
    assert!(desk.has_containing("Stopped after "));
    assert!(!desk.has("Looking for annuli on unread scans"));
}

#[test]
fn a_first_annulus_far_from_the_others_is_named_after_confirming() {
    let folder = pond::survey_of(12);
    for i in 2..=11 {
        let scan = format!("AP-{i:03}.png");
        let first = 470.0 + 6.0 * f64::from(i);
        pond::confirm_on_disk(
            folder.path(),
            "kb",
            &scan,
            &format!("{i:03}"),
            &[first, 900.0],
            1400.0,
        );
    }
    let mut desk = Desk::over(folder, pond::services());
    desk.until("the proposals", |workbench| !open_proposals(workbench).is_empty());
    for _ in 0..2 {
        desk.key(Key::CloseBracket);
    }
    // The innermost proposals are set aside: the reading then begins at the ring of 900 µm.
    desk.key(Key::OpenBracket);
    desk.key(Key::D);
    desk.key(Key::D);
    desk.click("Accept all");
    desk.key(Key::Num3);
    desk.key(Key::C);
    desk.until("the word", |workbench| !workbench.notices().problems().is_empty());
    assert!(desk.has_containing("Fish 001: the first radius of 900 µm is much larger"));
    assert!(desk.has_containing("may have been missed near the focus"));
}

#[test]
fn the_reading_card_is_written_with_marks_and_scale_bar() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    desk.click("Reading card");
    let path = desk.folder.path().join("results/cards/AP-001.kb.svg");
    desk.until("the card", |workbench| workbench.notices().status().contains("card written"));
    let svg = std::fs::read_to_string(path).unwrap();
    assert!(svg.starts_with("<svg xmlns") && svg.ends_with("</svg>\n"));
    assert!(svg.contains("Fish 001  walleye, captured 2025-10-04"));
    assert!(svg.contains("3 annuli marked, draft, not confirmed, reader kb"));
    assert!(svg.contains("500 µm</text>") && svg.contains("data:image/png;base64,iVBOR"));
    assert!([">1</text>", ">2</text>", ">3</text>"].iter().all(|tag| svg.contains(tag)));
}
