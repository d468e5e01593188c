//! Tables, damaged in every way: no panic, no hang, clear messages, and what was read reads the same after writing.

use proptest::prelude::*;
use winterline::domain::effort::EffortRun;
use winterline::domain::fish::Fish;
use winterline::domain::reference::ReferenceLength;
use winterline::domain::stocking::Stocking;
use winterline::store::ages_table::parse_ages;
use winterline::store::effort_file::{read_effort, write_effort};
use winterline::store::field_sheet::read_field_sheet;
use winterline::store::field_sheet_writer::write_field_sheet;
use winterline::store::length_at_age_table::parse_lengths_at_age;
use winterline::store::lengths_table::{parse_aged_lengths, parse_unaged_lengths};
use winterline::store::problem::{Problem, is_clean};
use winterline::store::radii_table::parse_radii;
use winterline::store::reference_file::{read_reference, write_reference};
use winterline::store::stocking_file::{read_stocking, write_stocking};
use winterline::store::table::{Table, parse_table};

use crate::bench::{Bench, sound, survey};
use crate::cases::{self, Case, damaged, pick};
use crate::damage_table::damage_table;
use crate::messages::{judge, judge_all};

/// Tries `read` on damaged tables; it gives its messages.
fn try_table(name: &str, read: impl Fn(&[u8]) -> Result<Vec<String>, TestCaseError>) {
    let sound = sound(name);
    cases::run(&damaged(), |(which, ops): Case| {
        let bytes = damage_table(pick(&sound, which).unwrap(), &ops);
        let messages = read(&bytes)?;
        prop_assert!(!ops.is_empty() || messages.is_empty(), "a sound table: {:?}", messages);
        judge_all(&messages, &["t.csv", name])
    });
}

fn texts(problems: &[Problem]) -> Vec<String> {
    problems.iter().map(ToString::to_string).collect()
}

fn without_rows(mut fish: Vec<Fish>) -> Vec<Fish> {
    for one in &mut fish {
        if one.key.starts_with("row-") {
            one.key.clear();
        }
        one.row = 0;
    }
    fish
}

#[test]
fn field_sheets() {
    let (bench, other) = (Bench::new(), Bench::new());
    let survey = survey();
    try_table("fish.csv", |bytes| {
        bench.put("fish.csv", bytes);
        let sheet = read_field_sheet(bench.folder(), &survey).unwrap();
        let _ = std::fs::remove_file(other.folder().join("fish.csv"));
        write_field_sheet(other.folder(), &survey, &sheet.fish, None).unwrap();
        let again = read_field_sheet(other.folder(), &survey).unwrap();
        prop_assert!(is_clean(&again.problems), "{:?}", again.problems);
        prop_assert_eq!(without_rows(again.fish), without_rows(sheet.fish));
        Ok(texts(&sheet.problems))
    });
}

#[test]
fn effort_sheets() {
    let bench = Bench::new();
    let no_row = |rows: Vec<EffortRun>| -> Vec<EffortRun> {
        rows.into_iter().map(|row| EffortRun { row: 0, ..row }).collect()
    };
    try_table("effort.csv", |bytes| {
        let sheet = read_effort(&bench.put("t.csv", bytes), "t.csv").unwrap().unwrap();
        let path = bench.folder().join("again.csv");
        let _ = std::fs::remove_file(&path);
        write_effort(&path, &sheet.rows, None).unwrap();
        let again = read_effort(&path, "again.csv").unwrap().unwrap();
        prop_assert!(is_clean(&again.problems), "{:?}", again.problems);
        prop_assert_eq!(no_row(again.rows), no_row(sheet.rows));
        Ok(texts(&sheet.problems))
    });
}

#[test]
fn stocking_sheets() {
    let (bench, survey) = (Bench::new(), survey());
    let no_row = |rows: Vec<Stocking>| -> Vec<Stocking> {
        rows.into_iter().map(|row| Stocking { row: 0, ..row }).collect()
    };
    try_table("stocking.csv", |bytes| {
        let sheet = read_stocking(&bench.put("t.csv", bytes), "t.csv", &survey).unwrap().unwrap();
        let path = bench.folder().join("again.csv");
        let _ = std::fs::remove_file(&path);
        write_stocking(&path, &sheet.rows, None).unwrap();
        let again = read_stocking(&path, "again.csv", &survey).unwrap().unwrap();
        prop_assert!(is_clean(&again.problems), "{:?}", again.problems);
        prop_assert_eq!(no_row(again.rows), no_row(sheet.rows));
        Ok(texts(&sheet.problems))
    });
}

#[test]
fn references() {
    let bench = Bench::new();
    let no_row = |rows: Vec<ReferenceLength>| -> Vec<ReferenceLength> {
        rows.into_iter().map(|row| ReferenceLength { row: 0, ..row }).collect()
    };
    try_table("reference.csv", |bytes| {
        let sheet = read_reference(&bench.put("t.csv", bytes), "t.csv").unwrap().unwrap();
        let path = bench.folder().join("again.csv");
        let _ = std::fs::remove_file(&path);
        write_reference(&path, &sheet.rows, None).unwrap();
        let again = read_reference(&path, "again.csv").unwrap().unwrap();
        prop_assert!(is_clean(&again.problems), "{:?}", again.problems);
        prop_assert_eq!(no_row(again.rows), no_row(sheet.rows));
        Ok(texts(&sheet.problems))
    });
}

#[test]
fn tables_of_ages() {
    try_table("ages.csv", |bytes| {
        Ok(match parse_ages(bytes, "t.csv") {
            Ok(file) => texts(&file.problems),
            Err(error) => vec![error.to_string()],
        })
    });
}

#[test]
fn tables_of_aged_and_unaged_fish() {
    try_table("aged.csv", |bytes| {
        let parsed = [parse_aged_lengths(bytes, "t.csv"), parse_unaged_lengths(bytes, "t.csv")];
        let told = |parsed: Result<_, _>| match parsed {
            Ok(table) => {
                let table: winterline::store::lengths_table::LengthsTable = table;
                assert!(
                    table.rows.iter().all(|row| row.length.0.is_finite() && row.length.0 > 0.0)
                );
                texts(&table.problems)
            }
            Err(error) => vec![winterline::store::error::StoreError::to_string(&error)],
        };
        Ok(parsed.into_iter().flat_map(told).collect())
    });
}

#[test]
fn tables_of_lengths_at_age() {
    try_table("at-age.csv", |bytes| {
        Ok(match parse_lengths_at_age(bytes, "t.csv") {
            Ok(sheet) => {
                let rows = &sheet.table.rows;
                prop_assert!(rows.iter().all(|row| row.age.is_finite() && row.length.is_finite()));
                texts(&sheet.problems)
            }
            Err(error) => vec![error.to_string()],
        })
    });
}

/// The command line puts the name of the file before these.
#[test]
fn tables_of_radii() {
    try_table("radii.csv", |bytes| {
        Ok(match parse_radii(bytes) {
            Ok(table) => {
                let numbers = table.rows.iter().flat_map(|row| &row.annuli).map(|radius| radius.0);
                prop_assert!(numbers.into_iter().all(f64::is_finite));
                table.faults.iter().map(|fault| format!("t.csv: {fault}")).collect()
            }
            Err(error) => vec![format!("t.csv: {error}")],
        })
    });
}

fn as_text(table: &Table) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
    writer.write_record(&table.headings).unwrap();
    for row in &table.rows {
        writer.write_record(&row.cells).unwrap();
    }
    writer.into_inner().unwrap()
}

/// Whatever was taken for cells is taken for the same cells after writing them plainly.
#[test]
fn cells_of_any_table() {
    let sound = sound("radii.csv");
    cases::run(&damaged(), |(which, ops)| {
        let bytes = damage_table(pick(&sound, which).unwrap(), &ops);
        let table = match parse_table(&bytes, "t.csv") {
            Ok(table) => table,
            Err(error) => return judge(&error.to_string(), &["t.csv"]),
        };
        prop_assert!(table.rows.iter().all(|row| row.cells.len() == table.headings.len()));
        if table.headings.len() > 1 {
            let again = parse_table(&as_text(&table), "t.csv").unwrap();
            prop_assert_eq!(&again.headings, &table.headings);
            let cells = |table: &Table| -> Vec<Vec<String>> {
                table.rows.iter().map(|row| row.cells.clone()).collect()
            };
            prop_assert_eq!(cells(&again), cells(&table));
        }
        judge_all(&texts(&table.problems), &["t.csv"])
    });
}
