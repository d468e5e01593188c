//! A table as text: RFC 4180, UTF-8 with or without a byte-order mark, comma, semicolon or tab, a heading row.
//!
//! Rows are numbered as a spreadsheet numbers them: the heading is row 1, blank rows count, and a cell that holds
//! line breaks is still in one row. A faulty row becomes a problem; the others are given all the same.

use std::collections::HashSet;
use std::path::Path;

use super::error::StoreError;
use super::problem::Problem;
use super::spreadsheet::table_text;

/// As many columns as a spreadsheet's sheet may have (16 384: Office Open XML, ISO/IEC 29500, column XFD; from memory).
const MOST_COLUMNS: usize = 16_384;

/// A table split into cells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Name of the file for messages.
    pub file: String,
    /// Headings as they stand, without outer spaces.
    pub headings: Vec<String>,
    /// Rows that have a cell for every heading; blank rows are left out.
    pub rows: Vec<TableRow>,
    /// What was wrong with the others.
    pub problems: Vec<Problem>,
}

/// One row of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableRow {
    /// Row as a spreadsheet counts it.
    pub number: usize,
    /// Cells without outer spaces, as many as there are headings.
    pub cells: Vec<String>,
}

/// Reads a table from a file, CSV or the first visible sheet of a workbook; `None` where there is none. `name` is what messages call it.
///
/// # Errors
/// [`StoreError::Io`] when the file cannot be read, [`StoreError::BadTable`] as [`parse_table`].
pub fn read_table(path: &Path, name: &str) -> Result<Option<Table>, StoreError> {
    match std::fs::read(path) {
        Ok(bytes) => {
            let text = table_text(bytes, name, None)?;
            let mut table = parse_table(&text.bytes, &text.name)?;
            table.problems.extend(text.problems);
            Ok(Some(table))
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(StoreError::io("read the table", path)(error)),
    }
}

/// Splits the bytes of a table into cells.
///
/// # Errors
/// [`StoreError::BadTable`] when there is no heading row, or the file is in an encoding other than UTF-8 as a whole.
pub fn parse_table(bytes: &[u8], name: &str) -> Result<Table, StoreError> {
    let whole_file = |message: &str| StoreError::BadTable(Problem::error(name, message).at_row(1));
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) || bytes.contains(&0) {
        return Err(whole_file(
            "expected UTF-8 text, found UTF-16 or a spreadsheet's own format: save the sheet as 'CSV UTF-8'",
        ));
    }
    let bytes = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes);
    let separator = separator_of(bytes);
    let mut table = Table {
        file: name.to_owned(),
        headings: Vec::new(),
        rows: Vec::new(),
        problems: Vec::new(),
    };
    if let Some(row) = row_of_open_quote(bytes, separator) {
        let message = "expected a closing quote, found the end of the file: close the quoted cell that begins in \
                       this row, or double a quote that is meant as an inch sign";
        return Err(StoreError::BadTable(Problem::error(name, message).at_row(row)));
    }
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .from_reader(bytes);
    let mut rows = RowCounter { bytes, before: 0 };
    let mut record = csv::ByteRecord::new();
    loop {
        let start = usize::try_from(reader.position().byte()).unwrap_or(usize::MAX);
        match reader.read_byte_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => {
                return Err(whole_file(&format!(
                    "the table cannot be read: {error}: correct the row, or save the sheet anew"
                )));
            }
        }
        let number = rows.number_of_record_from(start);
        let n_cells = record.len();
        if table.headings.is_empty() && n_cells > MOST_COLUMNS {
            return Err(whole_file(&format!(
                "expected at most {MOST_COLUMNS} columns, found {n_cells}: remove those that are not needed"
            )));
        }
        table.take(&record, number);
    }
    if table.headings.is_empty() {
        return Err(whole_file(
            "expected a heading row, found none: write the names of the columns in row 1",
        ));
    }
    Ok(table)
}

impl Table {
    fn take(&mut self, record: &csv::ByteRecord, number: usize) {
        let is_heading = self.headings.is_empty();
        let mut cells = Vec::with_capacity(record.len());
        for (index, cell) in record.iter().enumerate() {
            match std::str::from_utf8(cell) {
                Ok(cell) => cells.push(cell.trim().to_owned()),
                Err(_) => {
                    self.not_utf8(cell, number, index);
                    // A damaged heading keeps its place, so that the other columns stay right.
                    if !is_heading {
                        return;
                    }
                    cells.push(String::from_utf8_lossy(cell).trim().to_owned());
                }
            }
        }
        if cells.iter().all(String::is_empty) {
            return;
        }
        if is_heading {
            self.headings = cells;
            self.note_twins(number);
        } else {
            self.take_row(cells, number);
        }
    }

    fn take_row(&mut self, mut cells: Vec<String>, number: usize) {
        let n_expected = self.headings.len();
        // Spreadsheets may fill every row up with empty cells.
        while cells.len() > n_expected && cells.last().is_some_and(String::is_empty) {
            cells.pop();
        }
        if cells.len() == n_expected {
            self.rows.push(TableRow { number, cells });
            return;
        }
        let hint = if cells.len() > n_expected {
            "put a cell that holds the separator in quotes"
        } else {
            "write an empty cell where a value is missing"
        };
        let message = format!(
            "expected {n_expected} cells as in the heading row, found {}: {hint}",
            cells.len()
        );
        self.problems.push(Problem::error(&self.file, message).at_row(number));
    }

    fn not_utf8(&mut self, cell: &[u8], number: usize, index: usize) {
        // Latin-1 gives every byte a letter, so the person can see which word is meant.
        let as_latin_1: String = cell.iter().map(|byte| char::from(*byte)).collect();
        let message = format!(
            "expected UTF-8 text, found bytes of an older encoding (perhaps '{}'): save the sheet as 'CSV UTF-8'",
            as_latin_1.trim()
        );
        let column = match self.headings.get(index) {
            Some(heading) => heading.clone(),
            None => format!("{}", index + 1),
        };
        self.problems.push(Problem::error(&self.file, message).at_row(number).in_column(column));
    }

    fn note_twins(&mut self, number: usize) {
        let mut seen = HashSet::new();
        for heading in &self.headings {
            if !heading.is_empty() && !seen.insert(heading.to_ascii_lowercase()) {
                let message = "this heading stands twice: rename or remove one of the two columns";
                self.problems.push(
                    Problem::error(&self.file, message).at_row(number).in_column(heading.clone()),
                );
            }
        }
    }
}

/// Turns byte offsets of records into spreadsheet rows.
struct RowCounter<'a> {
    bytes: &'a [u8],
    /// Rows before the next record.
    before: usize,
}

impl RowCounter<'_> {
    /// The row of the record the reader finds from byte `start` on: blank lines there count as rows.
    fn number_of_record_from(&mut self, start: usize) -> usize {
        let mut rest = self.bytes.get(start..).unwrap_or_default();
        // The reader may stop between the two characters of a line end.
        let ended_in_cr = start > 0 && self.bytes.get(start - 1) == Some(&b'\r');
        if ended_in_cr && let Some(after) = rest.strip_prefix(b"\n") {
            rest = after;
        }
        loop {
            let after = rest
                .strip_prefix(b"\r\n")
                .or_else(|| rest.strip_prefix(b"\n"))
                .or_else(|| rest.strip_prefix(b"\r"));
            let Some(after) = after else { break };
            self.before += 1;
            rest = after;
        }
        self.before += 1;
        self.before
    }
}

/// The separator: of comma, semicolon and tab, the one met most often outside quotes in the first line that is not
/// blank.
fn separator_of(bytes: &[u8]) -> u8 {
    let mut counts = [(b',', 0_usize), (b';', 0), (b'\t', 0)];
    let mut is_quoted = false;
    let mut seen_text = false;
    for byte in bytes {
        match byte {
            b'"' => is_quoted = !is_quoted,
            b'\n' | b'\r' if !is_quoted && seen_text => break,
            _ if is_quoted => {}
            _ => {
                if let Some((_, count)) = counts.iter_mut().find(|(separator, _)| separator == byte)
                {
                    *count += 1;
                }
            }
        }
        seen_text |= !byte.is_ascii_whitespace();
    }
    // The first of equals wins, so that a single column is read with commas.
    counts.iter().rev().max_by_key(|(_, count)| *count).map_or(b',', |(separator, _)| *separator)
}

/// The row in which a quoted cell begins that never ends. A quote opens a cell only at its start.
fn row_of_open_quote(bytes: &[u8], separator: u8) -> Option<usize> {
    let (mut row, mut opened_in) = (1, None);
    let mut at_cell_start = true;
    let mut index = 0;
    while let Some(&byte) = bytes.get(index) {
        let next = bytes.get(index + 1).copied();
        if opened_in.is_some() {
            if byte == b'"' && next == Some(b'"') {
                index += 1;
            } else if byte == b'"' {
                opened_in = None;
            }
            at_cell_start = false;
        } else if byte == b'"' && at_cell_start {
            opened_in = Some(row);
        } else {
            let ends_line = byte == b'\n' || (byte == b'\r' && next != Some(b'\n'));
            row += usize::from(ends_line);
            at_cell_start = ends_line || byte == separator || (byte == b'\r' && at_cell_start);
        }
        index += 1;
    }
    opened_in
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows_of(text: &str) -> Vec<(usize, Vec<String>)> {
        let table = parse_table(text.as_bytes(), "t.csv").unwrap();
        assert_eq!(table.problems, []);
        table.rows.into_iter().map(|row| (row.number, row.cells)).collect()
    }

    fn cells(cells: &[&str]) -> Vec<String> {
        cells.iter().map(|cell| (*cell).to_owned()).collect()
    }

    /// The rules of RFC 4180, section 2 (Shafranovich 2005): quoted cells hold separators, line breaks and doubled
    /// quotes; the last line end is optional.
    #[test]
    fn quoted_cells_are_read_as_rfc_4180_says() {
        let text = "a,b,c\r\n\"aaa\",\"b \r\nbb\",\"c\"\"c\"\r\nzzz,\"y,y\",xxx";
        assert_eq!(
            rows_of(text),
            [(2, cells(&["aaa", "b \r\nbb", "c\"c"])), (3, cells(&["zzz", "y,y", "xxx"]))]
        );
    }

    #[test]
    fn all_separators_marks_and_line_ends_read_alike() {
        for separator in [",", ";", "\t"] {
            for end in ["\n", "\r\n", "\r"] {
                for mark in ["", "\u{feff}"] {
                    let text = format!("{mark}a,\"b;x\"{end}1,2{end}{end}3,4{end}");
                    let text = text.replace("b;x", "bx").replace(',', separator);
                    assert_eq!(
                        rows_of(&text),
                        [(2, cells(&["1", "2"])), (4, cells(&["3", "4"]))],
                        "{text:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn rows_are_counted_as_a_spreadsheet_does() {
        let text = "\n\na,b\n\"one\ntwo\",x\n\n,\n5,y\n\n\n8,z";
        let rows = rows_of(text);
        let numbers: Vec<usize> = rows.iter().map(|(number, _)| *number).collect();
        assert_eq!(numbers, [4, 7, 10]);
    }

    #[test]
    fn uneven_rows_are_named_and_the_others_given() {
        let table = parse_table(b"a,b\n1\n2,3\n4,5,6\n7,8,,\n", "t.csv").unwrap();
        assert_eq!(table.rows.len(), 2);
        let texts: Vec<String> = table.problems.iter().map(ToString::to_string).collect();
        assert!(
            texts[0].starts_with(
                "error: t.csv, row 2: expected 2 cells as in the heading row, found 1"
            )
        );
        assert!(
            texts[1].starts_with(
                "error: t.csv, row 4: expected 2 cells as in the heading row, found 3"
            )
        );
    }

    #[test]
    fn latin_1_bytes_are_named_with_row_and_column() {
        let table = parse_table(b"fish,note\n1,good\n2,Gr\xFC\xDFe\n3,ok\n", "t.csv").unwrap();
        assert_eq!(table.rows.len(), 2);
        let text = table.problems[0].to_string();
        assert!(text.contains("row 3, column 'note'") && text.contains("Grüße"), "{text}");
    }

    #[test]
    fn files_that_are_no_table_are_refused() {
        for (bytes, expected) in [
            (&b""[..], "expected a heading row"),
            (b"\n\n", "expected a heading row"),
            (b"\xFF\xFEa\0", "UTF-16"),
            (b"PK\x03\x04\0\0", "spreadsheet's own format"),
            (b"a,b\n1,2\n3,\"12 inch\n5,6\n", "row 3: expected a closing quote"),
        ] {
            let error = parse_table(bytes, "t.csv").unwrap_err().to_string();
            assert!(error.contains(expected), "{error}");
        }
    }

    #[test]
    fn no_bytes_make_it_panic() {
        let good = b"a;\"b\"\r\n\"1\n2\";3\n\n4;5\n";
        for cut in 0..good.len() {
            let _ = parse_table(&good[..cut], "t.csv");
            for byte in [0x00, 0x22, 0x0A, 0x0D, 0xFF, b';'] {
                let mut damaged = good.to_vec();
                damaged[cut] = byte;
                let _ = parse_table(&damaged, "t.csv");
            }
        }
    }
}
