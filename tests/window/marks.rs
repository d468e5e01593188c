//! Setting the axis, and accepting, moving, adding and deleting marks.

use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use winterline::domain::reading::{MarkKind, MarkOrigin};
use winterline::workbench::session_selection::Handle;

use crate::desk::{Desk, open_proposals};
use crate::pond::{FOCUS, RINGS_PX};

#[test]
fn proposals_stand_before_the_reader_with_name_and_distance() {
    let desk = Desk::open();
    assert_eq!(open_proposals(desk.workbench()), [100.0, 140.0, 180.0, 240.0]);
    for name in [
        "Proposal 1, 500.0 µm",
        "Proposal 3, 1200.0 µm",
        "Alternative 1, 700.0 µm",
        "Margin, 1400.0 µm",
    ] {
        assert!(desk.has(name), "{name}");
    }
    assert!(desk.has("Proposal 2 on the scan, 900.0 µm"));
    assert!(desk.reading().marks.is_empty());
    assert!(desk.reading().conditions.proposals_shown);
}

#[test]
fn accepting_all_makes_annuli_of_those_put_forward() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    assert_eq!(desk.annuli(), RINGS_PX);
    assert!(desk.reading().marks.iter().all(|mark| mark.origin == MarkOrigin::AcceptedProposal));
    assert!(desk.has("Annulus 2, 900.0 µm"));
    assert!(desk.has("Alternative 1, 700.0 µm"));
}

#[test]
fn one_key_goes_through_the_proposals() {
    let mut desk = Desk::open();
    desk.key(Key::CloseBracket);
    assert_eq!(desk.workbench().scan().unwrap().selected(), Some(Handle::Proposal(0)));
    desk.key(Key::A);
    desk.key(Key::D);
    desk.key(Key::A);
    desk.key(Key::A);
    assert_eq!(desk.annuli(), RINGS_PX);
    assert!(open_proposals(desk.workbench()).is_empty());
}

#[test]
fn dragging_a_mark_on_the_profile_is_one_step() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    let margin = desk.window.get_by_label("Margin, 1400.0 µm").rect().center().x;
    let second = desk.window.get_by_label("Annulus 2, 900.0 µm").rect().center().x;
    let points_per_px = f64::from(margin - second) / 100.0;
    desk.drag("Annulus 2, 900.0 µm", vec2(-(20.0 * points_per_px) as f32, 0.0));
    let moved = desk.annuli()[1];
    // Let go at 160, it lies on the crest or trough of the circuli beside it.
    assert!((moved - 160.0).abs() < 2.5, "{moved}");
    assert_eq!(desk.reading().marks[1].origin, MarkOrigin::MovedProposal);
    assert!(desk.has("Undo move of annulus 2"));
    desk.click("Undo move of annulus 2");
    assert_eq!(desk.annuli(), RINGS_PX);
    assert!(desk.has("Undo acceptance of all proposals"));
}

#[test]
fn dragging_a_mark_on_the_scan_moves_it_along_the_axis() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    let first = desk.window.get_by_label("Annulus 1 on the scan, 500.0 µm").rect().center();
    let third = desk.window.get_by_label("Annulus 3 on the scan, 1200.0 µm").rect().center();
    let points_per_px = (first - third).length() / 140.0;
    desk.drag("Annulus 3 on the scan, 1200.0 µm", vec2(30.0, 10.0 * points_per_px));
    let moved = desk.annuli()[2];
    assert!((moved - 230.0).abs() < 2.0, "{moved}");
}

#[test]
fn arrow_keys_move_what_is_selected() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    desk.window.get_by_label("Annulus 1, 500.0 µm").click();
    desk.settle();
    desk.key(Key::ArrowRight);
    desk.key(Key::ArrowRight);
    desk.key_with(Modifiers::SHIFT, Key::ArrowLeft);
    assert_eq!(desk.annuli()[0], 92.0);
    assert!(desk.has("Annulus 1, 460.0 µm"));
    assert!(desk.window.get_by_label("Annulus 1, 460.0 µm").is_focused());
}

#[test]
fn a_double_click_adds_an_annulus_and_delete_takes_it_away() {
    let mut desk = Desk::open();
    let first = desk.window.get_by_label("Proposal 1, 500.0 µm").rect().center();
    let margin = desk.window.get_by_label("Margin, 1400.0 µm").rect().center();
    let at = first + (margin - first) * (110.0 / 180.0);
    for pressed in [true, false, true, false] {
        desk.window.event(egui::Event::PointerMoved(at));
        desk.window.event(egui::Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
        desk.window.step();
    }
    desk.settle();
    let annuli = desk.annuli();
    assert_eq!(annuli.len(), 1);
    assert!((annuli[0] - 210.0).abs() < 1.5, "{annuli:?}");
    assert_eq!(desk.reading().marks[0].origin, MarkOrigin::ByHand);
    assert_eq!(desk.workbench().scan().unwrap().selected(), Some(Handle::Mark(0)));
    desk.key(Key::Delete);
    assert!(desk.annuli().is_empty());
    assert!(desk.has("Undo deletion of annulus 1"));
}

#[test]
fn an_annulus_becomes_a_check_and_is_no_longer_counted() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    desk.click("Annulus 2");
    desk.key(Key::K);
    assert_eq!(desk.reading().marks[1].kind, MarkKind::Check);
    assert!(desk.has("Check 1, 900.0 µm"));
    assert!(desk.has("Annulus 2, 1200.0 µm"));
}

#[test]
fn undo_and_redo_are_named_and_greyed() {
    let mut desk = Desk::open();
    assert!(desk.is_disabled("Undo"));
    assert!(desk.is_disabled("Redo"));
    desk.click("Accept all");
    assert!(desk.is_disabled("Redo"));
    desk.key_with(Modifiers::COMMAND, Key::Z);
    assert!(desk.annuli().is_empty());
    assert!(!desk.is_disabled("Redo acceptance of all proposals"));
    desk.key_with(Modifiers::COMMAND, Key::Y);
    assert_eq!(desk.annuli(), RINGS_PX);
    assert!(desk.is_disabled("Redo"));
}

#[test]
fn focus_axis_and_margin_can_be_set_by_hand_and_by_keyboard_alone() {
    let mut desk = Desk::open_by_hand();
    assert!(desk.reading().axis.is_none());
    desk.key(Key::F);
    let axis = desk.reading().axis.unwrap();
    assert_eq!(axis.focus(), kurbo::Point::new(299.5, 319.5));
    assert!(axis.end().y < 40.0, "the axis begins upwards, as the survey says");
    assert!(desk.window.get_by_label("Focus").is_focused());
    for _ in 0..3 {
        desk.key(Key::ArrowDown);
    }
    desk.key(Key::ArrowRight);
    let axis = desk.reading().axis.unwrap();
    assert_eq!(axis.focus(), kurbo::Point::new(300.5, 322.5));
    desk.key(Key::M);
    let before = desk.reading().edge.unwrap().0;
    desk.key_with(Modifiers::SHIFT, Key::ArrowLeft);
    assert_eq!(desk.reading().edge.unwrap().0, before - 10.0);
    desk.key(Key::I);
    assert_eq!(desk.annuli().len(), 1);
}

#[test]
fn the_focus_and_the_axis_end_can_be_dragged() {
    let mut desk = Desk::open();
    let first = desk.window.get_by_label("Proposal 1 on the scan, 500.0 µm").rect().center();
    let third = desk.window.get_by_label("Proposal 3 on the scan, 1200.0 µm").rect().center();
    let zoom = (first - third).length() / 140.0;
    desk.drag("Focus", vec2(20.0 * zoom, 0.0));
    let focus = desk.reading().axis.unwrap().focus();
    assert!((focus.x - FOCUS.x - 20.0).abs() < 1.0 && (focus.y - FOCUS.y).abs() < 1.0, "{focus:?}");
    assert!(desk.has("Undo focus and axis"));
    let end = desk.reading().axis.unwrap().end();
    desk.drag("Axis end", vec2(60.0, 30.0));
    let moved = desk.reading().axis.unwrap().end();
    assert!(moved.x > end.x + 20.0, "{end:?} {moved:?}");
}
