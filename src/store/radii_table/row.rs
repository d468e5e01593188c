//! One row of a table of radii.

use csv::StringRecord;

use crate::domain::dates::Date;
use crate::domain::fish::Sex;
use crate::domain::radii::RadiiRow;
use crate::domain::units::{Micrometres, Millimetres};

use super::RowFault;
use super::heading::Headings;

/// Reads a row, or all that is wrong with it.
pub(super) fn parse_row(
    record: &StringRecord,
    row: usize,
    headings: &Headings,
) -> Result<RadiiRow, Vec<RowFault>> {
    let mut cells = Cells { record, row, faults: Vec::new() };
    if record.len() > headings.count()
        && record.iter().skip(headings.count()).any(|cell| !cell.is_empty())
    {
        let message = format!(
            "{} cells under {} headings: remove a separator too many, or a comma inside a number",
            record.len(),
            headings.count()
        );
        cells.fault("", message);
    }
    let fish = cells.text(Some(headings.fish));
    if fish.is_empty() {
        cells.fault("fish", "no fish number: write one in every row".to_owned());
    }
    let parsed = RadiiRow {
        fish,
        row,
        species: cells.text(headings.species),
        sex: cells.sex(headings.sex),
        water: cells.text(headings.water),
        length: cells.number(headings.length, "length_mm").map(Millimetres),
        radius: cells.number(headings.radius, "radius_um").map(Micrometres),
        annuli: cells.annuli(&headings.annuli),
        captured: cells.date(headings.capture_date),
        year_class: cells.year(headings.year_class),
    };
    if parsed.length.is_some_and(|length| length.value() <= 0.0) {
        cells.fault("length_mm", "a length must be above 0: correct it".to_owned());
    }
    if cells.faults.is_empty() { Ok(parsed) } else { Err(cells.faults) }
}

struct Cells<'a> {
    record: &'a StringRecord,
    row: usize,
    faults: Vec<RowFault>,
}

impl Cells<'_> {
    fn cell(&self, column: Option<usize>) -> &str {
        column.and_then(|column| self.record.get(column)).unwrap_or_default()
    }

    fn text(&self, column: Option<usize>) -> String {
        self.cell(column).to_owned()
    }

    fn fault(&mut self, column: &str, message: String) {
        self.faults.push(RowFault { row: self.row, column: column.to_owned(), message });
    }

    fn number(&mut self, column: usize, name: &str) -> Option<f64> {
        let text = self.text(Some(column));
        if text.is_empty() {
            return None;
        }
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Some(number),
            _ if text.contains(',') => {
                self.fault(name, format!("'{text}' is not a number: write it with a decimal point and no thousands mark"));
                None
            }
            _ => {
                self.fault(
                    name,
                    format!("'{text}' is not a number: correct it, or leave the cell empty"),
                );
                None
            }
        }
    }

    /// Radii up to the last filled cell. An empty cell before it would move later annuli by a year.
    fn annuli(&mut self, columns: &[usize]) -> Vec<Micrometres> {
        let filled = columns.iter().rposition(|column| !self.cell(Some(*column)).is_empty());
        let mut radii = Vec::new();
        for (index, column) in columns.iter().take(filled.map_or(0, |last| last + 1)).enumerate() {
            let name = format!("a{}_um", index + 1);
            if self.cell(Some(*column)).is_empty() {
                self.fault(
                    &name,
                    "empty, though a later annulus is filled in: enter its radius".to_owned(),
                );
            }
            radii.extend(self.number(*column, &name).map(Micrometres));
        }
        radii
    }

    fn sex(&mut self, column: Option<usize>) -> Sex {
        let text = self.text(column);
        Sex::from_word(&text).unwrap_or_else(|| {
            self.fault(
                "sex",
                format!("'{text}' is not a sex: write female, male or unknown (or f, m, u)"),
            );
            Sex::Unknown
        })
    }

    fn date(&mut self, column: Option<usize>) -> Option<Date> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        let date = text.parse().ok().filter(|_| text.len() == 10);
        if date.is_none() {
            self.fault("capture_date", format!("'{text}' is not a date: write it as 2025-09-14"));
        }
        date
    }

    fn year(&mut self, column: Option<usize>) -> Option<i16> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        let year = text.parse().ok().filter(|year| (1000..=9999).contains(year));
        if year.is_none() {
            self.fault("year_class", format!("'{text}' is not a year: write it with four digits"));
        }
        year
    }
}
