//! Radii from old projector sheets: from the screen's millimetres to micrometres on the structure.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::store::radii_table::{RadiiTableError, parse_radii};

use super::sheet_import::SheetImport;
use super::sheet_meaning::annulus_of;

/// In which unit radii were read off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum RadiiUnit {
    /// Millimetres on the projected picture.
    #[default]
    Millimetres,
    /// Inches on the projected picture.
    Inches,
    /// Micrometres.
    Micrometres,
}

impl RadiiUnit {
    /// All, in the order they are offered.
    pub const ALL: [Self; 3] = [Self::Millimetres, Self::Inches, Self::Micrometres];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Millimetres => "mm",
            Self::Inches => "in",
            Self::Micrometres => "µm",
        }
    }

    const fn micrometres(self) -> f64 {
        match self {
            Self::Millimetres => 1000.0,
            Self::Inches => 25_400.0,
            Self::Micrometres => 1.0,
        }
    }
}

/// How radii were measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RadiiScale {
    /// Unit of the numbers.
    pub unit: RadiiUnit,
    /// How many times larger than the structure the projected picture was.
    pub magnification: f64,
}

impl Default for RadiiScale {
    fn default() -> Self {
        Self { unit: RadiiUnit::default(), magnification: 1.0 }
    }
}

impl RadiiScale {
    /// A radius on the structure: number times unit over magnification. `None` where the magnification is no positive number.
    pub fn micrometres(self, number: f64) -> Option<f64> {
        let um = number * self.unit.micrometres() / self.magnification;
        (self.magnification > 0.0 && um.is_finite()).then_some(um)
    }

    /// The scale in words.
    pub fn words(self) -> String {
        format!("{} on a picture {} times enlarged", self.unit.word(), self.magnification)
    }
}

/// Scales and otoliths whose median total radius is outside these, micrometres, are not what a person measures (common
/// practice, no source).
const USUAL_MEDIAN_UM: std::ops::RangeInclusive<f64> = 100.0..=20_000.0;

/// A table of radii as `lengths --radii` takes it, and what is wrong with it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RadiiDraft {
    /// The table as RFC 4180 text.
    pub csv: String,
    /// Rows that hold.
    pub n_rows: usize,
    /// Rows that do not, and what is wrong: row of the sheet, column, message.
    pub faults: Vec<(usize, String, String)>,
    /// What stands in the way of the whole table.
    pub blocking: Option<String>,
    /// Worth a look.
    pub caution: Option<String>,
}

/// The radii of a sheet at its stated magnification.
pub fn radii_draft(import: &SheetImport) -> RadiiDraft {
    let columns: Vec<(usize, String)> = import
        .meanings
        .iter()
        .enumerate()
        .filter_map(|(place, meaning)| Some((place, heading_of(meaning.as_deref()?))))
        .collect();
    let mut draft = RadiiDraft::default();
    if import.scale.micrometres(1.0).is_none() {
        draft.blocking = Some("state the magnification as a number above 0".to_owned());
        return draft;
    }
    let headings: Vec<&str> = columns.iter().map(|(_, heading)| heading.as_str()).collect();
    _ = writeln!(draft.csv, "{}", headings.join(","));
    for row in 0..import.sheet.rows.len() {
        let cells = columns.iter().map(|(column, _)| quoted(&cell(import, row, *column)));
        let cells: Vec<String> = cells.collect();
        _ = writeln!(draft.csv, "{}", cells.join(","));
    }
    match parse_radii(draft.csv.as_bytes()) {
        Ok(table) => {
            draft.n_rows = table.rows.len();
            draft.caution = caution_of(
                table.rows.iter().filter_map(|row| Some(row.radius?.0)).collect(),
                import.scale,
            );
            let theirs: BTreeMap<&str, &str> = columns
                .iter()
                .filter_map(|(place, ours)| {
                    Some((ours.as_str(), import.sheet.headings.get(*place)?.as_str()))
                })
                .collect();
            draft.faults = table
                .faults
                .into_iter()
                .map(|fault| {
                    // The heading is line 1, so that line 2 is the first row.
                    let row = import.sheet.rows.get(fault.row.saturating_sub(2));
                    let column =
                        theirs.get(fault.column.as_str()).copied().unwrap_or(&fault.column);
                    (row.map_or(fault.row, |row| row.number), column.to_owned(), fault.message)
                })
                .collect();
        }
        Err(error) => draft.blocking = Some(blocking_words(&error)),
    }
    draft
}

fn blocking_words(error: &RadiiTableError) -> String {
    match error {
        RadiiTableError::MissingColumn { column, .. } => {
            format!("say which column holds {}", words_of(column))
        }
        other => other.to_string(),
    }
}

fn words_of(column: &str) -> String {
    match column {
        "fish" => "the number of the fish".to_owned(),
        "length_mm" => "the length of the fish".to_owned(),
        "radius_um" => "the total radius".to_owned(),
        other => {
            let annulus = other.trim_start_matches('a').trim_end_matches("_um");
            format!("the radius of annulus {annulus}")
        }
    }
}

/// The heading a meaning has in a table of radii.
fn heading_of(meaning: &str) -> String {
    match meaning {
        "length_mm" | "length_cm" | "length_in" => "length_mm".to_owned(),
        "radius" => "radius_um".to_owned(),
        other if annulus_of(other).is_some() => format!("{other}_um"),
        other => other.to_owned(),
    }
}

/// A cell in the unit of its heading; what is no number stays, so that it is told with its row.
fn cell(import: &SheetImport, row: usize, column: usize) -> String {
    let text = import.text(row, column);
    let meaning = import.meanings.get(column).and_then(Option::as_deref).unwrap_or_default();
    let Ok(number) = text.parse::<f64>() else { return text.to_owned() };
    match meaning {
        "length_cm" => (number * 10.0).to_string(),
        "length_in" => (number * 25.4).to_string(),
        "radius" => import.scale.micrometres(number).unwrap_or(f64::NAN).to_string(),
        other if annulus_of(other).is_some() => {
            import.scale.micrometres(number).unwrap_or(f64::NAN).to_string()
        }
        _ => text.to_owned(),
    }
}

fn caution_of(mut radii_um: Vec<f64>, scale: RadiiScale) -> Option<String> {
    radii_um.sort_by(f64::total_cmp);
    let median = *radii_um.get(radii_um.len() / 2)?;
    (!USUAL_MEDIAN_UM.contains(&median)).then(|| {
        format!(
            "the median total radius is {:.3} mm on the structure, read as {}: check unit and magnification",
            median / 1000.0,
            scale.words()
        )
    })
}

fn quoted(cell: &str) -> String {
    if cell.contains([',', '"', ';', '\t', '\n', '\r']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}
