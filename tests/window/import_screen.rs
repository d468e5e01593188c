//! Taking in sheets by the names of the screen's controls.

use std::path::Path;

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use winterline::store::collection::OpenSurvey;
use winterline::store::radii_table::parse_radii;
use winterline::workbench::workbench::Workbench;

use crate::desk::{Desk, until, window, window_with_settings};
use crate::pond;

#[derive(Debug)]
struct Dropped(std::path::PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

/// Headings of a crew's own, a length in inches among millimetres, and a day nobody can read.
const CREW: &str = "Env #,Kind,When,TL (mm)\n001,walleye,2025-10-04,300\n002,walleye,2025-10-04,12.6\n\
    003,walleye,2025-10-05,260\n004,walleye,some day,310\n005,walleye,2025-10-05,290\n006,walleye,2025-10-05,305\n\
    007,walleye,2025-10-05,315\n008,walleye,2025-10-05,280\n009,walleye,2025-10-05,285\n010,walleye,2025-10-05,295\n\
    011,walleye,2025-10-05,330\n012,walleye,2025-10-05,335\n";

fn is_checked(workbench: &Workbench) -> bool {
    let import = workbench.import();
    import.check().is_some() && !import.is_working()
}

fn choose(desk: &mut Desk, heading: &str, meaning: &str) {
    desk.window_click_containing(&format!("Meaning of {heading}"));
    desk.click(meaning);
    desk.until("the check", is_checked);
}

#[test]
fn a_dropped_sheet_with_other_headings_is_matched_put_right_and_taken_in() {
    let mut desk = Desk::over(pond::survey(), pond::services());
    desk.until("a scan", |workbench| workbench.scan().is_some());
    let loose = tempfile::tempdir().unwrap();
    let sheet = loose.path().join("crew.csv");
    std::fs::write(&sheet, CREW).unwrap();
    let file = std::sync::Arc::new(Dropped(sheet.clone()));
    desk.window.input_mut().dropped_files.push(file);
    desk.until("the check", is_checked);
    let before = std::fs::read(desk.folder.path().join("fish.csv")).unwrap();
    // What is settled by the heading is chosen; what is not has to be.
    assert!(desk.has("Meaning of Env #: Fish or envelope number"));
    assert!(desk.has("Meaning of TL (mm): Length, mm"));
    assert!(desk.has("Meaning of When: leave out"));
    assert!(desk.is_disabled("Take it in"));
    choose(&mut desk, "When", "Day of capture");
    choose(&mut desk, "Kind", "Species");
    // Errors by row and likely mistakes stand there before anything is taken.
    assert!(desk.has_containing("Row 5, When: expected a date"));
    assert!(desk.has_containing("Row 3: expected a length in millimetres, found 12.6"));
    assert!(desk.has("12.6") && desk.has("some day"), "the first rows are shown");
    desk.click("Take 12.6 (row 3) as inches: 320.04");
    desk.until("the check", is_checked);
    assert!(desk.has("320.04"));
    assert!(desk.has_containing("11 rows can be used; 1 with errors"));
    assert_eq!(std::fs::read(desk.folder.path().join("fish.csv")).unwrap(), before);
    desk.click("Take it in");
    desk.until("the survey with the sheet", |workbench| {
        !workbench.import().is_shown() && workbench.survey().is_some() && !workbench.is_opening()
    });
    let opened = OpenSurvey::open(desk.folder.path()).unwrap();
    assert_eq!(opened.fish.len(), 11);
    assert!((opened.fish[1].length.unwrap().0 - 320.04).abs() < 1e-9);
    assert_eq!(opened.survey.column_map["fish"], "Env #");
    assert_eq!(opened.fish[0].scans, ["AP-001.png"], "scans come over from the sheet before");
    assert_eq!(std::fs::read(desk.folder.path().join("fish-before-import-1.csv")).unwrap(), before);
    assert_eq!(std::fs::read_to_string(&sheet).unwrap(), CREW);
}

#[test]
fn leaving_the_screen_writes_nothing() {
    let mut desk = Desk::over(pond::survey(), pond::services());
    desk.until("a scan", |workbench| workbench.scan().is_some());
    let before = std::fs::read(desk.folder.path().join("fish.csv")).unwrap();
    desk.key_with(Modifiers::COMMAND, Key::M);
    desk.click("Match this survey's own sheet");
    desk.until("the check", is_checked);
    desk.click("Leave it");
    assert!(!desk.workbench().import().is_shown());
    assert!(desk.has("Read"));
    assert_eq!(std::fs::read(desk.folder.path().join("fish.csv")).unwrap(), before);
    assert_eq!(std::fs::read_dir(desk.folder.path()).unwrap().count(), 3);
}

#[test]
fn a_survey_whose_headings_are_not_known_opens_at_the_matching_and_the_matching_is_remembered() {
    let settings = tempfile::tempdir().unwrap();
    let file = settings.path().join("settings.json");
    let of_crew = || {
        let folder = pond::survey();
        std::fs::write(folder.path().join("fish.csv"), CREW).unwrap();
        folder
    };
    let first = of_crew();
    {
        let mut window =
            window_with_settings(pond::services(), Some(first.path().to_owned()), &file);
        until(&mut window, "the matching", is_checked);
        for (heading, meaning) in [("When", "Day of capture"), ("Kind", "Species")] {
            let label = format!("Meaning of {heading}: leave out");
            window.get_by_label(&label).click();
            for _ in 0..4 {
                window.step();
            }
            window.get_by_label(meaning).click();
            until(&mut window, "the check", is_checked);
        }
        window.get_by_label("Take it in").click();
        until(&mut window, "the survey", |workbench| {
            workbench.survey().is_some_and(|survey| survey.survey().column_map.len() == 4)
        });
        let is_kept = || std::fs::read_to_string(&file).is_ok_and(|text| text.contains("Env #"));
        for _ in 0..400 {
            window.step();
            if is_kept() {
                break;
            }
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        assert!(is_kept(), "the matching was not remembered");
    }
    let second = of_crew();
    let mut window = window_with_settings(pond::services(), Some(second.path().to_owned()), &file);
    until(&mut window, "the matching", is_checked);
    assert!(window.query_by_label("Meaning of When: Day of capture").is_some());
    assert!(window.query_by_label("Meaning of Kind: Species").is_some());
}

#[test]
fn old_radii_come_in_at_their_magnification() {
    let loose = tempfile::tempdir().unwrap();
    let sheet = loose.path().join("old.csv");
    std::fs::write(&sheet, "Fish,TL,A1,A2,Radius\n07,250,12,24,48\n08,260,11,25,50\n").unwrap();
    let mut window = window(pond::services(), None, None);
    for _ in 0..4 {
        window.step();
    }
    window.key_press_modifiers(Modifiers::COMMAND, Key::M);
    for _ in 0..4 {
        window.step();
    }
    window.get_by_label("Sheet").focus();
    window.step();
    window.get_by_label("Sheet").type_text(&sheet.display().to_string());
    window.step();
    window.step();
    window.get_by_label("Look at it").click();
    until(&mut window, "the check", is_checked);
    window.get_by_label("Radii from a projector").click();
    until(&mut window, "the check", is_checked);
    // 48 mm without magnification would be a scale of 48 mm.
    assert!(window.query_all_by_label_contains("check unit and magnification").next().is_some());
    window.get_by_label("Magnification").focus();
    for _ in 0..3 {
        window.step();
    }
    window.event(egui::Event::Text("24".to_owned()));
    window.step();
    window.key_press(Key::Enter);
    until(&mut window, "the magnification", |workbench| {
        workbench.import().import().is_some_and(|one| one.scale.magnification == 24.0)
            && is_checked(workbench)
    });
    window.get_by_label("Write the radii").click();
    until(&mut window, "the file", |workbench| !workbench.import().is_shown());
    let table = parse_radii(&std::fs::read(loose.path().join("old-radii.csv")).unwrap()).unwrap();
    // By hand: 48 mm on a picture 24 times enlarged are 2 mm, 2000 µm.
    assert_eq!(table.rows[0].radius.unwrap().0, 2000.0);
    assert_eq!(table.rows[0].fish, "07");
}

#[test]
fn a_sheet_dropped_without_a_survey_is_matched_before_one_is_started() {
    let loose = tempfile::tempdir().unwrap();
    let sheet = loose.path().join("crew.csv");
    std::fs::write(&sheet, CREW.replace("Kind", "species").replace("When", "date")).unwrap();
    let mut window = window(pond::services(), None, None);
    for _ in 0..4 {
        window.step();
    }
    window.input_mut().dropped_files.push(std::sync::Arc::new(Dropped(sheet)));
    until(&mut window, "the check", is_checked);
    assert!(window.query_by_label("Start the survey").is_none(), "the matching comes first");
    window.get_by_label("Take it in").click();
    until(&mut window, "the prepared sheet", |workbench| workbench.import().ready().is_some());
    window.get_by_label("Name of the survey").focus();
    window.step();
    window.get_by_label("Name of the survey").type_text("Heron Slough 2025");
    window.step();
    window.step();
    window.get_by_label("Start the survey").click();
    until(&mut window, "the new survey", |workbench| workbench.survey().is_some());
    let opened = OpenSurvey::open(&loose.path().join("new-survey")).unwrap();
    assert_eq!(opened.fish[0].number, "001");
    assert_eq!(opened.survey.column_map["fish"], "Env #");
}
