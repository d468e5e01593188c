//! Taking in a sheet: which file, what its columns mean, what is wrong with it, and the button that takes it in.

use std::path::PathBuf;
use std::sync::Arc;

use egui::{Button, CentralPanel, ComboBox, DragValue, Panel, RichText, ScrollArea, TextEdit, Ui};

use crate::gui::dialogs::FolderDialog;
use crate::gui::theme::{heading, problem, quiet};
use crate::gui::view::View;
use crate::workbench::action::Action;
use crate::workbench::job::Wake;
use crate::workbench::session_import::{ImportAction, LookFor};
use crate::workbench::sheet_check::SheetCheck;
use crate::workbench::sheet_import::SheetImport;
use crate::workbench::sheet_meaning::SheetKind;
use crate::workbench::sheet_radii::RadiiUnit;
use crate::workbench::workbench::Workbench;

use super::import_findings::findings_ui;
use super::import_matching::{matching_ui, preview_ui};

/// What is typed while a sheet is taken in.
#[derive(Default)]
pub struct ImportView {
    path: String,
    dialog: FolderDialog,
    /// Where radii go, once a person has written another place.
    radii_path: Option<String>,
}

/// Draws the screen.
pub fn import_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    let view = &mut view.import;
    if let Some(path) = view.dialog.poll() {
        actions.push(look(path));
    }
    let Some(import) = workbench.import().import() else {
        choose_ui(ui, workbench, view, actions);
        return;
    };
    Panel::top("sheet taken in").show(ui, |ui| head_ui(ui, workbench, import, view, actions));
    Panel::right("findings on the sheet").default_size(400.0).size_range(280.0..=560.0).show(
        ui,
        |ui| {
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                findings_ui(ui, workbench, import, actions);
            });
        },
    );
    CentralPanel::default().show(ui, |ui| {
        Panel::bottom("first rows of the sheet")
            .default_size(240.0)
            .size_range(120.0..=420.0)
            .frame(egui::Frame::new().inner_margin(egui::Margin { top: 4, ..egui::Margin::ZERO }))
            .show(ui, |ui| preview_ui(ui, import));
        CentralPanel::no_frame().show(ui, |ui| {
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                matching_ui(ui, import, actions);
            });
        });
    });
}

fn act(action: ImportAction) -> Action {
    Action::Import(action)
}

fn look(path: PathBuf) -> Action {
    act(ImportAction::Look(path, LookFor::OpenSurvey))
}

/// No sheet yet: a path, the system's dialog, or the survey's own.
fn choose_ui(ui: &mut Ui, workbench: &Workbench, view: &mut ImportView, actions: &mut Vec<Action>) {
    let colour = quiet(ui.visuals().dark_mode);
    ui.vertical_centered(|ui| {
        ui.add_space(ui.available_height() * 0.25);
        if workbench.import().is_working() {
            ui.label(RichText::new("Reading the sheet").size(20.0));
            return;
        }
        ui.label(RichText::new("Take in a sheet").size(22.0));
        let words = "A CSV file or an XLSX workbook, with any headings. It may also be dropped here. The sheet itself is never changed.";
        ui.label(RichText::new(words).color(colour));
        ui.add_space(12.0);
        ui.scope(|ui| {
            ui.set_max_width(520.0);
            ui.horizontal(|ui| {
                let label = ui.label("Sheet");
                let field = TextEdit::singleline(&mut view.path).desired_width(380.0);
                ui.add(field).labelled_by(label.id);
                let typed = view.path.trim();
                if ui.add_enabled(!typed.is_empty(), Button::new("Look at it")).clicked() {
                    actions.push(look(typed.into()));
                }
            });
        });
        ui.add_space(4.0);
        if ui.button("Choose a file").clicked() {
            let context = ui.ctx().clone();
            let wake: Wake = Arc::new(move || context.request_repaint());
            view.dialog.open_file(&wake, "Choose a field sheet");
        }
        if let Some(own) = workbench.own_sheet() {
            ui.add_space(2.0);
            let button = ui.button("Match this survey's own sheet");
            if button.on_hover_text(own.display().to_string()).clicked() {
                actions.push(look(own));
            }
        }
        ui.add_space(2.0);
        if ui.button("Leave it").clicked() {
            actions.push(act(ImportAction::Leave));
        }
    });
}

fn head_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    import: &SheetImport,
    view: &mut ImportView,
    actions: &mut Vec<Action>,
) {
    let is_dark = ui.visuals().dark_mode;
    ui.add_space(2.0);
    ui.horizontal_wrapped(|ui| {
        ui.label(heading(&import.sheet.name)).on_hover_text(import.path.display().to_string());
        sheets_ui(ui, import, actions);
        for kind in SheetKind::ALL {
            if ui.add(Button::selectable(import.kind == kind, kind.words())).clicked() {
                actions.push(act(ImportAction::Kind(kind)));
            }
        }
        if workbench.import().is_working() {
            ui.spinner();
        }
    });
    match import.kind {
        SheetKind::Field => {
            let into = match workbench.import_folder() {
                Some(folder) => format!(
                    "Goes into the open survey ({}). The field sheet there now is kept under another name.",
                    folder.display()
                ),
                None => "Goes into a new survey, which you name next.".to_owned(),
            };
            ui.label(RichText::new(into).color(quiet(is_dark)));
            species_ui(ui, import, actions);
        }
        SheetKind::Radii => radii_ui(ui, import, view, actions),
    }
    take_ui(ui, workbench, import, view, actions);
    ui.add_space(2.0);
}

/// The sheets of a workbook.
fn sheets_ui(ui: &mut Ui, import: &SheetImport, actions: &mut Vec<Action>) {
    if import.sheet.sheets.len() < 2 {
        return;
    }
    let combo = ComboBox::from_id_salt("sheet of the workbook").selected_text("Another sheet");
    let combo = combo.show_ui(ui, |ui| {
        for sheet in &import.sheet.sheets {
            if ui.selectable_label(false, sheet).clicked() {
                actions.push(act(ImportAction::TurnTo(sheet.clone())));
            }
        }
    });
    combo.response.widget_info(|| {
        egui::WidgetInfo::labeled(egui::Role::ComboBox, true, "Sheet of the workbook")
    });
}

fn species_ui(ui: &mut Ui, import: &SheetImport, actions: &mut Vec<Action>) {
    if import.column_of("species").is_some() {
        return;
    }
    ui.horizontal(|ui| {
        let label = ui.label("Species of all fish");
        let mut species = import.survey.species.clone();
        let field = TextEdit::singleline(&mut species).desired_width(220.0);
        if ui.add(field).labelled_by(label.id).changed() {
            actions.push(act(ImportAction::Species(species)));
        }
    });
}

/// Unit and magnification of old radii, and the file they go to.
fn radii_ui(ui: &mut Ui, import: &SheetImport, view: &mut ImportView, actions: &mut Vec<Action>) {
    let mut scale = import.scale;
    ui.horizontal_wrapped(|ui| {
        ui.label("Radii in");
        for unit in RadiiUnit::ALL {
            if ui.add(Button::selectable(scale.unit == unit, unit.word())).clicked() {
                scale.unit = unit;
            }
        }
        let label = ui.label("Magnification");
        let field = DragValue::new(&mut scale.magnification).range(0.001..=10_000.0).speed(0.1);
        ui.add(field)
            .on_hover_text("How many times larger than the structure the projected picture was, as written on the old sheet")
            .labelled_by(label.id);
    });
    if scale != import.scale {
        actions.push(act(ImportAction::Scale(scale)));
    }
    ui.horizontal(|ui| {
        let label = ui.label("Written to");
        let mut path = radii_path(import, view);
        let field = TextEdit::singleline(&mut path).desired_width(f32::INFINITY);
        if ui.add(field).labelled_by(label.id).changed() {
            view.radii_path = Some(path);
        }
    });
}

fn radii_path(import: &SheetImport, view: &ImportView) -> String {
    let usual = || {
        let stem = import.path.file_stem().unwrap_or_default().to_string_lossy();
        import.path.with_file_name(format!("{stem}-radii.csv")).display().to_string()
    };
    view.radii_path.clone().unwrap_or_else(usual)
}

fn take_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    import: &SheetImport,
    view: &ImportView,
    actions: &mut Vec<Action>,
) {
    let desk = workbench.import();
    let may = desk.check().is_some_and(SheetCheck::may_be_taken) && !desk.is_working();
    let (words, action) = match import.kind {
        SheetKind::Field => ("Take it in", ImportAction::Take),
        SheetKind::Radii => {
            ("Write the radii", ImportAction::TakeRadii(radii_path(import, view).trim().into()))
        }
    };
    ui.horizontal_wrapped(|ui| {
        let button = Button::new(RichText::new(words).size(15.0).strong());
        if ui.add_enabled(may, button.min_size(egui::vec2(130.0, 28.0))).clicked() {
            actions.push(act(action));
        }
        if ui.button("Leave it").on_hover_text("Nothing is written").clicked() {
            actions.push(act(ImportAction::Leave));
        }
        let Some(check) = desk.check() else { return };
        let is_dark = ui.visuals().dark_mode;
        if let Some(blocking) = check.blocking.first() {
            let first = format!("First: {blocking}");
            ui.label(RichText::new(first).color(problem(is_dark)));
        } else if check.n_good == 0 {
            let words = "No row can be used yet: see what is likely wrong on the right";
            ui.label(RichText::new(words).color(problem(is_dark)));
        } else {
            let faulty = match check.n_faulty {
                0 => String::new(),
                n => format!("; {n} with errors stay out of the analyses until they are corrected"),
            };
            let words = format!("{} rows can be used{faulty}", check.n_good);
            ui.label(RichText::new(words).color(quiet(is_dark)));
        }
    });
}
