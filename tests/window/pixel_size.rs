//! The pixel size in the window: from the file, by magnification, from a stage micrometer, and what is said about it.

use egui::Key;
use egui_kittest::kittest::Queryable;
use winterline::domain::calibration::CalibrationSource;

use crate::desk::Desk;

fn open() -> Desk {
    let mut desk = Desk::open();
    desk.key(Key::Z);
    desk.settle();
    desk
}

fn scale(desk: &Desk) -> winterline::domain::calibration::Calibration {
    desk.workbench().scan().unwrap().document().reading.calibration.clone().unwrap()
}

/// Draws a line on the scan from its focus, `length` screen points to the right.
fn draw(desk: &mut Desk, length: f32) {
    desk.click("Draw the line");
    let from = desk.window.get_by_label("Line over the known length").rect().center();
    let to = from + egui::vec2(length, 0.0);
    desk.window.hover_at(from);
    desk.settle();
    desk.window.drag_at(from);
    desk.settle();
    for step in 1..=5 {
        desk.window.hover_at(from + (to - from) * (step as f32 / 5.0));
        desk.settle();
    }
    desk.window.drop_at(to);
    desk.settle();
}

#[test]
fn it_says_where_the_size_is_from_and_magnification_changes_it() {
    let mut desk = open();
    assert!(desk.has_containing("Pixel 5.000 µm, from the file"));
    desk.click("Use 10.583 µm");
    assert_eq!(scale(&desk).source, CalibrationSource::Magnification);
    assert!((scale(&desk).x_um_per_px() - 25_400.0 / 2400.0).abs() < 1e-9);
    assert!(desk.has("Undo calibration"));
    desk.click("Use the file's: 5.000 µm");
    assert_eq!(scale(&desk).source, CalibrationSource::FileTag);
    assert!(desk.is_disabled("Use the survey's"));
}

#[test]
fn repeated_lines_give_a_mean_with_its_error() {
    let mut desk = open();
    for length in [200.0, 204.0, 202.0] {
        draw(&mut desk, length);
    }
    assert!(desk.has_containing("3 measurements"));
    assert!(desk.has_containing("SE "));
    desk.click("Use the mean");
    let scale = scale(&desk);
    assert_eq!(scale.source, CalibrationSource::StageMicrometer);
    let relative = scale.se_um_per_px.unwrap() / scale.x_um_per_px();
    // 200, 204 and 202 points: SD 2, SE 1.155, over 202 (common arithmetic).
    assert!((relative - 0.0057).abs() < 0.0006, "{relative}");
    assert!(desk.has_containing("measure the micrometer again"));
    desk.click("Drop measurement 2");
    assert!(desk.has_containing("2 measurements"));
}
