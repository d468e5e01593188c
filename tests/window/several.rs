//! Several scans of one fish: the card shows them, one is preferred or all are averaged, and the lengths follow.

use std::path::Path;

use egui::{Key, Modifiers};
use winterline::domain::progress::Progress;
use winterline::domain::reading::ReaderInitials;
use winterline::domain::resolution::{Rule, ages_by_rule};
use winterline::store::collection::OpenSurvey;
use winterline::workbench::resolve_readings::readings_and_resolutions;
use winterline::workbench::session_lengths::LengthsRequest;
use winterline::workbench::survey_ages_by_reader::ages_by_reader;
use winterline::workbench::survey_lengths::survey_sample;
use winterline::workbench::survey_readings::readings_by_rule;

use crate::desk::Desk;
use crate::pond;

fn read_both() -> Desk {
    let folder = pond::survey_with_two_scans();
    let path = folder.path();
    pond::confirm_on_disk(path, "kb", "AP-001.png", "001", &[500.0, 900.0], 1400.0);
    pond::confirm_on_disk(path, "kb", "AP-001b.png", "001", &[300.0, 600.0], 1000.0);
    pond::confirm_on_disk(path, "kb", "AP-002.png", "002", &[480.0, 1000.0], 1280.0);
    let mut desk = Desk::over(folder, pond::services());
    desk.until("the scan", |workbench| workbench.scan().is_some_and(|scan| scan.place() == 0));
    desk
}

/// Lengths of fish 001 in direct proportion, mm.
fn lengths(desk: &mut Desk) -> Vec<f64> {
    desk.key_with(Modifiers::COMMAND, Key::Num2);
    if desk.has("Direct proportion") {
        desk.click("Direct proportion");
    }
    desk.until("the lengths", |workbench| {
        let shown = workbench.lengths();
        !shown.is_working()
            && shown.lengths().is_some_and(|l| l.request == LengthsRequest::DirectProportion)
    });
    let result = desk.workbench().lengths().lengths().unwrap().result.clone().unwrap();
    let found = result.fish.iter().find(|fish| fish.key == "001").unwrap().lengths_mm.clone();
    desk.key_with(Modifiers::COMMAND, Key::Num1);
    found
}

fn is_near(found: &[f64], expected: [f64; 2]) -> bool {
    found.len() == 2 && found.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-6)
}

/// Ratios are averaged, never raw radii, since scales of one fish differ in size (common practice, no source); then
/// L_i = L x S_i / S (Lea 1910, as stated in the project's methods). Worked out by hand from 300 mm.
#[test]
fn ratios_are_averaged_until_one_scan_is_preferred() {
    let mut desk = read_both();
    assert!(desk.has("Impressions of this fish"));
    assert!(desk.has("AP-001b.png, impression 1"));
    assert!(desk.has("Lengths rest on the mean ratios of all confirmed"));
    let mean = [300.0 * (500.0 / 1400.0 + 0.3) / 2.0, 300.0 * (900.0 / 1400.0 + 0.6) / 2.0];
    let found = lengths(&mut desk);
    assert!(is_near(&found, mean), "{found:?}");
    desk.key_with(Modifiers::SHIFT, Key::P);
    assert!(desk.has("Lengths rest on this one alone"));
    desk.until("the save", |workbench| !workbench.scan().unwrap().is_unsaved());
    let path = desk.folder.path().join("scans/AP-001.png.kb.json");
    let text = std::fs::read_to_string(path).unwrap();
    assert!(text.contains("\"way\": \"alone\"") && text.contains("\"earlier\": []"), "{text}");
    let found = lengths(&mut desk);
    assert!(is_near(&found, [300.0 * 500.0 / 1400.0, 300.0 * 900.0 / 1400.0]), "{found:?}");
    desk.click("AP-001b.png, impression 1");
    desk.until("the other scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 1)
    });
    assert!(desk.has("Lengths rest on another one alone"));
    desk.click("Prefer this one");
    desk.until("the save", |workbench| !workbench.scan().unwrap().is_unsaved());
    let found = lengths(&mut desk);
    assert!(is_near(&found, [90.0, 180.0]), "{found:?}");
    desk.click("Prefer this one");
    desk.until("the save", |workbench| !workbench.scan().unwrap().is_unsaved());
    let found = lengths(&mut desk);
    assert!(is_near(&found, mean), "{found:?}");
}

#[test]
fn the_age_on_another_scan_waits_until_this_one_is_confirmed() {
    let folder = pond::survey_with_two_scans();
    pond::confirm_on_disk(folder.path(), "kb", "AP-001.png", "001", &[500.0, 900.0], 1400.0);
    let mut desk = Desk::over(folder, pond::services());
    desk.until("the second scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 1)
    });
    assert!(desk.has("AP-001.png, impression 1"));
    assert!(desk.has("confirmed, counted"));
    assert!(!desk.has_containing("confirmed, age 2"));
    desk.until("the proposals", |workbench| {
        !workbench.scan().unwrap().document().open_proposals(1).is_empty()
    });
    for key in [Key::Num4, Key::C] {
        if key == Key::Num4 {
            desk.click("Accept all");
        }
        desk.key(key);
    }
    desk.until("the confirmation", |workbench| workbench.scan().unwrap().is_confirmed_on_disk());
    assert!(desk.has("confirmed, age 2, counted"));
}

#[test]
fn a_fish_with_one_scan_has_nothing_to_prefer() {
    let mut desk = Desk::open();
    assert!(!desk.has("Impressions of this fish"));
    desk.key_with(Modifiers::SHIFT, Key::P);
    assert!(desk.has_containing("fish has no other impression or scan"));
}

/// The age of fish 001 wherever the program forms one: by each rule of decision, in the columns of the Agree desk, and in
/// the sample of lengths under each rule.
fn ages_everywhere(folder: &Path) -> Vec<(&'static str, Option<u32>)> {
    let kb = ReaderInitials::new("kb").unwrap();
    let survey = OpenSurvey::open(folder).unwrap();
    let load = || survey.load_readings(&Progress::new()).unwrap();
    let readings = load();
    let decided = readings_and_resolutions(&survey, &readings).unwrap();
    let mut found = Vec::new();
    for (rule, name, lengths) in [
        (Rule::OneReader(kb.clone()), "kb", "lengths by kb"),
        (Rule::Consensus, "consensus", "lengths by consensus"),
        (Rule::OnlyAgreed, "only agreed", "lengths of agreed ages"),
    ] {
        let ages = ages_by_rule(&decided.readings, &[], &rule).ages;
        found.push((name, ages.iter().find(|one| one.fish == "001").map(|one| one.age)));
        let ruled = readings_by_rule(&survey, load(), &rule, &kb).unwrap();
        let sample = survey_sample(&survey, &ruled.readings, &ruled.reader);
        found.push((lengths, sample.ages.get("001").copied()));
    }
    let columns = ages_by_reader(&survey, &readings);
    let column = columns.columns.iter().find(|column| column.reader == kb).unwrap();
    let row = columns.fish.iter().position(|fish| fish.key == "001").unwrap();
    found.push(("the column of kb", column.ages[row]));
    found
}

/// kb gave two scans of a fish the ages 2 and 3, mt read one of them as 2. While kb prefers none, no analysis has an age;
/// once one is preferred, every analysis and every decision has the age of that one (common practice, no source).
#[test]
fn a_preferred_scan_gives_the_age_in_every_analysis_and_decision() {
    let folder = pond::survey_with_two_scans();
    let path = folder.path();
    pond::confirm_on_disk(path, "kb", "AP-001.png", "001", &[500.0, 900.0], 1400.0);
    pond::confirm_on_disk(path, "kb", "AP-001b.png", "001", &[300.0, 600.0, 800.0], 1000.0);
    pond::confirm_on_disk(path, "kb", "AP-002.png", "002", &[480.0, 1000.0], 1280.0);
    pond::confirm_on_disk(path, "mt", "AP-001.png", "001", &[505.0, 910.0], 1400.0);
    let before = ages_everywhere(path);
    assert_eq!(before.len(), 7);
    assert!(before.iter().all(|(_, age)| age.is_none()), "{before:?}");
    let mut desk = Desk::over(folder, pond::services());
    desk.until("the scan", |workbench| workbench.scan().is_some_and(|scan| scan.place() == 0));
    desk.key_with(Modifiers::SHIFT, Key::P);
    desk.until("the save", |workbench| !workbench.scan().unwrap().is_unsaved());
    let preferred = ages_everywhere(desk.folder.path());
    assert!(preferred.iter().all(|(_, age)| *age == Some(2)), "{preferred:?}");
    desk.click("AP-001b.png, impression 1");
    desk.until("the other", |workbench| workbench.scan().is_some_and(|scan| scan.place() == 1));
    desk.click("Prefer this one");
    desk.until("the save", |workbench| !workbench.scan().unwrap().is_unsaved());
    // Now kb says 3 and mt 2: kb's own age is 3, and the two differ wherever both are asked.
    for (what, age) in ages_everywhere(desk.folder.path()) {
        let is_of_both = what.contains("consensus") || what.contains("agreed");
        assert_eq!(age, if is_of_both { None } else { Some(3) }, "{what}");
    }
}
