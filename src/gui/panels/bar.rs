//! The bar along the top: the desks that work, the survey, undo and redo, theme and help.

use egui::{Align, Button, Layout, RichText, Ui};

use crate::gui::theme::quiet;
use crate::gui::view::{View, choice_button, keys, tooltip, verb_button};
use crate::workbench::action::{Action, Desk, Verb};
use crate::workbench::workbench::Workbench;

/// Draws the bar.
pub fn bar_ui(ui: &mut Ui, workbench: &Workbench, view: &View, actions: &mut Vec<Action>) {
    ui.horizontal_centered(|ui| {
        for desk in Desk::ALL {
            let verb = desk.verb();
            let words = RichText::new(verb.label()).size(16.0);
            let is_free = workbench.is_free(&verb.into());
            let tab = ui.add_enabled(is_free, Button::selectable(workbench.desk() == desk, words));
            if tab.on_hover_text(tooltip(ui.ctx(), verb)).clicked() {
                actions.push(verb.into());
            }
        }
        ui.separator();
        if view.is_narrow {
            narrow_ui(ui, workbench, view, actions);
            return;
        }
        verb_button(ui, Verb::OpenSurvey, true, actions);
        if let Some(survey) = workbench.survey() {
            let colour = quiet(ui.visuals().dark_mode);
            let name = format!("{}, {}", survey.survey().name, survey.survey().water);
            let name = if survey.survey().name.contains(&survey.survey().water) {
                survey.survey().name.clone()
            } else {
                name
            };
            ui.add(egui::Label::new(RichText::new(name).color(colour)).truncate());
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            verb_button(ui, Verb::ShowKeys, true, actions);
            verb_button(ui, Verb::ShowSettings, true, actions);
            verb_button(ui, Verb::ShowCommands, true, actions);
            if workbench.desk() == Desk::Read {
                steps_ui(ui, workbench, actions);
            }
        });
    });
}

/// Where there is little room: list and card to be shown or put away, the rest under one button.
fn narrow_ui(ui: &mut Ui, workbench: &Workbench, view: &View, actions: &mut Vec<Action>) {
    if workbench.desk() == Desk::Read && workbench.survey().is_some() {
        for (verb, is_shown) in
            [(Verb::ShowList, view.shows_list()), (Verb::ShowCard, view.shows_card())]
        {
            choice_button(ui, verb, is_shown, true, actions);
        }
    }
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
        ui.menu_button("More", |ui| {
            for verb in [Verb::OpenSurvey, Verb::ShowCommands, Verb::ShowSettings, Verb::ShowKeys] {
                if verb_button(ui, verb, true, actions).clicked() {
                    ui.close();
                }
            }
        });
        if workbench.desk() == Desk::Read {
            steps_ui(ui, workbench, actions);
        }
    });
}

/// Undo and redo, each with the name of the edit it concerns.
fn steps_ui(ui: &mut Ui, workbench: &Workbench, actions: &mut Vec<Action>) {
    let history = workbench.scan().map(|scan| scan.history());
    let steps = [
        (Verb::Redo, history.and_then(|history| history.redo_name())),
        (Verb::Undo, history.and_then(|history| history.undo_name())),
    ];
    for (verb, name) in steps {
        let button = ui.add_enabled(name.is_some(), Button::new(verb.label()));
        let tooltip = match name {
            Some(name) => format!("{} {name} ({})", verb.label(), keys(ui.ctx()).shown(verb)),
            None => format!("Nothing to {}", verb.label().to_lowercase()),
        };
        let button = button.on_hover_text(&tooltip).on_disabled_hover_text(&tooltip);
        let is_enabled = name.is_some();
        let words =
            name.map_or_else(|| verb.label().to_owned(), |name| format!("{} {name}", verb.label()));
        button.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, is_enabled, &words));
        if button.clicked() {
            actions.push(verb.into());
        }
    }
}
