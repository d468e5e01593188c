//! The Lengths desk: its numbers, its exclusions, and that it hides lengths from an open reading.

use egui::{Key, Modifiers};

use winterline::workbench::session_lengths::LengthsRequest;

use crate::desk::Desk;
use crate::pond;

fn desk_with_readings() -> Desk {
    let folder = pond::survey();
    let path = folder.path();
    pond::confirm_on_disk(path, "kb", "AP-001.png", "001", &[500.0, 900.0, 1200.0], 1400.0);
    pond::confirm_on_disk(path, "kb", "AP-002.png", "002", &[480.0, 1000.0], 1280.0);
    Desk::over(folder, pond::services())
}

fn go_to_lengths(desk: &mut Desk) {
    desk.key_with(Modifiers::COMMAND, Key::Num2);
}

#[test]
fn lengths_are_hidden_while_a_reading_is_open() {
    let mut desk = desk_with_readings();
    // The third fish is the first one unread, so it is the one that opens.
    desk.until("the third scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 2)
    });
    go_to_lengths(&mut desk);
    assert!(desk.has("Lengths are hidden while a reading is open"));
    assert!(!desk.reading().conditions.length_shown);
    desk.click("Show lengths anyway");
    desk.until("the lengths", |workbench| workbench.lengths().lengths().is_some());
    assert!(desk.reading().conditions.length_shown);
}

/// Direct proportion by hand: L_i = L x S_i / S (Lea 1910, as stated in the project's methods).
#[test]
fn direct_proportion_gives_the_lengths_worked_out_by_hand() {
    let mut desk = desk_with_readings();
    desk.until("the third scan", |workbench| workbench.scan().is_some());
    desk.click("Fish 001, confirmed");
    desk.until("the first scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 0)
    });
    go_to_lengths(&mut desk);
    desk.until("the lengths", |workbench| workbench.lengths().lengths().is_some());
    desk.click("Direct proportion");
    desk.until("the new lengths", |workbench| {
        workbench.lengths().lengths().unwrap().request == LengthsRequest::DirectProportion
    });
    // Fish 001: 300 mm, 1400 µm. 300 x 500/1400 = 107.14, x 900/1400 = 192.86, x 1200/1400 = 257.14.
    for length in ["107.1", "192.9"] {
        assert!(desk.has(length), "{length}");
    }
    // Fish 002: 320 mm, 1280 µm: 120 and 250. Means: (107.14 + 120)/2 = 113.57, (192.86 + 250)/2 = 221.43.
    for length in ["120.0", "250.0", "113.6", "221.4"] {
        assert!(desk.has(length), "{length}");
    }
    assert!(desk.has("Left out: 1"));
    assert!(desk.has("no confirmed reading by kb"));
}

/// Fraser-Lee by hand with a = 20 mm: L_i = a + (L - a) S_i / S; fish 002: 20 + 300 x 480/1280 = 132.5.
#[test]
fn a_given_intercept_changes_the_lengths() {
    let mut desk = desk_with_readings();
    desk.until("the third scan", |workbench| workbench.scan().is_some());
    desk.click("Fish 001, confirmed");
    desk.until("the first scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 0)
    });
    go_to_lengths(&mut desk);
    desk.until("the lengths", |workbench| workbench.lengths().lengths().is_some());
    desk.click("Fraser-Lee, given intercept");
    desk.settle();
    {
        use egui_kittest::kittest::Queryable;
        desk.window.get_by_label("Intercept").focus();
        desk.settle();
        desk.key_with(Modifiers::COMMAND, Key::A);
        desk.window.event(egui::Event::Text("20".into()));
        desk.settle();
        desk.key(Key::Enter);
    }
    desk.until("the new lengths", |workbench| {
        let lengths = workbench.lengths().lengths().unwrap();
        lengths.result.as_ref().is_ok_and(|result| result.intercept_mm == Some(20.0))
    });
    assert!(desk.has("132.5"));
}

/// kb and mt give fish 001 three and two annuli: only agreed ages leave fish 002, and the desk says what each rule leaves.
#[test]
fn the_ages_that_count_can_be_chosen() {
    let folder = pond::survey();
    let path = folder.path();
    for reader in ["kb", "mt"] {
        let third: &[f64] = if reader == "kb" { &[500.0, 900.0, 1200.0] } else { &[500.0, 900.0] };
        pond::confirm_on_disk(path, reader, "AP-001.png", "001", third, 1400.0);
        pond::confirm_on_disk(path, reader, "AP-002.png", "002", &[480.0, 1000.0], 1280.0);
        pond::confirm_on_disk(path, reader, "AP-003.png", "003", &[500.0], 900.0);
    }
    let mut desk = Desk::over(folder, pond::services());
    desk.until("the scan", |workbench| workbench.scan().is_some());
    go_to_lengths(&mut desk);
    desk.click("Direct proportion");
    desk.until("the lengths", |workbench| workbench.lengths().lengths().is_some());
    desk.click("Only agreed");
    desk.until("the agreed lengths", |workbench| {
        let lengths = workbench.lengths().lengths();
        let result = lengths.and_then(|lengths| lengths.result.as_ref().ok());
        result.is_some_and(|result| result.fish.len() == 2)
    });
    assert!(
        desk.has_containing("2 fish (each rule leaves: kb 3, mt 3, consensus 2, only agreed 2)")
    );
}
