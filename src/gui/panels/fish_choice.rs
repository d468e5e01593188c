//! The fish that is chosen on a plot or in the list: its scan, and leaving it out with a reason.

use egui::{Button, RichText, ScrollArea, TextEdit, Ui};

use crate::domain::exclusion::Exclusion;
use crate::gui::theme::{heading, quiet};
use crate::workbench::action::Action;
use crate::workbench::session_growth::GrowthAction;

/// What is typed on the desks of lengths and growth.
#[derive(Debug, Default)]
pub struct FishChoice {
    /// Why a fish is to be left out or taken in.
    pub why: String,
    /// Key of the fish that was under the pointer in the last frame.
    pub hovered: Option<String>,
}

/// One line of the list.
pub struct FishLine {
    /// Key of the fish.
    pub key: String,
    /// What stands beside it, such as its age.
    pub words: String,
}

/// The chosen fish with what can be done, above the list of all fish and those left out by hand.
pub fn fish_choice_ui(
    ui: &mut Ui,
    (chosen, lines, excluded): (Option<&str>, &[FishLine], &[Exclusion]),
    choice: &mut FishChoice,
    actions: &mut Vec<Action>,
) {
    ui.label(heading("Fish"));
    match chosen {
        Some(key) => chosen_ui(ui, key, excluded, choice, actions),
        None => {
            let words = "Choose a fish on a plot or below: its growth stands out, its scan opens, or it can be left out.";
            ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
        }
    }
    ui.separator();
    ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
        for line in lines {
            let is_chosen = chosen == Some(line.key.as_str());
            let words = format!("{}  {}", line.key, line.words);
            let row = ui.add(Button::selectable(is_chosen, words).truncate());
            if row.hovered() || row.has_focus() {
                choice.hovered = Some(line.key.clone());
            }
            if row.double_clicked() {
                actions.push(Action::Growth(GrowthAction::OpenScanOf(line.key.clone())));
            } else if row.clicked() {
                choose(&line.key, actions);
            }
        }
        if !excluded.is_empty() {
            ui.add_space(6.0);
            ui.label(RichText::new(format!("Left out by hand: {}", excluded.len())).strong());
        }
        for one in excluded {
            let is_chosen = chosen == Some(one.fish.as_str());
            let row =
                ui.add(Button::selectable(is_chosen, format!("{}  left out", one.fish)).truncate());
            if row.on_hover_text(one.reason()).clicked() {
                choose(&one.fish, actions);
            }
        }
    });
}

/// Takes hold of a fish.
pub fn choose(key: &str, actions: &mut Vec<Action>) {
    actions.push(Action::Growth(GrowthAction::ChooseFish(Some(key.to_owned()))));
}

fn chosen_ui(
    ui: &mut Ui,
    key: &str,
    excluded: &[Exclusion],
    choice: &mut FishChoice,
    actions: &mut Vec<Action>,
) {
    let left_out = excluded.iter().find(|one| one.fish == key);
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(format!("Fish {key}")).strong());
        if ui.button("Open its scan").clicked() {
            actions.push(Action::Growth(GrowthAction::OpenScanOf(key.to_owned())));
        }
        if ui.button("Let go").clicked() {
            actions.push(Action::Growth(GrowthAction::ChooseFish(None)));
        }
    });
    if let Some(one) = left_out {
        let words = format!("{} ({})", one.reason(), one.when.strftime("%Y-%m-%d"));
        ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
    }
    let label = ui.label("Reason");
    ui.add(TextEdit::singleline(&mut choice.why).desired_width(f32::INFINITY))
        .labelled_by(label.id);
    let has_reason = !choice.why.trim().is_empty();
    let words = if left_out.is_some() { "Take in again" } else { "Leave out of growth" };
    let button = ui.add_enabled(has_reason, Button::new(words));
    let hint =
        "Kept on record with your initials; nothing is deleted, and the fish can be taken in again";
    if button.on_hover_text(hint).on_disabled_hover_text("Write the reason first").clicked() {
        let (fish, why) = (key.to_owned(), std::mem::take(&mut choice.why));
        actions.push(Action::Growth(if left_out.is_some() {
            GrowthAction::TakeIn { fish, why }
        } else {
            GrowthAction::LeaveOut { fish, why }
        }));
    }
}
