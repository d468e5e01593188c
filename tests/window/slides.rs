//! A slide with many impressions: boxes found, corrected, numbered and matched to fish.

use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use kurbo::{Point, Rect};

use crate::desk::Desk;
use crate::pond::{self, SLIDE_CENTRES};

const SIX: [&str; 6] = ["11", "9", "30", "4", "25", "16"];

fn slide(fish: &[&str]) -> Desk {
    let mut desk = Desk::over(pond::survey_with_a_slide(fish), pond::services_by_hand());
    desk.until("the boxes", |workbench| {
        workbench.scan().is_some_and(|scan| !scan.is_splitting() && scan.reading().is_some())
    });
    desk
}

fn boxes(desk: &Desk) -> Vec<(u32, String, Option<Rect>)> {
    let scan = desk.workbench().scan().unwrap();
    let all = &scan.document().reading.impressions;
    all.iter().map(|one| (one.number, one.fish.clone(), one.bounds)).collect()
}

fn numbers(desk: &Desk) -> Vec<String> {
    boxes(desk).into_iter().map(|(_, fish, _)| fish).collect()
}

#[test]
fn a_slide_is_split_into_numbered_boxes_in_the_order_of_the_sheet() {
    let desk = slide(&SIX);
    let found = boxes(&desk);
    assert_eq!(found.len(), 6, "{found:?}");
    for ((place, (number, fish, bounds)), centre) in found.iter().enumerate().zip(SLIDE_CENTRES) {
        assert_eq!((*number as usize, fish.as_str()), (place + 1, SIX[place]));
        let bounds = bounds.unwrap();
        assert!((bounds.center() - Point::from(centre)).hypot() < 20.0, "{bounds:?}");
        assert!((bounds.width() - 280.0).abs() < 60.0, "{bounds:?}");
    }
    assert!(desk.has("Impression 6: 16"));
    assert!(desk.has("Impression 3: 30"));
    let sidecar = desk.folder.path().join("scans/slide-1.png.kb.json");
    assert!(!sidecar.exists(), "what the program found by itself is no reading");
}

#[test]
fn boxes_that_do_not_match_the_fish_are_said() {
    let desk = slide(&SIX[..4]);
    assert!(desk.has_containing("6 impressions for 4 fish"));
    assert_eq!(numbers(&desk), ["11", "9", "30", "4", "", ""]);
}

#[test]
fn boxes_are_moved_resized_added_and_removed_by_pointer_and_saved() {
    let mut desk = slide(&SIX[..5]);
    desk.click("Boxes");
    assert!(desk.has("Box of impression 2, 9"));
    let before = boxes(&desk)[1].2.unwrap();
    desk.drag("Bottom right corner of impression 2", vec2(15.0, 12.0));
    let after = boxes(&desk)[1].2.unwrap();
    assert!(after.x1 > before.x1 + 5.0 && after.y1 > before.y1 + 5.0, "{before:?} {after:?}");
    assert_eq!((after.x0, after.y0), (before.x0, before.y0));
    assert!(desk.has("Undo box of impression 2"));
    desk.drag("Box of impression 2, 9", vec2(-10.0, 0.0));
    let moved = boxes(&desk)[1].2.unwrap();
    assert!((moved.width() - after.width()).abs() < 1e-6 && moved.x0 < after.x0 - 3.0);
    desk.click("Box 6");
    desk.click("Remove box");
    assert_eq!(boxes(&desk).len(), 5);
    // A box drawn on the free ground between the rows.
    let [above, below] = [2, 5].map(|number| {
        desk.window.get_by_label(&format!("Box of impression {number}, {}", SIX[number - 1])).rect()
    });
    let from = egui::pos2(above.center().x, (above.bottom() + below.top()) / 2.0);
    let to = from + vec2(60.0, -8.0);
    desk.window.hover_at(from);
    desk.settle();
    desk.window.drag_at(from);
    desk.settle();
    for step in 1..=4 {
        desk.window.hover_at(from + (to - from) * (step as f32 / 4.0));
        desk.settle();
    }
    desk.window.drop_at(to);
    desk.settle();
    let all = boxes(&desk);
    assert_eq!((all.len(), all[5].1.as_str()), (6, ""), "{all:?}");
    desk.until("the save", |workbench| !workbench.scan().unwrap().is_unsaved());
    let path = desk.folder.path().join("scans/slide-1.png.kb.json");
    let file: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let impressions = file["impressions"].as_array().unwrap();
    assert_eq!(impressions.len(), 6);
    assert_eq!(impressions[1]["box_px"]["left"].as_f64(), Some(moved.x0));
}

#[test]
fn boxes_are_worked_by_keyboard_alone() {
    let mut desk = slide(&SIX);
    desk.key_with(Modifiers::COMMAND, Key::B);
    desk.key(Key::CloseBracket);
    assert_eq!(desk.workbench().scan().unwrap().impression(), 2);
    let before = boxes(&desk)[1].2.unwrap();
    desk.key(Key::ArrowRight);
    desk.key(Key::ArrowDown);
    let moved = boxes(&desk)[1].2.unwrap();
    assert!(moved.x0 > before.x0 && moved.y0 > before.y0);
    desk.key_with(Modifiers::SHIFT, Key::ArrowRight);
    assert!(boxes(&desk)[1].2.unwrap().width() > moved.width());
    let (second, third) = (boxes(&desk)[1].2, boxes(&desk)[2].2);
    desk.key_with(Modifiers::SHIFT, Key::PageDown);
    assert_eq!(desk.workbench().scan().unwrap().impression(), 3);
    assert_eq!((boxes(&desk)[1].2, boxes(&desk)[2].2), (third, second));
    assert_eq!(numbers(&desk), SIX, "fish keep the order of the slide");
    desk.key(Key::D);
    assert_eq!(boxes(&desk).len(), 5);
    desk.key(Key::I);
    assert_eq!(boxes(&desk).len(), 6);
    assert_eq!(boxes(&desk)[5].1, "30", "the fish without a box gets it");
    for _ in 0..4 {
        desk.key_with(Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(boxes(&desk)[2].2.map(|b| b.width()), third.map(|b| b.width()));
}

#[test]
fn boxes_are_matched_by_sheet_by_number_and_one_by_one() {
    let mut desk = slide(&SIX);
    desk.click("Boxes");
    desk.click("Match by number");
    assert_eq!(numbers(&desk), ["4", "9", "11", "16", "25", "30"]);
    desk.click("Match by sheet");
    assert_eq!(numbers(&desk), SIX);
    desk.click("Fish of box 1");
    desk.click("no fish");
    assert_eq!(numbers(&desk)[0], "");
    assert!(desk.has("Undo choice of fish"));
}

#[test]
fn each_impression_is_read_by_itself_and_the_next_unread_one_follows() {
    let mut desk = slide(&SIX);
    assert_eq!(desk.workbench().scan().unwrap().impression(), 1);
    desk.key(Key::F);
    let focus = desk.reading().axis.unwrap().focus();
    assert!((focus - Point::from(SLIDE_CENTRES[0])).hypot() < 20.0, "{focus:?}");
    desk.key(Key::U);
    desk.key(Key::C);
    desk.until("the confirmation", |workbench| workbench.scan().unwrap().is_confirmed_on_disk());
    desk.key(Key::J);
    assert_eq!(desk.workbench().scan().unwrap().impression(), 2);
    desk.key_with(Modifiers::SHIFT, Key::B);
    assert_eq!(desk.workbench().scan().unwrap().impression(), 1);
    desk.key_with(Modifiers::SHIFT, Key::N);
    assert_eq!(desk.workbench().scan().unwrap().impression(), 2);
    desk.key_with(Modifiers::COMMAND, Key::I);
    desk.until("the search", |workbench| !workbench.scan().unwrap().is_splitting());
    assert!(desk.has_containing("1 is read already"));
}
