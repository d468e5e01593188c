//! The table of agreement as a heat table with a number in every cell, and the list of the fish behind it.

use egui::{Color32, Grid, RichText, Role, ScrollArea, Sense, Stroke, Ui, WidgetInfo, vec2};

use crate::analysis::agreement::comparison::PairComparison;
use crate::analysis::agreement::matrix::AgeMatrix;
use crate::gui::theme::{heading, quiet};
use crate::gui::view::View;
use crate::workbench::action::{Action, Verb};
use crate::workbench::agree_figures::{AgreeFigures, ComparedFish};
use crate::workbench::session_agree::AgreeAction;

use super::agree::Shown;

/// A table of more ages than this gets too small to read and is scrolled.
const CELL: f32 = 34.0;

/// Draws the table; a click on a cell lists the fish in it.
pub fn table_ui(ui: &mut Ui, pair: &PairComparison, shown: &mut Shown) {
    let Some(matrix) = &pair.matrix else { return };
    let [first, second] = &pair.readers;
    let words = format!("Ages by {first} (down) and {second} (across): fish in each cell");
    ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
    let most = matrix.cells().map(|(_, _, n)| n).max().unwrap_or(1);
    ScrollArea::both().id_salt("table of agreement").auto_shrink([false, false]).show(ui, |ui| {
        ui.spacing_mut().item_spacing = vec2(2.0, 2.0);
        Grid::new("table of agreement").min_col_width(CELL).spacing([2.0, 2.0]).show(ui, |ui| {
            ui.label("");
            for age in matrix.ages() {
                centred(ui, &age.to_string());
            }
            ui.end_row();
            rows_ui(ui, pair, matrix, most, shown);
        });
    });
}

fn rows_ui(ui: &mut Ui, pair: &PairComparison, matrix: &AgeMatrix, most: u64, shown: &mut Shown) {
    for (row, age) in matrix.rows().zip(matrix.ages()) {
        centred(ui, &age.to_string());
        for (count, other) in row.iter().zip(matrix.ages()) {
            let share = *count as f32 / most.max(1) as f32;
            let is_chosen = *shown == Shown::Cell(age, other);
            if cell_ui(ui, &pair.readers, (age, other, *count), share, is_chosen) {
                *shown = Shown::Cell(age, other);
            }
        }
        ui.end_row();
    }
}

fn centred(ui: &mut Ui, words: &str) {
    ui.vertical_centered(|ui| ui.label(RichText::new(words).strong()));
}

/// One cell; true when it was clicked. The shade of grey alone tells many from few; the diagonal has a rim.
fn cell_ui(
    ui: &mut Ui,
    [first, second]: &[String; 2],
    (age, other, count): (u32, u32, u64),
    share: f32,
    is_chosen: bool,
) -> bool {
    let sense = if count > 0 { Sense::click() } else { Sense::hover() };
    let (rect, cell) = ui.allocate_exact_size(vec2(CELL, 24.0), sense);
    let fish = if count == 1 { "1 fish".to_owned() } else { format!("{count} fish") };
    let words = format!("{first} {age}, {second} {other}: {fish}");
    if count > 0 {
        cell.widget_info(|| WidgetInfo::selected(Role::Button, true, is_chosen, &words));
    }
    let is_dark = ui.visuals().dark_mode;
    let (ground, ink) = shade(share, count, is_dark);
    let painter = ui.painter();
    painter.rect_filled(rect, 2.0, ground);
    let rim = match (is_chosen || cell.has_focus(), age == other) {
        (true, _) => Stroke::new(2.5, ui.visuals().hyperlink_color),
        (false, true) => Stroke::new(1.4, ui.visuals().text_color()),
        _ => Stroke::NONE,
    };
    painter.rect_stroke(rect, 2.0, rim, egui::StrokeKind::Inside);
    if count > 0 {
        let font = egui::FontId::proportional(14.0);
        painter.text(rect.center(), egui::Align2::CENTER_CENTER, count.to_string(), font, ink);
    }
    cell.on_hover_text(words).clicked()
}

/// Ground and ink of a cell: from the panel's ground to its opposite, the ink always the farther of the two.
fn shade(share: f32, count: u64, is_dark: bool) -> (Color32, Color32) {
    // The root keeps single fish in sight beside the crowded diagonal.
    let depth = if count == 0 { 0.0 } else { 0.12 + 0.78 * share.sqrt() };
    let (from, to) = if is_dark { (34.0, 226.0) } else { (246.0, 40.0) };
    let grey = (from + (to - from) * depth) as u8;
    let ink = if grey > 132 { Color32::from_gray(12) } else { Color32::from_gray(248) };
    (Color32::from_gray(grey), ink)
}

/// The fish behind what is chosen, each with a button that opens it.
pub fn fish_ui(ui: &mut Ui, figures: &AgreeFigures, view: &mut View, actions: &mut Vec<Action>) {
    let shown = view.agree.shown;
    let fish: Vec<&ComparedFish> = figures.fish.iter().filter(|fish| shown.holds(fish)).collect();
    let names = figures.pair.as_ref().map(|pair| pair.readers.clone()).unwrap_or_default();
    let [first, second] = &names;
    ui.horizontal(|ui| {
        let words = match shown {
            Shown::Parted => format!("Fish the two part on: {}", fish.len()),
            Shown::Cell(a, b) => format!("{first} {a}, {second} {b}: {} fish", fish.len()),
            Shown::Age(age) => format!("Fish that {first} gave age {age}: {}", fish.len()),
            Shown::Annulus(number) => {
                format!("Fish whose readings part at annulus {number}: {}", fish.len())
            }
        };
        ui.label(heading(&words));
        if shown != Shown::Parted && ui.button("Show all they part on").clicked() {
            view.agree.shown = Shown::Parted;
        }
        let button = egui::Button::new("Blind list of these");
        let why = "Have a third reader read them without knowing which they are";
        if ui.add_enabled(!fish.is_empty(), button).on_hover_text(why).clicked() {
            view.lists.choose(fish.iter().map(|fish| fish.key.clone()).collect());
            if !view.lists.is_shown {
                actions.push(Verb::ShowLists.into());
            }
        }
    });
    ScrollArea::vertical().id_salt("compared fish").auto_shrink([false, false]).show(ui, |ui| {
        Grid::new("compared fish").num_columns(4).striped(true).spacing([16.0, 3.0]).show(
            ui,
            |ui| {
                for one in fish {
                    let [a, b] = one.ages;
                    if ui.button(format!("Open fish {}", one.number)).clicked() {
                        actions.push(Action::Agree(AgreeAction::OpenFish(one.key.clone())));
                    }
                    ui.label(format!("{first} {a}, {second} {b}"));
                    let parting = one.parting.map(|number| format!("part at annulus {number}"));
                    ui.label(parting.unwrap_or_default());
                    let decision = one.decision.clone().unwrap_or_else(|| {
                        let open = if one.difference() == 0 { "" } else { "nothing decided" };
                        open.to_owned()
                    });
                    ui.label(RichText::new(decision).color(quiet(ui.visuals().dark_mode)));
                    ui.end_row();
                }
            },
        );
    });
}
