//! Each heading of a sheet beside what it is taken to mean, and the first rows as they will be taken.

use egui::{ComboBox, Grid, RichText, ScrollArea, Ui};

use crate::gui::theme::{heading, problem, quiet};
use crate::workbench::action::Action;
use crate::workbench::session_import::ImportAction;
use crate::workbench::sheet_import::SheetImport;
use crate::workbench::sheet_meaning::meaning_words;

/// Rows shown.
const FIRST_ROWS: usize = 8;

/// Rows searched for them: this is drawn every frame.
const SEARCHED: usize = 200;

/// Values shown beside a heading.
const EXAMPLES: usize = 3;

/// Draws the matching.
pub(super) fn matching_ui(ui: &mut Ui, import: &SheetImport, actions: &mut Vec<Action>) {
    ui.label(heading("What each column means"));
    let meanings = import.kind.meanings();
    let grid = Grid::new("matching").striped(true).num_columns(3);
    grid.spacing([18.0, 5.0]).min_col_width(110.0).show(ui, |ui| {
        for words in ["Heading in the file", "Meaning", "First values"] {
            ui.label(RichText::new(words).strong());
        }
        ui.end_row();
        for (column, name) in import.sheet.headings.iter().enumerate() {
            ui.label(shortened(name, 34)).on_hover_text(name);
            meaning_ui(ui, import, (column, name), &meanings, actions);
            let values: Vec<&str> = (0..import.sheet.rows.len().min(SEARCHED))
                .map(|row| import.text(row, column))
                .filter(|text| !text.is_empty())
                .take(EXAMPLES)
                .collect();
            let shown = shortened(&values.join("  |  "), 44);
            ui.label(RichText::new(shown).color(quiet(ui.visuals().dark_mode)));
            ui.end_row();
        }
    });
}

fn meaning_ui(
    ui: &mut Ui,
    import: &SheetImport,
    (column, name): (usize, &str),
    meanings: &[String],
    actions: &mut Vec<Action>,
) {
    let now = import.meanings.get(column).and_then(Option::as_deref);
    let shown = now.map_or_else(|| "leave out".to_owned(), meaning_words);
    let text = RichText::new(&shown);
    let is_out = now.is_none();
    let text = if is_out { text.color(quiet(ui.visuals().dark_mode)) } else { text };
    let combo = ComboBox::from_id_salt(("meaning", column)).selected_text(text).width(215.0);
    let combo = combo.show_ui(ui, |ui| {
        if ui.selectable_label(is_out, "leave out").clicked() {
            actions.push(Action::Import(ImportAction::Mean(column, None)));
        }
        for meaning in meanings {
            let is_chosen = now == Some(meaning.as_str());
            if ui.selectable_label(is_chosen, meaning_words(meaning)).clicked() {
                let action = ImportAction::Mean(column, Some(meaning.clone()));
                actions.push(Action::Import(action));
            }
        }
    });
    let words = format!("Meaning of {name}: {shown}");
    combo.response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, &words));
}

/// Draws the first rows as they will be taken; changed cells stand out.
pub(super) fn preview_ui(ui: &mut Ui, import: &SheetImport) {
    let is_dark = ui.visuals().dark_mode;
    ui.add_space(2.0);
    ui.label(heading("First rows as they will be taken"));
    ScrollArea::both().auto_shrink([false, false]).show(ui, |ui| {
        let columns = import.sheet.headings.len() + 1;
        let grid = Grid::new("first rows").striped(true).num_columns(columns);
        grid.spacing([18.0, 5.0]).show(ui, |ui| {
            ui.label(RichText::new("Row").color(quiet(is_dark)));
            for (name, meaning) in import.sheet.headings.iter().zip(&import.meanings) {
                let meaning = meaning.as_deref().map(meaning_words);
                let words = meaning.clone().unwrap_or_else(|| shortened(name, 20));
                let words = RichText::new(words);
                ui.label(if meaning.is_some() {
                    words.strong()
                } else {
                    words.color(quiet(is_dark))
                });
            }
            ui.end_row();
            for (place, row) in import.sheet.rows.iter().enumerate().take(FIRST_ROWS) {
                ui.label(RichText::new(row.number.to_string()).color(quiet(is_dark)));
                for column in 0..import.sheet.headings.len() {
                    let text = shortened(import.text(place, column), 24);
                    let is_out = import.meanings.get(column).is_none_or(Option::is_none);
                    let words = RichText::new(text);
                    match import.changes.get(&(place, column)) {
                        Some(change) => {
                            let words = words.color(problem(is_dark)).strong();
                            ui.label(words).on_hover_text(&change.why);
                        }
                        None if is_out => _ = ui.label(words.color(quiet(is_dark))),
                        None => _ = ui.label(words),
                    }
                }
                ui.end_row();
            }
        });
    });
}

/// A text that cannot push the rest off the screen.
fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most).chain(['…']).collect()
}
