//! Tables as spreadsheets keep them: one sheet of an XLSX workbook (Office Open XML, ECMA-376) as the text of a table,
//! row for row. Every import of the program comes through here, so that all of them take CSV and XLSX alike.
//!
//! What a spreadsheet does to a table behind a person's back is told: dates made of ages, lost leading zeros, formulas
//! without a value, merged cells.

use std::io::Cursor;
use std::path::Path;

use calamine::{Data, Reader, SheetVisible, Xlsx};

use super::error::StoreError;
use super::problem::Problem;

/// A workbook larger than this is not opened, bytes.
const LARGEST_WORKBOOK: usize = 64 << 20;

/// A table as text, whatever it was kept as.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableText {
    /// The table as RFC 4180 text; what was CSV is left as it was.
    pub bytes: Vec<u8>,
    /// What messages call it: the file, and the sheet where it is one.
    pub name: String,
    /// What the spreadsheet did to it.
    pub problems: Vec<Problem>,
}

/// Reads a file as the text of a table. `sheet` names a sheet of a workbook; otherwise its first visible one is read.
///
/// # Errors
/// [`StoreError::Io`], and as [`table_text`].
pub fn read_table_text(path: &Path, sheet: Option<&str>) -> Result<TableText, StoreError> {
    let bytes = std::fs::read(path).map_err(StoreError::io("read the table", path))?;
    table_text(bytes, &path.display().to_string(), sheet)
}

/// The text of a table from the bytes of a file called `name`.
///
/// # Errors
/// [`StoreError::BadTable`] for a workbook that cannot be read, a sheet that is not there, or a sheet named of a file
/// that has none.
pub fn table_text(
    bytes: Vec<u8>,
    name: &str,
    sheet: Option<&str>,
) -> Result<TableText, StoreError> {
    if is_workbook(&bytes, name)? {
        let read = |bytes: Vec<u8>| open_sheet(bytes, name, sheet).map(|opened| opened.text());
        return guarded(bytes, name, read);
    }
    match sheet {
        None => Ok(TableText { bytes, name: name.to_owned(), problems: Vec::new() }),
        Some(sheet) => {
            let message = format!(
                "a sheet '{sheet}' is asked for, and this file is no XLSX workbook: leave the sheet out"
            );
            Err(StoreError::BadTable(Problem::error(name, message)))
        }
    }
}

/// True where the bytes are those of a workbook that can be read, by how they begin.
pub(super) fn is_workbook(bytes: &[u8], name: &str) -> Result<bool, StoreError> {
    let refused = |message: String| StoreError::BadTable(Problem::error(name, message));
    if bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
        return Err(refused(
            "this is a workbook of the older kind: save it as XLSX or as 'CSV UTF-8'".to_owned(),
        ));
    }
    if bytes.starts_with(b"PK") && bytes.len() > LARGEST_WORKBOOK {
        let mb = bytes.len() >> 20;
        return Err(refused(format!(
            "the workbook has {mb} MB: save the one sheet as 'CSV UTF-8'"
        )));
    }
    Ok(bytes.starts_with(b"PK"))
}

/// Reads a workbook. A damaged one may make the package that reads it panic; it has nothing of ours in its hands.
pub(super) fn guarded<T>(
    bytes: Vec<u8>,
    name: &str,
    read: impl FnOnce(Vec<u8>) -> Result<T, StoreError> + std::panic::UnwindSafe,
) -> Result<T, StoreError> {
    let unreadable =
        "the workbook is damaged: open it in the spreadsheet and save it as XLSX or as 'CSV UTF-8'";
    std::panic::catch_unwind(|| read(bytes))
        .unwrap_or_else(|_| Err(StoreError::BadTable(Problem::error(name, unreadable))))
}

/// A sheet of a workbook, opened.
pub(super) struct OpenedSheet {
    /// What messages call it.
    pub name: String,
    /// Names of the visible sheets.
    pub sheets: Vec<String>,
    pub cells: calamine::Range<Data>,
    formulas: Option<calamine::Range<String>>,
    merged: Vec<calamine::Dimensions>,
}

impl OpenedSheet {
    fn text(&self) -> TableText {
        let mut text = SheetText::new(&self.name, &self.cells);
        text.write(&self.cells, |row, column| self.is_formula(row, column));
        for area in &self.merged {
            text.note_merged(area.start, area.end);
        }
        text.note_lost_zeros();
        let SheetText { bytes, problems, .. } = text;
        TableText { bytes, name: self.name.clone(), problems }
    }

    /// True where a cell holds a formula; rows and columns from 0.
    pub fn is_formula(&self, row: u32, column: u32) -> bool {
        let formula = self.formulas.as_ref().and_then(|range| range.get_value((row, column)));
        formula.is_some_and(|formula| !formula.is_empty())
    }

    /// First and last cell of each merged area, row and column from 0.
    pub fn merged(&self) -> impl Iterator<Item = [(u32, u32); 2]> {
        self.merged.iter().map(|area| [area.start, area.end])
    }
}

/// Opens one sheet of a workbook; without a name the first that is visible.
pub(super) fn open_sheet(
    bytes: Vec<u8>,
    name: &str,
    sheet: Option<&str>,
) -> Result<OpenedSheet, StoreError> {
    let refused = |message: String| StoreError::BadTable(Problem::error(name, message));
    let damaged = |error: calamine::XlsxError| {
        refused(format!(
            "the workbook cannot be read: {error}: open it in the spreadsheet and save it as XLSX or as 'CSV UTF-8'"
        ))
    };
    let mut workbook: Xlsx<_> =
        calamine::open_workbook_from_rs(Cursor::new(bytes)).map_err(damaged)?;
    let sheets: Vec<(String, bool)> = workbook
        .sheets_metadata()
        .iter()
        .map(|sheet| (sheet.name.clone(), sheet.visible == SheetVisible::Visible))
        .collect();
    let wanted = match sheet {
        Some(wanted) => sheets.iter().find(|(name, _)| name.eq_ignore_ascii_case(wanted.trim())),
        None => sheets.iter().find(|(_, is_visible)| *is_visible),
    };
    let Some((wanted, _)) = wanted else {
        let names: Vec<&str> = sheets.iter().map(|(name, _)| name.as_str()).collect();
        let asked = sheet.map_or_else(
            || "none that is visible".to_owned(),
            |sheet| format!("no sheet '{sheet}'"),
        );
        return Err(refused(format!(
            "the workbook has {asked}: its sheets are {}",
            names.join(", ")
        )));
    };
    let cells = workbook.worksheet_range(wanted).map_err(damaged)?;
    let formulas = workbook.worksheet_formula(wanted).ok();
    let merged = workbook.merge_cells_by_sheet_name(wanted).unwrap_or_default();
    let name = format!("{name}, sheet '{wanted}'");
    let sheets = sheets.into_iter().filter(|(_, is_visible)| *is_visible).map(|(name, _)| name);
    Ok(OpenedSheet { name, sheets: sheets.collect(), cells, formulas, merged })
}

/// A sheet on its way to text.
struct SheetText<'a> {
    name: &'a str,
    headings: Vec<String>,
    /// Row of the headings, from 0; rows above are blank.
    heading_row: u32,
    bytes: Vec<u8>,
    problems: Vec<Problem>,
    /// Row of the first number that stands where a fish is named, as a spreadsheet counts it.
    fish_as_number: Option<(usize, String, usize)>,
}

impl<'a> SheetText<'a> {
    fn new(name: &'a str, cells: &calamine::Range<Data>) -> Self {
        let (top, left) = cells.start().unwrap_or((0, 0));
        let is_filled = |row: &&[Data]| row.iter().any(|cell| !matches!(cell, Data::Empty));
        let first = cells.rows().position(|row| is_filled(&row)).unwrap_or(0);
        let mut headings = vec![String::new(); left as usize];
        headings.extend(cells.rows().nth(first).unwrap_or_default().iter().map(plain));
        Self {
            name,
            headings,
            heading_row: top + first as u32,
            bytes: Vec::new(),
            problems: Vec::new(),
            fish_as_number: None,
        }
    }

    fn write(&mut self, cells: &calamine::Range<Data>, is_formula: impl Fn(u32, u32) -> bool) {
        let (top, left) = cells.start().unwrap_or((0, 0));
        // Blank rows above stay, so that rows are counted as the spreadsheet counts them.
        self.bytes.extend(std::iter::repeat_n(b'\n', top as usize));
        for (row, cells) in (top..).zip(cells.rows()) {
            let mut line: Vec<String> = vec![String::new(); left as usize];
            for (column, cell) in (left..).zip(cells) {
                let text = self.cell(row, column, cell, is_formula(row, column));
                line.push(text);
            }
            if line.iter().any(|cell| !cell.is_empty()) {
                let quoted: Vec<String> = line.iter().map(|cell| quoted(cell)).collect();
                self.bytes.extend(quoted.join(",").into_bytes());
            }
            self.bytes.push(b'\n');
        }
    }

    fn heading(&self, column: u32) -> String {
        let heading = self.headings.get(column as usize).filter(|heading| !heading.is_empty());
        heading.cloned().unwrap_or_else(|| format!("{}", column + 1))
    }

    fn fault(&mut self, row: u32, column: u32, message: impl Into<String>) {
        let heading = self.heading(column);
        let problem = Problem::error(self.name, message).at_row(row as usize + 1);
        self.problems.push(problem.in_column(heading));
    }

    /// The text of a cell; empty where the spreadsheet left nothing that can be used, which is then a problem.
    fn cell(&mut self, row: u32, column: u32, cell: &Data, is_formula: bool) -> String {
        let is_heading = row == self.heading_row;
        let heading = self.heading(column).to_lowercase();
        match cell {
            Data::Empty if is_formula => {
                let message = "a formula without a stored value stands here: open the workbook in the spreadsheet and save it";
                self.fault(row, column, message);
            }
            Data::Error(error) => {
                let message = format!(
                    "the spreadsheet shows {error} here: correct the formula or write the value"
                );
                self.fault(row, column, message);
                return String::new();
            }
            Data::DateTime(_) | Data::DateTimeIso(_) if !is_heading && !is_for_dates(&heading) => {
                let found = plain(cell);
                let message = format!(
                    "the spreadsheet keeps a date ({found}) here; it makes dates of entries such as 3-4 by itself: set the column to text and write the value again"
                );
                self.fault(row, column, message);
                return String::new();
            }
            Data::Int(_) | Data::Float(_) if !is_heading && is_for_names(&heading) => {
                let (text, at) = (plain(cell), row as usize + 1);
                match &mut self.fish_as_number {
                    Some((.., count)) => *count += 1,
                    None => self.fish_as_number = Some((at, self.heading(column), 1)),
                }
                return text;
            }
            _ => {}
        }
        plain(cell)
    }

    fn note_merged(&mut self, (top, left): (u32, u32), (bottom, right): (u32, u32)) {
        let n_cells = u64::from(bottom - top + 1) * u64::from(right - left + 1);
        // A title over the table harms nothing.
        if bottom < self.heading_row {
            return;
        }
        let message = format!(
            "{n_cells} cells are merged here, and only the first holds the value: take the merge apart and fill every cell"
        );
        self.fault(top, left, message);
    }

    /// Where fish are named by numbers any leading zero is gone for good.
    fn note_lost_zeros(&mut self) {
        let Some((row, column, count)) = self.fish_as_number.clone() else { return };
        let message = format!(
            "{count} names of fish are kept as numbers, the first in this row: leading zeros (007) are lost; set the column to text where they matter"
        );
        self.problems.push(Problem::warning(self.name, message).at_row(row).in_column(column));
    }
}

/// A column whose heading says that it holds days.
fn is_for_dates(heading: &str) -> bool {
    ["date", "day", "captured", "when"].iter().any(|word| heading.contains(word))
}

/// A column that names fish or envelopes.
fn is_for_names(heading: &str) -> bool {
    matches!(
        heading,
        "fish" | "envelope" | "number" | "fish number" | "envelope number" | "fish_number"
    )
}

/// A value as a person would type it into a table.
pub(super) fn plain(cell: &Data) -> String {
    let text = match cell {
        Data::Empty => String::new(),
        Data::String(text) | Data::DateTimeIso(text) | Data::DurationIso(text) => text.clone(),
        Data::Int(number) => number.to_string(),
        // The shortest text that gives the same number back.
        Data::Float(number) => number.to_string(),
        Data::Bool(is_true) => is_true.to_string(),
        Data::Error(error) => error.to_string(),
        Data::DateTime(when) => {
            let (year, month, day, hour, minute, second, _) = when.to_ymd_hms_milli();
            let date = format!("{year:04}-{month:02}-{day:02}");
            match (when.is_duration(), hour, minute, second) {
                (true, ..) => when.as_f64().to_string(),
                (false, 0, 0, 0) => date,
                _ => format!("{date}T{hour:02}:{minute:02}:{second:02}"),
            }
        }
    };
    // A line break within a cell would look like a row.
    text.replace(['\r', '\n'], " ").trim().to_owned()
}

fn quoted(cell: &str) -> String {
    if cell.contains([',', '"', ';', '\t']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook};

    use super::*;
    use crate::store::ages_table::parse_ages;

    fn text_of(workbook: &mut Workbook, sheet: Option<&str>) -> TableText {
        table_text(workbook.save_to_buffer().unwrap(), "ages.xlsx", sheet).unwrap()
    }

    fn lines(text: &TableText) -> Vec<String> {
        String::from_utf8(text.bytes.clone()).unwrap().lines().map(str::to_owned).collect()
    }

    fn problems(text: &TableText) -> Vec<String> {
        text.problems.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn text_numbers_formulas_and_days_come_over_and_rows_keep_their_numbers() {
        let mut workbook = Workbook::new();
        let sheet = workbook.add_worksheet().set_name("Ages").unwrap();
        for (column, heading) in ["fish", "capture_date", "kb", "mt"].iter().enumerate() {
            sheet.write_string(2, column as u16, *heading).unwrap();
        }
        let day = ExcelDateTime::from_ymd(2025, 10, 4).unwrap();
        let date = Format::new().set_num_format("yyyy-mm-dd");
        sheet.write_string(4, 0, "007").unwrap();
        sheet.write_datetime_with_format(4, 1, &day, &date).unwrap();
        sheet.write_number(4, 2, 3).unwrap();
        sheet.write_formula(4, 3, Formula::new("=C5+1").set_result("4")).unwrap();
        sheet.write_string(5, 0, "a, \"b\"").unwrap();
        sheet.write_number(5, 2, 2.5).unwrap();
        let text = text_of(&mut workbook, None);
        assert_eq!(problems(&text), Vec::<String>::new());
        let expected =
            ["", "", "fish,capture_date,kb,mt", "", "007,2025-10-04,3,4", "\"a, \"\"b\"\"\",,2.5,"];
        assert_eq!(lines(&text), expected);
        assert_eq!(text.name, "ages.xlsx, sheet 'Ages'");
    }

    #[test]
    fn what_a_spreadsheet_does_behind_ones_back_is_told_with_row_and_column() {
        let mut workbook = Workbook::new();
        let sheet = workbook.add_worksheet().set_name("Ages").unwrap();
        for (column, heading) in ["fish", "kb", "mt"].iter().enumerate() {
            sheet.write_string(0, column as u16, *heading).unwrap();
        }
        let day = ExcelDateTime::from_ymd(2025, 3, 4).unwrap();
        let date = Format::new().set_num_format("d-mmm");
        sheet.write_number(1, 0, 7).unwrap();
        sheet.write_datetime_with_format(1, 1, &day, &date).unwrap();
        sheet.write_number(1, 2, 3).unwrap();
        sheet.write_number(2, 0, 8).unwrap();
        sheet.write_formula(2, 1, Formula::new("=1/0").set_result("#DIV/0!")).unwrap();
        sheet.merge_range(3, 1, 4, 1, "4", &Format::new()).unwrap();
        let found = problems(&text_of(&mut workbook, None));
        let expected = [
            "error: ages.xlsx, sheet 'Ages', row 2, column 'kb': the spreadsheet keeps a date (2025-03-04)",
            "error: ages.xlsx, sheet 'Ages', row 3, column 'kb': the spreadsheet shows #DIV/0!",
            "error: ages.xlsx, sheet 'Ages', row 4, column 'kb': 2 cells are merged here",
            "warning: ages.xlsx, sheet 'Ages', row 2, column 'fish': 2 names of fish are kept as numbers",
        ];
        assert_eq!(found.len(), expected.len(), "{found:#?}");
        for (found, expected) in found.iter().zip(expected) {
            assert!(found.starts_with(expected), "{found}");
        }
    }

    #[test]
    fn the_first_visible_sheet_is_read_unless_one_is_named() {
        let mut workbook = Workbook::new();
        workbook
            .add_worksheet()
            .set_name("Notes")
            .unwrap()
            .set_hidden(true)
            .write_string(0, 0, "secret")
            .unwrap();
        workbook
            .add_worksheet()
            .set_name("Ages")
            .unwrap()
            .set_active(true)
            .write_string(0, 0, "fish")
            .unwrap();
        workbook.add_worksheet().set_name("More").unwrap().write_string(0, 0, "other").unwrap();
        let bytes = workbook.save_to_buffer().unwrap();
        let first = |sheet: Option<&str>| {
            lines(&table_text(bytes.clone(), "a.xlsx", sheet).unwrap())[0].clone()
        };
        assert_eq!(first(None), "fish");
        assert_eq!(first(Some("more")), "other");
        assert_eq!(first(Some("Notes")), "secret");
        let missing = table_text(bytes.clone(), "a.xlsx", Some("Lengths")).unwrap_err().to_string();
        assert!(
            missing.contains("no sheet 'Lengths'") && missing.contains("Notes, Ages, More"),
            "{missing}"
        );
        let plain = table_text(b"fish,kb\n".to_vec(), "a.csv", Some("Ages")).unwrap_err();
        assert!(plain.to_string().contains("no XLSX workbook"), "{plain}");
    }

    #[test]
    fn ages_read_alike_from_both_kinds_of_file() {
        let mut workbook = Workbook::new();
        let sheet = workbook.add_worksheet();
        let rows = [["fish", "kb", "mt"], ["01", "3", "4"], ["02", "", "5"], ["03", "2", "2"]];
        for (row, cells) in (0..).zip(rows) {
            for (column, cell) in (0..).zip(cells) {
                match cell.parse::<f64>() {
                    Ok(number) if column > 0 => {
                        _ = sheet.write_number(row, column, number).unwrap()
                    }
                    _ => _ = sheet.write_string(row, column, cell).unwrap(),
                }
            }
        }
        let text = text_of(&mut workbook, None);
        let csv = rows.map(|row| row.join(",")).join("\n");
        let (from_xlsx, from_csv) = (
            parse_ages(&text.bytes, &text.name).unwrap(),
            parse_ages(csv.as_bytes(), "a.csv").unwrap(),
        );
        assert_eq!(from_xlsx.table, from_csv.table);
        assert_eq!(from_xlsx.problems, []);
    }

    #[test]
    fn no_damage_makes_it_panic_or_hang() {
        let mut workbook = Workbook::new();
        workbook.add_worksheet().write_string(0, 0, "fish").unwrap();
        let good = workbook.save_to_buffer().unwrap();
        for cut in (0..good.len()).step_by(97) {
            _ = table_text(good[..cut].to_vec(), "a.xlsx", None);
            let mut damaged = good.clone();
            damaged[cut] ^= 0x5A;
            _ = table_text(damaged, "a.xlsx", None);
        }
        let old = table_text(vec![0xD0, 0xCF, 0x11, 0xE0, 0xA1], "a.xls", None).unwrap_err();
        assert!(old.to_string().contains("older kind"), "{old}");
    }
}
