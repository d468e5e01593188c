//! Tables whose rows each become one thing: the frame that effort, stocking and reference files share.

use std::collections::BTreeMap;
use std::path::Path;

use super::cells::{Cells, Column, Columns};
use super::error::StoreError;
use super::problem::Problem;
use super::table::{Table, read_table};

/// What a table held: things from the good rows, and everything wrong with the others.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet<T> {
    /// Things of the good rows, in the order of the table.
    pub rows: Vec<T>,
    /// All problems, in the order of rows.
    pub problems: Vec<Problem>,
}

/// Reads a table row by row; `None` where there is no file. `read` gets each row and leaves its problems there.
///
/// # Errors
/// [`StoreError::Io`] when the file cannot be read.
pub fn read_sheet<T>(
    path: &Path,
    name: &str,
    known: &[Column],
    renamed: &BTreeMap<String, String>,
    read: impl FnMut(&mut Cells<'_>) -> Option<T>,
) -> Result<Option<Sheet<T>>, StoreError> {
    match read_table(path, name) {
        Ok(None) => Ok(None),
        Ok(Some(mut table)) => {
            let columns = Columns::find(&mut table, known, renamed);
            Ok(Some(sheet_from(table, &columns, read)))
        }
        Err(StoreError::BadTable(problem)) => {
            Ok(Some(Sheet { rows: Vec::new(), problems: vec![problem] }))
        }
        Err(error) => Err(error),
    }
}

/// As [`read_sheet`], for a table that is already split and whose columns are found. Where a needed column is
/// missing there are no rows, and one problem rather than one for each row.
pub fn sheet_from<T>(
    mut table: Table,
    columns: &Columns,
    mut read: impl FnMut(&mut Cells<'_>) -> Option<T>,
) -> Sheet<T> {
    let mut problems = std::mem::take(&mut table.problems);
    let mut rows = Vec::new();
    if columns.are_complete() {
        for row in &table.rows {
            let mut cells = Cells::new(&table, columns, row, &mut problems);
            let thing = read(&mut cells);
            if cells.is_good() {
                rows.extend(thing);
            }
        }
    }
    problems.sort_by_key(|problem| problem.row);
    Sheet { rows, problems }
}

/// The parts of a cell that holds several, separated by `|` or `;`.
pub fn separated(cell: &str) -> Vec<String> {
    let parts = cell.split(['|', ';']).map(str::trim);
    parts.filter(|part| !part.is_empty()).map(str::to_owned).collect()
}
