//! What taking a sheet in would give, and everything wrong with it, before anything is written.

use crate::domain::dates::typed_before;
use crate::store::field_sheet::field_sheet_from;
use crate::store::problem::Problem;
use crate::store::raw_sheet::CellKind;

use super::sheet_import::SheetImport;
use super::sheet_meaning::{SheetKind, meaning_words};
use super::sheet_offers::{Offer, offers};
use super::sheet_radii::radii_draft;
use super::sheet_taking::added_scans;

/// A sheet looked through.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SheetCheck {
    /// Rows that can be used as they are.
    pub n_good: usize,
    /// Rows that cannot.
    pub n_faulty: usize,
    /// Errors and warnings, those of rows in their order.
    pub problems: Vec<Problem>,
    /// What must be settled before the sheet can be taken in.
    pub blocking: Vec<String>,
    /// Likely mistakes with what can be done about them.
    pub offers: Vec<Offer>,
    /// What will be added or left out.
    pub remarks: Vec<String>,
}

impl SheetCheck {
    /// True where the sheet can be taken in.
    pub fn may_be_taken(&self) -> bool {
        self.blocking.is_empty() && self.n_good > 0
    }

    /// True where nobody need look: nothing is wrong and nothing is offered.
    pub fn is_clean(&self) -> bool {
        self.may_be_taken()
            && self.offers.is_empty()
            && !self.problems.iter().any(Problem::is_error)
    }
}

/// Looks a sheet through.
pub fn check_sheet(import: &SheetImport) -> SheetCheck {
    match import.kind {
        SheetKind::Field => check_field_sheet(import),
        SheetKind::Radii => check_radii(import),
    }
}

fn check_field_sheet(import: &SheetImport) -> SheetCheck {
    let survey = import.prepared_survey();
    let mut blocking = missing_meanings(import);
    let read = field_sheet_from(import.table(), &survey);
    let all: Vec<_> = read.fish.iter().chain(&read.faulty_fish).cloned().collect();
    let mut problems: Vec<Problem> = Vec::new();
    for problem in read.problems {
        let is_of_headings = problem.row == Some(1);
        if is_of_headings && problem.message.starts_with("expected a column") {
            continue;
        }
        if is_of_headings && problem.is_error() {
            blocking.push(problem.message);
        } else {
            problems.push(problem);
        }
    }
    problems.extend(days_in_other_columns(import));
    problems.sort_by_key(|problem| (problem.row, !problem.is_error()));
    let added = added_scans(import);
    let mut remarks = Vec::new();
    if let Some(scans) = &added {
        let n = scans.iter().filter(|own| !own.is_empty()).count();
        remarks.push(format!(
            "no column names scans: {n} of {} fish get theirs from the present sheet or by file name",
            scans.len()
        ));
    }
    let left_out = import.meanings.iter().filter(|meaning| meaning.is_none()).count();
    if left_out > 0 {
        remarks.push(format!("{left_out} columns are kept in the file and not read"));
    }
    SheetCheck {
        n_good: read.fish.len(),
        n_faulty: read.faulty_fish.len(),
        offers: offers(import, &all, &survey),
        problems,
        blocking,
        remarks,
    }
}

fn missing_meanings(import: &SheetImport) -> Vec<String> {
    let has = |any: &[&str]| any.iter().any(|meaning| import.column_of(meaning).is_some());
    let mut missing = Vec::new();
    let mut need = |any: &[&str], what: &str| {
        if !has(any) {
            missing.push(format!("say which column holds {what}"));
        }
    };
    need(&["fish"], "the fish or envelope number");
    need(&["capture_date"], "the day of capture");
    need(&["length", "length_mm", "length_cm", "length_in"], "the length");
    if !has(&["species"]) && import.survey.species.trim().is_empty() {
        missing.push("say which column holds the species, or write it below".to_owned());
    }
    missing
}

/// Days a spreadsheet keeps where no day is meant, apart from fish numbers, which are offered one by one.
fn days_in_other_columns(import: &SheetImport) -> Vec<Problem> {
    let mut found = Vec::new();
    for (column, meaning) in import.meanings.iter().enumerate() {
        let Some(meaning) = meaning.as_deref() else { continue };
        if matches!(meaning, "capture_date" | "fish" | "note") {
            continue;
        }
        for (place, row) in import.sheet.rows.iter().enumerate() {
            let is_day = row.cells.get(column).is_some_and(|cell| cell.kind == CellKind::Date);
            if is_day && !import.changes.contains_key(&(place, column)) {
                let stands = import.text(place, column);
                let before = typed_before(stands).join(" or ");
                let message = format!(
                    "the spreadsheet keeps a day here ({stands}) where {} is meant; what was typed may have been {before}: \
                     correct the sheet and set the column to text",
                    meaning_words(meaning).to_lowercase()
                );
                let heading = import.sheet.headings.get(column).cloned().unwrap_or_default();
                let problem = Problem::error(&import.sheet.name, message);
                found.push(problem.at_row(row.number).in_column(heading));
            }
        }
    }
    found
}

fn check_radii(import: &SheetImport) -> SheetCheck {
    let draft = radii_draft(import);
    let problem = |(row, column, message): &(usize, String, String)| {
        let problem = Problem::error(&import.sheet.name, message).at_row(*row);
        if column.is_empty() { problem } else { problem.in_column(column.clone()) }
    };
    let mut problems = import.sheet.problems.clone();
    problems.extend(draft.faults.iter().map(problem));
    problems.extend(draft.caution.map(|caution| Problem::warning(&import.sheet.name, caution)));
    let faulty: std::collections::BTreeSet<usize> =
        draft.faults.iter().map(|(row, ..)| *row).collect();
    let mut offers = Vec::new();
    if import.column_of("fish").is_some() {
        offers = super::sheet_offers::number_offers(import);
    }
    SheetCheck {
        n_good: draft.n_rows,
        n_faulty: faulty.len(),
        problems,
        blocking: draft.blocking.into_iter().collect(),
        offers,
        remarks: vec![format!("radii are read as {}", import.scale.words())],
    }
}
