//! Dialogs: the system's for choosing a folder, on a thread of its own, and the window's own.

use std::path::PathBuf;

use egui::{Context, Window, vec2};

use crate::workbench::action::Action;
use crate::workbench::job::{Job, Polled, Wake};

use super::panels::empty::path_ui;
use super::view::View;

/// The system's folder dialog, while it is open.
#[derive(Default)]
pub struct FolderDialog {
    job: Option<Job<Option<PathBuf>>>,
}

impl FolderDialog {
    /// Opens it. Systems without one answer as if the person had cancelled, so a typed path is offered as well.
    pub fn open(&mut self, wake: &Wake, title: &'static str) {
        if self.job.is_none() {
            let ask = move |_: &_| rfd::FileDialog::new().set_title(title).pick_folder();
            self.job = Job::start("choose a folder", wake, ask).ok();
        }
    }

    /// Opens the system's dialog for a sheet.
    pub fn open_file(&mut self, wake: &Wake, title: &'static str) {
        if self.job.is_none() {
            let ask = move |_: &_| {
                rfd::FileDialog::new()
                    .set_title(title)
                    .add_filter("Sheets", &["csv", "xlsx"])
                    .pick_file()
            };
            self.job = Job::start("choose a file", wake, ask).ok();
        }
    }

    /// The folder or file, once one is chosen.
    pub fn poll(&mut self) -> Option<PathBuf> {
        match self.job.as_ref()?.poll() {
            Polled::Pending => None,
            Polled::Done(folder) => {
                self.job = None;
                folder
            }
            Polled::Lost => {
                self.job = None;
                None
            }
        }
    }
}

/// The field for a folder's path, over whatever desk is on show.
pub fn path_window_ui(context: &Context, view: &mut View, actions: &mut Vec<Action>) {
    if !view.is_path_shown {
        return;
    }
    let mut is_open = true;
    Window::new("Open survey")
        .open(&mut is_open)
        .collapsible(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_TOP, vec2(0.0, 80.0))
        .show(context, |ui| path_ui(ui, view, actions));
    view.is_path_shown &= is_open;
}

/// Asked when the window is to close and something could not be saved. `Some(true)` closes it all the same.
pub fn unsaved_window_ui(context: &Context) -> Option<bool> {
    let mut answer = None;
    Window::new("Not everything is saved")
        .collapsible(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .show(context, |ui| {
            ui.label("The last edits of this reading could not be written. The reason stands at the foot of the window.");
            ui.horizontal(|ui| {
                if ui.button("Stay").clicked() {
                    answer = Some(false);
                }
                if ui.button("Close without these edits").clicked() {
                    answer = Some(true);
                }
            });
        });
    answer
}
