//! What is shown while no survey is open.

use egui::{RichText, TextEdit, Ui};

use crate::gui::theme::quiet;
use crate::gui::view::{View, verb_button};
use crate::workbench::action::{Action, Verb};
use crate::workbench::workbench::Workbench;

/// Draws the empty window.
pub fn empty_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    let colour = quiet(ui.visuals().dark_mode);
    ui.vertical_centered(|ui| {
        ui.add_space(ui.available_height() * 0.28);
        if workbench.is_opening() {
            let words = workbench.running().map_or("Opening the survey", |(what, _)| what);
            ui.label(RichText::new(words).size(20.0));
            return;
        }
        ui.label(RichText::new("No survey open").size(24.0));
        ui.add_space(4.0);
        ui.label(RichText::new("Open one, drop its folder here, or try the demo").color(colour));
        ui.add_space(14.0);
        ui.scope(|ui| {
            ui.set_max_width(440.0);
            path_ui(ui, view, actions);
        });
        ui.add_space(6.0);
        verb_button(ui, Verb::OpenSurvey, true, actions);
        ui.add_space(2.0);
        verb_button(ui, Verb::TryDemo, true, actions);
        first_ui(ui, view, actions);
        recent_ui(ui, view, actions);
    });
}

/// For those who are new: one reading step by step, or practice on known ages.
fn first_ui(ui: &mut Ui, view: &View, actions: &mut Vec<Action>) {
    let colour = quiet(ui.visuals().dark_mode);
    ui.add_space(10.0);
    if !view.settings.is_guide_done {
        ui.label(
            RichText::new("New here? Read one scale step by step; nothing is written")
                .color(colour),
        );
    }
    verb_button(ui, Verb::ShowGuide, true, actions);
    verb_button(ui, Verb::Practise, true, actions);
}

/// The surveys opened last.
fn recent_ui(ui: &mut Ui, view: &View, actions: &mut Vec<Action>) {
    if view.settings.recent.is_empty() {
        return;
    }
    let colour = quiet(ui.visuals().dark_mode);
    ui.add_space(12.0);
    ui.label(RichText::new("Opened lately").color(colour));
    for folder in &view.settings.recent {
        let name =
            folder.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        let button = ui.button(format!("Open {name}"));
        if button.on_hover_text(folder.display().to_string()).clicked() {
            actions.push(Action::Open(folder.clone()));
        }
    }
}

/// The field for a folder, for systems without a dialog for it.
pub fn path_ui(ui: &mut Ui, view: &mut View, actions: &mut Vec<Action>) {
    ui.horizontal(|ui| {
        let label = ui.label("Folder");
        let field = TextEdit::singleline(&mut view.path)
            .desired_width(280.0)
            .hint_text("the folder that holds survey.json");
        let field = ui.add(field).labelled_by(label.id);
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        let typed = view.path.trim();
        if (ui.add_enabled(!typed.is_empty(), egui::Button::new("Open folder")).clicked()
            || entered)
            && !typed.is_empty()
        {
            actions.push(Action::Open(typed.into()));
            view.is_path_shown = false;
        }
    });
}
