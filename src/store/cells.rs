//! Cells as values: each row is read column by column, and every cell that does not hold becomes a problem that says
//! what was expected, what was found and what to do.

use std::collections::BTreeMap;

use crate::domain::dates::{self, Date};

use super::problem::Problem;
use super::table::{Table, TableRow};

/// A column a table may have.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Our name, which is also its heading.
    pub name: &'static str,
    /// Other headings that mean the same.
    pub also: &'static [&'static str],
    /// Must the table have it?
    pub need: Need,
}

/// Must a table have a column?
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// Yes.
    Always,
    /// No.
    Optional,
    /// It is one of several that say the same, or may be settled elsewhere: the caller judges.
    Judged,
}

impl Column {
    /// A column with only its own heading.
    pub const fn new(name: &'static str, need: Need) -> Self {
        Self { name, also: &[], need }
    }

    /// The same column under other headings too.
    #[must_use]
    pub const fn or(self, also: &'static [&'static str]) -> Self {
        Self { also, ..self }
    }
}

/// Where each known column stands in a table.
#[derive(Debug, Clone)]
pub struct Columns {
    places: BTreeMap<String, usize>,
    is_complete: bool,
}

impl Columns {
    /// Finds `known` columns by heading, in any order and letter case; `renamed` gives other headings by our names.
    /// A required column that is missing becomes a problem, and so does a heading that is nearly one of ours.
    pub fn find(table: &mut Table, known: &[Column], renamed: &BTreeMap<String, String>) -> Self {
        let mut places = BTreeMap::new();
        let position = |headings: &[String], wanted: &str| {
            headings.iter().position(|heading| same_heading(heading, wanted))
        };
        for column in known {
            let place = match renamed.iter().find(|(ours, _)| same_heading(ours, column.name)) {
                Some((_, theirs)) => position(&table.headings, theirs),
                None => std::iter::once(&column.name)
                    .chain(column.also)
                    .find_map(|name| position(&table.headings, name)),
            };
            if let Some(place) = place {
                places.insert(column.name.to_owned(), place);
            }
        }
        let missing = || known.iter().filter(|column| !places.contains_key(column.name));
        for column in missing() {
            note_missing(table, column, renamed, known);
        }
        let is_complete = missing().all(|column| column.need != Need::Always);
        Self { places, is_complete }
    }

    /// True where no column is missing that a table must always have.
    pub fn are_complete(&self) -> bool {
        self.is_complete
    }

    /// Says that a judged column is missing after all, so that rows are not worth reading.
    pub fn set_incomplete(&mut self) {
        self.is_complete = false;
    }

    /// Adds the column with this heading under that name, for tables with columns of their own making.
    pub fn add(&mut self, table: &Table, heading: &str) {
        let place = table.headings.iter().position(|found| same_heading(found, heading));
        if let Some(place) = place {
            self.places.insert(heading.to_owned(), place);
        }
    }

    /// True where the table has the column.
    pub fn has(&self, name: &str) -> bool {
        self.places.contains_key(name)
    }

    /// The heading of a column as it stands in the file; our name where it has none.
    pub fn heading<'t>(&self, table: &'t Table, name: &'t str) -> &'t str {
        let place = self.places.get(name);
        place.and_then(|place| table.headings.get(*place)).map_or(name, String::as_str)
    }
}

/// True where two headings are one, letter case, spaces and hyphens apart.
pub fn same_heading(a: &str, b: &str) -> bool {
    let plain = |text: &str| text.trim().to_lowercase().replace([' ', '-'], "_");
    plain(a) == plain(b)
}

fn note_missing(
    table: &mut Table,
    column: &Column,
    renamed: &BTreeMap<String, String>,
    known: &[Column],
) {
    let name = column.name;
    let wanted = renamed.get(name).map_or(name, String::as_str);
    if column.need == Need::Always || renamed.contains_key(name) {
        let problem = missing_column(table, wanted, name, known);
        table.problems.push(problem);
    } else if column.need == Need::Optional
        && let Some(near) = near_heading(table, wanted, known)
    {
        let message = format!("this column is not read: rename it if '{name}' is meant");
        let problem = Problem::warning(&table.file, message).at_row(1).in_column(near);
        table.problems.push(problem);
    }
}

/// The problem of a column that must be there and is not: what is there instead, and what to do.
pub fn missing_column(table: &Table, wanted: &str, name: &str, known: &[Column]) -> Problem {
    let hint = match near_heading(table, wanted, known) {
        Some(near) => format!("rename the column '{near}'"),
        None => {
            format!("add it, or say in survey.json under columns which heading stands for '{name}'")
        }
    };
    let headings = table.headings.join(", ");
    let message = format!("expected a column '{wanted}', found only {headings}: {hint}");
    Problem::error(&table.file, message).at_row(1).in_column(wanted)
}

/// A heading that is nearly the one wanted and none of ours.
fn near_heading(table: &Table, wanted: &str, known: &[Column]) -> Option<String> {
    let is_ours = |heading: &str| {
        known.iter().any(|column| {
            std::iter::once(&column.name).chain(column.also).any(|ours| same_heading(ours, heading))
        })
    };
    let mut headings = table.headings.iter();
    headings
        .find(|heading| !is_ours(heading) && is_nearly(&heading.to_lowercase(), wanted))
        .cloned()
}

/// True where one slip of the pen (two in long words) makes one word of the other: a letter too many, too few, wrong,
/// or swapped with the next.
fn is_nearly(a: &str, b: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let allowed = if b.len() < 8 { 1 } else { 2 };
    if a.len().abs_diff(b.len()) > allowed || b.len() < 4 {
        return false;
    }
    let at = |row: &[usize], index: usize| row.get(index).copied().unwrap_or(usize::MAX / 2);
    let mut before: Vec<usize> = Vec::new();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.iter().enumerate() {
        let mut next = vec![i + 1];
        for (j, other) in b.iter().enumerate() {
            let change = at(&row, j) + usize::from(letter != other);
            let mut least = change.min(at(&row, j + 1) + 1).min(at(&next, j) + 1);
            let is_swap =
                i > 0 && j > 0 && a.get(i - 1) == Some(other) && b.get(j - 1) == Some(letter);
            if is_swap {
                least = least.min(at(&before, j - 1) + 1);
            }
            next.push(least);
        }
        before = std::mem::replace(&mut row, next);
    }
    row.last().is_some_and(|distance| *distance <= allowed)
}

/// Which numbers a cell may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Numbers {
    /// Any number.
    Any,
    /// Above 0.
    Positive,
    /// 0 and above.
    NotNegative,
    /// 0 to 100.
    Percent,
}

impl Numbers {
    fn what(self) -> &'static str {
        match self {
            Self::Any => "a number",
            Self::Positive => "a number above 0",
            Self::NotNegative => "a number from 0",
            Self::Percent => "a number from 0 to 100",
        }
    }

    fn holds(self, number: f64) -> bool {
        match self {
            Self::Any => true,
            Self::Positive => number > 0.0,
            Self::NotNegative => number >= 0.0,
            Self::Percent => (0.0..=100.0).contains(&number),
        }
    }
}

/// One row, read cell by cell. Problems are collected; [`Cells::is_good`] tells whether any was an error.
pub struct Cells<'a> {
    table: &'a Table,
    columns: &'a Columns,
    row: &'a TableRow,
    problems: &'a mut Vec<Problem>,
    n_before: usize,
}

impl<'a> Cells<'a> {
    /// The cells of one row; problems are added to `problems`.
    pub fn new(
        table: &'a Table,
        columns: &'a Columns,
        row: &'a TableRow,
        problems: &'a mut Vec<Problem>,
    ) -> Self {
        let n_before = problems.len();
        Self { table, columns, row, problems, n_before }
    }

    /// Row as a spreadsheet counts it.
    pub fn row_number(&self) -> usize {
        self.row.number
    }

    /// True while no cell of this row was wrong.
    pub fn is_good(&self) -> bool {
        self.problems.iter().skip(self.n_before).all(|problem| !problem.is_error())
    }

    /// The cell as it stands; empty where it or the column is missing.
    pub fn text(&self, column: &str) -> &'a str {
        self.columns
            .places
            .get(column)
            .and_then(|place| self.row.cells.get(*place))
            .map_or("", String::as_str)
    }

    /// The cell of whatever column has this heading in the file, for key columns that are not among ours.
    pub fn text_by_heading(&self, heading: &str) -> Option<&'a str> {
        let place = self.table.headings.iter().position(|found| same_heading(found, heading))?;
        self.row.cells.get(place).map(String::as_str)
    }

    /// Notes an error in a column of this row.
    pub fn error(&mut self, column: &str, message: impl Into<String>) {
        let problem = Problem::error(&self.table.file, message);
        self.push(column, problem);
    }

    /// Notes a warning in a column of this row.
    pub fn warning(&mut self, column: &str, message: impl Into<String>) {
        let problem = Problem::warning(&self.table.file, message);
        self.push(column, problem);
    }

    fn push(&mut self, column: &str, problem: Problem) {
        let heading = self.columns.heading(self.table, column);
        self.problems.push(problem.at_row(self.row.number).in_column(heading));
    }

    /// A text that must be there.
    pub fn required_text(&mut self, column: &str, what: &str) -> &'a str {
        let found = self.text(column);
        if found.is_empty() {
            self.error(column, format!("expected {what}, found an empty cell: fill it in"));
        }
        found
    }

    /// A number with a decimal point; `None` where the cell is empty or wrong.
    pub fn number(&mut self, column: &str, allowed: Numbers) -> Option<f64> {
        let found = self.text(column);
        if found.is_empty() {
            return None;
        }
        let what = allowed.what();
        match found.parse::<f64>() {
            Ok(number) if number.is_finite() && allowed.holds(number) => return Some(number),
            Ok(_) => self.error(
                column,
                format!("expected {what}, found '{found}': correct it, or leave the cell empty"),
            ),
            Err(_) => {
                let hint = hint_for_number(found);
                self.error(column, format!("expected {what}, found '{found}': {hint}"));
            }
        }
        None
    }

    /// As [`Cells::number`], but the cell must not be empty.
    pub fn required_number(&mut self, column: &str, allowed: Numbers) -> Option<f64> {
        self.required_text(column, allowed.what());
        self.number(column, allowed)
    }

    /// A whole number in a range; `None` where the cell is empty or wrong.
    pub fn whole(&mut self, column: &str, range: std::ops::RangeInclusive<u32>) -> Option<u32> {
        let found = self.text(column);
        if found.is_empty() {
            return None;
        }
        let number = found.strip_suffix(".0").unwrap_or(found).parse().ok();
        if let Some(number) = number.filter(|number| range.contains(number)) {
            return Some(number);
        }
        let (first, last) = (range.start(), range.end());
        self.error(
            column,
            format!("expected a whole number from {first} to {last}, found '{found}': correct it, or leave the cell empty"),
        );
        None
    }

    /// A calendar day in ISO form; `None` where the cell is empty or wrong.
    pub fn date(&mut self, column: &str) -> Option<Date> {
        let found = self.text(column);
        if found.is_empty() {
            return None;
        }
        match dates::parse(found) {
            Ok(date) => Some(date),
            Err(advice) => {
                self.error(
                    column,
                    format!(
                        "expected a date as year-month-day (2025-04-03), found '{found}': {advice}"
                    ),
                );
                None
            }
        }
    }

    /// One of a few words; `None` where the cell is empty or wrong.
    pub fn word<T>(
        &mut self,
        column: &str,
        allowed: &str,
        from_word: fn(&str) -> Option<T>,
    ) -> Option<T> {
        let found = self.text(column);
        if found.is_empty() {
            return None;
        }
        let value = from_word(found);
        if value.is_none() {
            self.error(column, format!("expected {allowed}, found '{found}': write one of these"));
        }
        value
    }
}

fn hint_for_number(found: &str) -> String {
    let (n_commas, n_points) = (found.matches(',').count(), found.matches('.').count());
    let has_digit = found.bytes().any(|byte| byte.is_ascii_digit());
    if n_commas == 1 && n_points == 0 && has_digit {
        "write the decimals after a point, and no separators between thousands".to_owned()
    } else if has_digit && found.chars().any(char::is_alphabetic) || found.ends_with(['"', '\'']) {
        "write the number alone; the unit is settled by the heading or in survey.json".to_owned()
    } else {
        "write a number, or leave the cell empty".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_of_the_pen_are_near_and_other_words_are_not() {
        for (a, b) in
            [("lenght", "length"), ("wieght", "weight"), ("scan", "scans"), ("speces", "species")]
        {
            assert!(is_nearly(a, b), "{a} {b}");
        }
        for (a, b) in
            [("gear", "year_class"), ("sex", "run"), ("width", "length"), ("note", "count")]
        {
            assert!(!is_nearly(a, b), "{a} {b}");
        }
    }

    #[test]
    fn headings_fold_case_spaces_and_hyphens() {
        assert!(same_heading(" Capture Date", "capture_date"));
        assert!(same_heading("CAPTURE-DATE", "capture_date"));
        assert!(!same_heading("capturedate", "capture_date"));
    }
}
