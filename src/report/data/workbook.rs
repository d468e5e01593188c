//! All tables as a workbook (Office Open XML), one sheet for each, the dictionary last.

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError,
};

use super::table::{Cell, DataTable, Kind, dictionary};

/// A cell of a workbook holds no more characters (its published limit).
const MOST_CHARACTERS: usize = 32_767;

/// Why a workbook could not be made.
#[derive(Debug, thiserror::Error)]
pub enum WorkbookError {
    /// The package refused.
    #[error("the workbook could not be made: {0}")]
    Workbook(#[from] XlsxError),
    /// More rows than a sheet holds.
    #[error(
        "the table '{table}' has {rows} rows, more than a sheet holds: use the CSV files or JSON"
    )]
    TooManyRows {
        /// Name of the table.
        table: &'static str,
        /// Its rows.
        rows: usize,
    },
}

/// The workbook. No clock goes into it: the same tables give the same bytes.
///
/// # Errors
/// [`WorkbookError`].
pub fn workbook_bytes(tables: &[DataTable], title: &str) -> Result<Vec<u8>, WorkbookError> {
    let mut workbook = Workbook::new();
    let fixed = ExcelDateTime::parse_from_str("2000-01-01T00:00:00")?;
    let title: String = title.chars().take(200).collect();
    workbook.set_properties(&DocProperties::new().set_title(title).set_creation_datetime(&fixed));
    for table in tables.iter().chain([&dictionary(tables)]) {
        let sheet = workbook.add_worksheet().set_name(table.name)?;
        fill(sheet, table)?;
    }
    Ok(workbook.save_to_buffer()?)
}

fn fill(sheet: &mut Worksheet, table: &DataTable) -> Result<(), WorkbookError> {
    let too_many = || WorkbookError::TooManyRows { table: table.name, rows: table.rows.len() };
    let last = u32::try_from(table.rows.len())
        .ok()
        .filter(|rows| *rows < 1_048_576)
        .ok_or_else(too_many)?;
    let head = Format::new().set_bold().set_text_wrap().set_align(FormatAlign::Top);
    let head_right = head.clone().set_align(FormatAlign::Right);
    for (index, column) in (0_u16..).zip(&table.columns) {
        let is_number = matches!(column.kind, Kind::Number | Kind::Whole);
        sheet.write_string_with_format(
            0,
            index,
            &column.name,
            if is_number { &head_right } else { &head },
        )?;
        let widest =
            table.rows.iter().take(200).filter_map(|row| row.get(usize::from(index))).map(width);
        let width = widest.max().unwrap_or(0).max(column.name.chars().count()).clamp(8, 44);
        sheet.set_column_width(index, width as f64 + 2.0)?;
    }
    for (place, row) in (1_u32..).zip(&table.rows) {
        for (index, cell) in (0_u16..).zip(row) {
            match cell {
                Cell::Missing => {}
                Cell::Whole(value) => _ = sheet.write_number(place, index, *value as f64)?,
                Cell::Number(value) => _ = sheet.write_number(place, index, *value)?,
                // As a string, whatever its first sign: never as a formula or a link.
                Cell::Text(text) => _ = sheet.write_string(place, index, fitting(text))?,
            }
        }
    }
    sheet.set_freeze_panes(1, 0)?;
    if let (Ok(width), true) = (u16::try_from(table.columns.len()), last > 0) {
        sheet.autofilter(0, 0, last, width.saturating_sub(1))?;
    }
    Ok(())
}

fn width(cell: &Cell) -> usize {
    match cell {
        Cell::Missing => 0,
        Cell::Text(text) => text.lines().next().unwrap_or_default().chars().count(),
        Cell::Whole(value) => value.to_string().len(),
        Cell::Number(_) => 10,
    }
}

/// Text as long as a cell can hold, counted in the units of its limit (UTF-16).
fn fitting(text: &str) -> String {
    if text.encode_utf16().count() <= MOST_CHARACTERS {
        return text.to_owned();
    }
    let mut left = MOST_CHARACTERS - 1;
    let kept = text.chars().take_while(|c| {
        let is_room = c.len_utf16() <= left;
        left = left.saturating_sub(c.len_utf16());
        is_room
    });
    kept.chain(['\u{2026}']).collect()
}
