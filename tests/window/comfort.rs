//! Drops, a survey started from pictures, the place come back to, narrow windows, the card, and names for everything.

use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable, by};
use winterline::workbench::workbench::Workbench;

use crate::desk::{Desk, Held, until, window, window_of_size, window_with_settings};
use crate::pond;

#[derive(Debug)]
struct Dropped(std::path::PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &std::path::Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

fn drop_on(window: &mut Harness<'static, Held>, paths: &[std::path::PathBuf]) {
    for path in paths {
        let file = std::sync::Arc::new(Dropped(path.clone()));
        window.input_mut().dropped_files.push(file);
    }
    for _ in 0..4 {
        window.step();
    }
}

fn place(workbench: &Workbench) -> Option<usize> {
    workbench.scan().map(|scan| scan.place())
}

#[test]
fn a_scan_dropped_opens_its_survey_at_that_scan() {
    let mut desk = Desk::open();
    let other = pond::survey();
    let scan = other.path().join("scans/AP-003.png");
    drop_on(&mut desk.window, &[scan]);
    desk.until("the dropped scan", |workbench| {
        workbench.folder() == Some(other.path()) && place(workbench) == Some(2)
    });
}

#[test]
fn pictures_and_a_sheet_dropped_start_a_survey() {
    let from = pond::survey();
    let loose = tempfile::tempdir().unwrap();
    let picture = loose.path().join("HS-1.png");
    std::fs::copy(from.path().join("scans/AP-001.png"), &picture).unwrap();
    let mut window = window(pond::services(), None, None);
    for _ in 0..4 {
        window.step();
    }
    drop_on(&mut window, std::slice::from_ref(&picture));
    assert!(window.query_all_by_label_contains("1 picture will be copied").next().is_some());
    let sheet = loose.path().join("field.csv");
    std::fs::write(&sheet, "fish,species,capture_date,length,length_type,scans\n77,perch,2025-10-04,200,total,HS-1.png\n").unwrap();
    drop_on(&mut window, &[sheet]);
    assert!(window.query_all_by_label_contains("the field sheet field.csv").next().is_some());
    window.get_by_label("Name of the survey").focus();
    window.step();
    window.get_by_label("Name of the survey").type_text("Heron Slough 2025");
    window.step();
    window.step();
    window.get_by_label("Start the survey").click();
    until(&mut window, "the new survey", |workbench| workbench.survey().is_some());
    assert!(window.query_by_label("Fish 77, unread").is_some());
    assert!(loose.path().join("new-survey/scans/HS-1.png").is_file());
    assert!(picture.is_file(), "what was dropped stays where it was");
}

#[test]
fn the_scan_left_last_is_opened_again_from_the_list_of_recent_surveys() {
    let folder = pond::survey();
    let settings = tempfile::tempdir().unwrap();
    let file = settings.path().join("settings.json");
    {
        let path = Some(folder.path().to_owned());
        let mut window = window_with_settings(pond::services(), path, &file);
        until(&mut window, "the scan", |workbench| place(workbench) == Some(0));
        window.key_press(Key::N);
        until(&mut window, "the next scan", |workbench| place(workbench) == Some(1));
        let has_it =
            || std::fs::read_to_string(&file).is_ok_and(|text| text.contains("AP-002.png"));
        for _ in 0..400 {
            window.step();
            if has_it() {
                break;
            }
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        assert!(has_it(), "the place was not remembered");
    }
    let mut window = window_with_settings(pond::services(), None, &file);
    for _ in 0..4 {
        window.step();
    }
    let name = folder.path().file_name().unwrap().to_string_lossy().into_owned();
    window.get_by_label(&format!("Open {name}")).click();
    until(&mut window, "the place", |workbench| place(workbench) == Some(1));
}

/// 1280 x 800 pixels at twice the usual size: everything needed for a reading is on screen.
#[test]
fn a_reading_is_possible_at_twice_the_size_on_a_small_screen() {
    let folder = pond::survey();
    let mut window =
        window_of_size(egui::vec2(640.0, 400.0), 2.0, pond::services(), folder.path().to_owned());
    until(&mut window, "the proposals", |workbench| {
        workbench.scan().is_some_and(|scan| !scan.document().open_proposals(1).is_empty())
    });
    let screen = egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(640.0, 400.0));
    for name in ["List", "Card", "More", "Accept all", "Confirm", "Next scan", "Margin, 1400.0 µm"]
    {
        let rect = window.get_by_label(name).rect();
        assert!(screen.contains_rect(rect.shrink(1.0)), "{name}: {rect:?}");
    }
    let scan = window.get_by_label("Scan AP-001.png").rect();
    assert!(scan.width() > 200.0 && scan.height() > 120.0, "{scan:?}");
    assert!(window.query_by_label("Fish 001, unread").is_none());
    window.get_by_label("List").click();
    for _ in 0..4 {
        window.step();
    }
    assert!(window.query_by_label("Fish 001, unread").is_some());
    window.key_press_modifiers(Modifiers::SHIFT, Key::L);
    window.key_press_modifiers(Modifiers::SHIFT, Key::C);
    for _ in 0..4 {
        window.step();
    }
    assert!(window.query_by_label("Confirm").is_none());
    let wider = window.get_by_label("Scan AP-001.png").rect();
    assert!(wider.width() > scan.width() + 100.0);
}

#[test]
fn the_reading_card_is_written_as_svg_and_png_and_can_be_opened() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    desk.click("Reading card");
    desk.until("the card", |workbench| workbench.last_card().is_some());
    let card = desk.workbench().last_card().unwrap().to_owned();
    let svg = std::fs::read_to_string(&card).unwrap();
    assert!(svg.contains("µm</text>") && svg.contains("Fish 001"), "{}", &svg[..200]);
    let png = std::fs::read(card.with_extension("png")).unwrap();
    // The eight bytes every PNG begins with (W3C Recommendation "Portable Network Graphics", section 5.2).
    assert_eq!(png[..8], [137, 80, 78, 71, 13, 10, 26, 10]);
    let decoded = winterline::imaging::decode::decode_bytes(
        &png,
        &winterline::imaging::decode::Limits::default(),
    )
    .unwrap();
    assert_eq!(decoded.raster.width(), 600);
    assert!(decoded.raster.height() > 640, "the words stand above the picture");
    assert!(desk.has("Open the card"));
}

/// Every control and every painted mark says its name and what it is, for those who do not see it.
#[test]
fn everything_that_can_be_worked_has_a_name() {
    let mut desk = Desk::open();
    let mut checked = 0;
    for view in 0..4 {
        match view {
            1 => desk.key(Key::Z),
            2 => desk.key(Key::E),
            3 => desk.key_with(Modifiers::COMMAND, Key::B),
            _ => {}
        }
        let works = |node: &egui_kittest::kittest::AccessKitNode<'_>| {
            use egui::accesskit::Role as R;
            matches!(
                node.role(),
                R::Button
                    | R::CheckBox
                    | R::RadioButton
                    | R::Slider
                    | R::ComboBox
                    | R::TextInput
                    | R::MultilineTextInput
                    | R::SpinButton
                    | R::Canvas
                    | R::Link
            )
        };
        for node in desk.window.query_all(by().predicate(works)) {
            let node = node.accesskit_node();
            let name = node.label().or_else(|| node.value()).unwrap_or_default();
            assert!(!name.trim().is_empty(), "a {:?} without a name", node.role());
            checked += 1;
        }
    }
    assert!(checked > 150, "{checked}");
}
