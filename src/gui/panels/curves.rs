//! Under the scan: strip, intensity profile and circulus spacing on one horizontal scale, and the ruler.

use egui::{Align2, FontId, Id, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use crate::domain::reading::MarkKind;
use crate::domain::units::{Micrometres, Pixels};
use crate::gui::canvas::layout::{AlongTransform, LEFT_SCALE, Parts, round_steps};
use crate::gui::canvas::model::DragTo;
use crate::gui::canvas::paint::{self, Curve};
use crate::gui::canvas::picture::{strip_texture, whole_texture};
use crate::gui::theme::{TABLE, curve_colours};
use crate::gui::view::View;
use crate::imaging::enhance::Histogram;
use crate::marking::command::Command;
use crate::workbench::action::Action;
use crate::workbench::session_evidence::{Evidence, reach};
use crate::workbench::session_scan::OpenScan;
use crate::workbench::session_selection::{Handle, along_axis, label};

use super::scan::{
    SNAP_REACH, dragged_along, follow_drag, grip_ui, is_blind, look_of, number_of, snap,
};

/// Draws strip, curves and ruler into their parts.
pub fn curves_ui(
    ui: &mut Ui,
    parts: &Parts,
    scan: &OpenScan,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let is_dark = ui.visuals().dark_mode;
    let colours = curve_colours(is_dark);
    let Some(reading) = scan.reading() else { return };
    let Some(axis) = reading.axis.as_ref() else {
        nothing_ui(ui, parts);
        return;
    };
    let end = reach(axis, reading.edge);
    let (from, to) = view.along.range(end);
    let whole = Rect::from_min_max(parts.strip.min, parts.ruler.max);
    let left = whole.left() + LEFT_SCALE;
    let along = AlongTransform::new(left, whole.right() - 8.0, from, to);
    let right_of_scale = |rect: Rect| {
        Rect::from_min_max(pos2(left, rect.top()), pos2(whole.right() - 8.0, rect.bottom()))
    };
    let [strip, profile, spacing, ruler] =
        [parts.strip, parts.profile, parts.spacing, parts.ruler].map(right_of_scale);
    ground_ui(ui, Rect::from_min_max(strip.min, ruler.max), scan, view, actions, (&along, end));
    ui.painter().rect_filled(strip, 0.0, TABLE);
    ui.painter().rect_filled(profile, 0.0, colours.ground);
    if let Some(evidence) = scan.evidence() {
        strip_ui(ui, strip, evidence, view, &along);
        profile_ui(ui, profile, evidence, &along);
    }
    if spacing.height() > 4.0 {
        spacing_ui(ui, spacing, scan, &along);
    }
    ruler_ui(ui, ruler, scan, &along);
    let columns = Rect::from_min_max(strip.min, pos2(strip.right(), ruler.top() - 2.0));
    for (at, handle) in along_axis(scan.document(), scan.impression()) {
        let at = dragged_along(view, handle).unwrap_or(at);
        mark_ui(ui, columns, strip, (scan, view), actions, (&along, at, handle));
    }
}

/// One mark: one vertical line through strip and curves, with one place to take hold of it.
fn mark_ui(
    ui: &mut Ui,
    columns: Rect,
    strip: Rect,
    (scan, view): (&OpenScan, &mut View),
    actions: &mut Vec<Action>,
    (along, at, handle): (&AlongTransform, Pixels, Handle),
) {
    let x = along.x_from_along(at);
    if !(columns.left() - 1.0..=columns.right() + 1.0).contains(&x) {
        return;
    }
    let is_selected = scan.selected() == Some(handle);
    let look = look_of(scan, handle);
    let words = label(scan.document(), scan.impression(), handle, at);
    let grip = Rect::from_min_max(pos2(x - 6.0, columns.top()), pos2(x + 6.0, columns.bottom()));
    let grip = grip_ui(ui, grip, ("along the axis", handle), &words, (scan, view));
    let grip = grip.on_hover_cursor(egui::CursorIcon::ResizeHorizontal).on_hover_text(&words);
    let reach = Pixels(SNAP_REACH * along.px_per_point());
    follow_drag(&grip, handle, (scan, view), actions, |position| {
        let at = along.along_from_x(position.x);
        DragTo::Along(snap(ui, scan, handle, at, reach))
    });
    let painter = ui.painter_at(columns.expand2(vec2(4.0, 0.0)));
    let is_dark = ui.visuals().dark_mode;
    paint::line_on_picture(
        &painter,
        &[pos2(x, strip.top()), pos2(x, strip.bottom())],
        look,
        is_selected,
    );
    let below = [pos2(x, strip.bottom()), pos2(x, columns.bottom())];
    paint::line_on_ground(&painter, &below, look, is_selected, is_dark);
    let at = pos2(x, strip.bottom() + 1.0);
    match handle {
        Handle::Mark(_) | Handle::Proposal(_) => {
            paint::tag(&painter, at, &number_of(scan, handle), look, is_selected);
        }
        Handle::Margin => paint::tag(&painter, at, "margin", look, is_selected),
        Handle::Focus | Handle::Bend(_) | Handle::AxisEnd => {}
    }
}

/// Scrolling zooms along the axis, dragging beside the marks moves along it, a double click adds an annulus.
fn ground_ui(
    ui: &mut Ui,
    rect: Rect,
    scan: &OpenScan,
    view: &mut View,
    actions: &mut Vec<Action>,
    (along, end): (&AlongTransform, Pixels),
) {
    let ground = ui.interact(rect, Id::unique("along ground"), Sense::click_and_drag());
    ground.widget_info(|| {
        WidgetInfo::labeled(Role::Canvas, true, "Strip and profile along the axis")
    });
    if ground.dragged() {
        let delta = -f64::from(ground.drag_delta().x) * along.px_per_point();
        view.along.pan(Pixels(delta), end);
    }
    let pointer =
        ui.input(|input| input.pointer.hover_pos()).filter(|_| ui.rect_contains_pointer(rect));
    if let Some(pointer) = pointer {
        let (scroll, pinch) = ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta()));
        let factor = f64::from(pinch) * f64::from(scroll.y * 0.004).exp();
        if (factor - 1.0).abs() > 1e-4 {
            view.along.zoom_about(along.along_from_x(pointer.x), factor, end);
        }
        if scroll.x.abs() > 0.1 {
            view.along.pan(Pixels(-f64::from(scroll.x) * along.px_per_point()), end);
        }
    }
    if ground.clicked() {
        actions.push(Action::Select(None));
    }
    if ground.double_clicked()
        && let Some(position) = ground.interact_pointer_pos()
    {
        let (impression, at) = (scan.impression(), along.along_from_x(position.x));
        let reach = Pixels(SNAP_REACH * along.px_per_point());
        let at = snap(ui, scan, Handle::Mark(0), at, reach);
        actions.push(Action::Edit(Command::AddMark { impression, at, kind: MarkKind::Annulus }));
    }
}

fn strip_ui(ui: &Ui, rect: Rect, evidence: &Evidence, view: &mut View, along: &AlongTransform) {
    // Until the whole scan's tone is worked out, the strip's own will do.
    let tone = view.picture.as_ref().and_then(|picture| picture.tone());
    let tone = tone.unwrap_or_else(|| view.tone.tone(&Histogram::of(&evidence.strip.raster)));
    let fits = |(axis, end, shown, _): &(_, _, _, _)| {
        *axis == evidence.axis && *end == evidence.end && *shown == tone
    };
    if !view.strip.as_ref().is_some_and(fits) {
        let texture = strip_texture(&evidence.strip.raster, &tone, ui.ctx());
        view.strip = Some((evidence.axis.clone(), evidence.end, tone, texture));
    }
    let Some((_, _, _, texture)) = &view.strip else { return };
    let columns = evidence.strip.raster.width() as f64;
    let step = evidence.strip.step_px;
    let x0 = along.x_from_along(Pixels(-0.5 * step));
    let x1 = along.x_from_along(Pixels((columns - 0.5) * step));
    let rows = evidence.strip.raster.height() as f64;
    // As high as it is wide, pixel for pixel, where the strip has the rows for it.
    let shown = (f64::from(rect.height()) * along.px_per_point() / rows).min(1.0) as f32;
    let mut part = whole_texture();
    part.min.y = 0.5 - shown / 2.0;
    part.max.y = 0.5 + shown / 2.0;
    let place = Rect::from_min_max(pos2(x0, rect.top()), pos2(x1, rect.bottom()));
    ui.painter_at(rect).image(texture.id(), place, part, egui::Color32::WHITE);
}

fn profile_ui(ui: &Ui, rect: Rect, evidence: &Evidence, along: &AlongTransform) {
    let colours = curve_colours(ui.visuals().dark_mode);
    let curve = Curve { values: &evidence.profile.values, step_px: evidence.profile.step_px };
    paint::curve(&ui.painter_at(rect), rect, "", curve, along, colours);
    let scale = |y: f32, align: Align2, words: &str| {
        let font = FontId::proportional(12.0);
        ui.painter().text(pos2(rect.left() - 6.0, y), align, words, font, colours.text);
    };
    scale(rect.top() + 8.0, Align2::RIGHT_TOP, "bright");
    scale(rect.bottom() - 4.0, Align2::RIGHT_BOTTOM, "dark");
}

fn spacing_ui(ui: &Ui, rect: Rect, scan: &OpenScan, along: &AlongTransform) {
    let colours = curve_colours(ui.visuals().dark_mode);
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, colours.ground);
    let Some(found) = scan.found() else { return };
    let step_px = found.evidence.step_px;
    if step_px <= 0.0 {
        return;
    }
    let curve = Curve { values: &found.evidence.spacing_um, step_px };
    // The words stand above the curve, not on it.
    let plot = Rect::from_min_max(rect.min + vec2(0.0, 18.0), rect.max);
    let range = paint::curve(&painter, plot, "", curve, along, colours);
    let Some((low, high)) = range else { return };
    // A number needs some 16 points of height.
    let at_most = ((plot.height() / 16.0) as usize).clamp(1, 5);
    let values = if is_blind(scan) { Vec::new() } else { round_steps(low, high, at_most) };
    for value in values {
        let share = ((value - low) / (high - low)) as f32;
        let y = plot.bottom() - 3.0 - share * (plot.height() - 6.0);
        let line = [pos2(rect.left(), y), pos2(rect.right(), y)];
        painter.line_segment(line, Stroke::new(1.0, colours.rule));
        let font = FontId::proportional(12.0);
        let at = pos2(rect.left() - 6.0, y);
        ui.painter().text(at, Align2::RIGHT_CENTER, format!("{value}"), font, colours.text);
    }
    let font = FontId::proportional(12.0);
    painter.text(
        rect.left_top() + vec2(6.0, 3.0),
        Align2::LEFT_TOP,
        if is_blind(scan) { "circulus spacing" } else { "circulus spacing, µm" },
        font,
        colours.text,
    );
}

fn ruler_ui(ui: &Ui, rect: Rect, scan: &OpenScan, along: &AlongTransform) {
    let colours = curve_colours(ui.visuals().dark_mode);
    let Some(axis) = scan.reading().and_then(|reading| reading.axis.as_ref()) else { return };
    let scale = scan.document().reading.calibration.as_ref();
    // Pixels for one unit of the ruler; on a blind list it counts percent of the way to the margin.
    let edge = scan.reading().and_then(|reading| reading.edge).unwrap_or_else(|| axis.length_px());
    let px_per_unit = if is_blind(scan) { (edge.0 / 100.0).max(1e-6) } else { 1.0 };
    let um = |x: f32| {
        let at = along.along_from_x(x);
        scale.map_or(at.0 / px_per_unit, |scale| axis.micrometres_at(at, scale).0)
    };
    let px = |um: f64| {
        scale.map_or(Pixels(um * px_per_unit), |scale| axis.pixels_at(Micrometres(um), scale))
    };
    let unit = match (is_blind(scan), scale.is_some()) {
        (true, _) => "%",
        (false, true) => "µm",
        (false, false) => "px",
    };
    let painter = ui.painter();
    let font = FontId::proportional(12.0);
    let at_most = (rect.width() / 70.0).max(1.0) as usize;
    for value in round_steps(um(rect.left()), um(rect.right()), at_most) {
        let x = along.x_from_along(px(value));
        painter.line_segment(
            [pos2(x, rect.top()), pos2(x, rect.top() + 4.0)],
            Stroke::new(1.0, colours.text),
        );
        if x < rect.right() - 20.0 {
            let at = pos2(x, rect.top() + 4.0);
            painter.text(at, Align2::CENTER_TOP, format!("{value}"), font.clone(), colours.text);
        }
    }
    let at = pos2(rect.left() - 8.0, rect.top() + 4.0);
    painter.text(at, Align2::RIGHT_TOP, unit, font, colours.text);
}

fn nothing_ui(ui: &Ui, parts: &Parts) {
    let whole = Rect::from_min_max(parts.strip.min, parts.ruler.max);
    let colours = curve_colours(ui.visuals().dark_mode);
    ui.painter().rect_filled(whole, 0.0, colours.ground);
    let words = "The strip and the profile appear here once the axis is set";
    ui.painter().text(
        whole.center(),
        Align2::CENTER_CENTER,
        words,
        FontId::proportional(14.0),
        colours.text,
    );
}
