//! The window.
//! The window. The only room that knows a window toolkit; it draws the workbench and hands it actions.

pub mod app;
pub mod canvas;
mod dialogs;
mod dropping;
mod frame_log;
pub mod keys;
pub mod lettering;
pub mod panels;
mod settings_keeper;
mod state_log;
pub mod theme;
pub mod view;

use std::path::PathBuf;

use crate::domain::blind::ListName;
use crate::domain::reading::ReaderInitials;
use crate::workbench::settings::settings_path;
use crate::workbench::workbench::Services;

/// Opens the window and stays until it is closed, with a survey, a reader and a blind list where they are known.
///
/// # Errors
/// A message when the system offers no window, such as on a machine without a display.
pub fn run(
    survey: Option<PathBuf>,
    reader: Option<ReaderInitials>,
    list: Option<ListName>,
) -> Result<(), String> {
    let viewport = egui::ViewportBuilder::default()
        .with_title("Winterline")
        .with_app_id("winterline")
        .with_inner_size([1280.0, 800.0])
        .with_min_inner_size([600.0, 380.0]);
    let options = eframe::NativeOptions { viewport, ..Default::default() };
    let start = move |context: &eframe::CreationContext<'_>| {
        let services = Services::default();
        let app = match (survey, reader, &list) {
            (Some(folder), Some(reader), Some(list)) => {
                app::App::on_list(&context.egui_ctx, services, (folder, list), &reader)
            }
            (survey, reader, _) => app::App::new(&context.egui_ctx, services, survey, reader),
        };
        Ok(Box::new(app.with_settings(settings_path())) as Box<dyn eframe::App>)
    };
    eframe::run_native("Winterline", options, Box::new(start)).map_err(|error| error.to_string())
}
