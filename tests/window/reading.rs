//! From the margin's condition to a confirmed reading on disk, and on to the next fish.

use egui::{Key, Modifiers};
use serde_json::Value;
use winterline::domain::reading::{Confidence, EdgeCondition, Outcome, ReadingState};
use winterline::workbench::session_save::ListState;

use crate::desk::Desk;

fn sidecar(desk: &Desk, name: &str) -> Value {
    let path = desk.folder.path().join("scans").join(name);
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn age_and_year_class_follow_marks_and_margin_at_once() {
    let mut desk = Desk::open();
    assert!(desk.has("Age open"));
    desk.click("Accept all");
    desk.click("Medium");
    assert_eq!(desk.reading().edge_condition, Some(EdgeCondition::Medium));
    // October: after the formation window the count is the age.
    assert!(desk.has("Age 3"));
    assert!(desk.has("Year class 2022"));
    desk.click("Annulus 3");
    desk.key(Key::Delete);
    assert!(desk.has("Age 2"));
    assert!(desk.has("Year class 2023"));
    desk.key(Key::Num1);
    assert!(desk.has("Age 3"), "an annulus at the very margin is counted");
    assert!(desk.has_containing("annulus at edge after the formation window"));
}

#[test]
fn a_confirmed_reading_is_on_disk_valid_and_as_it_was_confirmed() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    desk.click("Narrow");
    desk.click("Good");
    desk.click("Confirm");
    desk.until("the confirmation", |workbench| {
        workbench.scan().is_some_and(|scan| scan.is_confirmed_on_disk())
    });
    assert!(desk.has("Confirmed and saved"));
    assert!(desk.has("Fish 001, confirmed"));
    let value = sidecar(&desk, "AP-001.png.kb.json");
    let schema: Value =
        serde_json::from_str(include_str!("../../docs/sidecar.schema.json")).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let faults: Vec<String> =
        validator.iter_errors(&value).map(|fault| fault.to_string()).collect();
    assert_eq!(faults, Vec::<String>::new());
    let loaded = winterline::store::sidecar::load_sidecar(
        &desk.folder.path().join("scans/AP-001.png.kb.json"),
    )
    .unwrap();
    let saved = &loaded.reading.impressions[0];
    assert_eq!(*saved, desk.reading());
    assert_eq!((saved.state, saved.outcome), (ReadingState::Confirmed, Some(Outcome::Aged)));
    assert_eq!((saved.age, saved.confidence), (Some(3), Some(Confidence::Good)));
    assert!(saved.conditions.proposals_shown && !saved.conditions.length_shown);
    let scale = loaded.reading.calibration.unwrap();
    let radii: Vec<f64> = saved.annulus_radii(&scale).iter().map(|radius| radius.0).collect();
    for (radius, drawn) in radii.iter().zip([500.0, 900.0, 1200.0]) {
        assert!((radius - drawn).abs() < 0.01, "{radius}");
    }
}

#[test]
fn confirming_too_early_says_what_is_missing_and_writes_nothing() {
    let mut desk = Desk::open();
    desk.key(Key::C);
    assert!(desk.has_containing("judge the margin"));
    assert_eq!(desk.reading().state, ReadingState::Draft);
    assert!(!desk.folder.path().join("scans/AP-001.png.kb.json").exists());
}

#[test]
fn the_next_fish_opens_and_the_first_keeps_its_draft() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    desk.key(Key::N);
    desk.until("the second scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 1)
    });
    assert!(desk.has("Fish 002"));
    assert!(desk.has("Fish 001, draft"));
    let value = sidecar(&desk, "AP-001.png.kb.json");
    assert_eq!(value["impressions"][0]["marks"].as_array().unwrap().len(), 3);
    desk.click("Fish 001, draft");
    desk.until("the first scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 0)
    });
    assert_eq!(desk.annuli(), [100.0, 180.0, 240.0]);
}

#[test]
fn an_unreadable_scale_is_recorded_as_such() {
    let mut desk = Desk::open();
    desk.click("Unreadable");
    desk.click("Confirm");
    desk.until("the confirmation", |workbench| {
        workbench.survey().unwrap().entries()[0].state == ListState::Confirmed
    });
    let reading = desk.reading();
    assert_eq!((reading.outcome, reading.age), (Some(Outcome::Unreadable), None));
}

#[test]
fn a_confirmed_reading_is_closed_until_reopened() {
    let mut desk = Desk::open();
    desk.click("Unreadable");
    desk.click("Confirm");
    desk.until("the confirmation", |workbench| {
        workbench.scan().is_some_and(|scan| scan.is_confirmed_on_disk())
    });
    assert!(desk.is_disabled("Accept all"));
    desk.click("Reopen");
    assert_eq!(desk.reading().state, ReadingState::Draft);
    assert!(desk.has("Undo reopening"));
}

#[test]
fn the_length_is_hidden_until_asked_for_and_asking_is_recorded() {
    let mut desk = Desk::open();
    assert!(!desk.has("300 mm"));
    desk.click("Show length");
    assert!(desk.has("300 mm"));
    assert!(desk.reading().conditions.length_shown);
    desk.until("the draft", |workbench| workbench.scan().is_some_and(|scan| scan.has_file()));
    let value = sidecar(&desk, "AP-001.png.kb.json");
    assert_eq!(value["impressions"][0]["length_shown"], Value::Bool(true), "{value}");
}

#[test]
fn a_note_is_an_edit_when_the_field_is_left() {
    let mut desk = Desk::open();
    desk.key(Key::T);
    desk.window.event(egui::Event::Text("crowded near a tear, ø 3".into()));
    desk.settle();
    assert_eq!(desk.reading().note, "");
    desk.key(Key::Escape);
    desk.settle();
    assert_eq!(desk.reading().note, "crowded near a tear, ø 3");
    desk.key_with(Modifiers::COMMAND, Key::Z);
    assert_eq!(desk.reading().note, "");
}
