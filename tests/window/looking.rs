//! Looking at a scan: tone, loupe, scale bar, turned view, panning by key, snapping, and what is decoded ahead.

use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use winterline::gui::canvas::arriving::arriving_ui;
use winterline::imaging::overview::Overview;

use crate::desk::{Desk, until, window_with_settings};
use crate::pond::{self, RINGS_PX};

fn settled_picture() -> Desk {
    let mut desk = Desk::open();
    // Small pictures are prepared within a few frames.
    for _ in 0..30 {
        desk.settle();
        if !desk.has("Preparing the picture") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    desk
}

#[test]
fn the_tone_panel_shows_the_histogram_and_is_remembered_for_the_scan() {
    let settings = tempfile::tempdir().unwrap();
    let file = settings.path().join("settings.json");
    let folder = pond::survey();
    let path = folder.path().to_owned();
    let mut window = window_with_settings(pond::services(), Some(path.clone()), &file);
    until(&mut window, "the scan", |workbench| workbench.scan().is_some());
    window.key_press(Key::E);
    let start = std::time::Instant::now();
    while window.query_by_label("Histogram of grey values").is_none() {
        window.step();
        assert!(start.elapsed().as_secs() < 10, "no histogram");
    }
    for name in ["Black point", "White point", "Gamma", "Local contrast", "Invert"] {
        assert!(window.query_all_by_label(name).next().is_some(), "{name}");
    }
    window.get_by_label("Invert").click();
    let start = std::time::Instant::now();
    loop {
        window.step();
        let written = std::fs::read_to_string(&file).unwrap_or_default();
        if written.contains("\"inverted\": true") {
            assert!(written.contains(&path.display().to_string()), "{written}");
            break;
        }
        assert!(start.elapsed().as_secs() < 10, "{written}");
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    let scan = std::fs::read(path.join("scans/AP-001.png")).unwrap();
    assert_eq!(scan, std::fs::read(path.join("scans/AP-002.png")).unwrap());
    assert!(!path.join("scans/AP-001.png.kb.json").exists(), "looking leaves no reading behind");
}

#[test]
fn the_scale_bar_is_round_and_the_axis_can_be_turned_up() {
    let mut desk = settled_picture();
    assert!(desk.has_containing("Scale bar "));
    assert!(desk.has("Scale bar 1 mm") || desk.has("Scale bar 500 µm"));
    desk.key(Key::F);
    for key in [Key::ArrowRight; 3] {
        desk.key(key);
    }
    let before = desk.window.get_by_label("Axis end").rect().center();
    desk.key(Key::H);
    desk.settle();
    let focus = desk.window.get_by_label("Focus").rect().center();
    let end = desk.window.get_by_label("Axis end").rect().center();
    assert!((focus.x - end.x).abs() < 1.5 && end.y < focus.y, "{focus:?} {end:?} {before:?}");
    let from = desk.reading().axis.unwrap().focus();
    desk.key(Key::ArrowUp);
    let moved = desk.reading().axis.unwrap().focus() - from;
    assert!((moved.hypot() - 1.0).abs() < 1e-6 && moved.y < -0.9, "{moved:?}");
}

#[test]
fn keys_move_and_enlarge_the_picture() {
    let mut desk = settled_picture();
    let place = |desk: &Desk| desk.window.get_by_label("Focus").rect().center();
    let before = place(&desk);
    desk.key_with(Modifiers::COMMAND, Key::ArrowUp);
    let after = place(&desk);
    assert!(after.y > before.y + 40.0, "{before:?} {after:?}");
    desk.key_with(Modifiers::COMMAND, Key::ArrowDown);
    assert!((place(&desk) - before).length() < 2.0);
    let bar = |desk: &Desk| desk.window.get_by_label_contains("Scale bar").rect().width();
    let narrow = bar(&desk);
    desk.key(Key::Plus);
    assert!((bar(&desk) - narrow).abs() > 1.0);
}

#[test]
fn a_mark_snaps_to_the_ring_and_alt_lets_it_lie() {
    let mut desk = settled_picture();
    desk.click("Accept all");
    let margin = desk.window.get_by_label("Margin, 1400.0 µm").rect().center().x;
    let second = desk.window.get_by_label("Annulus 2, 900.0 µm").rect().center().x;
    let points_per_px = (margin - second) / 100.0;
    desk.window.event(egui::Event::ModifiersChanged(Modifiers::ALT));
    desk.settle();
    desk.drag("Annulus 2, 900.0 µm", vec2(8.0, 0.0));
    let free = desk.annuli()[1];
    assert!((free - RINGS_PX[1] - f64::from(8.0 / points_per_px)).abs() < 0.3, "{free}");
    desk.window.event(egui::Event::ModifiersChanged(Modifiers::NONE));
    desk.settle();
    // Let go four points inside the ring, it goes to the ring.
    let name = format!("Annulus 2, {:.1} µm", free * pond::UM_PER_PX);
    desk.drag(&name, vec2(-12.0, 0.0));
    let snapped = desk.annuli()[1];
    assert!(f64::from(4.0 / points_per_px) > 1.2, "the drag is too short to tell");
    assert!((snapped - RINGS_PX[1]).abs() < 0.7, "{snapped}");
}

#[test]
fn the_loupe_goes_on_and_off_and_neighbours_are_decoded_ahead() {
    let mut desk = settled_picture();
    desk.key(Key::Q);
    let middle = desk.window.get_by_label("Scan AP-001.png").rect().center();
    desk.window.hover_at(middle);
    desk.settle();
    desk.key(Key::Q);
    desk.until("the neighbour", |workbench| workbench.is_ahead());
    desk.key(Key::N);
    desk.until("the next scan", |workbench| workbench.scan().is_some_and(|s| s.place() == 1));
}

/// While a large scan is read, the rows that are there are on show, with how far it is; nothing of it stays when
/// reading is over.
#[test]
fn a_scan_that_is_being_read_is_shown_as_far_as_it_is_there() {
    let mut overview = Overview::empty(1000, 700, 255);
    overview.put(0, &vec![120_u8; 1000 * 300]);
    let coming = std::rc::Rc::new(std::cell::RefCell::new(Some(overview)));
    let shown = std::rc::Rc::new(std::cell::RefCell::new(None));
    let (given, kept) = (std::rc::Rc::clone(&coming), std::rc::Rc::clone(&shown));
    let mut window = egui_kittest::Harness::new_ui(move |ui| {
        let rect = ui.max_rect();
        arriving_ui(ui, rect, given.borrow().clone(), &mut kept.borrow_mut());
    });
    assert!(window.query_by_label("Reading the scan").is_some());
    assert!(shown.borrow().is_some());
    *coming.borrow_mut() = None;
    window.run();
    assert!(window.query_by_label("Reading the scan").is_none());
    assert!(shown.borrow().is_none());
}
