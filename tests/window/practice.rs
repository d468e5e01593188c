//! Practice on structures of known age, and the guided first reading.

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use winterline::workbench::workbench::Workbench;

use crate::desk::{Desk, until, window};
use crate::pond;

fn is_ready(workbench: &Workbench) -> bool {
    workbench.scan().is_some_and(|scan| {
        !scan.is_proposing() && !scan.document().open_proposals(scan.impression()).is_empty()
    })
}

fn files_under(folder: &std::path::Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder.join("scans"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn practice_shows_the_truth_keeps_score_and_writes_nothing() {
    let mut desk = Desk::open();
    let before = files_under(desk.folder.path());
    desk.key_with(Modifiers::COMMAND, Key::T);
    desk.until("a structure", is_ready);
    assert!(desk.has("0 of 0 right, 0 within a year"));
    assert!(desk.has_containing("the truth follows when you confirm"));
    assert!(!desk.has_containing("True annulus"));
    assert!(desk.is_disabled("Reading card"));
    desk.click("Accept all");
    desk.key(Key::Num4);
    desk.key(Key::C);
    desk.until("the truth", |workbench| workbench.verdict().is_some());
    assert_eq!(desk.workbench().score().unwrap().read, 1);
    assert!(desk.has_containing("1 right, ") || desk.has_containing("0 of 1 right"));
    assert!(desk.has_containing("True annulus 1, "));
    assert!(desk.has("Practice: nothing is written"));
    desk.key_with(Modifiers::COMMAND, Key::Num2);
    assert!(desk.has_containing("practice first: this belongs to a survey"));
    desk.key(Key::N);
    desk.until("the next structure", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 1)
    });
    desk.click("Leave practice");
    desk.until("the survey", |workbench| {
        !workbench.is_practising() && workbench.scan().is_some_and(|scan| scan.place() == 0)
    });
    assert!(desk.has("Fish 001, unread"));
    assert_eq!(files_under(desk.folder.path()), before);
}

#[test]
fn practice_without_proposals_proposes_nothing() {
    let mut desk = Desk::open();
    desk.key_with(Modifiers::COMMAND, Key::T);
    desk.until("a structure", is_ready);
    desk.click("Hide proposals");
    desk.until("it again", |workbench| workbench.scan().is_some());
    for _ in 0..30 {
        desk.settle();
    }
    let scan = desk.workbench().scan().unwrap();
    assert!(!scan.is_proposing() && scan.document().open_proposals(1).is_empty());
    assert!(desk.has("Show proposals"));
}

#[test]
fn the_guide_leads_through_a_reading_in_six_steps_and_can_be_called_again() {
    let mut window = window(pond::services(), None, None);
    for _ in 0..4 {
        window.step();
    }
    window.get_by_label("Guided reading").click();
    until(&mut window, "the first structure", is_ready);
    let steps = [
        ("Step 1 of 6: look at the scale", Key::Plus),
        ("Step 2 of 6: take hold of a proposal", Key::CloseBracket),
        ("Step 3 of 6: accept, move or delete", Key::A),
        ("Step 4 of 6: judge the margin", Key::Num4),
        ("Step 5 of 6: confirm", Key::C),
    ];
    for (title, key) in steps {
        assert!(window.query_all_by_label_contains(title).next().is_some(), "{title}");
        // Accepting goes through the proposals one by one.
        let times = if key == Key::A { 4 } else { 1 };
        for _ in 0..times {
            window.key_press(key);
            for _ in 0..6 {
                window.step();
            }
        }
    }
    until(&mut window, "the truth", |workbench| workbench.verdict().is_some());
    assert!(window.query_all_by_label_contains("Step 6 of 6").next().is_some());
    window.get_by_label("Finish").click();
    until(&mut window, "the end", |workbench| !workbench.is_practising());
    assert!(window.query_by_label("No survey open").is_some());
    window.key_press(Key::F3);
    until(&mut window, "the guide again", |workbench| workbench.scan().is_some());
    window.get_by_label("Skip the guide").click();
    until(&mut window, "the end", |workbench| !workbench.is_practising());
}
