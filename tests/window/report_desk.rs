//! The Report desk by the names of its controls: what the report will hold, what is asked of it, and the files written.

use std::path::PathBuf;
use std::sync::{Arc, Mutex};

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use winterline::report::paper::Paper;
use winterline::report::report_units::ReportUnits;
use winterline::store::fingerprint::Fingerprint;
use winterline::workbench::action::{Action, Desk as WorkingDesk};
use winterline::workbench::report_request::MortalityAsked;
use winterline::workbench::session_report::ReportAction;
use winterline::workbench::survey_readings::AgesFrom;
use winterline::workbench::workbench::{Services, Workbench};

use crate::desk::Desk;
use crate::growth_desk::lake;
use crate::pond;

fn on_report(services: Services) -> Desk {
    let mut desk = Desk::over(lake(), services);
    desk.until("a scan", |workbench| workbench.scan().is_some());
    desk.key_with(Modifiers::COMMAND, Key::Num5);
    if desk.has("Show lengths anyway") {
        desk.click("Show lengths anyway");
    }
    desk.until("the contents", has_contents);
    desk
}

fn has_contents(workbench: &Workbench) -> bool {
    workbench.report_desk().contents().is_some() && !workbench.report_desk().is_looking()
}

/// A part of the report has its title on its box and in the list of what the report will hold.
fn untick(desk: &mut Desk, label: &str) {
    desk.window.get_by_role_and_label(egui::accesskit::Role::CheckBox, label).click();
    desk.settle();
}

fn write(desk: &mut Desk, button: &str) {
    desk.click(button);
    desk.until("the files", |workbench| {
        workbench.report_desk().writing().is_none() && workbench.report_desk().written().is_some()
    });
}

#[test]
fn the_desk_says_what_the_report_rests_on_and_what_is_empty_and_why() {
    let desk = on_report(pond::services());
    assert_eq!(desk.workbench().desk(), WorkingDesk::Report);
    for words in [
        "12 fish of the species",
        "6 fish aged by all of kb, mt",
        "12 fish by Fraser-Lee",
        "condition of 12 fish",
        "Not in it: The standard: no standard is at hand",
        "Not in it: Stocking: no stocking",
        "each rule leaves: kb 12, mt 6",
        "a card with its picture for each of 12 fish",
    ] {
        let lower = words.to_lowercase();
        let capital: String = words
            .chars()
            .take(1)
            .flat_map(char::to_uppercase)
            .chain(words.chars().skip(1))
            .collect();
        let is_there = [words, &lower, &capital].iter().any(|one| desk.has_containing(one));
        assert!(is_there, "{words}");
    }
}

#[test]
fn every_choice_of_the_desk_reaches_the_request() {
    let mut desk = on_report(pond::services());
    for label in ["Only agreed", "Inches, pounds", "Letter", "Lengths at capture"] {
        desk.click(label);
    }
    untick(&mut desk, "Reading cards");
    desk.window.get_by_label("Method").click();
    desk.settle();
    desk.click("Direct proportion");
    desk.window.get_by_label("Mortality").click();
    desk.settle();
    desk.click(MortalityAsked::No.words());
    desk.type_into("Crew", "A. Field");
    desk.type_into("Day", "2025-12-01");
    let request = desk.workbench().report_desk().request().clone();
    assert_eq!(request.ages_from, AgesFrom::Agreed);
    assert_eq!((request.units, request.paper), (ReportUnits::Us, Paper::Letter));
    assert_eq!(request.method.word(), "direct-proportion");
    assert_eq!(request.mortality, MortalityAsked::No);
    assert_eq!(
        (request.crew.as_str(), request.date.unwrap().to_string()),
        ("A. Field", "2025-12-01".into())
    );
    assert_eq!(request.chapters.len(), 5, "cards are left out");
    desk.until("the new contents", has_contents);
    assert!(desk.has_containing("Only fish that two or more readers gave the same age: 6 fish"));
}

#[test]
fn the_report_is_written_with_size_and_fingerprint_and_opened() {
    let opened: Arc<Mutex<Vec<PathBuf>>> = Arc::default();
    let seen = Arc::clone(&opened);
    let mut services = pond::services();
    services.view = Arc::new(move |file| {
        seen.lock().unwrap().push(file.to_owned());
        Err("no viewer is installed".to_owned())
    });
    let mut desk = on_report(services);
    untick(&mut desk, "Reading cards");
    write(&mut desk, "Write the report");
    let path = desk.folder.path().join("results/report.html");
    let file = desk.workbench().report_desk().written().unwrap().files[0].clone();
    assert_eq!(file.path, path);
    assert_eq!(Some(file.fingerprint), Fingerprint::of_file(&path).unwrap());
    let page = std::fs::read_to_string(&path).unwrap();
    assert!(page.contains("id=\"growth\"") && !page.contains("id=\"cards\""));
    assert!(desk.has("report.html"));
    assert!(desk.has_containing(&file.fingerprint.blake3_hex()[..16]));
    desk.click("Open the report");
    desk.until("the answer of the system", |workbench| !workbench.notices().problems().is_empty());
    assert_eq!(opened.lock().unwrap().as_slice(), [path]);
    assert!(desk.has_containing("no viewer is installed"), "a failure is said");
}

/// The same files as `report --data --data-only` of the command line, which writes by the same function.
#[test]
fn data_go_out_as_csv_workbook_and_json_into_the_folder_chosen() {
    let mut desk = on_report(pond::services());
    for label in ["Report, one HTML file", "Data as CSV", "Data as a workbook (XLSX)"] {
        desk.click(label);
    }
    let out = tempfile::tempdir().unwrap();
    desk.window.get_by_label("Folder").focus();
    desk.key_with(Modifiers::COMMAND, Key::A);
    desk.window.event(egui::Event::Text(out.path().join("out").display().to_string()));
    desk.settle();
    write(&mut desk, "Write the data");
    let names: Vec<String> = std::fs::read_dir(out.path().join("out"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert!(names.contains(&"data.xlsx".to_owned()) && names.contains(&"fish.csv".to_owned()));
    assert!(!names.contains(&"data.json".to_owned()) && !names.contains(&"report.html".to_owned()));
    desk.click("Data as JSON");
    write(&mut desk, "Write the data");
    desk.until("the JSON", |_| out.path().join("out/data.json").is_file());
}

#[test]
fn without_a_file_chosen_there_is_nothing_to_write() {
    let mut desk = on_report(pond::services());
    desk.click("Report, one HTML file");
    assert!(desk.is_disabled("Write the data"));
}

#[test]
fn the_desk_hides_while_a_reading_is_open_and_writes_nothing_without_a_survey() {
    let mut desk = Desk::over(pond::survey(), pond::services());
    desk.until("a scan", |workbench| workbench.scan().is_some());
    desk.key_with(Modifiers::COMMAND, Key::Num5);
    assert!(desk.has("Lengths are hidden while a reading is open"));
    assert!(!desk.has("What the report will hold"));
    assert!(desk.workbench().report_desk().contents().is_none());
    let mut bench = Workbench::new(pond::services(), Arc::new(|| {}));
    bench.perform(Action::Report(ReportAction::Write));
    assert!(
        bench.notices().status().to_lowercase().contains("open a survey first"),
        "{}",
        bench.notices().status()
    );
}
