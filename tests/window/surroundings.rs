//! What stands around the desks: the empty window, opening, the help, the bar, dropped folders.

use egui::Key;
use egui_kittest::kittest::Queryable;
use winterline::workbench::action::VERBS;

use crate::desk::{Desk, Held, until, window};
use crate::pond;

fn empty() -> egui_kittest::Harness<'static, Held> {
    let mut window = window(pond::services(), None, None);
    for _ in 0..4 {
        window.step();
    }
    window
}

#[test]
fn the_empty_window_says_what_to_do() {
    let window = empty();
    assert!(window.query_by_label("No survey open").is_some());
    assert!(window.query_all_by_label_contains("try the demo").next().is_some());
}

#[test]
fn a_typed_path_opens_a_survey_and_initials_begin_the_reading() {
    let folder = pond::survey();
    let mut window = empty();
    window.get_by_label("Folder").focus();
    window.step();
    window.get_by_label("Folder").type_text(&folder.path().display().to_string());
    window.step();
    window.step();
    window.get_by_label("Open folder").click();
    until(&mut window, "the survey", |workbench| workbench.survey().is_some());
    assert!(window.query_by_label("Fish 001, unread").is_some());
    window.get_by_label("Read as mt").click();
    until(&mut window, "the scan", |workbench| workbench.scan().is_some());
    assert!(window.query_by_label("Reader mt").is_some());
}

#[test]
fn a_folder_that_is_no_survey_is_named_and_nothing_breaks() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = window(pond::services(), Some(folder.path().to_owned()), None);
    until(&mut window, "the answer", |workbench| !workbench.notices().problems().is_empty());
    assert!(window.query_all_by_label_contains("No survey.json in this folder").next().is_some());
    assert!(window.query_by_label("No survey open").is_some());
    window.get_by_label("Dismiss").click();
    until(&mut window, "the dismissal", |workbench| workbench.notices().problems().is_empty());
}

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

#[test]
fn a_dropped_folder_is_opened() {
    let folder = pond::survey();
    let mut window = empty();
    window.input_mut().dropped_files.push(std::sync::Arc::new(Dropped(folder.path().to_owned())));
    until(&mut window, "the survey", |workbench| workbench.survey().is_some());
}

#[test]
fn the_help_shows_every_key_of_the_table() {
    let mut desk = Desk::open();
    desk.key(Key::Questionmark);
    assert!(desk.has("All keys"));
    for entry in VERBS {
        assert!(desk.has(entry.tooltip), "{}", entry.tooltip);
    }
    desk.key(Key::Escape);
    desk.settle();
    assert!(!desk.has("All keys"));
}

#[test]
fn only_the_desks_that_work_stand_on_the_bar() {
    let desk = Desk::open();
    for desks in ["Read", "Lengths", "Agree", "Growth", "Report"] {
        assert!(desk.has(desks), "{desks}");
    }
}

#[test]
fn every_control_that_takes_the_keyboard_has_a_name() {
    use egui_kittest::kittest::NodeT;
    let desk = Desk::open();
    let mut named = 0;
    for node in desk.window.root().children_recursive() {
        let node = node.accesskit_node();
        let role = format!("{:?}", node.role());
        if ["Button", "CheckBox", "TextInput", "SpinButton", "MultilineTextInput"]
            .contains(&role.as_str())
        {
            let is_named = node.label().is_some_and(|label| !label.is_empty())
                || node.labelled_by().next().is_some();
            assert!(is_named, "a {role} without a name: {node:?}");
            named += 1;
        }
    }
    assert!(named > 30, "{named}");
}

#[test]
fn both_themes_draw_without_a_missing_sign() {
    let mut desk = Desk::open();
    for _ in 0..2 {
        desk.key(Key::Y);
        desk.key(Key::Questionmark);
        desk.key(Key::Escape);
    }
}
