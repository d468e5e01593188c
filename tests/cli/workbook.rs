//! Tables out of a spreadsheet: a workbook reads as the same table kept as text, and what the spreadsheet did to it is
//! told.

use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
use serde_json::Value;

use crate::fixture::{Compared, case, published};
use crate::run::{text, winterline};

/// A workbook of ages with a sheet of notes before it; `names_as_text` keeps fish names as text.
fn ages_workbook(path: &std::path::Path, fish: &[Vec<u64>], names_as_text: bool) {
    let mut workbook = Workbook::new();
    workbook.add_worksheet().set_name("Notes").unwrap().set_hidden(true);
    let sheet = workbook.add_worksheet().set_name("Ages").unwrap();
    sheet.set_active(true);
    sheet.write_string(0, 0, "fish").unwrap();
    for (row, ages) in (1..).zip(fish) {
        if names_as_text {
            sheet.write_string(row, 0, format!("{row:03}")).unwrap();
        } else {
            sheet.write_number(row, 0, row).unwrap();
        }
        for (column, age) in (1..).zip(ages) {
            sheet.write_string(0, column, format!("reader {column}")).unwrap();
            sheet.write_number(row, column, *age as f64).unwrap();
        }
    }
    workbook.save(path).unwrap();
}

/// Check 13: Beamish & Fournier 1981, Chang 1982; arithmetic by numpy. The worked sheet is kept as a workbook here.
#[test]
fn published_precision_comes_out_of_a_workbook() {
    let file = published("13_reader_precision");
    let one = case(&file, "hand_table");
    let of =
        |ages: &Value| ages.as_array().unwrap().iter().map(|age| age.as_u64().unwrap()).collect();
    let fish: Vec<Vec<u64>> = one["input"]["ages"].as_array().unwrap().iter().map(of).collect();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ages.xlsx");
    ages_workbook(&path, &fish, true);
    let run = winterline(&["agree", "--ages", &text(&path), "--json"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    let (found, expected) = (run.json(), &one["expected"]);
    let mut compared = Compared::within(1e-9);
    compared.number(&found["average_percent_error"], &expected["APE"]);
    compared.number(&found["mean_cv_percent"], &expected["CV"]);
    compared.number(&found["mean_d_percent"], &expected["D"]);
    compared.number(&found["percent_agreement"]["exact"], &expected["PA_all_readers_identical"]);
    assert_eq!(compared.count, 4);
}

#[test]
fn lost_zeros_are_warned_of_and_a_missing_sheet_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ages.xlsx");
    ages_workbook(&path, &[vec![3, 4], vec![2, 2]], false);
    let run = winterline(&["agree", "--ages", &text(&path)]);
    assert_eq!(run.status, 0, "a warning stops nothing: {}", run.err);
    assert!(
        run.err.contains("sheet 'Ages', row 2, column 'fish': 2 names of fish are kept as numbers"),
        "{}",
        run.err
    );
    let run = winterline(&["agree", "--ages", &text(&path), "--sheet", "Lengths"]);
    assert_eq!(run.status, 1);
    assert!(run.err.contains("no sheet 'Lengths'"), "{}", run.err);
}

#[test]
fn a_date_in_place_of_an_age_is_an_error_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ages.xlsx");
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet().set_name("Ages").unwrap();
    for (column, heading) in (0..).zip(["fish", "kb", "mt"]) {
        sheet.write_string(0, column, heading).unwrap();
    }
    let day = ExcelDateTime::from_ymd(2025, 3, 4).unwrap();
    for (row, name) in [(1, "01"), (2, "02")] {
        sheet.write_string(row, 0, name).unwrap();
        sheet.write_number(row, 1, 3).unwrap();
        sheet.write_number(row, 2, 3).unwrap();
    }
    let format = Format::new().set_num_format("d-mmm");
    sheet.write_datetime_with_format(2, 2, &day, &format).unwrap();
    workbook.save(&path).unwrap();
    let run = winterline(&["agree", "--ages", &text(&path), "--json"]);
    assert_eq!(run.status, 1);
    let expected = "ages.xlsx, sheet 'Ages', row 3, column 'mt': the spreadsheet keeps a date (2025-03-04) here";
    assert!(run.err.contains(expected), "{}", run.err);
    assert!(run.json()["error"].as_str().unwrap().contains(expected));
    assert_eq!(run.json()["n"], 1, "the other fish counts");
}

/// Direct proportion by hand, from a workbook of radii: 300 x 500/1400 = 107.142857.
#[test]
fn radii_and_lengths_come_out_of_workbooks_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("radii.xlsx");
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet();
    for (column, heading) in (0..).zip(["fish", "length_mm", "radius_um", "a1_um"]) {
        sheet.write_string(0, column, heading).unwrap();
    }
    sheet.write_string(1, 0, "007").unwrap();
    for (column, number) in (1..).zip([300.0, 1400.0, 500.0]) {
        sheet.write_number(1, column, number).unwrap();
    }
    workbook.save(&path).unwrap();
    let run =
        winterline(&["lengths", "--radii", &text(&path), "--method", "direct-proportion", "--csv"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.out.contains("007") && run.out.contains("107.14"), "{}", run.out);
}
