//! What is dropped on the window: a survey, a scan of one, or pictures and a field sheet for a new one.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::{ComboBox, Context, TextEdit, Ui, Window, vec2};

use crate::domain::reading::Structure;
use crate::store::field_sheet::FIELD_SHEET;
use crate::workbench::action::Action;
use crate::workbench::session_import::{ImportAction, LookFor};
use crate::workbench::sheet_taking::PreparedSheet;
use crate::workbench::start_survey::{NewSurvey, is_picture, survey_of};
use crate::workbench::workbench::Workbench;

use super::view::View;

/// A survey about to be started from what was dropped.
#[derive(Debug, Default)]
pub struct Starting {
    /// The window is open.
    pub is_shown: bool,
    new: NewSurvey,
    folder: String,
    /// Start was asked for while the sheet was still being matched.
    wants_start: bool,
    /// The sheet that was handed over last.
    seen: Option<Arc<PreparedSheet>>,
}

/// Takes in what was dropped in this frame.
pub fn take_dropped(
    context: &Context,
    workbench: &Workbench,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let dropped: Vec<PathBuf> = context
        .input(|input| input.raw.dropped_files.iter().map(|file| file.path().to_owned()).collect());
    let Some(first) = dropped.first() else { return };
    if first.is_dir() {
        actions.push(Action::Open(first.clone()));
        return;
    }
    if is_other_sheet(first, workbench) {
        actions.push(Action::Import(ImportAction::Look(first.clone(), LookFor::OpenSurvey)));
        return;
    }
    if let Some(folder) = survey_of(first) {
        let scan = first.file_name().map(|name| name.to_string_lossy().into_owned());
        actions.push(match scan.filter(|_| is_picture(first)) {
            Some(scan) => Action::OpenScan(folder, scan),
            None => Action::Open(folder),
        });
        return;
    }
    let pictures: Vec<PathBuf> = dropped.iter().filter(|path| is_picture(path)).cloned().collect();
    let sheet = dropped.iter().find(|path| is_table(path)).cloned();
    if pictures.is_empty() && sheet.is_none() {
        // Opening the folder it lies in says what is wrong with it.
        actions.extend(first.parent().map(|folder| Action::Open(folder.to_owned())));
        return;
    }
    let starting = &mut view.starting;
    // More of them may be dropped while the window is open: a sheet after the pictures.
    if !starting.is_shown {
        *starting = Starting { seen: starting.seen.take(), ..Starting::default() };
        let beside = first.parent().map(|folder| folder.join("new-survey"));
        starting.folder = beside.unwrap_or_default().display().to_string();
        starting.is_shown = true;
    }
    for picture in pictures {
        if !starting.new.pictures.contains(&picture) {
            starting.new.pictures.push(picture);
        }
    }
    if let Some(sheet) = sheet {
        starting.new.prepared = None;
        starting.new.sheet = Some(sheet.clone());
        let names = starting.new.pictures.iter().filter_map(|path| path.file_name());
        let names = names.map(|name| name.to_string_lossy().into_owned()).collect();
        actions.push(Action::Import(ImportAction::Look(sheet, LookFor::NewSurvey(names))));
    }
}

fn is_table(path: &Path) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| ending == "csv" || ending == "xlsx")
}

/// True for a sheet that is to go into the open survey: one from elsewhere, or one that lies beside its own.
fn is_other_sheet(path: &Path, workbench: &Workbench) -> bool {
    let Some(open) = workbench.folder().filter(|_| is_table(path)) else { return false };
    let is_own = path.file_name().is_some_and(|name| name == FIELD_SHEET);
    match survey_of(path) {
        None => true,
        Some(folder) => folder == open && !is_own,
    }
}

/// Takes over a sheet that has been matched for a new survey.
fn take_prepared(workbench: &Workbench, starting: &mut Starting) {
    let Some(ready) = workbench.import().ready() else { return };
    if starting.seen.as_ref().is_some_and(|seen| Arc::ptr_eq(seen, ready)) {
        return;
    }
    starting.seen = Some(Arc::clone(ready));
    starting.new.prepared = Some(Arc::clone(ready));
    starting.is_shown = true;
}

/// The window that offers to start a survey.
pub fn starting_ui(
    context: &Context,
    workbench: &Workbench,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    take_prepared(workbench, &mut view.starting);
    // A sheet that needs a person's eye comes first.
    let is_matching = workbench.import().has_sheet();
    let is_on_show = workbench.import().is_shown() && workbench.import().check().is_some();
    if !view.starting.is_shown || is_on_show {
        return;
    }
    let mut is_open = true;
    Window::new("Start a survey")
        .open(&mut is_open)
        .collapsible(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .show(context, |ui| {
            ui.set_width(400.0);
            let starting = &mut view.starting;
            ui.label(contents(&starting.new));
            for (words, text) in [
                ("Name of the survey", &mut starting.new.name),
                ("Water", &mut starting.new.water),
                ("New folder", &mut starting.folder),
            ] {
                field_ui(ui, words, text);
            }
            structure_ui(ui, &mut starting.new.structure);
            ui.horizontal(|ui| {
                let is_ready =
                    !starting.new.name.trim().is_empty() && !starting.folder.trim().is_empty();
                if ui.add_enabled(is_ready, egui::Button::new("Start the survey")).clicked() {
                    starting.wants_start = true;
                }
                let is_sheet_ready = starting.new.prepared.is_some() || !is_matching;
                if is_ready && starting.wants_start && is_sheet_ready {
                    let mut new = starting.new.clone();
                    new.folder = starting.folder.trim().into();
                    new.reader = workbench.reader().cloned();
                    actions.push(Action::StartSurvey(Box::new(new)));
                    starting.is_shown = false;
                    starting.wants_start = false;
                }
                if ui.button("Do not start one").clicked() {
                    starting.is_shown = false;
                }
            });
        });
    view.starting.is_shown &= is_open;
}

fn contents(new: &NewSurvey) -> String {
    let n = new.pictures.len();
    let pictures = match n {
        0 => String::new(),
        1 => "1 picture".to_owned(),
        n => format!("{n} pictures"),
    };
    let sheet = match (&new.sheet, &new.prepared) {
        (None, Some(prepared)) => format!("the field sheet {}", prepared.name),
        (Some(sheet), _) => {
            let name = sheet.file_name().unwrap_or_default().to_string_lossy().into_owned();
            format!("the field sheet {name}")
        }
        (None, None) => String::new(),
    };
    let both = if n > 0 && !sheet.is_empty() { " and " } else { "" };
    format!(
        "{pictures}{both}{sheet} will be copied into a new survey; the files dropped stay as they are."
    )
}

fn field_ui(ui: &mut Ui, words: &str, text: &mut String) {
    let label = ui.label(words);
    ui.add(TextEdit::singleline(text).desired_width(f32::INFINITY)).labelled_by(label.id);
}

fn structure_ui(ui: &mut Ui, structure: &mut Structure) {
    let choice =
        ComboBox::from_label("Structure").selected_text(structure.word()).show_ui(ui, |ui| {
            for one in Structure::ALL {
                ui.selectable_value(structure, *one, one.word());
            }
        });
    choice.response.on_hover_text("What is read: scales and otoliths get proposals");
}
