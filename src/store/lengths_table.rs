//! Lengths of aged and of unaged fish from a spreadsheet, for an age-length key.
//!
//! Aged fish: `length_mm`, `age`; unaged fish: `length_mm`, and `count` where a row stands for several. Both may have
//! `fish`, `sex`, `run` and `capture_date`. An empty length or age is a missing value, not a fault: the row is listed.

use std::collections::BTreeMap;

use crate::domain::ages::OLDEST_AGE;
use crate::domain::dates::Date;
use crate::domain::fish::Sex;
use crate::domain::units::Millimetres;

use super::cells::{Cells, Column, Columns, Need, Numbers};
use super::error::StoreError;
use super::problem::Problem;
use super::sheet::sheet_from;
use super::table::parse_table;

const AGED: [Column; 6] = [
    Column::new("length_mm", Need::Always),
    Column::new("age", Need::Always),
    Column::new("fish", Need::Optional),
    Column::new("sex", Need::Optional),
    Column::new("run", Need::Optional),
    Column::new("capture_date", Need::Optional),
];
const UNAGED: [Column; 6] = [
    Column::new("length_mm", Need::Always),
    Column::new("count", Need::Optional),
    Column::new("fish", Need::Optional),
    Column::new("sex", Need::Optional),
    Column::new("run", Need::Optional),
    Column::new("capture_date", Need::Optional),
];

/// One row of either table.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthRow {
    /// Key of the fish; empty where none is given.
    pub fish: String,
    /// Row as a spreadsheet counts it: the heading is row 1.
    pub row: usize,
    /// Length at capture.
    pub length: Millimetres,
    /// Age in whole years; `None` in a table of unaged fish.
    pub age: Option<u32>,
    /// Sex.
    pub sex: Sex,
    /// Sampling run; empty where none is given.
    pub run: String,
    /// Capture date.
    pub captured: Option<Date>,
    /// Number of fish the row stands for.
    pub count: u32,
}

/// What such a table held.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthsTable {
    /// The good rows.
    pub rows: Vec<LengthRow>,
    /// What was wrong with others.
    pub problems: Vec<Problem>,
    /// Rows left out for want of a value, and what they lack: "length" or "age".
    pub incomplete: Vec<(usize, &'static str)>,
}

/// Reads the bytes of a table of aged fish that messages call `name`.
///
/// # Errors
/// [`StoreError::BadTable`] when it is no table at all; a faulty row is a problem in the result.
pub fn parse_aged_lengths(bytes: &[u8], name: &str) -> Result<LengthsTable, StoreError> {
    parse(bytes, name, &AGED, true)
}

/// Reads the bytes of a table of unaged fish that messages call `name`.
///
/// # Errors
/// As [`parse_aged_lengths`].
pub fn parse_unaged_lengths(bytes: &[u8], name: &str) -> Result<LengthsTable, StoreError> {
    parse(bytes, name, &UNAGED, false)
}

fn parse(
    bytes: &[u8],
    name: &str,
    known: &[Column],
    has_ages: bool,
) -> Result<LengthsTable, StoreError> {
    let mut table = parse_table(bytes, name)?;
    let columns = Columns::find(&mut table, known, &BTreeMap::new());
    let mut incomplete = Vec::new();
    let sheet = sheet_from(table, &columns, |cells| {
        let row = row_from(cells, has_ages);
        if cells.is_good() {
            incomplete.extend(row.as_ref().err().map(|lacks| (cells.row_number(), *lacks)));
        }
        row.ok()
    });
    Ok(LengthsTable { rows: sheet.rows, problems: sheet.problems, incomplete })
}

/// The row, or what it lacks.
fn row_from(cells: &mut Cells<'_>, has_ages: bool) -> Result<LengthRow, &'static str> {
    let length = cells.number("length_mm", Numbers::Positive);
    let age = if has_ages { cells.whole("age", 0..=OLDEST_AGE) } else { None };
    let count = if has_ages { 1 } else { cells.whole("count", 1..=1_000_000).unwrap_or(1) };
    let sex = cells.word("sex", "female, male or unknown", Sex::from_word).unwrap_or_default();
    let captured = cells.date("capture_date");
    let length = length.ok_or("length")?;
    if has_ages && age.is_none() {
        return Err("age");
    }
    Ok(LengthRow {
        fish: cells.text("fish").to_owned(),
        row: cells.row_number(),
        length: Millimetres(length),
        age,
        sex,
        run: cells.text("run").to_owned(),
        captured,
        count,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_found_in_any_order_and_case() {
        let found = parse_aged_lengths(
            b"\xEF\xBB\xBFAge;Sex;LENGTH_MM\r\n3;F;279.4\r\n4.0;;301\r\n",
            "aged.csv",
        );
        let found = found.unwrap();
        assert_eq!((found.problems.len(), found.rows.len()), (0, 2));
        let [first, second] = found.rows.as_slice() else { panic!("{found:?}") };
        assert_eq!((first.age, first.sex, first.row), (Some(3), Sex::Female, 2));
        assert_eq!((second.age, second.length, second.count), (Some(4), Millimetres(301.0), 1));
    }

    #[test]
    fn faults_name_row_and_column_and_missing_values_are_listed() {
        let text = b"length_mm,age\n200,3.5\n-4,2\n,2\n210,\n220,2\n230,501\n";
        let found = parse_aged_lengths(text, "aged.csv").unwrap();
        let places: Vec<_> = found.problems.iter().map(|p| (p.row, p.column.as_deref())).collect();
        assert_eq!(
            places,
            [(Some(2), Some("age")), (Some(3), Some("length_mm")), (Some(7), Some("age"))]
        );
        assert_eq!(found.incomplete, [(4, "length"), (5, "age")]);
        assert_eq!(found.rows.len(), 1);
    }

    #[test]
    fn unaged_rows_may_stand_for_several_fish() {
        let found =
            parse_unaged_lengths(b"length_mm,count,run\n200,12,run 1\n,3,\n", "u.csv").unwrap();
        assert_eq!((found.rows[0].count, found.rows[0].run.as_str()), (12, "run 1"));
        assert_eq!(found.incomplete, [(3, "length")]);
        let missing = parse_unaged_lengths(b"length\n200\n", "u.csv").unwrap();
        assert_eq!((missing.rows.len(), missing.problems.len()), (0, 1));
        assert!(missing.problems[0].to_string().contains("length_mm"));
        assert!(parse_unaged_lengths(b"", "u.csv").is_err());
    }
}
