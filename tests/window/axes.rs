//! Curved axes, several axes of one structure, and marks that follow the rings they were set on.

use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use winterline::workbench::session_selection::Handle;

use crate::desk::Desk;
use crate::pond::{FOCUS, RING_WIDTH, RINGS_PX};

#[test]
fn a_bend_is_put_in_moved_and_taken_out_by_keyboard() {
    let mut desk = Desk::open();
    let straight = desk.reading().axis.unwrap();
    desk.key_with(Modifiers::SHIFT, Key::X);
    assert_eq!(desk.reading().axis.unwrap().vertices().len(), 3);
    assert!(desk.window.get_by_label("Bend 1 of the axis").is_focused());
    for _ in 0..4 {
        desk.key(Key::ArrowRight);
    }
    let bent = desk.reading().axis.unwrap();
    assert_eq!(bent.vertices()[1].x, FOCUS.x + 4.0);
    assert!(bent.length_px().0 > straight.length_px().0);
    desk.key(Key::X);
    assert_eq!(desk.workbench().scan().unwrap().selected(), Some(Handle::AxisEnd));
    desk.key(Key::X);
    assert_eq!(desk.workbench().scan().unwrap().selected(), Some(Handle::Bend(1)));
    desk.key(Key::Delete);
    assert_eq!(desk.reading().axis.unwrap(), straight);
}

#[test]
fn a_bend_can_be_dragged_and_the_drag_is_one_step() {
    let mut desk = Desk::open();
    desk.key_with(Modifiers::SHIFT, Key::X);
    let before = desk.reading().axis.unwrap().vertices()[1];
    desk.drag("Bend 1 of the axis", vec2(40.0, 0.0));
    let after = desk.reading().axis.unwrap().vertices()[1];
    assert!(after.x > before.x + 10.0 && (after.y - before.y).abs() < 3.0, "{before:?} {after:?}");
    desk.click("Undo focus and axis");
    assert_eq!(desk.reading().axis.unwrap().vertices()[1], before);
}

/// The rings proposed are ellipses about the focus: where a ray crosses one is plain geometry.
#[test]
fn marks_follow_their_rings_when_the_axis_turns() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    desk.drag("Axis end", vec2(90.0, 20.0));
    let axis = desk.reading().axis.unwrap();
    let along = (axis.end() - axis.focus()).normalize();
    assert!(along.x > 0.2, "{along:?}");
    let expected = RINGS_PX.map(|px| {
        let (x, y) = (along.x / (RING_WIDTH * px), along.y / px);
        1.0 / x.hypot(y)
    });
    for (found, expected) in desk.annuli().iter().zip(expected) {
        assert!((found - expected).abs() < 0.2, "{found} {expected}");
    }
    assert!(desk.has_containing("3 of the marks followed their rings, 0 kept their share"));
}

#[test]
fn marks_without_a_ring_keep_their_share_of_the_radius() {
    let mut desk = Desk::open_by_hand();
    desk.key(Key::F);
    desk.key(Key::I);
    let (before, edge) = (desk.annuli()[0], desk.reading().edge.unwrap().0);
    desk.drag("Axis end", vec2(60.0, 0.0));
    let (after, new_edge) = (desk.annuli()[0], desk.reading().edge.unwrap().0);
    assert!((after / new_edge - before / edge).abs() < 1e-9);
    assert!(desk.has_containing("0 of the marks followed their rings, 1 kept their share"));
}

#[test]
fn a_structure_has_several_axes_and_one_of_them_is_primary() {
    let mut desk = Desk::open();
    desk.click("Accept all");
    let first = desk.reading().axis.unwrap();
    desk.key_with(Modifiers::SHIFT, Key::F);
    let reading = desk.reading();
    assert_ne!(reading.axis.as_ref(), Some(&first));
    assert_eq!(reading.other_axes[0].axis, first);
    assert_eq!(reading.annuli().count(), 3);
    assert!(desk.has("Other axis 1, 3 marks"));
    desk.until("the save", |workbench| !workbench.scan().unwrap().is_unsaved());
    let text =
        std::fs::read_to_string(desk.folder.path().join("scans/AP-001.png.kb.json")).unwrap();
    assert!(text.contains("\"other_axes\""), "{text}");
    desk.key_with(Modifiers::SHIFT, Key::G);
    assert_eq!(desk.reading().axis.unwrap(), first);
    assert_eq!(desk.annuli(), RINGS_PX);
    desk.key_with(Modifiers::SHIFT, Key::D);
    assert!(desk.reading().other_axes.is_empty());
    desk.key_with(Modifiers::SHIFT, Key::G);
    assert!(desk.has_containing("has no other axis: add one first"));
}
