//! `fish.csv`, the field sheet: a row for each fish.
//!
//! `fish`, `capture_date` and a length must be there, and `species` unless survey.json settles it. Columns by our
//! names; survey.json may give other headings for them:
//!
//! | column | holds |
//! |---|---|
//! | `fish` | fish or envelope number, as text; leading zeros are kept |
//! | `species`, `water`, `run` | text; where empty, species and water are the survey's |
//! | `capture_date` | the day, as 2025-04-03 |
//! | `length` | in the survey's unit; or `length_mm`, `length_cm`, `length_in` |
//! | `length_type` | total, fork or standard (TL, FL, SL) |
//! | `weight` | in the survey's unit; or `weight_g`, `weight_kg`, `weight_lb` |
//! | `sex` | female, male, unknown (F, M, U) |
//! | `body_site`, `pressing_batch`, `slide`, `position` | text |
//! | `mark_found` | empty: not looked for; `none`: looked for, none found; else the mark |
//! | `known_year_class` | a year |
//! | `scans` | file names in `scans/`, several separated by `|` or `;` |
//! | `count` | number of fish the row stands for, where fish were only counted |
//! | `note` | text, not read by the program |

use std::path::Path;

use crate::domain::dates::looks_like_turned_number;
use crate::domain::fish::{Fish, LengthType, Sex, StockingMark};
use crate::domain::survey::{LengthUnit, Survey, WeightUnit};

use super::cells::{Cells, Column, Columns, Need, Numbers, missing_column};
use super::error::StoreError;
use super::file_name;
use super::problem::Problem;
use super::sheet::separated;
use super::table::{Table, read_table};
use super::unit_suspicion::{suspected_units, suspected_weight_units};

/// Name of the file in the survey folder.
pub const FIELD_SHEET: &str = "fish.csv";

/// Fish that could be read, and everything wrong with the sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FieldSheet {
    /// Fish of the good rows, in the order of the sheet. A fish only counted and without a number has the key
    /// `row-N`.
    pub fish: Vec<Fish>,
    /// Fish of the other rows, as far as they could be read.
    pub faulty_fish: Vec<Fish>,
    /// All problems, in the order of rows.
    pub problems: Vec<Problem>,
}

const fn optional(name: &'static str) -> Column {
    Column::new(name, Need::Optional)
}

const fn judged(name: &'static str) -> Column {
    Column::new(name, Need::Judged)
}

/// The columns a field sheet may have.
pub const FIELD_COLUMNS: [Column; 24] = [
    Column::new("fish", Need::Always).or(&["fish_number", "envelope"]),
    judged("species"),
    optional("water"),
    Column::new("capture_date", Need::Always).or(&["date"]),
    optional("run"),
    judged("length"),
    judged("length_mm"),
    judged("length_cm"),
    judged("length_in"),
    optional("length_type"),
    judged("weight"),
    judged("weight_g"),
    judged("weight_kg"),
    judged("weight_lb"),
    optional("sex"),
    optional("body_site"),
    optional("pressing_batch"),
    optional("slide"),
    optional("position"),
    optional("mark_found"),
    optional("known_year_class"),
    optional("scans").or(&["scan"]),
    optional("count"),
    optional("note"),
];

/// Reads the field sheet of the survey in `folder`. Rows that hold are given even where others do not.
///
/// # Errors
/// [`StoreError::Io`] when the file cannot be read. Everything else, a missing file included, is a problem in the
/// result.
pub fn read_field_sheet(folder: &Path, survey: &Survey) -> Result<FieldSheet, StoreError> {
    match read_table(&folder.join(FIELD_SHEET), FIELD_SHEET) {
        Ok(Some(table)) => Ok(field_sheet_from(table, survey)),
        Ok(None) => {
            let message = "there is no field sheet: put fish.csv beside survey.json, with a row for each fish";
            Ok(FieldSheet {
                problems: vec![Problem::error(FIELD_SHEET, message)],
                ..FieldSheet::default()
            })
        }
        Err(StoreError::BadTable(problem)) => {
            Ok(FieldSheet { problems: vec![problem], ..FieldSheet::default() })
        }
        Err(error) => Err(error),
    }
}

/// Reads fish from a table with the columns above.
pub fn field_sheet_from(mut table: Table, survey: &Survey) -> FieldSheet {
    let columns = Columns::find(&mut table, &FIELD_COLUMNS, &survey.column_map);
    let mut problems = std::mem::take(&mut table.problems);
    let form = Form::of(&table, &columns, survey, &mut problems);
    let (mut fish, mut faulty_fish) = (Vec::new(), Vec::new());
    let mut row_of_key = std::collections::HashMap::new();
    // Without the column of fish every row would be wrong in the same way.
    let rows = if columns.has("fish") { table.rows.as_slice() } else { &[] };
    for row in rows {
        let mut cells = Cells::new(&table, &columns, row, &mut problems);
        let read = form.fish(&mut cells, survey);
        if let Some(first) = row_of_key.get(&read.key) {
            let message = format!(
                "expected each fish once, found '{}' again (it stands in row {first}): correct one of the two, or name \
                 the columns that tell them apart under key_columns in survey.json",
                read.key
            );
            cells.error("fish", message);
        } else {
            row_of_key.insert(read.key.clone(), row.number);
        }
        if cells.is_good() { fish.push(read) } else { faulty_fish.push(read) }
    }
    if let Some((length_column, unit)) = form.length {
        let heading = columns.heading(&table, length_column);
        problems.extend(suspected_units(&fish, unit, &table.file, heading));
    }
    if let Some((weight_column, unit)) = form.weight {
        let heading = columns.heading(&table, weight_column);
        problems.extend(suspected_weight_units(&fish, unit, &table.file, heading));
    }
    problems.sort_by_key(|problem| problem.row);
    FieldSheet { fish, faulty_fish, problems }
}

/// What the headings settle for all rows.
struct Form {
    length: Option<(&'static str, LengthUnit)>,
    weight: Option<(&'static str, WeightUnit)>,
}

impl Form {
    fn of(table: &Table, columns: &Columns, survey: &Survey, problems: &mut Vec<Problem>) -> Self {
        let lengths = [
            ("length", survey.length_unit),
            ("length_mm", LengthUnit::Millimetre),
            ("length_cm", LengthUnit::Centimetre),
            ("length_in", LengthUnit::Inch),
        ];
        let weights = [
            ("weight", survey.weight_unit),
            ("weight_g", WeightUnit::Gram),
            ("weight_kg", WeightUnit::Kilogram),
            ("weight_lb", WeightUnit::Pound),
        ];
        let length = one_of(&lengths, table, columns, problems);
        let weight = one_of(&weights, table, columns, problems);
        if length.is_none() && !survey.column_map.contains_key("length") {
            problems.push(missing_column(table, "length", "length", &FIELD_COLUMNS));
        }
        let is_settled = !survey.species.is_empty() || survey.column_map.contains_key("species");
        if !columns.has("species") && !is_settled {
            problems.push(missing_column(table, "species", "species", &FIELD_COLUMNS));
        }
        Self { length, weight }
    }

    fn fish(&self, cells: &mut Cells<'_>, survey: &Survey) -> Fish {
        let count = cells.whole("count", 1..=1_000_000).unwrap_or(1);
        let number = if count > 1 {
            cells.text("fish")
        } else {
            cells.required_text("fish", "a fish number")
        };
        note_turned_number(cells, number);
        let or_survey = |text: &str, usual: &str| {
            if text.is_empty() { usual.to_owned() } else { text.to_owned() }
        };
        let text = |cells: &Cells<'_>, name: &str| cells.text(name).to_owned();
        let length = self.length.and_then(|(name, unit)| {
            cells.number(name, Numbers::Positive).map(|value| unit.millimetres_from(value))
        });
        let weight_g = self.weight.and_then(|(name, unit)| {
            cells.number(name, Numbers::Positive).map(|value| unit.grams_from(value))
        });
        Fish {
            key: key_of(cells, survey, number),
            number: number.to_owned(),
            species: or_survey(cells.text("species"), &survey.species),
            water: or_survey(cells.text("water"), &survey.water),
            captured: cells.date("capture_date"),
            run: text(cells, "run"),
            length,
            length_type: cells
                .word("length_type", "total, fork or standard", LengthType::from_word)
                .unwrap_or_default(),
            weight_g,
            sex: cells.word("sex", "female, male or unknown", Sex::from_word).unwrap_or_default(),
            body_site: text(cells, "body_site"),
            pressing_batch: text(cells, "pressing_batch"),
            slide: text(cells, "slide"),
            slide_position: text(cells, "position"),
            stocking_mark: stocking_mark(cells.text("mark_found")),
            known_year_class: cells
                .whole("known_year_class", 1800..=2200)
                .and_then(|year| i16::try_from(year).ok()),
            scans: scans(cells),
            count,
            row: cells.row_number(),
        }
    }
}

/// The one column of several that say the same in different units.
fn one_of<U: Copy>(
    choices: &[(&'static str, U)],
    table: &Table,
    columns: &Columns,
    problems: &mut Vec<Problem>,
) -> Option<(&'static str, U)> {
    let mut there = choices.iter().filter(|(name, _)| columns.has(name));
    let first = there.next().copied();
    if let (Some((first, _)), Some((second, _))) = (first, there.next()) {
        let message =
            format!("expected one of '{first}' and '{second}', found both: remove or rename one");
        problems.push(Problem::error(&table.file, message).at_row(1).in_column(*second));
    }
    first
}

fn key_of(cells: &mut Cells<'_>, survey: &Survey, number: &str) -> String {
    if number.is_empty() {
        return format!("row-{}", cells.row_number());
    }
    let mut parts = Vec::new();
    for column in &survey.key_columns {
        if column == "fish" {
            parts.push(number);
            continue;
        }
        let own = cells.text(column);
        let part =
            if own.is_empty() { cells.text_by_heading(column).unwrap_or_default() } else { own };
        if part.is_empty() {
            cells.error(column, "expected a value, since this column is a key column in survey.json, found none: fill it in");
        }
        parts.push(part);
    }
    if parts.is_empty() { number.to_owned() } else { parts.join("/") }
}

fn note_turned_number(cells: &mut Cells<'_>, number: &str) {
    let is_power =
        number.contains(['E', 'e']) && number.contains('.') && number.parse::<f64>().is_ok();
    if looks_like_turned_number(number) {
        let message = format!(
            "expected a fish number, found '{number}', which looks like a number that a spreadsheet has turned into a \
             date: set the column to text and type the number again"
        );
        cells.warning("fish", message);
    } else if is_power {
        let message = format!(
            "expected a fish number, found '{number}', which a spreadsheet has rounded: set the column to text and type \
             the number again"
        );
        cells.warning("fish", message);
    }
}

fn stocking_mark(text: &str) -> StockingMark {
    match text.to_lowercase().as_str() {
        "" | "not looked for" => StockingMark::NotLookedFor,
        "none" | "no" => StockingMark::NoneFound,
        _ => StockingMark::Found(text.to_owned()),
    }
}

fn scans(cells: &mut Cells<'_>) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for name in separated(cells.text("scans")) {
        let name = name.as_str();
        if let Some(reason) = file_name::fault_in(name) {
            cells.error(
                "scans",
                format!(
                    "expected the name of a file in the folder scans, found '{name}': {reason}"
                ),
            );
        } else if !file_name::is_scan_name(name) {
            let endings = file_name::SCAN_ENDINGS.join(", ");
            cells.error(
                "scans",
                format!("expected a picture ({endings}), found '{name}': write the whole file name with its ending"),
            );
        } else if names.iter().any(|before| before == name) {
            cells.warning("scans", format!("'{name}' stands twice in this row: remove one"));
        } else {
            names.push(name.to_owned());
        }
    }
    names
}
