//! The reading list on the left: who reads, how far they are, and every scan with its state.

use egui::{
    Align, Color32, ProgressBar, RichText, Role, ScrollArea, Sense, Stroke, TextEdit, TextStyle,
    Ui, WidgetInfo, vec2,
};

use crate::gui::theme::quiet;
use crate::gui::view::{View, verb_button};
use crate::workbench::action::{Action, Verb};
use crate::workbench::session::{ListEntry, SurveySession};
use crate::workbench::session_save::ListState;
use crate::workbench::workbench::Workbench;

use super::list_filter::filter_ui;

const ROW_HEIGHT: f32 = 26.0;

/// Draws the list.
pub fn list_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    let Some(survey) = workbench.survey() else { return };
    ui.add_space(4.0);
    reader_ui(ui, workbench, view, actions);
    let (done, all) = survey.progress();
    let share = if all == 0 { 0.0 } else { done as f32 / all as f32 };
    let words = format!("{done} of {all} confirmed");
    ui.label(RichText::new(&words).color(quiet(ui.visuals().dark_mode)));
    let bar =
        ui.add(ProgressBar::new(share).desired_height(6.0).fill(ui.visuals().selection.bg_fill));
    bar.widget_info(|| {
        WidgetInfo::labeled(Role::ProgressIndicator, true, format!("Progress: {words}"))
    });
    ui.horizontal(|ui| {
        verb_button(ui, Verb::NextUnread, workbench.reader().is_some(), actions);
    });
    if workbench.blind().is_some() {
        verb_button(ui, Verb::LeaveList, true, actions);
    } else {
        verb_button(ui, Verb::ProposeUnread, workbench.reader().is_some(), actions);
        verb_button(ui, Verb::ShowLists, true, actions);
    }
    let is_blind = workbench.blind().is_some();
    let shown = filter_ui(ui, survey.entries(), is_blind, &mut view.filter, actions);
    ui.add_space(2.0);
    rows_ui(ui, survey, &shown, workbench.place(), view, actions);
}

fn rows_ui(
    ui: &mut Ui,
    survey: &SurveySession,
    shown: &[usize],
    place: Option<usize>,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let entries = survey.entries();
    ui.spacing_mut().item_spacing.y = 1.0;
    let mut area = ScrollArea::vertical().auto_shrink([false, false]);
    let row = shown.iter().position(|index| place == Some(*index));
    if let Some(place) = row.filter(|_| view.wants_scroll) {
        view.wants_scroll = false;
        let middle = ui.available_height() / 2.0;
        area = area.vertical_scroll_offset((place as f32 * (ROW_HEIGHT + 1.0) - middle).max(0.0));
    }
    area.show_rows(ui, ROW_HEIGHT, shown.len(), |ui, rows| {
        for index in rows.filter_map(|row| shown.get(row).copied()) {
            if let Some(entry) = entries.get(index)
                && row_ui(ui, entry, place == Some(index))
            {
                actions.push(Action::SelectScan(index));
            }
        }
    });
}

/// One row; true when it was asked for.
fn row_ui(ui: &mut Ui, entry: &ListEntry, is_open: bool) -> bool {
    let (rect, row) =
        ui.allocate_exact_size(vec2(ui.available_width(), ROW_HEIGHT), Sense::click());
    let words = format!("Fish {}, {}", entry.title(), entry.state.word());
    row.widget_info(|| WidgetInfo::selected(Role::Button, true, is_open, &words));
    let visuals = ui.visuals();
    let painter = ui.painter_at(rect);
    if is_open {
        painter.rect_filled(rect, 4.0, visuals.selection.bg_fill);
    } else if row.hovered() || row.has_focus() {
        painter.rect_filled(rect, 4.0, visuals.widgets.hovered.weak_bg_fill);
    }
    if row.has_focus() {
        painter.rect_stroke(rect, 4.0, visuals.widgets.hovered.fg_stroke, egui::StrokeKind::Inside);
    }
    let ink = if is_open { visuals.selection.stroke.color } else { visuals.text_color() };
    state_sign(&painter, egui::pos2(rect.left() + 14.0, rect.center().y), entry.state, ink);
    let font = TextStyle::Body.resolve(ui.style());
    let at = egui::pos2(rect.left() + 30.0, rect.center().y);
    painter.text(at, egui::Align2::LEFT_CENTER, entry.title(), font, ink);
    let small = TextStyle::Small.resolve(ui.style());
    let side_ink = if is_open { ink } else { quiet(visuals.dark_mode) };
    let at = egui::pos2(rect.right() - 8.0, rect.center().y);
    painter.text(at, egui::Align2::RIGHT_CENTER, entry.state.word(), small, side_ink);
    row.on_hover_text(&entry.scan).clicked()
}

/// Empty ring, half-filled ring, full disc: unread, draft, confirmed.
fn state_sign(painter: &egui::Painter, at: egui::Pos2, state: ListState, ink: Color32) {
    match state {
        ListState::Unread => _ = painter.circle_stroke(at, 5.0, Stroke::new(1.4, ink)),
        ListState::Draft => {
            painter.circle_stroke(at, 5.0, Stroke::new(1.4, ink));
            painter.circle_filled(at, 2.4, ink);
        }
        ListState::Confirmed => _ = painter.circle_filled(at, 5.6, ink),
    }
}

/// The reader: a field until the initials are known, and a way to change them.
fn reader_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    match workbench.reader() {
        Some(reader) if !view.is_changing_reader => {
            ui.horizontal(|ui| {
                ui.label(format!("Reader {reader}"));
                if workbench.blind().is_some() {
                    return;
                }
                ui.with_layout(egui::Layout::right_to_left(Align::Center), |ui| {
                    if ui.small_button("Change").on_hover_text("Let another reader go on").clicked()
                    {
                        view.is_changing_reader = true;
                        view.initials.clear();
                    }
                });
            });
        }
        _ => {
            let label = ui.label("Your initials");
            ui.horizontal(|ui| {
                let field = TextEdit::singleline(&mut view.initials)
                    .desired_width(90.0)
                    .hint_text("e.g. kb");
                let field = ui.add(field).labelled_by(label.id);
                let entered =
                    field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
                if (ui.button("Begin").clicked() || entered) && !view.initials.trim().is_empty() {
                    actions.push(Action::SetReader(view.initials.clone()));
                    view.is_changing_reader = false;
                }
            });
        }
    }
    known_readers_ui(ui, workbench, view, actions);
    ui.add_space(4.0);
}

fn known_readers_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let Some(survey) = workbench.survey() else { return };
    if workbench.reader().is_some() && !view.is_changing_reader {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        for reader in &survey.survey().readers {
            if ui.button(format!("Read as {reader}")).clicked() {
                actions.push(Action::SetReader(reader.to_string()));
                view.is_changing_reader = false;
            }
        }
    });
}
