//! All keys, from the one table.

use std::path::Path;

use egui::{Context, Grid, RichText, ScrollArea, Window, vec2};

use crate::gui::theme::{heading, quiet};
use crate::gui::view::keys;
use crate::workbench::action::{Group, VERBS};

/// Draws the help while it is open.
pub fn keys_ui(context: &Context, is_shown: &mut bool, path: Option<&Path>) {
    if !*is_shown {
        return;
    }
    let keys = keys(context);
    let colour = quiet(context.theme() == egui::Theme::Dark);
    Window::new("All keys")
        .open(is_shown)
        .collapsible(false)
        .resizable(false)
        .default_size(vec2(760.0, 560.0))
        .anchor(egui::Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .show(context, |ui| {
            ScrollArea::vertical().max_height(540.0).show(ui, |ui| {
                Grid::new("keys").num_columns(3).spacing([14.0, 3.0]).show(ui, |ui| {
                    for group in Group::ALL {
                        ui.label(heading(group.heading()));
                        ui.end_row();
                        for entry in VERBS.iter().filter(|entry| entry.group == group) {
                            let known: Vec<String> =
                                keys.keys(entry.verb).iter().map(ToString::to_string).collect();
                            ui.label(RichText::new(known.join(" or ")).monospace());
                            ui.label(entry.label);
                            ui.label(RichText::new(entry.tooltip).color(colour));
                            ui.end_row();
                        }
                    }
                });
                ui.add_space(8.0);
                ui.label(heading("Mouse"));
                ui.label("Drag a mark on the scan, on the strip or on the profile. Double-click adds an annulus. \
                          Scroll to come closer, drag beside the marks to move the picture. \
                          A mark let go near a crest or trough of the profile comes to lie on it; hold Alt and it stays where you put it.");
                if let Some(path) = path {
                    ui.add_space(8.0);
                    ui.label(heading("Other keys"));
                    ui.label(format!("Every key can be changed in {}", path.display()));
                }
            });
        });
}
