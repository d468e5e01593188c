//! The Report desk: what goes into the report, what it will hold, where it goes, and what was written.

use std::path::Path;
use std::sync::Arc;

use egui::{CentralPanel, Panel, ProgressBar, RichText, ScrollArea, TextEdit, Ui};

use crate::gui::dialogs::FolderDialog;
use crate::gui::theme::{heading, problem, quiet};
use crate::gui::view::{View, verb_button};
use crate::workbench::action::{Action, Verb};
use crate::workbench::job::Wake;
use crate::workbench::report_files::{FilesWanted, REPORT_FILE, WrittenFile, WrittenReport};
use crate::workbench::session_report::ReportAction;
use crate::workbench::workbench::Workbench;

use super::lengths::guard_ui;
use super::report_contents::contents_ui;
use super::report_options::{DateField, options_ui};

/// What the Report desk remembers for itself.
#[derive(Default)]
pub struct ReportView {
    dialog: FolderDialog,
    pub(super) date: DateField,
}

/// Draws the desk.
pub fn report_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    if !workbench.may_show_lengths() {
        guard_ui(ui, actions);
        return;
    }
    let view = &mut view.report;
    if let Some(folder) = view.dialog.poll() {
        actions.push(Action::Report(ReportAction::Into(Some(folder))));
    }
    Panel::left("report options").default_size(420.0).size_range(340.0..=560.0).show(ui, |ui| {
        // What is written, where, and the button stay in sight however low the window is.
        let frame = egui::Frame::new().inner_margin(egui::Margin::symmetric(0, 4));
        Panel::bottom("report files")
            .frame(frame)
            .show(ui, |ui| where_ui(ui, workbench, view, actions));
        CentralPanel::no_frame().show(ui, |ui| {
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                options_ui(ui, workbench, view, actions);
            });
        });
    });
    let margin = egui::Frame::new().inner_margin(egui::Margin::symmetric(14, 2));
    CentralPanel::default().frame(margin).show(ui, |ui| {
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            if let Some(written) = workbench.report_desk().written() {
                written_ui(ui, written, actions);
                ui.separator();
            }
            contents_ui(ui, workbench);
        });
    });
}

/// Where the files go, which are wanted, and the button that writes them.
fn where_ui(ui: &mut Ui, workbench: &Workbench, view: &mut ReportView, actions: &mut Vec<Action>) {
    let desk = workbench.report_desk();
    ui.add_space(2.0);
    ui.label(heading("Files"));
    ui.horizontal(|ui| {
        let label = ui.label("Folder");
        let folder = workbench.report_folder();
        let mut text = folder.map_or_else(String::new, |folder| folder.display().to_string());
        let field = TextEdit::singleline(&mut text).desired_width(f32::INFINITY);
        if ui.add(field).labelled_by(label.id).changed() {
            let folder = Some(text.trim()).filter(|text| !text.is_empty()).map(Into::into);
            actions.push(Action::Report(ReportAction::Into(folder)));
        }
    });
    ui.horizontal(|ui| {
        if ui.button("Choose folder").clicked() {
            let context = ui.ctx().clone();
            let wake: Wake = Arc::new(move || context.request_repaint());
            view.dialog.open(&wake, "Choose the folder for the report");
        }
        let is_chosen = desk.folder().is_some();
        let usual = ui.add_enabled(is_chosen, egui::Button::new("Results of the survey"));
        if usual.on_hover_text("Back to the folder results in the survey").clicked() {
            actions.push(Action::Report(ReportAction::Into(None)));
        }
    });
    let mut wanted = desk.wanted();
    let together = "All tables and the dictionary of their columns in one file";
    let boxes: [[(&str, &str, &mut bool); 2]; 2] = [
        [
            (
                "Report, one HTML file",
                "Needs no network; print it to PDF from a browser",
                &mut wanted.page,
            ),
            (
                "Data as CSV",
                "One file for each table, with a dictionary of the columns",
                &mut wanted.csv,
            ),
        ],
        [
            ("Data as a workbook (XLSX)", together, &mut wanted.workbook),
            ("Data as JSON", together, &mut wanted.json),
        ],
    ];
    egui::Grid::new("files wanted").num_columns(2).show(ui, |ui| {
        for row in boxes {
            for (words, tooltip, is_wanted) in row {
                ui.checkbox(is_wanted, words).on_hover_text(tooltip);
            }
            ui.end_row();
        }
    });
    if wanted != desk.wanted() {
        actions.push(Action::Report(ReportAction::Want(wanted)));
    }
    ui.add_space(2.0);
    write_ui(ui, workbench, wanted, actions);
    ui.add_space(4.0);
}

fn write_ui(ui: &mut Ui, workbench: &Workbench, wanted: FilesWanted, actions: &mut Vec<Action>) {
    if let Some(progress) = workbench.report_desk().writing() {
        ui.horizontal(|ui| {
            ui.add(ProgressBar::new(progress.fraction()).desired_width(200.0));
            let (done, of) = progress.counts();
            ui.label(if of > 0 { format!("{done} of {of}") } else { "writing".to_owned() });
            verb_button(ui, Verb::CancelJob, true, actions);
        });
        return;
    }
    let words = if wanted.page { "Write the report" } else { "Write the data" };
    let button = egui::Button::new(RichText::new(words).size(15.0).strong())
        .min_size(egui::vec2(180.0, 30.0));
    let is_something = wanted.is_something();
    let button = ui.horizontal(|ui| ui.add_enabled(is_something, button)).inner;
    let button = button.on_hover_text("Files of the same names are replaced");
    if button.on_disabled_hover_text("Choose at least one file").clicked() {
        actions.push(Action::Report(ReportAction::Write));
    }
}

/// Where each file is, how large, and its fingerprint.
fn written_ui(ui: &mut Ui, written: &WrittenReport, actions: &mut Vec<Action>) {
    let is_dark = ui.visuals().dark_mode;
    ui.label(heading("Written"));
    if let Some(folder) = written.files.first().and_then(|file| file.path.parent()) {
        let whole = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
        let path = whole.display().to_string();
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(&path).color(quiet(is_dark)));
            if ui.small_button("Copy path").clicked() {
                ui.ctx().copy_text(path.clone());
            }
        });
    }
    let grid = egui::Grid::new("written files").striped(true).num_columns(4);
    grid.spacing([18.0, 4.0]).show(ui, |ui| {
        for file in &written.files {
            file_ui(ui, file, actions);
            ui.end_row();
        }
    });
    let hint = "The fingerprint (BLAKE3) is that of the file's bytes: the same survey, settings and program give the same one.";
    ui.label(RichText::new(hint).small().color(quiet(is_dark)));
    if !written.faults.is_empty() {
        let n = written.faults.len();
        let words = format!(
            "Faults in the files of the survey: {n}. What they concern is left out; they stand at the foot of this list."
        );
        ui.label(RichText::new(words).color(problem(is_dark)));
    }
}

fn file_ui(ui: &mut Ui, file: &WrittenFile, actions: &mut Vec<Action>) {
    let name = name_of(&file.path);
    ui.label(&name);
    ui.label(size_in_words(file.fingerprint.length()));
    let hash = file.fingerprint.blake3_hex();
    let short = format!("{}…", hash.get(..16).unwrap_or(&hash));
    ui.label(RichText::new(short).monospace()).on_hover_text(&hash);
    let can_view = name == REPORT_FILE || name.ends_with(".xlsx");
    if can_view {
        let words = if name == REPORT_FILE { "Open the report" } else { "Open the workbook" };
        let button = ui.button(words).on_hover_text("Open it in the system's own viewer");
        if button.clicked() {
            actions.push(Action::Report(ReportAction::View(file.path.clone())));
        }
    }
}

fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// Bytes as people say them, in steps of 1000.
fn size_in_words(bytes: u64) -> String {
    match bytes {
        0..1000 => format!("{bytes} bytes"),
        1000..1_000_000 => format!("{:.0} kB", bytes as f64 / 1e3),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}
