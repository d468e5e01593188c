//! Likely mistakes of a field sheet, each with what one click would do about it.

use std::collections::HashMap;

use crate::domain::dates::{DayOrder, parse, parse_in_order, typed_before};
use crate::domain::fish::Fish;
use crate::domain::survey::{LengthUnit, Survey, WeightUnit};
use crate::store::raw_sheet::CellKind;
use crate::store::unit_suspicion::{Suspicion, suspected_lengths, suspected_weights};

use super::sheet_import::{Fix, SheetImport};
use super::sheet_meaning::meaning_words;

/// Single cells are offered one by one up to so many; beyond that only together.
const MOST_SINGLE: usize = 12;

/// Something that looks like a mistake, and what can be done about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// What stands there, and what it may have been.
    pub words: String,
    /// Words for a button and what it does.
    pub choices: Vec<(String, Fix)>,
}

/// All offers on a sheet whose good and faulty rows gave `fish`.
pub(super) fn offers(import: &SheetImport, fish: &[Fish], survey: &Survey) -> Vec<Offer> {
    let mut all = number_offers(import);
    if let Some((column, unit)) = length_column(import, survey) {
        all.extend(unit_offers(import, column, suspected_lengths(fish, unit)));
    }
    if let Some((column, unit)) = weight_column(import, survey) {
        all.extend(unit_offers(import, column, suspected_weights(fish, unit)));
    }
    all
}

fn length_column(import: &SheetImport, survey: &Survey) -> Option<(usize, LengthUnit)> {
    let units = [
        ("length", survey.length_unit),
        ("length_mm", LengthUnit::Millimetre),
        ("length_cm", LengthUnit::Centimetre),
        ("length_in", LengthUnit::Inch),
    ];
    units.into_iter().find_map(|(name, unit)| Some((import.column_of(name)?, unit)))
}

fn weight_column(import: &SheetImport, survey: &Survey) -> Option<(usize, WeightUnit)> {
    let units = [
        ("weight", survey.weight_unit),
        ("weight_g", WeightUnit::Gram),
        ("weight_kg", WeightUnit::Kilogram),
        ("weight_lb", WeightUnit::Pound),
    ];
    units.into_iter().find_map(|(name, unit)| Some((import.column_of(name)?, unit)))
}

/// The place of each row, by its number in the sheet.
fn places(import: &SheetImport) -> HashMap<usize, usize> {
    let rows = import.sheet.rows.iter().enumerate();
    rows.map(|(place, row)| (row.number, place)).collect()
}

fn unit_offers(import: &SheetImport, column: usize, found: Vec<Suspicion>) -> Vec<Offer> {
    let places = places(import);
    let heading = import.sheet.headings.get(column).cloned().unwrap_or_default();
    let is_single = found.len() <= MOST_SINGLE;
    let mut offers = Vec::new();
    let mut together: HashMap<&str, Vec<(usize, usize, String)>> = HashMap::new();
    for one in &found {
        let unit = unit_words(one.fits);
        let Some(row) = one.row else {
            let first = one.message.split(": ").next().unwrap_or(&one.message);
            let fix = Fix::Meaning(column, Some(one.fits.to_owned()));
            let choice = format!("Take '{heading}' as {}", meaning_words(one.fits).to_lowercase());
            offers.push(Offer { words: first.to_owned(), choices: vec![(choice, fix)] });
            continue;
        };
        let Some(place) = places.get(&row).copied() else { continue };
        let stands = import.text(place, column).to_owned();
        let Ok(number) = stands.parse::<f64>() else { continue };
        let meant = (number * one.to_stated * 1000.0).round() / 1000.0;
        let cells = vec![(place, column, meant.to_string())];
        together.entry(one.fits).or_default().extend(cells.clone());
        if is_single {
            let first = one.message.split(": ").next().unwrap_or(&one.message);
            let why = format!("{heading}: {stands} stood there, taken as {unit}");
            let choice = format!("Take {stands} (row {row}) as {unit}: {meant}");
            offers.push(Offer {
                words: format!("Row {row}: {first}"),
                choices: vec![(choice, Fix::Cells(cells, why))],
            });
        }
    }
    let mut together: Vec<_> = together.into_iter().filter(|(_, cells)| cells.len() > 1).collect();
    together.sort_by_key(|(fits, _)| *fits);
    for (fits, cells) in together {
        let unit = unit_words(fits);
        let choice = format!("Take all {} of these as {unit}", cells.len());
        let words = format!("{} numbers under '{heading}' fit {unit}", cells.len());
        let why = format!("{heading}: taken as {unit}");
        offers.push(Offer { words, choices: vec![(choice, Fix::Cells(cells, why))] });
    }
    offers
}

/// The unit at the end of a column's name, in full: "as in" would read like no unit at all.
fn unit_words(column: &str) -> &'static str {
    match column.rsplit('_').next() {
        Some("in") => "inches",
        Some("cm") => "centimetres",
        Some("mm") => "millimetres",
        Some("lb") => "pounds",
        Some("kg") => "kilograms",
        _ => "grams",
    }
}

/// Days that are not written as year-month-day, where all of them can be read in one order.
fn date_offers(import: &SheetImport) -> Option<Offer> {
    let column = import.column_of("capture_date")?;
    let cells: Vec<(usize, &str)> = (0..import.sheet.rows.len())
        .map(|row| (row, import.text(row, column)))
        .filter(|(_, text)| !text.is_empty() && parse(text).is_err())
        .collect();
    let (first_row, first) = *cells.first()?;
    let heading = import.sheet.headings.get(column)?;
    let in_order = |order: DayOrder| -> Option<Vec<(usize, usize, String)>> {
        let read = |(row, text): &(usize, &str)| {
            Some((*row, column, parse_in_order(text, order)?.to_string()))
        };
        cells.iter().map(read).collect()
    };
    let (month_first, day_first) = (in_order(DayOrder::MonthFirst), in_order(DayOrder::DayFirst));
    let mut choices = Vec::new();
    let words = if month_first == day_first { "Write them as" } else { "Month first:" };
    let mut offer = |words: &str, fixed: Option<Vec<(usize, usize, String)>>, order: &str| {
        if let Some(fixed) = fixed {
            let example = fixed.first().map_or("", |(.., text)| text.as_str()).to_owned();
            let why = format!("{heading}: day written anew{order}");
            choices.push((format!("{words} {example}"), Fix::Cells(fixed, why)));
        }
    };
    let are_alike = month_first == day_first;
    offer(words, month_first, if are_alike { "" } else { ", month first" });
    if !are_alike {
        offer("Day first:", day_first, ", day first");
    }
    let row = import.sheet.rows.get(first_row)?.number;
    let words = format!(
        "{} days under '{heading}' are not written as year-month-day, such as {first} in row {row}",
        cells.len()
    );
    (!choices.is_empty()).then_some(Offer { words, choices })
}

/// Fish numbers that a spreadsheet has made days of: what stands there, and what may have been typed.
fn turned_number_offers(import: &SheetImport) -> Vec<Offer> {
    let Some(column) = import.column_of("fish") else { return Vec::new() };
    let heading = import.sheet.headings.get(column).cloned().unwrap_or_default();
    let mut found: Vec<(usize, String, Vec<String>)> = Vec::new();
    for row in 0..import.sheet.rows.len() {
        let text = import.text(row, column);
        let before = typed_before(text);
        if !before.is_empty() && !import.changes.contains_key(&(row, column)) {
            found.push((row, text.to_owned(), before));
        }
    }
    let number = |row: usize| import.sheet.rows.get(row).map_or(0, |row| row.number);
    let why =
        |stands: &str| format!("{heading}: a spreadsheet's day ({stands}), number written anew");
    let mut offers = Vec::new();
    if found.len() > 1 {
        let as_all = |place: usize| {
            let cells = found.iter().filter_map(|(row, _, before)| {
                Some((*row, column, before.get(place).or(before.first())?.clone()))
            });
            Fix::Cells(cells.collect(), why("several"))
        };
        let words = format!(
            "{} fish numbers look like days that a spreadsheet made of them, such as {}",
            found.len(),
            found.first().map_or("", |(_, text, _)| text)
        );
        let choices = vec![
            ("Take all as month-day".to_owned(), as_all(0)),
            ("Take all as day-month".to_owned(), as_all(1)),
        ];
        offers.push(Offer { words, choices });
    }
    for (row, text, before) in found.iter().take(MOST_SINGLE) {
        let words = format!(
            "Row {}: {text} stands there as a fish number; it may have been {}",
            number(*row),
            before.join(" or ")
        );
        let choice = |meant: &String| {
            let fix = Fix::Cells(vec![(*row, column, meant.clone())], why(text));
            (format!("Take row {} as {meant}", number(*row)), fix)
        };
        let mut choices: Vec<(String, Fix)> = before.iter().map(choice).collect();
        let fix = Fix::Cells(vec![(*row, column, text.clone())], why(text));
        choices.push((format!("{text} is right"), fix));
        offers.push(Offer { words, choices });
    }
    offers
}

/// Fish numbers that a spreadsheet keeps as numbers have lost their leading zeros.
fn lost_zero_offer(import: &SheetImport) -> Option<Offer> {
    let column = import.column_of("fish")?;
    let heading = import.sheet.headings.get(column)?;
    let is_bare = |row: &usize| {
        let cell = import.sheet.rows.get(*row).and_then(|row| row.cells.get(column));
        let text = import.text(*row, column);
        cell.is_some_and(|cell| cell.kind == CellKind::Number)
            && !import.changes.contains_key(&(*row, column))
            && text.bytes().all(|byte| byte.is_ascii_digit())
    };
    let rows: Vec<usize> = (0..import.sheet.rows.len()).filter(is_bare).collect();
    let first = import.text(*rows.first()?, column);
    let longest = rows.iter().map(|row| import.text(*row, column).len()).max()?;
    let choices = (longest.max(2)..longest.max(2) + 3).map(|width| {
        let filled = |row: &usize| {
            let text = import.text(*row, column);
            (text.len() < width).then(|| (*row, column, format!("{text:0>width$}")))
        };
        let why = format!("{heading}: leading zeros written anew");
        let cells: Vec<_> = rows.iter().filter_map(filled).collect();
        (format!("Fill up to {width} digits: {first:0>width$}"), Fix::Cells(cells, why))
    });
    let choices =
        choices.filter(|(_, fix)| matches!(fix, Fix::Cells(cells, _) if !cells.is_empty()));
    let words = format!(
        "{} fish numbers are kept as numbers: leading zeros are lost, if there were any",
        rows.len()
    );
    Some(Offer { words, choices: choices.collect() })
}

/// The offers on fish numbers and days alone.
pub(super) fn number_offers(import: &SheetImport) -> Vec<Offer> {
    let mut all: Vec<Offer> = date_offers(import).into_iter().collect();
    all.extend(turned_number_offers(import));
    all.extend(lost_zero_offer(import));
    all
}
