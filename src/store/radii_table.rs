//! A table of radii from a spreadsheet: text to rows, faulty rows named and the rest kept.

mod heading;
mod row;

use std::collections::{BTreeMap, HashMap};

use crate::domain::one_line::one_line;
use crate::domain::radii::RadiiRow;

use heading::Headings;

/// A table that cannot be read at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RadiiTableError {
    /// Nothing in it.
    #[error(
        "the table is empty: write headings into the first line (fish,length_mm,radius_um,a1_um,...)"
    )]
    Empty,
    /// Bytes that are not UTF-8.
    #[error(
        "row {row}: the text is not UTF-8 (byte 0x{byte:02X}): save the table as \"CSV UTF-8\""
    )]
    NotUtf8 {
        /// Line from 1.
        row: usize,
        /// The first byte that does not belong.
        byte: u8,
    },
    /// A wide encoding.
    #[error("the text is UTF-16, as \"Unicode text\" is: save the table as \"CSV UTF-8\"")]
    Utf16,
    /// A column that must be there.
    #[error("row 1: no column {column}; found {}: name the column {column}", one_line(found))]
    MissingColumn {
        /// Heading looked for.
        column: String,
        /// Headings found.
        found: String,
    },
    /// Two columns of one name.
    #[error("row 1: column {} stands there twice: keep one", one_line(column))]
    RepeatedColumn {
        /// Heading.
        column: String,
    },
    /// Text the CSV rules do not cover.
    #[error("row {row}: {}; correct the row", one_line(message))]
    Csv {
        /// Line from 1.
        row: usize,
        /// What the reader of CSV said.
        message: String,
    },
}

/// A row that was left out, or a cell that was wrong in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowFault {
    /// Line of the file from 1 (the heading).
    pub row: usize,
    /// Heading of the column; empty where the fault is of the whole row.
    pub column: String,
    /// What was found and what to do.
    pub message: String,
}

impl std::fmt::Display for RowFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.column.is_empty() {
            write!(f, "row {}: {}", self.row, one_line(&self.message))
        } else {
            write!(f, "row {}, column {}: {}", self.row, self.column, one_line(&self.message))
        }
    }
}

/// What a table held.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RadiiTable {
    /// Sound rows in file order. Several rows of one fish are several structures of it.
    pub rows: Vec<RadiiRow>,
    /// Faulty rows, none of them in `rows`.
    pub faults: Vec<RowFault>,
    /// Headings that were not understood; their columns are not used.
    pub unused_columns: Vec<String>,
}

/// Reads a table `fish,length_mm,radius_um,a1_um,a2_um,...` with optional `species,sex,water,capture_date,year_class`.
///
/// UTF-8 with or without a byte-order mark; comma, semicolon or tab; headings in any order and letter case; empty
/// cells are missing values. Numbers have a decimal point. Cells missing at the end of a short row count as empty.
///
/// # Errors
/// [`RadiiTableError`] where no row can be read; faults of single rows stand in [`RadiiTable::faults`].
pub fn parse_radii(bytes: &[u8]) -> Result<RadiiTable, RadiiTableError> {
    let text = utf8(bytes)?;
    let first = text.lines().find(|line| !line.trim().is_empty()).ok_or(RadiiTableError::Empty)?;
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter(first))
        .has_headers(true)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let headings = Headings::read(reader.headers().map_err(csv_error)?)?;
    let mut table =
        RadiiTable { unused_columns: headings.unused().to_vec(), ..RadiiTable::default() };
    let lines = LineNumbers::of(text);
    for record in reader.records() {
        let record = record.map_err(csv_error)?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        let start = record.position().map_or(0, csv::Position::byte);
        let number = lines.of_record_at(usize::try_from(start).unwrap_or(usize::MAX));
        match row::parse_row(&record, number, &headings) {
            Ok(row) => table.rows.push(row),
            Err(faults) => table.faults.extend(faults),
        }
    }
    set_contradictions_aside(&mut table);
    table.faults.sort_by_key(|fault| fault.row);
    Ok(table)
}

fn utf8(bytes: &[u8]) -> Result<&str, RadiiTableError> {
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(RadiiTableError::Utf16);
    }
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    std::str::from_utf8(bytes).map_err(|error| {
        let (before, rest) = bytes.split_at(error.valid_up_to());
        RadiiTableError::NotUtf8 {
            row: 1 + before.iter().filter(|byte| **byte == b'\n').count(),
            byte: rest.first().copied().unwrap_or_default(),
        }
    })
}

/// The separator that the heading line uses most.
fn delimiter(heading: &str) -> u8 {
    let count = |mark: u8| heading.bytes().filter(|byte| *byte == mark).count();
    [b',', b';', b'\t'].into_iter().rev().max_by_key(|mark| count(*mark)).unwrap_or(b',')
}

/// Starts of lines, so that a record is named by the line it begins on, blank lines before it counted.
struct LineNumbers<'a> {
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> LineNumbers<'a> {
    fn of(text: &'a str) -> Self {
        let later = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(i, _)| i + 1);
        Self { text, starts: std::iter::once(0).chain(later).collect() }
    }

    /// The reader gives the end of the record before, so line ends after it are passed over first.
    fn of_record_at(&self, byte: usize) -> usize {
        let rest = self.text.as_bytes().get(byte..).unwrap_or_default();
        let skipped = rest.iter().take_while(|byte| matches!(byte, b'\n' | b'\r')).count();
        self.starts.partition_point(|start| *start <= byte + skipped)
    }
}

/// Rows of one fish that contradict each other are all set aside; an exact copy of a row is set aside alone.
fn set_contradictions_aside(table: &mut RadiiTable) {
    let mut first_of: HashMap<&str, &RadiiRow> = HashMap::new();
    let mut with_radii: HashMap<(&str, Vec<u64>), usize> = HashMap::new();
    let mut at_odds: HashMap<String, (usize, usize)> = HashMap::new();
    let mut copies: BTreeMap<usize, usize> = BTreeMap::new();
    for row in &table.rows {
        let first = first_of.entry(&row.fish).or_insert(row);
        let same = *with_radii.entry((&row.fish, radii_of(row))).or_insert(row.row);
        if !same_fish(first, row) {
            at_odds.entry(row.fish.clone()).or_insert((first.row, row.row));
        } else if same != row.row {
            copies.insert(row.row, same);
        }
    }
    for (row, same) in &copies {
        table.faults.push(RowFault {
            row: *row,
            column: String::new(),
            message: format!("an exact copy of row {same}: remove one of the two"),
        });
    }
    for row in &table.rows {
        if let Some((one, other)) = at_odds.get(&row.fish) {
            table.faults.push(RowFault {
                row: row.row,
                column: "fish".to_owned(),
                message: format!(
                    "fish '{}' stands in rows {one} and {other} with different length, date, species, sex, water or \
                     year class: correct them or give the fish different numbers",
                    row.fish
                ),
            });
        }
    }
    table.rows.retain(|row| !at_odds.contains_key(&row.fish) && !copies.contains_key(&row.row));
}

fn same_fish(one: &RadiiRow, other: &RadiiRow) -> bool {
    let of = |row: &RadiiRow| {
        (row.length, row.captured, row.sex, row.year_class, row.species.clone(), row.water.clone())
    };
    of(one) == of(other)
}

/// All radii of a row, such that like rows are alike.
fn radii_of(row: &RadiiRow) -> Vec<u64> {
    let total = row.radius.map_or(u64::MAX, |radius| radius.0.to_bits());
    std::iter::once(total).chain(row.annuli.iter().map(|radius| radius.0.to_bits())).collect()
}

fn csv_error(error: csv::Error) -> RadiiTableError {
    let row = error.position().map_or(1, |place| usize::try_from(place.line()).unwrap_or(1));
    RadiiTableError::Csv { row, message: error.to_string() }
}

#[cfg(test)]
mod tests;
