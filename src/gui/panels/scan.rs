//! The scan in the middle of the Read desk: picture, focus, axis, margin and marks, and taking hold of them.

use egui::{EventFilter, Id, Pos2, Rect, Response, Role, Sense, Ui, WidgetInfo, vec2};
use kurbo::PathEl;

use crate::domain::reading::MarkKind;
use crate::domain::units::Pixels;
use crate::gui::canvas::layout::{
    ScanTransform, arc, axis_end_for_handle, axis_handle, tick, turn_to_axis_up,
};
use crate::gui::canvas::model::{Drag, DragTo};
use crate::gui::canvas::paint;
use crate::gui::canvas::scale_bar::scale_bar;
use crate::gui::theme::{Look, TABLE};
use crate::gui::view::View;
use crate::marking::command::Command;
use crate::marking::document::is_same_place;
use crate::workbench::action::Action;
use crate::workbench::session_scan::OpenScan;
use crate::workbench::session_selection::{Handle, along_axis, distance, name};
use crate::workbench::session_snap::snapped;
use crate::workbench::{axis_moved_to, axis_with, moved_to};

use super::boxes::{boxes_on_scan_ui, searching_ui};
use super::calibrate::lines_ui;
use super::practice::truth_on_scan_ui;

/// Side of the place a handle can be taken hold of, screen points.
const GRIP: f32 = 18.0;

/// A mark snaps to what lies within this many screen points.
pub const SNAP_REACH: f64 = 6.0;

/// Side of the loupe, screen points, and how much larger it shows the scan than the view does.
const LOUPE_SIDE: f32 = 190.0;
const LOUPE_FACTOR: f64 = 4.0;

/// Draws the scan into `rect`.
pub fn scan_ui(
    ui: &mut Ui,
    rect: Rect,
    scan: &OpenScan,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, TABLE);
    let area = view.area_of(scan);
    turn(scan, view);
    let ground = ground_ui(ui, rect, scan, view, area);
    let transform = view.scan.transform(rect, area);
    let picture = view.picture_of(scan.raster(), ui.ctx());
    picture.poll(ui.ctx());
    picture.paint(&painter, &transform, ui.ctx());
    progress_ui(ui, rect, view);
    if view.boxes.is_shown {
        boxes_on_scan_ui(ui, (scan, view), &ground, actions, &transform);
    } else {
        marks_on_scan_ui(ui, (scan, view), actions, (&ground, &transform));
    }
    if let Some(truth) = scan.truth() {
        truth_on_scan_ui(ui, truth, &transform);
    }
    if scan.is_splitting() {
        searching_ui(ui, rect);
    }
    lines_ui(ui, &mut view.calibrating, &transform);
    if !is_blind(scan) {
        scale_bar(ui, &transform, scan.document().reading.calibration.as_ref());
    }
    loupe_ui(ui, view, scan, &transform);
}

/// True for a picture of a blind list: no length of any unit may be shown with it.
pub fn is_blind(scan: &OpenScan) -> bool {
    scan.reading().is_some_and(|reading| reading.conditions.blind_list.is_some())
}

/// Turns the view by the axis where that is wanted: once, so that the picture does not swing while the axis is moved.
fn turn(scan: &OpenScan, view: &mut View) {
    let axis = scan.reading().and_then(|reading| reading.axis.as_ref());
    if view.is_axis_up && view.turn.is_none() {
        view.turn = axis.map(turn_to_axis_up);
    }
    let turn = view.turn.filter(|_| !view.boxes.is_shown);
    view.scan.turn(turn.unwrap_or(0.0));
}

fn progress_ui(ui: &mut Ui, rect: Rect, view: &View) {
    let Some(progress) = view.picture.as_ref().and_then(|picture| picture.progress()) else {
        return;
    };
    let place = Rect::from_min_size(rect.left_top() + vec2(10.0, 10.0), vec2(120.0, 8.0));
    let bar = ui.put(place, egui::ProgressBar::new(progress).desired_height(6.0));
    bar.widget_info(|| WidgetInfo::labeled(Role::ProgressIndicator, true, "Preparing the picture"));
}

/// The picture under the pointer, enlarged.
fn loupe_ui(ui: &Ui, view: &mut View, scan: &OpenScan, transform: &ScanTransform) {
    let rect = transform.rect();
    let pointer = ui.input(|input| input.pointer.hover_pos());
    let pointer = pointer.filter(|at| rect.contains(*at) && ui.rect_contains_pointer(rect));
    let (true, Some(at)) = (view.is_loupe_shown, pointer) else { return };
    let side = LOUPE_SIDE.min(rect.height() * 0.6);
    // Beside the pointer, on whichever side there is room.
    let mut place = Rect::from_min_size(at + vec2(26.0, 26.0), vec2(side, side));
    if place.right() > rect.right() {
        place = place.translate(vec2(-side - 52.0, 0.0));
    }
    if place.bottom() > rect.bottom() {
        place = place.translate(vec2(0.0, -side - 52.0));
    }
    let room = rect.shrink(4.0);
    let into = |low: f32, high: f32, least: f32, most: f32| {
        (least - low).max(0.0) + (most - high).min(0.0)
    };
    place = place.translate(vec2(
        into(place.left(), place.right(), room.left(), room.right()),
        into(place.top(), place.bottom(), room.top(), room.bottom()),
    ));
    let painter = ui.painter_at(place.expand(2.0));
    painter.rect_filled(place, 0.0, TABLE);
    let zoom = (transform.zoom() * LOUPE_FACTOR).max(1.0);
    let centre = transform.image_from_screen(at);
    let enlarged = ScanTransform::new(place, centre, zoom).turned(view.turn.unwrap_or(0.0));
    let inside = ui.painter_at(place);
    view.picture_of(scan.raster(), ui.ctx()).paint(&inside, &enlarged, ui.ctx());
    let middle = place.center();
    for half in [vec2(9.0, 0.0), vec2(0.0, 9.0)] {
        paint::line_on_picture(&inside, &[middle - half, middle + half], Look::Axis, false);
    }
    let edge = egui::Stroke::new(1.5, Look::Axis.on_picture());
    painter.rect_stroke(place, 0.0, edge, egui::StrokeKind::Inside);
    ui.ctx().request_repaint_after(std::time::Duration::from_millis(200));
}

/// Focus, axis, margin and marks on the picture.
fn marks_on_scan_ui(
    ui: &mut Ui,
    (scan, view): (&OpenScan, &mut View),
    actions: &mut Vec<Action>,
    (ground, transform): (&Response, &ScanTransform),
) {
    let rect = transform.rect();
    let painter = ui.painter_at(rect);
    add_by_double_click(ui, ground, scan, transform, actions);
    if ground.clicked() {
        actions.push(Action::Select(None));
    }
    let Some(axis) = scan.reading().and_then(|reading| reading.axis.as_ref()) else {
        hint(ui, rect, "Press F to set the focus and the axis");
        return;
    };
    let shown = previewed_axis(scan, view).unwrap_or_else(|| axis.clone());
    let mut line: Vec<Pos2> =
        shown.vertices().iter().map(|point| transform.screen_from_image(*point)).collect();
    line.push(transform.screen_from_image(axis_handle(&shown, transform)));
    paint::axis(&painter, &line);
    other_axes_ui(ui, scan, transform);
    let number = scan.impression();
    for (at, handle) in along_axis(scan.document(), number) {
        let at = dragged_along(view, handle).unwrap_or(at);
        let is_selected = scan.selected() == Some(handle);
        let look = look_of(scan, handle);
        paint_mark(&painter, scan, handle, (at, look, is_selected), (&shown, transform));
        let middle = transform.screen_from_image(shown.point_at(at));
        let grip = Rect::from_center_size(middle, vec2(GRIP, GRIP));
        if rect.contains(middle) {
            let words = format!(
                "{} on the scan, {}",
                name(scan.document(), number, handle),
                distance(scan.document(), number, at)
            );
            let grip = grip_ui(ui, grip, ("on the scan", handle), &words, (scan, view));
            let reach = Pixels(SNAP_REACH / transform.zoom());
            follow_drag(&grip, handle, (scan, view), actions, |position| {
                let at = shown.nearest(transform.image_from_screen(position)).0;
                DragTo::Along(snap(ui, scan, handle, at, reach))
            });
        }
    }
    ends_ui(ui, scan, view, actions, (&shown, transform));
}

/// The focus and the outer end of the axis.
fn ends_ui(
    ui: &mut Ui,
    scan: &OpenScan,
    view: &mut View,
    actions: &mut Vec<Action>,
    (axis, transform): (&crate::domain::axis::Axis, &ScanTransform),
) {
    let painter = ui.painter_at(transform.rect());
    let focus = transform.screen_from_image(axis.focus());
    let end = transform.screen_from_image(axis_handle(axis, transform));
    paint::focus(&painter, focus, scan.selected() == Some(Handle::Focus));
    paint::axis_handle(&painter, end, scan.selected() == Some(Handle::AxisEnd));
    let bends = axis.vertices().iter().enumerate().skip(1);
    let bends = bends.take(axis.vertices().len().saturating_sub(2));
    let bends = bends.map(|(i, at)| (Handle::Bend(i), transform.screen_from_image(*at)));
    let ends = [(Handle::Focus, focus), (Handle::AxisEnd, end)];
    for (handle, at) in ends.into_iter().chain(bends) {
        if let Handle::Bend(_) = handle {
            paint::bend(&painter, at, scan.selected() == Some(handle));
        }
        if !transform.rect().contains(at) {
            continue;
        }
        let words = name(scan.document(), scan.impression(), handle);
        let grip = Rect::from_center_size(at, vec2(GRIP, GRIP) * 1.2);
        let grip = grip_ui(ui, grip, ("on the scan", handle), &words, (scan, view));
        follow_drag(&grip, handle, (scan, view), actions, |position| {
            let to = transform.image_from_screen(position);
            DragTo::Point(match handle {
                Handle::AxisEnd => axis_end_for_handle(axis, to, transform),
                _ => to,
            })
        });
    }
}

/// The ground takes scrolling (zoom), dragging (pan) and clicks beside every mark.
fn ground_ui(
    ui: &mut Ui,
    rect: Rect,
    scan: &OpenScan,
    view: &mut View,
    area: kurbo::Rect,
) -> Response {
    let ground = ui.interact(rect, Id::unique("scan ground"), Sense::click_and_drag());
    let file = scan.document().reading.scan.file.clone();
    ground.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, format!("Scan {file}")));
    if ground.dragged() && !view.boxes.is_shown {
        view.scan.pan(ground.drag_delta(), area);
    }
    if let Some(pointer) = ground.hover_pos().or_else(|| {
        ui.input(|i| i.pointer.hover_pos())
            .filter(|p| rect.contains(*p) && ui.rect_contains_pointer(rect))
    }) {
        let (scroll, pinch) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
        let factor = f64::from(pinch) * f64::from(scroll * 0.004).exp();
        if (factor - 1.0).abs() > 1e-4 {
            view.scan.zoom_about(pointer, factor, rect, area);
        }
    }
    ground
}

fn add_by_double_click(
    ui: &Ui,
    ground: &Response,
    scan: &OpenScan,
    transform: &ScanTransform,
    actions: &mut Vec<Action>,
) {
    let axis = scan.reading().and_then(|reading| reading.axis.as_ref());
    if let (true, Some(axis), Some(at)) =
        (ground.double_clicked(), axis, ground.interact_pointer_pos())
    {
        let (at, _) = axis.nearest(transform.image_from_screen(at));
        let at = snap(ui, scan, Handle::Mark(0), at, Pixels(SNAP_REACH / transform.zoom()));
        let impression = scan.impression();
        actions.push(Action::Edit(Command::AddMark { impression, at, kind: MarkKind::Annulus }));
    }
}

/// Where a mark or proposal let go at `at` comes to lie: on the crest or trough of the profile within `reach`, unless
/// Alt is held. The margin stays where it is put: it is no crest.
pub fn snap(ui: &Ui, scan: &OpenScan, handle: Handle, at: Pixels, reach: Pixels) -> Pixels {
    let is_free = ui.input(|input| input.modifiers.alt);
    match (handle, scan.evidence()) {
        (Handle::Mark(_) | Handle::Proposal(_), Some(evidence)) if !is_free => {
            snapped(evidence, at, reach)
        }
        _ => at,
    }
}

fn paint_mark(
    painter: &egui::Painter,
    scan: &OpenScan,
    handle: Handle,
    (at, look, is_selected): (Pixels, Look, bool),
    (axis, transform): (&crate::domain::axis::Axis, &ScanTransform),
) {
    let ring = ring_of(scan, handle, at);
    match ring {
        Some(ring) => {
            for part in ring_lines(ring, transform) {
                paint::line_on_picture(painter, &part, look, is_selected);
            }
        }
        None if handle == Handle::Margin => {
            paint::line_on_picture(painter, &tick(axis, at, 16.0, transform), look, is_selected);
        }
        None => paint::line_on_picture(painter, &arc(axis, at, transform), look, is_selected),
    }
    if let Handle::Mark(_) | Handle::Proposal(_) = handle {
        let text = number_of(scan, handle);
        if let Some(last) = arc(axis, at, transform).last() {
            paint::tag(painter, *last, &text, look, is_selected);
        }
    }
}

/// The ring traced at a proposal, which a mark keeps while it stands where the proposal stood.
fn ring_of(scan: &OpenScan, handle: Handle, at: Pixels) -> Option<&kurbo::BezPath> {
    match handle {
        Handle::Proposal(index) => {
            let open = scan.document().open_proposals(scan.impression()).get(index)?;
            open.ring.as_ref().filter(|_| is_same_place(open.position, at))
        }
        Handle::Mark(_) => {
            let found = scan.found()?;
            let all = found.annuli.iter().chain(&found.checks).chain(&found.alternatives);
            all.filter(|one| is_same_place(one.position, at)).find_map(|one| one.ring.as_ref())
        }
        Handle::Focus | Handle::Margin | Handle::Bend(_) | Handle::AxisEnd => None,
    }
}

/// A traced ring as screen lines.
fn ring_lines(ring: &kurbo::BezPath, transform: &ScanTransform) -> Vec<Vec<Pos2>> {
    let mut lines: Vec<Vec<Pos2>> = Vec::new();
    // A quarter of a screen point: finer than can be seen.
    kurbo::flatten(ring.iter(), 0.25 / transform.zoom().max(1e-6), |element| match element {
        PathEl::MoveTo(to) => lines.push(vec![transform.screen_from_image(to)]),
        PathEl::LineTo(to) => {
            if let Some(line) = lines.last_mut() {
                line.push(transform.screen_from_image(to));
            }
        }
        PathEl::ClosePath => {
            if let Some(line) = lines.last_mut()
                && let Some(first) = line.first().copied()
            {
                line.push(first);
            }
        }
        PathEl::QuadTo(..) | PathEl::CurveTo(..) => {}
    });
    lines
}

/// What stands on a mark's tag: its number among its kind, with a letter for kinds other than annuli.
pub fn number_of(scan: &OpenScan, handle: Handle) -> String {
    let name = name(scan.document(), scan.impression(), handle);
    let (kind, number) = name.split_once(' ').unwrap_or((&name, ""));
    match kind {
        "Annulus" => number.to_owned(),
        "Check" => format!("c{number}"),
        "Proposal" => format!("p{number}"),
        _ => format!("a{number}"),
    }
}

/// How a handle looks.
pub fn look_of(scan: &OpenScan, handle: Handle) -> Look {
    match handle {
        Handle::Focus | Handle::Bend(_) | Handle::AxisEnd => Look::Axis,
        Handle::Margin => Look::Margin,
        Handle::Proposal(index) => {
            let open = scan.document().open_proposals(scan.impression()).get(index);
            if open.is_none_or(|open| open.put_forward) {
                Look::Proposal
            } else {
                Look::Alternative
            }
        }
        Handle::Mark(index) => {
            let mark = scan.reading().and_then(|reading| reading.marks.get(index));
            match mark.map(|mark| mark.kind) {
                Some(MarkKind::Check) => Look::Check,
                _ => Look::Annulus,
            }
        }
    }
}

/// A place where something painted can be taken hold of, with its name for those who do not see it.
pub fn grip_ui(
    ui: &mut Ui,
    rect: Rect,
    (where_, handle): (&'static str, Handle),
    words: &str,
    (scan, view): (&OpenScan, &mut View),
) -> Response {
    let id = Id::unique((where_, handle));
    let sense = if scan.is_draft() { Sense::click_and_drag() } else { Sense::click() };
    let grip = ui.interact(rect, id, sense);
    let is_selected = scan.selected() == Some(handle);
    grip.widget_info(|| WidgetInfo::selected(Role::Button, true, is_selected, words));
    let keep_arrows =
        EventFilter { horizontal_arrows: true, vertical_arrows: true, tab: false, escape: false };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(id, keep_arrows));
    view.canvas_ids.push(id);
    let is_free = matches!(handle, Handle::Focus | Handle::Bend(_) | Handle::AxisEnd);
    if is_selected && view.wants_focus && (where_ == "along the axis" || is_free) {
        view.wants_focus = false;
        grip.request_focus();
    }
    grip
}

/// Turns a grip's clicks and drags into a selection and, on release, one edit.
pub fn follow_drag(
    grip: &Response,
    handle: Handle,
    (scan, view): (&OpenScan, &mut View),
    actions: &mut Vec<Action>,
    to: impl Fn(Pos2) -> DragTo,
) {
    let is_taken = grip.clicked() || grip.drag_started() || grip.gained_focus();
    if is_taken && scan.selected() != Some(handle) {
        actions.push(Action::Select(Some(handle)));
    }
    if grip.dragged()
        && let Some(position) = grip.interact_pointer_pos()
    {
        view.drag = Some(Drag { handle, to: to(position) });
    }
    if grip.drag_stopped()
        && let Some(drag) = view.drag.take().filter(|drag| drag.handle == handle)
    {
        let command = match drag.to {
            DragTo::Along(to) => moved_to(scan, handle, to),
            DragTo::Point(to) => axis_moved_to(scan, handle, to),
        };
        actions.extend(command.map(Action::Edit));
    }
}

/// Where a handle is shown while it is dragged along the axis.
pub fn dragged_along(view: &View, handle: Handle) -> Option<Pixels> {
    match view.drag {
        Some(Drag { handle: held, to: DragTo::Along(to) }) if held == handle => Some(to),
        _ => None,
    }
}

/// The axis as it would be if the focus or end being dragged were let go now.
fn previewed_axis(scan: &OpenScan, view: &View) -> Option<crate::domain::axis::Axis> {
    let drag = view.drag?;
    let DragTo::Point(to) = drag.to else { return None };
    axis_with(scan, drag.handle, to).map(|(axis, _)| axis)
}

/// The further axes of the structure with their marks, thin: they are not read from.
fn other_axes_ui(ui: &mut Ui, scan: &OpenScan, transform: &ScanTransform) {
    let painter = ui.painter_at(transform.rect());
    let others = scan.reading().map_or(&[][..], |reading| &reading.other_axes);
    for (index, other) in others.iter().enumerate() {
        let line: Vec<Pos2> =
            other.axis.vertices().iter().map(|at| transform.screen_from_image(*at)).collect();
        paint::axis(&painter, &line);
        for mark in &other.marks {
            let line = tick(&other.axis, mark.position, 7.0, transform);
            paint::line_on_picture(&painter, &line, Look::Alternative, false);
        }
        let Some(end) = line.last().filter(|end| transform.rect().contains(**end)) else {
            continue;
        };
        let words = format!("Other axis {}, {} marks", index + 1, other.marks.len());
        let place = Rect::from_center_size(*end, vec2(GRIP, GRIP));
        let shown = ui.interact(place, Id::unique(("other axis", index)), Sense::hover());
        shown.widget_info(|| WidgetInfo::labeled(Role::Image, true, &words));
    }
}

fn hint(ui: &Ui, rect: Rect, words: &str) {
    let at = rect.center_bottom() - vec2(0.0, 24.0);
    paint::tag(&ui.painter_at(rect), at, words, Look::Axis, false);
}
