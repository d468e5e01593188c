//! A table of ages from a spreadsheet: `fish`, then one column of whole ages for each reader.
//!
//! Good rows are kept; each faulty cell becomes a problem with its row and column.

use std::collections::HashMap;

use super::error::StoreError;
use super::problem::Problem;
use super::table::{Table, TableRow, parse_table};
use crate::domain::ages::{AgesTable, FishAges, OLDEST_AGE};

/// What a table of ages held.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AgesFile {
    /// The rows that can be used.
    pub table: AgesTable,
    /// What was wrong with the others.
    pub problems: Vec<Problem>,
}

/// Reads the bytes of a table of ages; `name` is what messages call the file. Empty cells are missing ages.
///
/// A fish that stands in more than one row is refused as a whole: the program cannot know which row is meant.
///
/// # Errors
/// [`StoreError::BadTable`] when there is no heading row, no column `fish`, fewer than two reader columns, a reader
/// column without a name or standing twice, or the file as a whole is not UTF-8 text.
pub fn parse_ages(bytes: &[u8], name: &str) -> Result<AgesFile, StoreError> {
    let mut file = parse_table(bytes, name)?;
    let columns = Columns::find(&file)?;
    let mut problems = std::mem::take(&mut file.problems);
    let first_rows = first_rows(&file, &columns);
    let mut fish = Vec::with_capacity(file.rows.len());
    for row in &file.rows {
        match fish_of(row, &columns, &file, &first_rows) {
            Ok(ages) => fish.push(ages),
            Err(faults) => problems.extend(faults),
        }
    }
    problems.sort_by_key(|problem| problem.row);
    let readers = columns.readers.iter().map(|(_, name)| name.clone()).collect();
    Ok(AgesFile { table: AgesTable { readers, fish }, problems })
}

struct Columns {
    fish: usize,
    readers: Vec<(usize, String)>,
}

impl Columns {
    fn find(table: &Table) -> Result<Self, StoreError> {
        let refused =
            |message: String| StoreError::BadTable(Problem::error(&table.file, message).at_row(1));
        let headings = &table.headings;
        if let Some(message) = refused_heading(headings) {
            return Err(refused(message));
        }
        let is_fish = |heading: &String| heading.eq_ignore_ascii_case("fish");
        let fish = headings.iter().position(is_fish).ok_or_else(|| {
            refused(format!(
                "expected a column 'fish', found {}: name the column of fish numbers 'fish'",
                headings.join(", ")
            ))
        })?;
        // Spreadsheets may leave whole columns empty at the right.
        let is_empty = |index: usize| {
            table.rows.iter().all(|row| row.cells.get(index).is_none_or(String::is_empty))
        };
        let others = headings.iter().enumerate().filter(|(index, _)| *index != fish);
        let readers: Vec<(usize, String)> = others
            .filter(|(index, heading)| !(heading.is_empty() && is_empty(*index)))
            .map(|(index, heading)| (index, heading.clone()))
            .collect();
        if let Some((index, _)) = readers.iter().find(|(_, heading)| heading.is_empty()) {
            let column = index + 1;
            return Err(refused(format!(
                "column {column} holds ages but has no heading: name the reader"
            )));
        }
        if readers.len() < 2 {
            let found = readers.len();
            return Err(refused(format!(
                "expected a column of ages for each of two or more readers, found {found}: add one column for each reader"
            )));
        }
        Ok(Self { fish, readers })
    }
}

/// A name that stands twice or is not UTF-8 leaves no way to say whose ages they are.
fn refused_heading(headings: &[String]) -> Option<String> {
    headings.iter().enumerate().find_map(|(index, heading)| {
        let before = headings.iter().take(index);
        if !heading.is_empty()
            && before.into_iter().any(|other| other.eq_ignore_ascii_case(heading))
        {
            return Some(format!("the heading '{heading}' stands twice: name each reader once"));
        }
        heading.contains(char::REPLACEMENT_CHARACTER).then(|| {
            format!("heading {} is not UTF-8 text: save the sheet as 'CSV UTF-8'", index + 1)
        })
    })
}

/// The first row of each fish that has one, and whether it has more.
fn first_rows<'a>(file: &'a Table, columns: &Columns) -> HashMap<&'a str, (usize, usize)> {
    let mut rows: HashMap<&str, (usize, usize)> = HashMap::with_capacity(file.rows.len());
    for row in &file.rows {
        if let Some(fish) = row.cells.get(columns.fish) {
            rows.entry(fish).or_insert((row.number, 0)).1 += 1;
        }
    }
    rows
}

fn fish_of(
    row: &TableRow,
    columns: &Columns,
    file: &Table,
    rows_of_fish: &HashMap<&str, (usize, usize)>,
) -> Result<FishAges, Vec<Problem>> {
    let fault = |column: &str, message: String| {
        Problem::error(&file.file, message).at_row(row.number).in_column(column)
    };
    let fish_heading = file.headings.get(columns.fish).map_or("fish", String::as_str);
    let fish = row.cells.get(columns.fish).map_or("", String::as_str);
    let mut faults = Vec::new();
    match rows_of_fish.get(fish) {
        _ if fish.is_empty() => {
            faults.push(fault(
                fish_heading,
                "expected a fish number, found none: name the fish".to_owned(),
            ));
        }
        Some((first, count)) if *count > 1 => {
            let place = if *first == row.number {
                "more than once, first here".to_owned()
            } else {
                format!("already in row {first}")
            };
            let message = format!(
                "expected each fish once, found '{fish}' {place}: keep one row, or give it another number"
            );
            faults.push(fault(fish_heading, message));
        }
        _ => {}
    }
    let mut ages = Vec::with_capacity(columns.readers.len());
    for (index, reader) in &columns.readers {
        match age_of(row.cells.get(*index).map_or("", String::as_str)) {
            Ok(age) => ages.push(age),
            Err(message) => faults.push(fault(reader, message)),
        }
    }
    if faults.is_empty() {
        Ok(FishAges { fish: fish.to_owned(), row: row.number, ages })
    } else {
        Err(faults)
    }
}

/// A whole age; `None` for an empty cell. `4.0`, as some spreadsheets write whole numbers, is 4.
fn age_of(cell: &str) -> Result<Option<u32>, String> {
    if cell.is_empty() {
        return Ok(None);
    }
    let digits = cell.split_once('.').map_or(cell, |(whole, rest)| {
        if !rest.is_empty() && rest.bytes().all(|byte| byte == b'0') { whole } else { cell }
    });
    match digits.parse::<u32>() {
        Ok(age) if digits.bytes().all(|byte| byte.is_ascii_digit()) && age <= OLDEST_AGE => {
            Ok(Some(age))
        }
        Ok(age) if age > OLDEST_AGE => {
            Err(format!("expected an age up to {OLDEST_AGE} years, found '{cell}': correct it"))
        }
        _ if digits.strip_prefix('-').is_some_and(|rest| rest.parse::<f64>().is_ok()) => {
            Err(format!(
                "expected an age of 0 or more, found '{cell}': leave the cell empty where there is no age"
            ))
        }
        _ => Err(format!(
            "expected a whole number of years, found '{cell}': write whole ages, or leave the cell empty"
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ages(text: &str) -> AgesFile {
        parse_ages(text.as_bytes(), "ages.csv").unwrap()
    }

    fn messages(file: &AgesFile) -> Vec<String> {
        file.problems.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn every_separator_and_heading_case_reads_alike() {
        for separator in [",", ";", "\t"] {
            for mark in ["", "\u{feff}"] {
                let text = format!("{mark}KB,Fish,rt\r\n3,0012,4\r\n,0013,5.0\r\n")
                    .replace(',', separator);
                let file = ages(&text);
                assert_eq!(file.problems, []);
                assert_eq!(file.table.readers, ["KB", "rt"]);
                let expected = [
                    FishAges { fish: "0012".into(), row: 2, ages: vec![Some(3), Some(4)] },
                    FishAges { fish: "0013".into(), row: 3, ages: vec![None, Some(5)] },
                ];
                assert_eq!(file.table.fish, expected);
            }
        }
    }

    #[test]
    fn faulty_cells_are_named_and_good_rows_kept() {
        let text = "fish,kb,rt\n1,3,3\n2,3.5,x\n3,-1,4\n4,501,2\n,2,2\n6,2,+3\n7,4,\n";
        let file = ages(text);
        let kept: Vec<&str> = file.table.fish.iter().map(|fish| fish.fish.as_str()).collect();
        assert_eq!(kept, ["1", "7"]);
        let found = messages(&file);
        let expected = [
            "ages.csv, row 3, column 'kb': expected a whole number of years, found '3.5'",
            "ages.csv, row 3, column 'rt': expected a whole number of years, found 'x'",
            "ages.csv, row 4, column 'kb': expected an age of 0 or more, found '-1'",
            "ages.csv, row 5, column 'kb': expected an age up to 500 years, found '501'",
            "ages.csv, row 6, column 'fish': expected a fish number, found none",
            "ages.csv, row 7, column 'rt': expected a whole number of years, found '+3'",
        ];
        assert_eq!(found.len(), expected.len());
        for (found, expected) in found.iter().zip(expected) {
            assert!(found.contains(expected), "{found}");
        }
    }

    #[test]
    fn a_fish_in_two_rows_is_refused_in_both() {
        let file = ages("fish,kb,rt\n1,3,3\n2,4,4\n1,5,5\n");
        assert_eq!(file.table.fish.len(), 1);
        let found = messages(&file);
        assert!(found[0].contains("row 2, column 'fish'") && found[0].contains("more than once"));
        assert!(found[1].contains("row 4, column 'fish'") && found[1].contains("already in row 2"));
    }

    #[test]
    fn bytes_of_an_older_encoding_are_named() {
        let file = parse_ages(b"fish,kb,rt\n1,3,3\nM\xFC1,4,4\n", "ages.csv").unwrap();
        assert_eq!(file.table.fish.len(), 1);
        assert!(messages(&file)[0].contains("row 3, column 'fish'"));
        let first = parse_ages(b"fish,kb,rt\nM\xFC1,4,4\n2,3,3\n", "ages.csv").unwrap();
        assert_eq!((first.table.fish.len(), first.problems.len()), (1, 1));
    }

    #[test]
    fn headings_that_name_no_readers_are_refused() {
        for (text, expected) in [
            ("", "expected a heading row"),
            ("kb,rt\n1,2\n", "expected a column 'fish', found kb, rt"),
            ("fish,kb\n1,2\n", "two or more readers, found 1"),
            ("fish,kb,KB\n1,2,3\n", "the heading 'KB' stands twice"),
            ("fish,kb,\n1,2,3\n", "column 3 holds ages but has no heading"),
        ] {
            let error = parse_ages(text.as_bytes(), "ages.csv").unwrap_err().to_string();
            assert!(error.contains(expected), "{error}");
        }
        let padded = ages("fish,kb,rt,\n1,2,3,\n");
        assert_eq!(padded.table.readers.len(), 2);
    }
}
