//! A fish opened on the Agree desk: both readers' marks over the same scan and over the strip, in words where they
//! part, and deciding on it.

use egui::{Grid, Id, Rect, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo, pos2, vec2};

use crate::domain::reading::{Mark, MarkKind, Outcome};
use crate::domain::units::Pixels;
use crate::gui::canvas::layout::{AlongTransform, ScanTransform, arc, tick};
use crate::gui::canvas::paint;
use crate::gui::canvas::picture::{ScanPicture, strip_texture, whole_texture};
use crate::gui::theme::{Look, TABLE, heading, quiet};
use crate::gui::view::View;
use crate::imaging::enhance::Histogram;
use crate::workbench::action::Action;
use crate::workbench::agree_figures::AgreeFigures;
use crate::workbench::agree_fish::{OpenedFish, SideReading};
use crate::workbench::session_agree::AgreeAction;
use crate::workbench::workbench::Workbench;

use super::agree_decide::decide_ui;

/// Height of the strip with both readers' marks, screen points.
const STRIP_HEIGHT: f32 = 96.0;

/// Draws the opened fish in place of the figures.
pub fn opened_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    figures: &AgreeFigures,
    opened: &OpenedFish,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    top_ui(ui, figures, opened, actions);
    egui::Panel::right("readings of the fish").default_size(400.0).size_range(320.0..=480.0).show(
        ui,
        |ui| {
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                words_ui(ui, opened);
                marks_ui(ui, opened);
                ui.separator();
                decide_ui(ui, workbench, figures, opened, view, actions);
            });
        },
    );
    egui::CentralPanel::no_frame().show(ui, |ui| {
        let whole = ui.available_rect_before_wrap();
        let below = whole.bottom() - STRIP_HEIGHT - 30.0;
        let scan = Rect::from_min_max(whole.min, pos2(whole.right(), below - 4.0));
        let strip = Rect::from_min_max(pos2(whole.left(), below), whole.max);
        scan_ui(ui, scan, opened, view);
        strip_ui(ui, strip, opened, view);
    });
}

/// Back, and on to the next fish of those listed.
fn top_ui(ui: &mut Ui, figures: &AgreeFigures, opened: &OpenedFish, actions: &mut Vec<Action>) {
    let parted: Vec<&str> = figures
        .fish
        .iter()
        .filter(|fish| fish.difference() != 0)
        .map(|fish| fish.key.as_str())
        .collect();
    let here = parted.iter().position(|key| *key == opened.fish.key);
    ui.horizontal(|ui| {
        if ui.button("Back to the figures").clicked() {
            actions.push(Action::Agree(AgreeAction::CloseFish));
        }
        let neighbours = [
            ("Previous they part on", here.and_then(|at| at.checked_sub(1))),
            ("Next they part on", Some(here.map_or(0, |at| at + 1))),
        ];
        for (words, place) in neighbours {
            let key = place.and_then(|place| parted.get(place));
            let button = ui.add_enabled(key.is_some(), egui::Button::new(words));
            if let Some(key) = key.filter(|_| button.clicked()) {
                actions.push(Action::Agree(AgreeAction::OpenFish((*key).to_owned())));
            }
        }
        ui.separator();
        ui.label(heading(&format!("Fish {}", opened.fish.number)));
        if let Some(here) = here {
            let words = format!("{} of {} they part on", here + 1, parted.len());
            ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
        }
    });
    ui.separator();
}

fn words_ui(ui: &mut Ui, opened: &OpenedFish) {
    ui.label(heading("Where they part"));
    if opened.words.is_empty() {
        ui.label("Mark by mark the two readings are the same rings");
    }
    // Not made a sentence: initials are written as they are.
    for words in &opened.words {
        ui.label(words);
    }
    ui.add_space(6.0);
}

/// How a reader's marks look: the first solid, the second dashed, checks dotted for either.
fn look_of(side: usize, mark: &Mark) -> Look {
    match (mark.kind, side) {
        (MarkKind::Check, _) => Look::Check,
        (MarkKind::Annulus, 0) => Look::Annulus,
        (MarkKind::Annulus, _) => Look::Proposal,
    }
}

/// "3" for the third annulus, "c1" for the first check.
fn number_of(side: &SideReading, index: usize) -> String {
    let marks = &side.reading.marks;
    let Some(this) = marks.get(index) else { return String::new() };
    let before = marks.iter().take(index).filter(|mark| mark.kind == this.kind).count();
    match this.kind {
        MarkKind::Annulus => (before + 1).to_string(),
        MarkKind::Check => format!("c{}", before + 1),
    }
}

/// Ring by ring: the number and distance each reader has there.
fn marks_ui(ui: &mut Ui, opened: &OpenedFish) {
    let colour = quiet(ui.visuals().dark_mode);
    Grid::new("aligned marks").num_columns(3).striped(true).spacing([16.0, 2.0]).show(ui, |ui| {
        ui.label("");
        for (place, side) in opened.sides.iter().enumerate() {
            let line = if place == 0 { "solid" } else { "dashed" };
            ui.label(RichText::new(format!("{} ({line})", side.name)).strong());
        }
        ui.end_row();
        for (ring, at) in (1..).zip(&opened.aligned) {
            ui.label(RichText::new(format!("Ring {ring}")).color(colour));
            for (side, index) in opened.sides.iter().zip([at.first, at.second]) {
                let mark = index.and_then(|index| Some((index, side.reading.marks.get(index)?)));
                let words = mark.map_or_else(
                    || "nothing".to_owned(),
                    |(index, mark)| {
                        let what = match mark.kind {
                            MarkKind::Annulus => "annulus",
                            MarkKind::Check => "check",
                        };
                        let number = number_of(side, index);
                        let number = number.trim_start_matches('c').to_owned();
                        format!("{what} {number}, {}", side.distance(mark.position))
                    },
                );
                ui.label(words);
            }
            ui.end_row();
        }
        ui.label(RichText::new("Margin").color(colour));
        for side in &opened.sides {
            let edge = side.reading.edge.map(|edge| side.distance(edge));
            let condition = side.reading.edge_condition.map(|edge| edge.word());
            let words =
                format!("{} {}", condition.unwrap_or("not judged"), edge.unwrap_or_default());
            ui.label(words);
        }
        ui.end_row();
        ui.label(RichText::new("Age").color(colour));
        for side in &opened.sides {
            let age = side.reading.age.filter(|_| side.reading.outcome == Some(Outcome::Aged));
            ui.label(
                RichText::new(age.map_or_else(|| "none".to_owned(), |age| age.to_string()))
                    .strong(),
            );
        }
        ui.end_row();
    });
    for side in &opened.sides {
        if !side.reading.note.is_empty() {
            ui.label(format!("Note of {}: {}", side.name, side.reading.note));
        }
    }
}

/// The scan with the axes and marks of both. Scrolling looks closer, dragging moves the picture.
fn scan_ui(ui: &mut Ui, rect: Rect, opened: &OpenedFish, view: &mut View) {
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, TABLE);
    let area = opened.sides[0].reading.bounds.unwrap_or_else(|| opened.raster.area());
    if view.agree.fitted_for != opened.fish.key {
        view.agree.fitted_for.clone_from(&opened.fish.key);
        view.agree.view.fit();
        view.agree.deciding = super::agree::Deciding::default();
    }
    let ground = ui.interact(rect, Id::unique("compared scan"), Sense::click_and_drag());
    let words = format!("Scan {} with the marks of both", opened.sides[0].scan);
    ground.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, &words));
    if ground.dragged() {
        view.agree.view.pan(ground.drag_delta(), area);
    }
    if let Some(pointer) = ground.hover_pos() {
        let (scroll, pinch) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
        let factor = f64::from(pinch) * f64::from(scroll * 0.004).exp();
        if (factor - 1.0).abs() > 1e-4 {
            view.agree.view.zoom_about(pointer, factor, rect, area);
        }
    }
    let transform = view.agree.view.transform(rect, area);
    let kept = view.agree.scan.take().filter(|picture| picture.is_of(&opened.raster));
    let raster = std::sync::Arc::clone(&opened.raster);
    let picture = view.agree.scan.insert(
        kept.unwrap_or_else(|| ScanPicture::new(raster, Default::default(), None, ui.ctx())),
    );
    picture.poll(ui.ctx());
    picture.paint(&painter, &transform, ui.ctx());
    let shown = if opened.is_same_picture { 2 } else { 1 };
    for (place, side) in opened.sides.iter().enumerate().take(shown) {
        side_on_scan(&painter, place, side, &transform);
    }
}

fn side_on_scan(
    painter: &egui::Painter,
    place: usize,
    side: &SideReading,
    transform: &ScanTransform,
) {
    let Some(axis) = &side.reading.axis else { return };
    let line: Vec<_> =
        axis.vertices().iter().map(|point| transform.screen_from_image(*point)).collect();
    paint::axis(painter, &line);
    for (index, mark) in side.reading.marks.iter().enumerate() {
        let look = look_of(place, mark);
        let ring = arc(axis, mark.position, transform);
        paint::line_on_picture(painter, &ring, look, false);
        // The first reader's numbers stand at one end of the arcs, the second's at the other.
        let end = if place == 0 { ring.last() } else { ring.first() };
        if let Some(end) = end {
            let words = format!("{} {}", side.name, number_of(side, index));
            paint::tag(painter, *end, words.trim(), look, false);
        }
    }
    if let Some(edge) = side.reading.edge {
        paint::line_on_picture(painter, &tick(axis, edge, 16.0, transform), Look::Margin, false);
    }
    if let Some(focus) = line.first() {
        paint::focus(painter, *focus, false);
    }
}

/// The strip along the first reading's axis: the first reader's marks come from above, the second's from below.
fn strip_ui(ui: &mut Ui, rect: Rect, opened: &OpenedFish, view: &mut View) {
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, ui.visuals().panel_fill);
    let (Some(evidence), Some(edge)) = (&opened.evidence, opened.sides[0].reading.edge) else {
        return;
    };
    let strip =
        Rect::from_min_size(rect.min + vec2(0.0, 22.0), vec2(rect.width(), STRIP_HEIGHT - 18.0));
    let ground = ui.interact(strip, Id::unique("compared strip"), Sense::hover());
    ground.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, "Strip with the marks of both"));
    let tone = view.tone.tone(&Histogram::of(&evidence.strip.raster));
    let fits = |(axis, end, shown, _): &(_, _, _, _)| {
        *axis == evidence.axis && *end == evidence.end && *shown == tone
    };
    if !view.strip.as_ref().is_some_and(fits) {
        let texture = strip_texture(&evidence.strip.raster, &tone, ui.ctx());
        view.strip = Some((evidence.axis.clone(), evidence.end, tone, texture));
    }
    let along =
        AlongTransform::new(strip.left() + 8.0, strip.right() - 8.0, Pixels(0.0), evidence.end);
    if let Some((_, _, _, texture)) = &view.strip {
        let step = evidence.strip.step_px;
        let columns = evidence.strip.raster.width() as f64;
        let x0 = along.x_from_along(Pixels(-0.5 * step));
        let x1 = along.x_from_along(Pixels((columns - 0.5) * step));
        let rows = evidence.strip.raster.height() as f64;
        let shown = (f64::from(strip.height()) * along.px_per_point() / rows).min(1.0) as f32;
        let mut part = whole_texture();
        part.min.y = 0.5 - shown / 2.0;
        part.max.y = 0.5 + shown / 2.0;
        let place = Rect::from_min_max(pos2(x0, strip.top()), pos2(x1, strip.bottom()));
        ui.painter_at(strip).image(texture.id(), place, part, egui::Color32::WHITE);
    }
    for (place, side) in opened.sides.iter().enumerate() {
        let (from, to, tag) = if place == 0 {
            (strip.top() - 4.0, strip.center().y - 3.0, strip.top() - 10.0)
        } else {
            (strip.center().y + 3.0, strip.bottom() + 2.0, strip.bottom() + 8.0)
        };
        for (index, mark) in side.reading.marks.iter().enumerate() {
            let Some(share) = side.share(mark.position) else { continue };
            let x = along.x_from_along(Pixels(share * edge.0));
            let look = look_of(place, mark);
            paint::line_on_picture(&painter, &[pos2(x, from), pos2(x, to)], look, false);
            paint::tag(&painter, pos2(x, tag), &number_of(side, index), look, false);
        }
    }
}
