//! A field sheet before anyone has said what its columns mean: cells as text with what kind of cell the spreadsheet kept.
//!
//! Nothing is judged or dropped here: which column holds dates and which names fish is not known yet.

use std::path::Path;

use calamine::Data;

use super::error::StoreError;
use super::problem::Problem;
use super::spreadsheet::{OpenedSheet, guarded, is_workbook, open_sheet, plain};
use super::table::parse_table;

/// What kind of cell a spreadsheet kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CellKind {
    /// Text, or any cell of a CSV file.
    #[default]
    Text,
    /// A number.
    Number,
    /// A day, which a spreadsheet also makes of entries such as 3-4.
    Date,
}

/// One cell.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RawCell {
    /// As a person would type it; a day as year-month-day.
    pub text: String,
    /// What the spreadsheet kept.
    pub kind: CellKind,
}

/// One row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RawRow {
    /// Row as a spreadsheet counts it.
    pub number: usize,
    /// As many cells as there are headings.
    pub cells: Vec<RawCell>,
}

/// A sheet as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RawSheet {
    /// What messages call it: the file, and the sheet where it is one.
    pub name: String,
    /// Names of the visible sheets of a workbook; empty for CSV.
    pub sheets: Vec<String>,
    /// Headings, each once: a missing one is "column 5", a second of the same name "Length (2)".
    pub headings: Vec<String>,
    /// True where a heading stands otherwise in the file: it was missing, or there twice.
    pub has_new_headings: bool,
    /// Row of the headings.
    pub heading_row: usize,
    /// Rows with anything in them.
    pub rows: Vec<RawRow>,
    /// Rows and cells that cannot be used whatever the columns mean.
    pub problems: Vec<Problem>,
}

/// Reads a sheet from a CSV file or a workbook; `sheet` names one of a workbook, else its first visible one is read.
///
/// # Errors
/// [`StoreError::Io`]; [`StoreError::BadTable`] where there is no table at all.
pub fn read_raw_sheet(path: &Path, sheet: Option<&str>) -> Result<RawSheet, StoreError> {
    let bytes = std::fs::read(path).map_err(StoreError::io("read the field sheet", path))?;
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    raw_sheet(bytes, &name, sheet)
}

/// The same from bytes.
///
/// # Errors
/// [`StoreError::BadTable`].
pub fn raw_sheet(bytes: Vec<u8>, name: &str, sheet: Option<&str>) -> Result<RawSheet, StoreError> {
    if is_workbook(&bytes, name)? {
        let read = |bytes| open_sheet(bytes, name, sheet).and_then(|opened| from_workbook(&opened));
        return guarded(bytes, name, read);
    }
    let table = parse_table(&bytes, name)?;
    let headings = told_apart(table.headings.clone());
    let cell = |text: String| RawCell { text, kind: CellKind::Text };
    let rows = table
        .rows
        .into_iter()
        .map(|row| RawRow { number: row.number, cells: row.cells.into_iter().map(cell).collect() });
    // Two headings of one name are told apart below, so they are no fault here.
    let problems = table.problems.into_iter().filter(|one| !one.message.contains("stands twice"));
    Ok(RawSheet {
        name: name.to_owned(),
        sheets: Vec::new(),
        rows: rows.collect(),
        problems: problems.collect(),
        has_new_headings: headings != table.headings,
        headings,
        heading_row: 1,
    })
}

fn from_workbook(opened: &OpenedSheet) -> Result<RawSheet, StoreError> {
    let (top, left) = opened.cells.start().unwrap_or((0, 0));
    let is_filled = |row: &[Data]| row.iter().any(|cell| !plain(cell).is_empty());
    let Some(first) = opened.cells.rows().position(is_filled) else {
        let message =
            "expected a heading row, found an empty sheet: write the names of the columns in row 1";
        return Err(StoreError::BadTable(Problem::error(&opened.name, message)));
    };
    let heading_row = top as usize + first + 1;
    let written: Vec<String> =
        opened.cells.rows().nth(first).unwrap_or_default().iter().map(plain).collect();
    let headings = told_apart(written.clone());
    let mut sheet = RawSheet {
        name: opened.name.clone(),
        sheets: opened.sheets.clone(),
        has_new_headings: headings != written,
        headings,
        heading_row,
        rows: Vec::new(),
        problems: Vec::new(),
    };
    for (row, cells) in (top..).zip(opened.cells.rows()).skip(first + 1) {
        if !is_filled(cells) {
            continue;
        }
        let mut read = RawRow { number: row as usize + 1, cells: Vec::new() };
        for ((column, cell), heading) in (left..).zip(cells).zip(&sheet.headings) {
            let fault = fault_of(cell, opened.is_formula(row, column));
            if let Some(message) = &fault {
                let problem = Problem::error(&sheet.name, message).at_row(read.number);
                sheet.problems.push(problem.in_column(heading.clone()));
            }
            read.cells.push(if fault.is_some() { RawCell::default() } else { raw_cell(cell) });
        }
        sheet.rows.push(read);
    }
    note_merged(opened, left, &mut sheet);
    Ok(sheet)
}

fn note_merged(opened: &OpenedSheet, left: u32, sheet: &mut RawSheet) {
    for [(top, first), (bottom, _)] in opened.merged() {
        // A title over the table harms nothing.
        if (bottom as usize) < sheet.heading_row {
            continue;
        }
        let heading = sheet.headings.get(first.saturating_sub(left) as usize).cloned();
        let message = "cells are merged here, and only the first holds the value: take the merge apart and fill every cell";
        let problem = Problem::error(&sheet.name, message).at_row(top as usize + 1);
        sheet.problems.push(problem.in_column(heading.unwrap_or_default()));
    }
}

fn fault_of(cell: &Data, is_formula: bool) -> Option<String> {
    match cell {
        Data::Error(error) => {
            Some(format!("the spreadsheet shows {error} here: correct the formula or write the value"))
        }
        Data::Empty if is_formula => Some(
            "a formula without a stored value stands here: open the workbook in the spreadsheet and save it".to_owned(),
        ),
        _ => None,
    }
}

fn raw_cell(cell: &Data) -> RawCell {
    let kind = match cell {
        Data::Int(_) | Data::Float(_) => CellKind::Number,
        Data::DateTime(when) if !when.is_duration() => CellKind::Date,
        Data::DateTimeIso(_) => CellKind::Date,
        _ => CellKind::Text,
    };
    RawCell { text: plain(cell), kind }
}

/// Headings of which none is empty and no two are alike, letter case apart.
fn told_apart(headings: Vec<String>) -> Vec<String> {
    let mut taken: Vec<String> = Vec::new();
    for (index, heading) in headings.into_iter().enumerate() {
        let plain = if heading.is_empty() { format!("column {}", index + 1) } else { heading };
        let is_taken = |name: &str| taken.iter().any(|one| one.eq_ignore_ascii_case(name));
        let mut name = plain.clone();
        let mut n = 2;
        while is_taken(&name) {
            name = format!("{plain} ({n})");
            n += 1;
        }
        taken.push(name);
    }
    taken
}

#[cfg(test)]
mod tests {
    use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};

    use super::*;

    #[test]
    fn kinds_of_cells_and_row_numbers_come_over() {
        let mut workbook = Workbook::new();
        let sheet = workbook.add_worksheet().set_name("Catch").unwrap();
        for (column, heading) in ["Env #", "Len", "", "len"].iter().enumerate() {
            sheet.write_string(1, column as u16, *heading).unwrap();
        }
        let day = ExcelDateTime::from_ymd(2025, 4, 3).unwrap();
        let format = Format::new().set_num_format("d-mmm");
        sheet.write_datetime_with_format(2, 0, &day, &format).unwrap();
        sheet.write_number(2, 1, 312.5).unwrap();
        sheet.write_string(4, 0, "007").unwrap();
        sheet.write_string(4, 2, "x").unwrap();
        let found = raw_sheet(workbook.save_to_buffer().unwrap(), "catch.xlsx", None).unwrap();
        assert_eq!(found.name, "catch.xlsx, sheet 'Catch'");
        assert_eq!(found.headings, ["Env #", "Len", "column 3", "len (2)"]);
        assert_eq!((found.heading_row, found.sheets.as_slice()), (2, &["Catch".to_owned()][..]));
        let numbers: Vec<usize> = found.rows.iter().map(|row| row.number).collect();
        assert_eq!(numbers, [3, 5]);
        let cell = |row: usize, column: usize| found.rows[row].cells[column].clone();
        assert_eq!(cell(0, 0), RawCell { text: "2025-04-03".into(), kind: CellKind::Date });
        assert_eq!(cell(0, 1), RawCell { text: "312.5".into(), kind: CellKind::Number });
        assert_eq!(cell(1, 0), RawCell { text: "007".into(), kind: CellKind::Text });
        assert_eq!(found.problems, []);
    }

    #[test]
    fn a_csv_sheet_is_text_and_keeps_leading_zeros() {
        let found = raw_sheet(b"Fish;Len\n007;3,4\n;\n008;310\n".to_vec(), "a.csv", None).unwrap();
        assert_eq!(found.headings, ["Fish", "Len"]);
        assert_eq!(found.rows[0].cells[0], RawCell { text: "007".into(), kind: CellKind::Text });
        assert_eq!(found.rows[1].number, 4);
    }

    #[test]
    fn no_damage_makes_it_panic() {
        let mut workbook = Workbook::new();
        workbook.add_worksheet().write_string(0, 0, "fish").unwrap();
        let good = workbook.save_to_buffer().unwrap();
        for cut in (0..good.len()).step_by(61) {
            _ = raw_sheet(good[..cut].to_vec(), "a.xlsx", None);
            let mut damaged = good.clone();
            damaged[cut] ^= 0xA5;
            _ = raw_sheet(damaged, "a.xlsx", None);
        }
    }
}
