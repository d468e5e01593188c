//! Field sheets as people and spreadsheets write them, and the message each slip is answered with.

use crate::domain::dates::Date;

use crate::domain::fish::{Fish, LengthType, Sex, StockingMark};
use crate::domain::reading::Structure;
use crate::domain::survey::{LengthUnit, Survey, WeightUnit};
use crate::domain::units::Millimetres;

use super::error::StoreError;
use super::field_sheet::{FieldSheet, field_sheet_from, read_field_sheet};
use super::field_sheet_writer::write_field_sheet;
use super::table::parse_table;

fn survey() -> Survey {
    let mut survey = Survey::new("Maple Hollow Pond 2025", "Maple Hollow Pond", Structure::Scale);
    survey.species = "yellow perch".to_owned();
    survey
}

fn sheet_of(bytes: &[u8], survey: &Survey) -> FieldSheet {
    field_sheet_from(parse_table(bytes, "fish.csv").unwrap(), survey)
}

fn sheet(text: &str) -> FieldSheet {
    sheet_of(text.as_bytes(), &survey())
}

fn texts(sheet: &FieldSheet) -> Vec<String> {
    sheet.problems.iter().map(ToString::to_string).collect()
}

const FULL: &str = "Fish,SPECIES,Water,Capture Date,Run,Length,Length Type,Weight,Sex,Body Site,Pressing-Batch,Slide,\
Position,Mark Found,Known Year Class,Scans,Count,Note\n\
0012,walleye,Alder Lake,2025-04-03,2,312.5,TL,245,F,left of dorsal,B3,S7,A4,left ventral clip,2021,MH-0012.tif | MH-0012b.tif,,\"a, \"\"b\"\"\"\n";

#[test]
fn every_column_is_read() {
    let sheet = sheet(FULL);
    assert_eq!(texts(&sheet), Vec::<String>::new());
    let expected = Fish {
        key: "0012".to_owned(),
        number: "0012".to_owned(),
        species: "walleye".to_owned(),
        water: "Alder Lake".to_owned(),
        captured: Some(Date::constant(2025, 4, 3)),
        run: "2".to_owned(),
        length: Some(Millimetres(312.5)),
        length_type: LengthType::Total,
        weight_g: Some(245.0),
        sex: Sex::Female,
        body_site: "left of dorsal".to_owned(),
        pressing_batch: "B3".to_owned(),
        slide: "S7".to_owned(),
        slide_position: "A4".to_owned(),
        stocking_mark: StockingMark::Found("left ventral clip".to_owned()),
        known_year_class: Some(2021),
        scans: vec!["MH-0012.tif".to_owned(), "MH-0012b.tif".to_owned()],
        count: 1,
        row: 2,
    };
    assert_eq!(sheet.fish, [expected]);
}

#[test]
fn written_sheets_read_back_as_the_same_fish() {
    for (length_unit, weight_unit) in [
        (LengthUnit::Millimetre, WeightUnit::Gram),
        (LengthUnit::Centimetre, WeightUnit::Kilogram),
        (LengthUnit::Inch, WeightUnit::Pound),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let mut survey = survey();
        survey.length_unit = length_unit;
        survey.weight_unit = weight_unit;
        survey.column_map.insert("fish".to_owned(), "Envelope No.".to_owned());
        survey.column_map.insert("length".to_owned(), "TL".to_owned());
        let full =
            field_sheet_from(parse_table(FULL.as_bytes(), "fish.csv").unwrap(), &self::survey());
        let mut fish = full.fish;
        for (index, length_in) in [4.1, 7.3, 11.0, 12.7, 9.9].into_iter().enumerate() {
            let mut next = fish[0].clone();
            next.number = format!("00{index}");
            next.key = next.number.clone();
            next.length = Some(
                length_unit
                    .millimetres_from(length_in * 25.4 / length_unit.millimetres_from(1.0).0),
            );
            next.weight_g = Some(weight_unit.grams_from(1.2 + length_in));
            next.stocking_mark = StockingMark::NoneFound;
            next.scans = Vec::new();
            next.row = index + 3;
            fish.push(next);
        }
        let written = write_field_sheet(folder.path(), &survey, &fish, None).unwrap();
        let sheet = read_field_sheet(folder.path(), &survey).unwrap();
        assert_eq!(texts(&sheet), Vec::<String>::new());
        assert_eq!(sheet.fish, fish);
        let again = write_field_sheet(folder.path(), &survey, &fish, None);
        assert!(matches!(again, Err(StoreError::ChangedByOther { .. })));
        write_field_sheet(folder.path(), &survey, &fish, Some(&written)).unwrap();
    }
}

/// One row that is right and one that is not; the message must name row and column, and the good row be given.
fn answer_to(headings: &str, good: &str, bad: &str) -> (String, usize) {
    let sheet = sheet(&format!("{headings}\n{good}\n{bad}\n"));
    let texts = texts(&sheet);
    assert_eq!(texts.len(), 1, "{bad}: {texts:?}");
    (texts[0].clone(), sheet.fish.len())
}

#[test]
fn each_slip_has_its_message() {
    let headings = "fish,capture_date,length,weight,sex,length_type,known_year_class,scans,count";
    let good = "1,2025-04-03,312,,,,,,";
    for (bad, column, expected, found) in [
        ("2,2025-04-03,-5,,,,,,", "length", "expected a number above 0", "'-5'"),
        ("2,2025-04-03,0,,,,,,", "length", "expected a number above 0", "'0'"),
        ("2,2025-04-03,NaN,,,,,,", "length", "expected a number above 0", "'NaN'"),
        ("2,2025-04-03,inf,,,,,,", "length", "expected a number above 0", "'inf'"),
        ("2,2025-04-03,1e999,,,,,,", "length", "expected a number above 0", "'1e999'"),
        ("2,2025-04-03,long,,,,,,", "length", "write a number, or leave the cell empty", "'long'"),
        ("2,2025-04-03,312 mm,,,,,,", "length", "write the number alone", "'312 mm'"),
        ("2,2025-04-03,\"312,5\",,,,,,", "length", "decimals after a point", "'312,5'"),
        ("2,2025-04-03,312,-1,,,,,", "weight", "expected a number above 0", "'-1'"),
        ("2,2025-02-31,312,,,,,,", "capture_date", "the calendar has no such day", "'2025-02-31'"),
        ("2,3/4/2025,312,,,,,,", "capture_date", "write 2025-04-03 or 2025-03-04", "'3/4/2025'"),
        ("2,45750,312,,,,,,", "capture_date", "spreadsheet's count of days", "'45750'"),
        ("2,2025-04-03,312,,x,,,,", "sex", "expected female, male or unknown", "'x'"),
        ("2,2025-04-03,312,,,tip,,,", "length_type", "expected total, fork or standard", "'tip'"),
        ("2,2025-04-03,312,,,,21,,", "known_year_class", "whole number from 1800 to 2200", "'21'"),
        ("2,2025-04-03,312,,,,,,2.5", "count", "expected a whole number", "'2.5'"),
        ("2,2025-04-03,312,,,,,../a.tif,", "scans", "without folders", "'../a.tif'"),
        ("2,2025-04-03,312,,,,,/etc/a.tif,", "scans", "without folders", "'/etc/a.tif'"),
        ("2,2025-04-03,312,,,,,C:\\a.tif,", "scans", "without folders", "'C:\\a.tif'"),
        ("2,2025-04-03,312,,,,,a..tif,", "scans", "two dots", "'a..tif'"),
        ("2,2025-04-03,312,,,,,MH-0012,", "scans", "with its ending", "'MH-0012'"),
        (",2025-04-03,312,,,,,,", "fish", "expected a fish number", "empty cell"),
        ("1,2025-04-03,299,,,,,,", "fish", "expected each fish once", "row 2"),
    ] {
        let (text, n_fish) = answer_to(headings, good, bad);
        assert!(
            text.starts_with(&format!("error: fish.csv, row 3, column '{column}': ")),
            "{text}"
        );
        assert!(text.contains(expected) && text.contains(found), "{bad}: {text}");
        assert_eq!(n_fish, 1, "{bad}");
    }
}

#[test]
fn all_slips_are_told_at_once_in_order() {
    let sheet = sheet(
        "fish,capture_date,length\n1,2025-02-31,-5\n2,3/4/2025,x\n3,2025-04-03\n4,2025-04-03,200\n",
    );
    let rows: Vec<_> = sheet.problems.iter().map(|problem| problem.row.unwrap()).collect();
    assert_eq!(rows, [2, 2, 3, 3, 4]);
    assert_eq!(sheet.fish.len(), 1);
}

#[test]
fn missing_columns_are_named_with_what_is_there() {
    for (text, column, expected) in [
        (
            "capture_date,length\n2025-04-03,200\n2025-04-03,210\n",
            "fish",
            "found only capture_date, length",
        ),
        ("fish,length\n", "capture_date", "survey.json under columns"),
        ("fish,capture_date,lenght\n", "length", "rename the column 'lenght'"),
        ("fish,capture_date,sex\n", "length", "found only fish, capture_date, sex: add it"),
    ] {
        let texts = texts(&sheet(text));
        let start = format!("error: fish.csv, row 1, column '{column}': expected a column");
        assert!(
            texts.iter().any(|text| text.starts_with(&start) && text.contains(expected)),
            "{text}: {texts:?}"
        );
        assert_eq!(texts.len(), 1, "{text}: {texts:?}");
    }
    let mut without_species = survey();
    without_species.species.clear();
    let told = texts(&sheet_of(b"fish,capture_date,length\n", &without_species));
    assert!(told[0].contains("column 'species'"), "{told:?}");
    let mut mapped = survey();
    mapped.column_map.insert("length".to_owned(), "TL".to_owned());
    let told = texts(&sheet_of(b"fish,capture_date,length\n", &mapped));
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].contains("expected a column 'TL'"), "{told:?}");
    let two = texts(&sheet("fish,capture_date,length_mm,length_in\n"));
    assert!(two[0].contains("expected one of 'length_mm' and 'length_in', found both"), "{two:?}");
}

#[test]
fn a_number_turned_into_a_date_is_flagged_and_leading_zeros_stay() {
    for number in ["3-Apr", "Mar-12", "2025-03-12", "1.2E+05"] {
        let sheet = sheet(&format!(
            "fish,capture_date,length\n007,2025-04-03,312\n{number},2025-04-03,300\n"
        ));
        let texts = texts(&sheet);
        assert_eq!(texts.len(), 1, "{texts:?}");
        assert!(
            texts[0].starts_with("warning: fish.csv, row 3, column 'fish': ")
                && texts[0].contains(number),
            "{texts:?}"
        );
        assert_eq!(sheet.fish[0].number, "007");
        assert_eq!(sheet.fish.len(), 2);
    }
}

#[test]
fn numbers_that_restart_by_day_are_told_apart_by_key_columns() {
    let text = "fish,capture_date,length,net\n1,2025-04-03,312,A\n1,2025-04-04,300,A\n1,2025-04-04,301,B\n1,2025-04-04,302,\n";
    assert_eq!(texts(&sheet(text)).len(), 3);
    let mut keyed = survey();
    keyed.key_columns = ["capture_date", "net", "fish"].map(str::to_owned).to_vec();
    let sheet = sheet_of(text.as_bytes(), &keyed);
    assert_eq!(sheet.fish[1].key, "2025-04-04/A/1");
    let told = texts(&sheet);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].contains("row 5, column 'net'") && told[0].contains("key column"), "{told:?}");
}

#[test]
fn headings_with_a_unit_settle_it() {
    for (heading, cell, mm) in
        [("length_in", "10", 254.0), ("Length_CM", "25.4", 254.0), ("length_mm", "254", 254.0)]
    {
        let sheet = sheet(&format!("fish,capture_date,{heading}\n1,2025-04-03,{cell}\n"));
        assert_eq!(sheet.fish[0].length, Some(Millimetres(mm)), "{heading}");
    }
}

#[test]
fn a_sample_in_another_unit_is_suspected_as_a_whole() {
    let rows = |lengths: &[f64]| {
        let rows: Vec<String> = lengths
            .iter()
            .enumerate()
            .map(|(i, length)| format!("{i},2025-04-03,{length}"))
            .collect();
        format!("fish,capture_date,length\n{}\n", rows.join("\n"))
    };
    let inches = sheet(&rows(&[7.5, 8.0, 9.5, 10.0, 11.25, 12.0]));
    assert_eq!(inches.fish.len(), 6);
    let told = texts(&inches);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0].starts_with("warning: fish.csv, column 'length': expected lengths in millimetres"),
        "{told:?}"
    );
    assert!(told[0].contains("which fits inches"), "{told:?}");
    let centimetres = texts(&sheet(&rows(&[19.5, 28.0, 29.5, 31.0, 41.25, 32.0])));
    assert!(centimetres[0].contains("which fits centimetres"), "{centimetres:?}");

    let one = sheet(&rows(&[
        230.0, 241.0, 250.0, 255.0, 260.0, 262.0, 270.0, 281.0, 290.0, 300.0, 11.25,
    ]));
    let told = texts(&one);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].starts_with("warning: fish.csv, row 12, column 'length': "), "{told:?}");
    assert!(told[0].contains("found 11.25") && told[0].contains("inches"), "{told:?}");
    let plain = texts(&sheet(&rows(&[60.0, 65.0, 120.0, 180.0, 240.0, 300.0, 350.0, 420.0])));
    assert_eq!(plain, Vec::<String>::new());
    let mut in_inches = survey();
    in_inches.length_unit = LengthUnit::Inch;
    let told = texts(&sheet_of(rows(&[230.0, 241.0, 250.0, 255.0, 260.0]).as_bytes(), &in_inches));
    assert!(told[0].contains("which fits millimetres"), "{told:?}");
}

#[test]
fn counted_fish_need_no_number() {
    let sheet = sheet("fish,capture_date,length,count\n,2025-04-03,120,14\n,2025-04-03,130,9\n");
    assert_eq!(texts(&sheet), Vec::<String>::new());
    let keys: Vec<_> = sheet.fish.iter().map(|fish| (fish.key.as_str(), fish.count)).collect();
    assert_eq!(keys, [("row-2", 14), ("row-3", 9)]);
}

#[test]
fn what_was_looked_for_is_told_apart() {
    let sheet = sheet(
        "fish,capture_date,length,mark_found\n1,2025-04-03,200,\n2,2025-04-03,200,None\n3,2025-04-03,200,RV clip\n",
    );
    let marks: Vec<_> = sheet.fish.into_iter().map(|fish| fish.stocking_mark).collect();
    assert_eq!(
        marks,
        [
            StockingMark::NotLookedFor,
            StockingMark::NoneFound,
            StockingMark::Found("RV clip".to_owned())
        ]
    );
}

#[test]
fn a_sheet_that_is_missing_or_no_table_is_a_problem_not_an_end() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = read_field_sheet(folder.path(), &survey()).unwrap();
    assert!(texts(&sheet)[0].contains("put fish.csv beside survey.json"));
    std::fs::write(folder.path().join("fish.csv"), b"PK\x03\x04\0").unwrap();
    let sheet = read_field_sheet(folder.path(), &survey()).unwrap();
    assert!(texts(&sheet)[0].contains("CSV UTF-8"));
}
