//! The settings: size of words, theme, and where the file with the keys lies.

use std::path::Path;

use egui::{Context, RichText, Slider, Window, vec2};

use crate::gui::theme::{heading, quiet};
use crate::gui::view::View;
use crate::workbench::settings::INTERFACE_SCALES;

/// Draws the settings while they are open.
pub fn settings_ui(context: &Context, view: &mut View, path: Option<&Path>) {
    if !view.is_settings_shown {
        return;
    }
    let colour = quiet(context.theme() == egui::Theme::Dark);
    let mut is_open = true;
    Window::new("Settings of the window")
        .open(&mut is_open)
        .collapsible(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .show(context, |ui| {
            ui.set_width(440.0);
            ui.label(heading("Size of words and controls"));
            let mut scale = view.settings.interface_scale;
            let slider = Slider::new(&mut scale, INTERFACE_SCALES).step_by(0.05);
            // Taken over when let go: a slider that changes its own size cannot be held.
            let slider = ui.add(slider.text("times the usual").update_while_editing(false));
            if slider.changed() && !slider.dragged() || slider.drag_stopped() {
                view.settings.set_interface_scale(scale);
            } else if slider.dragged() {
                ui.label(format!("{scale:.2}"));
            }
            ui.label(heading("Theme"));
            ui.horizontal(|ui| {
                for (words, choice) in
                    [("As the system", None), ("Light", Some(false)), ("Dark", Some(true))]
                {
                    ui.selectable_value(&mut view.settings.is_dark, choice, words);
                }
            });
            ui.label(heading("Keys"));
            match path {
                Some(path) => {
                    ui.label("Every key can be changed in this file; changes hold from the next start:");
                    ui.label(RichText::new(path.display().to_string()).monospace());
                    if ui.button("List all keys in the file").clicked() {
                        view.settings.list_all_keys();
                    }
                }
                None => {
                    let words = "The system names no folder for settings: they last until the window is closed.";
                    ui.label(RichText::new(words).color(colour));
                }
            }
        });
    view.is_settings_shown = is_open;
}
