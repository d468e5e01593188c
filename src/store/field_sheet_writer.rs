//! Writing a field sheet that reads back as the same fish.

use std::path::Path;

use crate::domain::fish::{Fish, StockingMark};
use crate::domain::survey::Survey;

use super::error::StoreError;
use super::field_sheet::FIELD_SHEET;
use super::fingerprint::Fingerprint;
use super::table_writer::{cell, number_that_gives, write_table};

const COLUMNS: [&str; 18] = [
    "fish",
    "species",
    "water",
    "capture_date",
    "run",
    "length",
    "length_type",
    "weight",
    "sex",
    "body_site",
    "pressing_batch",
    "slide",
    "position",
    "mark_found",
    "known_year_class",
    "scans",
    "count",
    "note",
];

/// Writes the field sheet of the survey in `folder`, in the survey's units and headings. The note column is empty:
/// this is for making a survey, not for changing a sheet that people keep. `expected` as for a sidecar.
///
/// # Errors
/// [`StoreError::ChangedByOther`] when the file is not the expected one, [`StoreError::Io`].
pub fn write_field_sheet(
    folder: &Path,
    survey: &Survey,
    fish: &[Fish],
    expected: Option<&Fingerprint>,
) -> Result<Fingerprint, StoreError> {
    let headings = COLUMNS.map(|name| survey.column_map.get(name).map_or(name, String::as_str));
    let rows = fish.iter().map(|fish| cells_of(fish, survey));
    write_table(&folder.join(FIELD_SHEET), &headings, rows, expected)
}

fn cells_of(fish: &Fish, survey: &Survey) -> [String; 18] {
    let length_unit = survey.length_unit;
    let weight_unit = survey.weight_unit;
    [
        fish.number.clone(),
        fish.species.clone(),
        fish.water.clone(),
        cell(fish.captured),
        fish.run.clone(),
        fish.length
            .map(|length| number_that_gives(length.0, |n| length_unit.millimetres_from(n).0))
            .unwrap_or_default(),
        fish.length_type.word().to_owned(),
        fish.weight_g
            .map(|weight_g| number_that_gives(weight_g, |n| weight_unit.grams_from(n)))
            .unwrap_or_default(),
        fish.sex.word().to_owned(),
        fish.body_site.clone(),
        fish.pressing_batch.clone(),
        fish.slide.clone(),
        fish.slide_position.clone(),
        match &fish.stocking_mark {
            StockingMark::NotLookedFor => String::new(),
            StockingMark::NoneFound => "none".to_owned(),
            StockingMark::Found(mark) => mark.clone(),
        },
        cell(fish.known_year_class),
        fish.scans.join(" | "),
        if fish.count == 1 { String::new() } else { fish.count.to_string() },
        String::new(),
    ]
}
