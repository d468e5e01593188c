//! Lengths at ages as one table: what growth curves are fitted to.

/// One length at one age.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthAtAge {
    /// The fish, where known: rows of one fish are resampled together. `None`: a fish of its own.
    pub fish: Option<String>,
    /// Age, years.
    pub age: f64,
    /// Length, in the unit of the table.
    pub length: f64,
    /// Weight of the row in the fit; 1, or the number of fish behind a mean length.
    pub weight: f64,
    /// Values of the grouping columns, in the order of [`LengthAtAgeTable::group_columns`]; empty where missing.
    pub groups: Vec<String>,
    /// Line of the file, from 1 (the heading).
    pub row: usize,
}

/// Lengths at ages with their grouping columns.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LengthAtAgeTable {
    /// Headings of the grouping columns.
    pub group_columns: Vec<String>,
    /// The rows.
    pub rows: Vec<LengthAtAge>,
}

impl LengthAtAgeTable {
    /// Position of a grouping column, without regard to case.
    pub fn group_column(&self, name: &str) -> Option<usize> {
        self.group_columns.iter().position(|column| column.eq_ignore_ascii_case(name.trim()))
    }
}
