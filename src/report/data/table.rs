//! A table on its way out: columns with their unit and meaning, and cells that are text, a number or nothing.

use crate::report::plot::printable;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// Whole numbers.
    Whole,
    /// Numbers.
    Number,
    /// Days, as year-month-day.
    Date,
    /// `yes` or `no`.
    YesNo,
}

impl Kind {
    /// The word of the dictionary.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Whole => "whole number",
            Self::Number => "number",
            Self::Date => "date (year-month-day)",
            Self::YesNo => "yes or no",
        }
    }
}

/// One value.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// No value.
    Missing,
    /// Text without control characters.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
}

impl Cell {
    /// Text as a person wrote it. Control characters but tab and new line become the replacement character; empty text
    /// is no value.
    pub fn text(text: impl AsRef<str>) -> Self {
        let text = text.as_ref();
        if text.is_empty() {
            Self::Missing
        } else {
            Self::Text(printable(&text.replace("\r\n", "\n")))
        }
    }

    /// A number; no value where it does not exist or is not finite.
    pub fn number(value: impl Into<Option<f64>>) -> Self {
        value.into().filter(|value| value.is_finite()).map_or(Self::Missing, Self::Number)
    }

    /// A whole number.
    pub fn whole(value: impl TryInto<i64>) -> Self {
        value.try_into().map_or(Self::Missing, Self::Whole)
    }

    /// A whole number that may not exist.
    pub fn whole_or_none<T: TryInto<i64>>(value: Option<T>) -> Self {
        value.map_or(Self::Missing, Self::whole)
    }

    /// `yes` or `no`.
    pub fn yes_no(value: bool) -> Self {
        Self::Text(if value { "yes" } else { "no" }.to_owned())
    }
}

/// One column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DataColumn {
    /// Its name in every file, with the unit at its end.
    pub name: String,
    /// Its unit in words; empty where it has none.
    pub unit: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// What it means.
    pub meaning: &'static str,
}

/// One table.
#[derive(Debug, Clone, PartialEq)]
pub struct DataTable {
    /// Its name: of the sheet, of the file, and in JSON.
    pub name: &'static str,
    /// One row for each what.
    pub one_row_for: &'static str,
    /// Columns.
    pub columns: Vec<DataColumn>,
    /// Rows, each as long as the columns.
    pub rows: Vec<Vec<Cell>>,
}

/// The dictionary of `tables`, itself a table.
pub(super) fn dictionary(tables: &[DataTable]) -> DataTable {
    let column = |name: &str, meaning| DataColumn {
        name: name.to_owned(),
        unit: "",
        kind: Kind::Text,
        meaning,
    };
    let rows = tables.iter().flat_map(|table| {
        table.columns.iter().map(|one| {
            vec![
                Cell::text(table.name),
                Cell::text(table.one_row_for),
                Cell::text(&one.name),
                Cell::text(one.kind.word()),
                Cell::text(one.unit),
                Cell::text(one.meaning),
            ]
        })
    });
    let rows = rows.collect();
    let columns = vec![
        column("table", "table the column belongs to"),
        column("one_row_for", "what one row of the table stands for"),
        column("column", "name of the column"),
        column("kind", "what its cells hold"),
        column("unit", "unit of its numbers"),
        column("meaning", "what it means"),
    ];
    DataTable { name: "dictionary", one_row_for: "column of a table", columns, rows }
}
