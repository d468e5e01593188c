//! Lengths at age from a spreadsheet: columns `age` and `length` (any unit), and any others to group by.
//!
//! A column `fish` keeps rows of one fish together when fish are resampled; a column `n` holds the number of fish behind
//! a mean length and weights its row.

use std::collections::BTreeMap;

use crate::domain::length_at_age::{LengthAtAge, LengthAtAgeTable};

use super::cells::{Column, Columns, Need, Numbers};
use super::error::StoreError;
use super::problem::Problem;
use super::sheet::sheet_from;
use super::table::parse_table;

const COLUMNS: [Column; 4] = [
    Column::new("age", Need::Always).or(&["age_years"]),
    Column::new("length", Need::Always).or(&["length_mm", "length_cm", "length_in"]),
    Column::new("fish", Need::Optional),
    Column::new("n", Need::Optional),
];

/// Lengths at age, and everything wrong with the rows that were left out.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthAtAgeSheet {
    /// The good rows.
    pub table: LengthAtAgeTable,
    /// Problems in the order of rows.
    pub problems: Vec<Problem>,
    /// Rows with an empty age or length: missing values, not faults.
    pub n_incomplete: usize,
}

/// Reads the bytes of a table that messages call `name`.
///
/// # Errors
/// [`StoreError::BadTable`] when it is no table at all; a faulty row is a problem in the result.
pub fn parse_lengths_at_age(bytes: &[u8], name: &str) -> Result<LengthAtAgeSheet, StoreError> {
    let mut table = parse_table(bytes, name)?;
    let mut columns = Columns::find(&mut table, &COLUMNS, &BTreeMap::new());
    let ours: Vec<&str> =
        COLUMNS.iter().map(|column| columns.heading(&table, column.name)).collect();
    let group_columns: Vec<String> = table
        .headings
        .iter()
        .filter(|heading| !heading.is_empty() && !ours.contains(&heading.as_str()))
        .cloned()
        .collect();
    for heading in &group_columns {
        columns.add(&table, heading);
    }
    let mut n_incomplete = 0;
    let sheet = sheet_from(table, &columns, |cells| {
        let age = cells.number("age", Numbers::NotNegative);
        let length = cells.number("length", Numbers::Positive);
        let weight = cells.number("n", Numbers::Positive).unwrap_or(1.0);
        if cells.text("age").is_empty() || cells.text("length").is_empty() {
            n_incomplete += 1;
            return None;
        }
        let fish = cells.text("fish");
        Some(LengthAtAge {
            fish: (!fish.is_empty()).then(|| fish.to_owned()),
            age: age?,
            length: length?,
            weight,
            groups: group_columns.iter().map(|column| cells.text(column).to_owned()).collect(),
            row: cells.row_number(),
        })
    });
    let table = LengthAtAgeTable { group_columns, rows: sheet.rows };
    Ok(LengthAtAgeSheet { table, problems: sheet.problems, n_incomplete })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(text: &str) -> LengthAtAgeSheet {
        parse_lengths_at_age(text.as_bytes(), "lengths.csv").unwrap()
    }

    #[test]
    fn columns_are_found_in_any_order_and_case() {
        let found = parse("Sex;LENGTH;Age;fish\nfemale;231.5;3;007\nmale;;2;008\n");
        assert!(found.problems.is_empty(), "{:?}", found.problems);
        assert_eq!(found.n_incomplete, 1);
        let [row] = found.table.rows.as_slice() else { panic!("{found:?}") };
        assert_eq!((row.age, row.length, row.weight, row.row), (3.0, 231.5, 1.0, 2));
        assert_eq!(row.fish.as_deref(), Some("007"));
        assert_eq!(row.groups, ["female"]);
        assert_eq!(found.table.group_column("sex"), Some(0));
    }

    #[test]
    fn faults_name_row_and_column() {
        let found = parse("age,length\n3,abc\n-1,200\n4,310\n5,0\n");
        assert_eq!(found.table.rows.len(), 1);
        let places: Vec<_> = found.problems.iter().map(|p| (p.row, p.column.clone())).collect();
        let wanted = [(2, "length"), (3, "age"), (5, "length")];
        assert_eq!(places, wanted.map(|(row, column)| (Some(row), Some(column.to_owned()))));
    }

    #[test]
    fn a_missing_column_is_one_problem() {
        let found = parse("age,size\n3,200\n4,210\n");
        assert_eq!((found.table.rows.len(), found.problems.len()), (0, 1));
        assert!(parse_lengths_at_age(b"", "lengths.csv").is_err());
    }
}
