//! The boxes of a slide: drawing, moving and numbering them, and whose impression each is.

use egui::{
    Align2, Color32, ComboBox, Context, FontId, Id, Pos2, Rect, Role, ScrollArea, Sense, Stroke,
    StrokeKind, Ui, WidgetInfo, Window, vec2,
};
use kurbo::Point;

use crate::domain::reading::{ImpressionReading, ReadingState};
use crate::gui::canvas::layout::ScanTransform;
use crate::gui::canvas::paint;
use crate::gui::theme::{Look, RIM};
use crate::gui::view::{View, verb_button};
use crate::workbench::action::{Action, Verb};
use crate::workbench::session_scan::OpenScan;
use crate::workbench::session_slide::SlideAction;
use crate::workbench::workbench::Workbench;

/// Side of the place a corner can be taken hold of, screen points.
const GRIP: f32 = 16.0;

/// How far a key moves a box, screen points.
const STEP: f64 = 6.0;

/// State of the boxes on show.
#[derive(Debug, Default)]
pub struct Boxes {
    /// The whole slide is shown with its boxes.
    pub is_shown: bool,
    /// A box as it would be if the pointer let go now; `None` for its number while one is being drawn.
    drag: Option<(Option<u32>, kurbo::Rect)>,
}

const CORNERS: [(&str, bool, bool); 4] = [
    ("Top left", false, false),
    ("Top right", true, false),
    ("Bottom left", false, true),
    ("Bottom right", true, true),
];

/// Draws the boxes over the slide and lets them be changed.
pub fn boxes_on_scan_ui(
    ui: &mut Ui,
    (scan, view): (&OpenScan, &mut View),
    ground: &egui::Response,
    actions: &mut Vec<Action>,
    transform: &ScanTransform,
) {
    draw_new(ground, view, actions, transform);
    for one in &scan.document().reading.impressions {
        let Some(bounds) = one.bounds else { continue };
        let shown = match view.boxes.drag {
            Some((Some(number), dragged)) if number == one.number => dragged,
            _ => bounds,
        };
        box_ui(ui, (scan, view), one, shown, actions, transform);
    }
    if let Some((None, drawn)) = view.boxes.drag {
        let painter = ui.painter_at(transform.rect());
        outline(&painter, screen_rect(drawn, transform), true);
    }
}

/// A box is drawn where the pointer is dragged beside every other.
fn draw_new(
    ground: &egui::Response,
    view: &mut View,
    actions: &mut Vec<Action>,
    transform: &ScanTransform,
) {
    let Some(at) = ground.interact_pointer_pos() else { return };
    let at = transform.image_from_screen(at);
    if ground.drag_started() {
        let from = ground.ctx.input(|input| input.pointer.press_origin());
        let from = from.map_or(at, |from| transform.image_from_screen(from));
        view.boxes.drag = Some((None, kurbo::Rect::from_points(from, at)));
    } else if ground.dragged()
        && let Some((None, drawn)) = &mut view.boxes.drag
    {
        (drawn.x1, drawn.y1) = (at.x, at.y);
    }
    if ground.drag_stopped()
        && let Some((None, drawn)) = view.boxes.drag.take_if(|(number, _)| number.is_none())
    {
        actions.push(Action::Slide(SlideAction::Add(drawn.abs())));
    }
}

fn box_ui(
    ui: &mut Ui,
    (scan, view): (&OpenScan, &mut View),
    one: &ImpressionReading,
    bounds: kurbo::Rect,
    actions: &mut Vec<Action>,
    transform: &ScanTransform,
) {
    let number = one.number;
    let rect = screen_rect(bounds, transform);
    let is_here = number == scan.impression();
    let painter = ui.painter_at(transform.rect());
    outline(&painter, rect, is_here);
    let name = if one.fish.is_empty() { "no fish" } else { &one.fish };
    let tag = rect.center_top() + vec2(0.0, 12.0);
    paint::tag(&painter, tag, &format!("{number}: {name}"), Look::Annulus, is_here);
    let is_open = one.state == ReadingState::Draft;
    let seen = rect.intersect(transform.rect());
    if !seen.is_positive() {
        return;
    }
    let sense = if is_open { Sense::click_and_drag() } else { Sense::click() };
    let body = ui.interact(seen, Id::unique(("box", number)), sense);
    let words = format!("Box of impression {number}, {name}");
    body.widget_info(|| WidgetInfo::selected(Role::Button, true, is_here, &words));
    if (body.clicked() || body.drag_started()) && !is_here {
        actions.push(Action::SelectImpression(number));
    }
    let delta = transform.image_from_screen_vector(body.drag_delta());
    follow(&body, view, (number, bounds), actions, |held| held + delta);
    for (words, right, bottom) in CORNERS.into_iter().filter(|_| is_open) {
        let at = Pos2::new(
            if right { rect.right() } else { rect.left() },
            if bottom { rect.bottom() } else { rect.top() },
        );
        if !transform.rect().contains(at) {
            continue;
        }
        let grip = Rect::from_center_size(at, vec2(GRIP, GRIP));
        painter.rect_filled(grip.shrink(4.0), 1.0, Look::Annulus.on_picture());
        let id = Id::unique(("box corner", number, right, bottom));
        let grip = ui.interact(grip, id, Sense::click_and_drag());
        let words = format!("{words} corner of impression {number}");
        grip.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
        let to = grip.interact_pointer_pos().map(|at| transform.image_from_screen(at));
        follow(&grip, view, (number, bounds), actions, |held| match to {
            Some(to) => with_corner(held, (right, bottom), to),
            None => held,
        });
    }
}

/// Shows a box as it is dragged; one edit on release.
fn follow(
    grip: &egui::Response,
    view: &mut View,
    (number, bounds): (u32, kurbo::Rect),
    actions: &mut Vec<Action>,
    moved: impl Fn(kurbo::Rect) -> kurbo::Rect,
) {
    if grip.dragged() {
        view.boxes.drag = Some((Some(number), moved(bounds)));
    }
    if grip.drag_stopped()
        && let Some((_, dragged)) = view.boxes.drag.take_if(|(held, _)| *held == Some(number))
    {
        actions.push(Action::Slide(SlideAction::SetBox(number, Some(dragged))));
    }
}

fn with_corner(held: kurbo::Rect, (right, bottom): (bool, bool), to: Point) -> kurbo::Rect {
    let mut bounds = held;
    *(if right { &mut bounds.x1 } else { &mut bounds.x0 }) = to.x;
    *(if bottom { &mut bounds.y1 } else { &mut bounds.y0 }) = to.y;
    bounds
}

fn screen_rect(bounds: kurbo::Rect, transform: &ScanTransform) -> Rect {
    Rect::from_two_pos(
        transform.screen_from_image(Point::new(bounds.x0, bounds.y0)),
        transform.screen_from_image(Point::new(bounds.x1, bounds.y1)),
    )
}

fn outline(painter: &egui::Painter, rect: Rect, is_here: bool) {
    let colour = if is_here { Look::Annulus.on_picture() } else { Look::Margin.on_picture() };
    painter.rect_stroke(rect, 0.0, Stroke::new(4.0, RIM), StrokeKind::Middle);
    let width = if is_here { 2.4 } else { 1.4 };
    painter.rect_stroke(rect, 0.0, Stroke::new(width, colour), StrokeKind::Middle);
}

/// What a key means while the boxes are shown; `None` where it means what it always does.
pub fn box_action(verb: Verb, workbench: &Workbench, view: &View) -> Option<Action> {
    let scan = workbench.scan()?;
    let reading = scan.reading()?;
    let step = STEP / view.scan.zoom().unwrap_or(1.0).max(1e-6);
    let by = |x: f64, y: f64| {
        let bounds = reading.bounds? + kurbo::Vec2::new(x, y);
        Some(Action::Slide(SlideAction::SetBox(reading.number, Some(bounds))))
    };
    let grown = |by: f64| {
        let bounds = reading.bounds?.inflate(by, by);
        Some(Action::Slide(SlideAction::SetBox(reading.number, Some(bounds))))
    };
    match verb {
        Verb::NudgeOut => by(step, 0.0),
        Verb::NudgeIn => by(-step, 0.0),
        Verb::NudgeUp => by(0.0, -step),
        Verb::NudgeDown => by(0.0, step),
        Verb::LeapOut => grown(step),
        Verb::LeapIn => grown(-step),
        Verb::Delete => Some(Action::Slide(SlideAction::Remove)),
        Verb::NextMark => Some(Verb::NextImpression.into()),
        Verb::PreviousMark => Some(Verb::PreviousImpression.into()),
        Verb::Insert => {
            let area = scan.raster().area();
            let middle = view.scan.centre();
            let side = area.width().min(area.height()) * 0.25;
            let bounds = kurbo::Rect::from_center_size(middle, (side, side));
            Some(Action::Slide(SlideAction::Add(bounds)))
        }
        _ => None,
    }
}

/// The window with the list of boxes while they are shown.
pub fn boxes_ui(
    context: &Context,
    workbench: &Workbench,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let Some(scan) = workbench.scan().filter(|_| view.boxes.is_shown) else { return };
    let mut is_open = true;
    Window::new("Boxes of this slide")
        .open(&mut is_open)
        .collapsible(true)
        .resizable(false)
        .default_pos(view.scan_rect.left_top() + vec2(12.0, 12.0))
        .show(context, |ui| {
            ui.set_width(250.0);
            ui.horizontal_wrapped(|ui| {
                verb_button(ui, Verb::FindImpressions, !scan.is_splitting(), actions);
                verb_button(ui, Verb::MatchBySheet, true, actions);
                verb_button(ui, Verb::MatchByNumber, true, actions);
            });
            let words = "Drag beside the boxes to draw one more; drag a box or a corner to change it. \
                         [ and ] go from box to box, arrows move, Shift with left and right shrinks and grows, \
                         I adds, D removes.";
            ui.label(egui::RichText::new(words).small());
            ScrollArea::vertical().max_height(260.0).show(ui, |ui| {
                for one in &scan.document().reading.impressions {
                    row_ui(ui, workbench, scan, one, actions);
                }
            });
            ui.horizontal_wrapped(|ui| {
                verb_button(ui, Verb::RenumberDown, true, actions);
                verb_button(ui, Verb::RenumberUp, true, actions);
                let remove = ui.button("Remove box").on_hover_text("Take the box on show off the slide (D)");
                if remove.clicked() {
                    actions.push(Action::Slide(SlideAction::Remove));
                }
            });
        });
    if !is_open {
        actions.push(Verb::ShowBoxes.into());
    }
}

/// One impression: its number, and a choice of its fish.
fn row_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    scan: &OpenScan,
    one: &ImpressionReading,
    actions: &mut Vec<Action>,
) {
    ui.horizontal(|ui| {
        let is_here = one.number == scan.impression();
        let words = format!("Box {}", one.number);
        if ui.add(egui::Button::selectable(is_here, words)).clicked() {
            actions.push(Action::SelectImpression(one.number));
        }
        let all = workbench.fish_on_scan();
        let number = |key: &str| {
            let fish = all.iter().find(|fish| fish.key == key);
            fish.map_or_else(|| key.to_owned(), |fish| fish.number.clone())
        };
        let shown = if one.fish.is_empty() { "no fish".to_owned() } else { number(&one.fish) };
        let is_open = one.state == ReadingState::Draft;
        ui.add_enabled_ui(is_open, |ui| {
            let choice = ComboBox::from_id_salt(("fish of box", one.number))
                .selected_text(shown)
                .width(120.0)
                .show_ui(ui, |ui| {
                    for fish in &all {
                        if ui.selectable_label(one.fish == fish.key, &fish.number).clicked() {
                            let action = SlideAction::SetFish(one.number, fish.key.clone());
                            actions.push(Action::Slide(action));
                        }
                    }
                    if ui.selectable_label(one.fish.is_empty(), "no fish").clicked() {
                        actions
                            .push(Action::Slide(SlideAction::SetFish(one.number, String::new())));
                    }
                });
            let words = format!("Fish of box {}", one.number);
            choice.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, is_open, &words));
        });
        if one.bounds.is_none() {
            ui.label(egui::RichText::new("no box").small());
        }
    });
}

/// What stands on the scan while the impressions are looked for.
pub fn searching_ui(ui: &Ui, rect: Rect) {
    let at = rect.center_bottom() - vec2(0.0, 26.0);
    let painter = ui.painter_at(rect);
    let words = "Looking for the impressions of this slide";
    let galley =
        painter.layout_no_wrap(words.to_owned(), FontId::proportional(13.0), Color32::WHITE);
    let plate = Rect::from_center_size(at, galley.size() + vec2(12.0, 6.0));
    painter.rect_filled(plate, 4.0, Color32::from_rgb(22, 24, 27));
    painter.text(at, Align2::CENTER_CENTER, words, FontId::proportional(13.0), Color32::WHITE);
}
