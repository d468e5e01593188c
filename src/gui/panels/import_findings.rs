//! What a sheet is offered and warned of before anything is taken: likely mistakes with a button each, then errors by row.

use egui::{RichText, Ui};

use crate::gui::theme::{heading, problem, quiet};
use crate::store::problem::Problem;
use crate::workbench::action::Action;
use crate::workbench::notices::sentence;
use crate::workbench::session_import::ImportAction;
use crate::workbench::sheet_check::SheetCheck;
use crate::workbench::sheet_import::SheetImport;
use crate::workbench::sheet_offers::Offer;
use crate::workbench::workbench::Workbench;

/// Problems shown; a sheet read with the wrong meanings has one in every row.
const MOST_SHOWN: usize = 60;

/// Draws them.
pub(super) fn findings_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    import: &SheetImport,
    actions: &mut Vec<Action>,
) {
    ui.add_space(4.0);
    ui.label(heading("Before it is taken"));
    let Some(check) = workbench.import().check() else {
        ui.label("The sheet is being looked through");
        return;
    };
    let is_dark = ui.visuals().dark_mode;
    for blocking in &check.blocking {
        ui.label(RichText::new(sentence(blocking)).color(problem(is_dark)));
    }
    for remark in &check.remarks {
        ui.label(RichText::new(sentence(remark)).color(quiet(is_dark)));
    }
    ui.add_space(4.0);
    if !check.offers.is_empty() {
        ui.label(heading("Likely mistakes"));
        for offer in &check.offers {
            offer_ui(ui, offer, actions);
        }
    }
    changes_ui(ui, import, actions);
    problems_ui(ui, check);
}

fn offer_ui(ui: &mut Ui, offer: &Offer, actions: &mut Vec<Action>) {
    ui.label(sentence(&offer.words));
    ui.horizontal_wrapped(|ui| {
        for (words, fix) in &offer.choices {
            if ui.button(words).clicked() {
                actions.push(Action::Import(ImportAction::Fix(fix.clone())));
            }
        }
    });
    ui.add_space(4.0);
}

/// Cells taken otherwise than they stand, by column, and the way back.
fn changes_ui(ui: &mut Ui, import: &SheetImport, actions: &mut Vec<Action>) {
    if import.changes.is_empty() {
        return;
    }
    ui.label(heading("Taken otherwise than it stands"));
    for (column, name) in import.sheet.headings.iter().enumerate() {
        let n = import.changes.keys().filter(|(_, of)| *of == column).count();
        if n == 0 {
            continue;
        }
        ui.horizontal_wrapped(|ui| {
            ui.label(format!("{n} cells under '{name}'; each row gets a note of it"));
            if ui.small_button(format!("Take {name} as it stands")).clicked() {
                actions.push(Action::Import(ImportAction::TakeBack(column)));
            }
        });
    }
    ui.add_space(4.0);
}

fn problems_ui(ui: &mut Ui, check: &SheetCheck) {
    let is_dark = ui.visuals().dark_mode;
    let n_errors = check.problems.iter().filter(|one| one.is_error()).count();
    let n_warnings = check.problems.len() - n_errors;
    ui.label(heading(&format!("Errors: {n_errors}, warnings: {n_warnings}")));
    let in_order = check.problems.iter().filter(|one| one.is_error());
    let in_order = in_order.chain(check.problems.iter().filter(|one| !one.is_error()));
    for one in in_order.take(MOST_SHOWN) {
        let words = RichText::new(in_words(one));
        ui.label(if one.is_error() { words.color(problem(is_dark)) } else { words });
    }
    if check.problems.len() > MOST_SHOWN {
        let more = check.problems.len() - MOST_SHOWN;
        ui.label(RichText::new(format!("and {more} more")).color(quiet(is_dark)));
    }
}

/// Row and column first; the file is the one on show.
fn in_words(one: &Problem) -> String {
    let place = match (one.row, &one.column) {
        (Some(row), Some(column)) => format!("Row {row}, {column}: "),
        (Some(row), None) => format!("Row {row}: "),
        (None, Some(column)) => format!("{column}: "),
        (None, None) => String::new(),
    };
    format!("{place}{}", one.message)
}
