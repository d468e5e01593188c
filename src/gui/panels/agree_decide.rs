//! Deciding on an opened fish: consensus, a third reading, or left out, with the reason. Readings are never changed.

use egui::{DragValue, RichText, TextEdit, Ui};

use crate::domain::reading::ReaderInitials;
use crate::domain::resolution::Decision;
use crate::gui::theme::{heading, problem, quiet};
use crate::gui::view::View;
use crate::workbench::action::Action;
use crate::workbench::agree_figures::{AgreeFigures, decision_in_words};
use crate::workbench::agree_fish::OpenedFish;
use crate::workbench::session_agree::{AgreeAction, third_ages};
use crate::workbench::workbench::Workbench;

use super::agree::Way;

/// Draws what was decided so far and the form for a decision.
pub fn decide_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    figures: &AgreeFigures,
    opened: &OpenedFish,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let is_dark = ui.visuals().dark_mode;
    ui.label(heading("Decision"));
    let made = workbench.agree().decisions_on_opened();
    if made.is_empty() {
        ui.label("Nothing is decided on this fish");
    }
    for (place, one) in made.iter().enumerate() {
        let is_replaced = made.iter().any(|later| later.supersedes.as_ref() == Some(&one.id));
        let words = decision_in_words(one);
        let words = if is_replaced { format!("{words}, replaced since") } else { words };
        ui.label(format!("{}. {words}", place + 1));
        ui.label(RichText::new(&one.why).small().color(quiet(is_dark)));
    }
    let readings = workbench.agree().readings_of_opened();
    let Some(columns) = figures.pair_columns() else { return };
    let thirds = third_ages(&readings, columns.map(|column| &column.reader));
    if workbench.reader().is_none() {
        ui.label(
            RichText::new("Type your initials on the Read desk: a decision bears a name")
                .color(problem(is_dark)),
        );
        return;
    }
    ui.add_space(4.0);
    let form = &mut view.agree.deciding;
    if form.age == 0 && form.why.is_empty() {
        form.age = opened.sides[0].reading.age.unwrap_or(0);
    }
    ui.horizontal(|ui| {
        ui.radio_value(&mut form.way, Way::Consensus, "Consensus");
        let label = ui.label("age");
        let is_chosen = form.way == Way::Consensus;
        let field = DragValue::new(&mut form.age).range(0..=200).suffix(" years");
        ui.add_enabled(is_chosen, field).labelled_by(label.id);
    });
    third_ui(ui, form, &thirds);
    ui.radio_value(&mut form.way, Way::Discard, "Leave the fish out");
    let label = ui.label("Why");
    let field = TextEdit::multiline(&mut form.why).desired_rows(2).desired_width(f32::INFINITY);
    ui.add(field.hint_text("what settled it: checks, margin, first annulus")).labelled_by(label.id);
    let decision = match form.way {
        Way::Consensus => Some(Decision::Consensus(form.age)),
        Way::Third => thirds.get(form.third).map(|(_, age)| Decision::ThirdReading(*age)),
        Way::Discard => Some(Decision::Discard),
    };
    let is_ready =
        decision.is_some() && !form.why.trim().is_empty() && !workbench.agree().is_working();
    let words = if made.is_empty() { "Decide" } else { "Decide again" };
    let why_not = "Say why first: a decision without a reason cannot be defended";
    let button = ui.add_enabled(is_ready, egui::Button::new(words)).on_disabled_hover_text(why_not);
    if let Some(decision) = decision.filter(|_| button.clicked()) {
        actions.push(Action::Agree(AgreeAction::Decide(decision, form.why.clone())));
    }
    let words =
        "A new file in resolved/ with your initials and the time; the readings stay as they are";
    ui.label(RichText::new(words).small().color(quiet(is_dark)));
}

fn third_ui(ui: &mut Ui, form: &mut super::agree::Deciding, thirds: &[(ReaderInitials, u32)]) {
    ui.horizontal_wrapped(|ui| {
        let is_there = !thirds.is_empty();
        let radio = egui::RadioButton::new(form.way == Way::Third, "Third reading");
        if ui.add_enabled(is_there, radio).clicked() {
            form.way = Way::Third;
        }
        if !is_there {
            let words = "no third reader has aged this fish: draw a blind list for one (Ctrl+L)";
            ui.label(RichText::new(words).small().color(quiet(ui.visuals().dark_mode)));
        }
        for (place, (reader, age)) in thirds.iter().enumerate() {
            let is_chosen = form.way == Way::Third && form.third == place;
            if ui.selectable_label(is_chosen, format!("{reader}: age {age}")).clicked() {
                form.way = Way::Third;
                form.third = place;
            }
        }
    });
}
