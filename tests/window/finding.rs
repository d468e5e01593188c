//! Finding things: commands by name, scans by kind and number, settings, recent surveys, changed keys.

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

use crate::desk::{Desk, until, window_with_settings};
use crate::pond;

#[test]
fn a_command_is_found_by_its_name_and_done() {
    let mut desk = Desk::open();
    desk.key_with(Modifiers::COMMAND, Key::K);
    assert!(desk.has("All commands"));
    desk.window.get_by_label("Name of a command").type_text("accept all");
    desk.settle();
    assert!(desk.has("Command Accept all"));
    assert!(!desk.has("Command Confirm"));
    desk.key(Key::Enter);
    assert!(!desk.has("All commands"));
    assert_eq!(desk.annuli(), pond::RINGS_PX);
}

#[test]
fn the_list_is_narrowed_by_kind_and_by_name() {
    let mut desk = Desk::open();
    desk.click("Mine");
    assert!(!desk.has("Fish 002, unread"));
    desk.click("Unread");
    assert!(desk.has("Fish 002, unread"));
    desk.click("All");
    desk.key_with(Modifiers::COMMAND, Key::F);
    desk.window.get_by_label("Find a scan").type_text("003");
    desk.settle();
    assert!(!desk.has("Fish 002, unread") && desk.has("1 of 3 shown"));
    desk.key(Key::Enter);
    desk.until("the scan found", |workbench| workbench.scan().is_some_and(|s| s.place() == 2));
}

#[test]
fn a_doubtful_mark_puts_a_scan_among_the_doubtful() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    desk.key(Key::CloseBracket);
    desk.key(Key::S);
    desk.key(Key::S);
    desk.until("the write", |workbench| {
        workbench.survey().is_some_and(|survey| survey.entries()[0].is_doubtful)
    });
    desk.click("Doubtful");
    assert!(desk.has_containing("Fish 001, ") && !desk.has_containing("Fish 002, "));
}

#[test]
fn settings_change_size_and_theme_and_come_back() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("settings.json");
    std::fs::write(
        &file,
        r#"{"theme": "light", "recent_surveys": ["/ponds/alder-2024"],
            "keys": {"AcceptAll": ["Ctrl+Shift+A"], "Confirm": ["N"]}}"#,
    )
    .unwrap();
    let mut window = window_with_settings(pond::services(), None, &file);
    for _ in 0..4 {
        window.step();
    }
    assert!(window.query_by_label("Open alder-2024").is_some());
    let refused = "The keys for Confirm are not changed: N asks for Next scan already";
    assert!(window.query_all_by_label_contains(refused).next().is_some());
    window.key_press(Key::F2);
    window.step();
    window.step();
    window.get_by_label("Dark").click();
    window.key_press_modifiers(Modifiers::COMMAND, Key::Plus);
    let start = std::time::Instant::now();
    loop {
        window.step();
        let written = std::fs::read_to_string(&file).unwrap();
        if written.contains("\"theme\": \"dark\"") && written.contains("1.1") {
            assert!(written.contains("Ctrl+Shift+A"));
            break;
        }
        assert!(start.elapsed().as_secs() < 10, "{written}");
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
}

#[test]
fn a_changed_key_works_and_the_old_one_does_not() {
    let settings = tempfile::tempdir().unwrap();
    let file = settings.path().join("settings.json");
    std::fs::write(&file, r#"{"keys": {"AcceptAll": ["Ctrl+Shift+A"]}}"#).unwrap();
    let folder = pond::survey();
    let path = Some(folder.path().to_owned());
    let mut window = window_with_settings(pond::services(), path, &file);
    until(&mut window, "the proposals", |w| !crate::desk::open_proposals(w).is_empty());
    let annuli = |window: &egui_kittest::Harness<'static, crate::desk::Held>| {
        window.state().workbench().scan().unwrap().reading().unwrap().annuli().count()
    };
    window.key_press_modifiers(Modifiers::SHIFT, Key::A);
    window.step();
    window.step();
    assert_eq!(annuli(&window), 0);
    window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::A);
    window.step();
    window.step();
    assert_eq!(annuli(&window), 3);
}
