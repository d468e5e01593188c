//! `report` of the built program: what people wrote stays text, the same survey gives the same bytes anywhere, and the
//! data agree in every format.

use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::process::Command;

use calamine::{Data, Reader, Xlsx};
use serde_json::Value;
use winterline::store::sidecar::{load_sidecar, save_reading};

use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{text, winterline};
use crate::well_formed::faults_of_page;

/// Text a field sheet may hold and nothing may take for anything else.
const HOSTILE: [&str; 8] = [
    "<script>alert(1)</script>",
    "=HYPERLINK(\"http://example.invalid\",\"x\")",
    "\"quoted\" & 'apostrophes'",
    "two\nlines",
    "+1-1@2",
    "\u{202e}\u{5d0}\u{5d1}\u{5d2} right to left",
    "</style><img src=x onerror=alert(1)>",
    "_x0041_ ]]> {{7*7}}",
];

fn written(survey: &Path, out: &Path, more: &[&str], environment: &[(&str, &str)]) -> Vec<PathBuf> {
    let output = Command::new(env!("CARGO_BIN_EXE_winterline"))
        .args(["report", &text(survey), "--out", &text(out), "--data", "--json"])
        .args(more)
        .envs(environment.iter().copied())
        .output()
        .unwrap();
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{err}");
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(document["error"], Value::Null);
    document["written"]
        .as_array()
        .unwrap()
        .iter()
        .map(|path| path.as_str().unwrap().into())
        .collect()
}

/// Ages 1 to 4, both sexes, lengths that rise with age and scatter a little.
fn sample() -> Vec<ReadFish> {
    (0..24_u32)
        .map(|index| {
            let age = index % 4 + 1;
            let length = 60.0 + 45.0 * f64::from(age) + f64::from(index * 7 % 13);
            let sex = if index % 2 == 0 { "F" } else { "M" };
            ReadFish { sex, ..fish(length, age) }
        })
        .collect()
}

fn read_survey(folder: &Path) -> PathBuf {
    let fish = sample();
    let path = survey(folder, "Alder Run 2025", "Alder Run", &fish);
    read_by(&path, "kb", &fish, false);
    read_by(&path, "rt", &fish, false);
    path
}

/// A survey in which every word a person may write is hostile, and one note has 10,000 characters.
fn hostile_survey(folder: &Path) -> PathBuf {
    let path = read_survey(folder);
    let name = |index: usize| format!("{}{index}", HOSTILE[index % HOSTILE.len()]);
    let mut writer = csv::Writer::from_path(path.join("fish.csv")).unwrap();
    let heading = ["fish", "species", "capture_date", "length", "sex", "body_site", "run", "scans"];
    writer.write_record(heading).unwrap();
    for (index, one) in sample().iter().enumerate() {
        let length = one.length_mm.to_string();
        let site = HOSTILE[(index + 3) % HOSTILE.len()];
        let row =
            [&name(index), "<b>perch", one.captured, &length, one.sex, site, HOSTILE[0], "S.png"];
        writer.write_record(row).unwrap();
    }
    writer.flush().unwrap();
    let settings = serde_json::json!({"format": "winterline-survey", "version": 1, "name": HOSTILE[6], "water": HOSTILE[1],
        "species": "<b>perch", "structure": "scale", "readers": ["kb", "rt"], "ageing_rule": HOSTILE[5]});
    std::fs::write(path.join("survey.json"), settings.to_string()).unwrap();
    for reader in ["kb", "rt"] {
        let file = path.join(format!("scans/S.png.{reader}.json"));
        let loaded = load_sidecar(&file).unwrap();
        let mut reading = loaded.reading.clone();
        for (index, one) in reading.impressions.iter_mut().enumerate() {
            one.fish = name(index).trim().to_owned();
            one.note = if index == 0 {
                "\u{6f22}=".repeat(5000)
            } else {
                HOSTILE[index % HOSTILE.len()].to_owned()
            };
        }
        let initials = reading.reader.clone();
        save_reading(&path, &initials, &reading, Some(&loaded.fingerprint)).unwrap();
    }
    path
}

#[test]
fn what_people_wrote_is_shown_as_text_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let path = hostile_survey(folder.path());
    let out = folder.path().join("out");
    written(&path, &out, &["--crew", HOSTILE[0]], &[]);
    let page = std::fs::read_to_string(out.join("report.html")).unwrap();
    assert_eq!(faults_of_page(&page), Vec::<String>::new());
    assert!(
        !page.contains("<script") && !page.contains("<img") && !page.contains("onerror=alert(1)>")
    );
    for wanted in
        ["&lt;script&gt;alert(1)&lt;/script&gt;", "=HYPERLINK(&quot;http", "&lt;/style&gt;&lt;img"]
    {
        assert!(page.contains(wanted), "{wanted}");
    }
    assert!(page.contains(&"\u{6f22}=".repeat(5000)), "the long note is there whole");
    // Nothing is fetched: no address in any attribute that loads something, and only pictures within the file.
    for outside in ["src=\"http", "href=\"http", "url(", "@import", "<link", "<iframe"] {
        assert!(!page.contains(outside), "{outside}");
    }
    let pictures = page.matches("<image ").count();
    assert_eq!(pictures, 24);
    assert_eq!(page.matches("href=\"data:image/jpeg;base64,").count(), pictures);
}

#[test]
fn no_cell_of_a_csv_file_is_a_formula_and_numbers_stay_numbers() {
    let folder = tempfile::tempdir().unwrap();
    let path = hostile_survey(folder.path());
    let out = folder.path().join("out");
    let files = written(&path, &out, &[], &[]);
    let (mut guarded, mut negative, mut tables) = (0, 0, 0);
    for file in files.iter().filter(|file| file.extension().is_some_and(|end| end == "csv")) {
        tables += 1;
        let mut reader = csv::Reader::from_path(file).unwrap();
        for record in reader.records() {
            for cell in &record.unwrap() {
                guarded += usize::from(cell.starts_with("'=") || cell.starts_with("'+"));
                if cell.trim_start().starts_with(['=', '+', '-', '@', '\t']) {
                    assert!(cell.parse::<f64>().is_ok(), "{file:?}: {cell}");
                    negative += 1;
                }
            }
        }
    }
    assert_eq!(tables, 10);
    assert!(guarded > 20, "{guarded}");
    assert!(negative > 0, "negative numbers are written as they are");
}

/// A document's tables in order, with the columns of each.
fn tables(document: &Value) -> Vec<(&String, &Vec<Value>)> {
    document
        .as_object()
        .unwrap()
        .iter()
        .filter_map(|(name, rows)| Some((name, rows.as_array()?)))
        .collect()
}

#[test]
fn the_workbook_equals_the_json_cell_by_cell() {
    let folder = tempfile::tempdir().unwrap();
    let path = hostile_survey(folder.path());
    let out = folder.path().join("out");
    written(&path, &out, &["--units", "us"], &[]);
    let document: Value =
        serde_json::from_slice(&std::fs::read(out.join("data.json")).unwrap()).unwrap();
    let bytes = std::fs::read(out.join("data.xlsx")).unwrap();
    let mut workbook: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
    let names: Vec<String> = tables(&document).iter().map(|(name, _)| (*name).clone()).collect();
    assert_eq!(workbook.sheet_names(), names);
    let mut compared = 0;
    for (name, rows) in tables(&document) {
        let sheet = workbook.worksheet_range(name).unwrap();
        assert!(workbook.worksheet_formula(name).unwrap().is_empty(), "{name} holds a formula");
        assert_eq!(sheet.rows().count(), rows.len() + 1, "{name}");
        let heading: Vec<String> =
            sheet.rows().next().unwrap().iter().map(ToString::to_string).collect();
        for (cells, row) in sheet.rows().skip(1).zip(rows) {
            let row = row.as_object().unwrap();
            assert_eq!(row.keys().collect::<Vec<_>>(), heading.iter().collect::<Vec<_>>());
            for (cell, value) in cells.iter().zip(row.values()) {
                compared += 1;
                let is_same = match (cell, value) {
                    (Data::Empty, Value::Null) => true,
                    (Data::String(text), Value::String(wanted)) => text == wanted,
                    (Data::Float(number), Value::Number(wanted)) => {
                        Some(*number) == wanted.as_f64()
                    }
                    (Data::Int(number), Value::Number(wanted)) => Some(*number) == wanted.as_i64(),
                    _ => false,
                };
                assert!(is_same, "{name}: {cell:?} and {value}");
            }
        }
    }
    assert!(compared > 1000, "{compared}");
    let fish = &document["fish"][0];
    // Check by hand: fish 1 is 105 mm long, and an inch is 25.4 mm.
    assert_eq!(fish["length_in"], 105.0 / 25.4);
    assert!(fish.get("length_mm").is_none());
}

#[test]
fn every_column_stands_in_the_dictionary() {
    let folder = tempfile::tempdir().unwrap();
    let path = read_survey(folder.path());
    let out = folder.path().join("out");
    written(&path, &out, &[], &[]);
    let document: Value =
        serde_json::from_slice(&std::fs::read(out.join("data.json")).unwrap()).unwrap();
    let described: Vec<(&str, &str)> = document["dictionary"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| (row["table"].as_str().unwrap(), row["column"].as_str().unwrap()))
        .collect();
    let mut seen = 0;
    for (name, rows) in tables(&document).into_iter().filter(|(name, _)| *name != "dictionary") {
        for column in rows.first().into_iter().flat_map(|row| row.as_object().unwrap().keys()) {
            assert!(described.contains(&(name, column)), "{name}.{column}");
            seen += 1;
        }
    }
    assert!(seen > 60, "{seen}");
    let page =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/data-dictionary.md"))
            .unwrap();
    for (table, column) in described {
        assert!(
            page.contains(&format!("`{table}`")) && page.contains(&format!("`{column}`")),
            "{table}.{column}"
        );
    }
}

#[test]
fn the_same_survey_gives_the_same_bytes_anywhere() {
    let folder = tempfile::tempdir().unwrap();
    let path = read_survey(folder.path());
    let copy = read_survey(&folder.path().join("another place"));
    let runs: [(&Path, &[(&str, &str)]); 3] = [
        (&path, &[("RAYON_NUM_THREADS", "1"), ("LANG", "C"), ("TZ", "UTC")]),
        (
            &path,
            &[
                ("RAYON_NUM_THREADS", "2"),
                ("LANG", "de_DE.UTF-8"),
                ("LC_ALL", "de_DE.UTF-8"),
                ("TZ", "Pacific/Kiritimati"),
            ],
        ),
        (&copy, &[("RAYON_NUM_THREADS", "3"), ("TZ", "America/Adak")]),
    ];
    let made: Vec<Vec<(String, Vec<u8>)>> = runs
        .iter()
        .enumerate()
        .map(|(number, (survey, environment))| {
            let files =
                written(survey, &folder.path().join(format!("out {number}")), &[], environment);
            let name = |path: &PathBuf| path.file_name().unwrap().to_string_lossy().into_owned();
            files.iter().map(|path| (name(path), std::fs::read(path).unwrap())).collect()
        })
        .collect();
    assert_eq!(made[0].len(), 13);
    for other in &made[1..] {
        for (one, another) in made[0].iter().zip(other) {
            assert_eq!(one.0, another.0);
            assert!(one.1 == another.1, "{} differs", one.0);
        }
    }
}

#[test]
fn chapters_units_and_date_are_as_asked() {
    let folder = tempfile::tempdir().unwrap();
    let path = read_survey(folder.path());
    let out = folder.path().join("out");
    let more = ["--units", "us", "--chapters", "growth,agreement", "--date", "2025-12-01"];
    written(&path, &out, &more, &[]);
    let page = std::fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains("Report of 2025-12-01") && page.contains("id=\"growth\""));
    assert!(!page.contains("id=\"cards\"") && !page.contains("id=\"lengths\""));
    assert!(page.contains("<small>in</small>") && !page.contains("<small>mm</small>"));
    let run = winterline(&["report", &text(&path), "--chapters", "weather"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("agreement, lengths, growth"), "{}", run.err);
}

#[test]
fn a_survey_nobody_has_read_is_refused_with_a_word_about_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("empty");
    std::fs::create_dir_all(path.join("scans")).unwrap();
    let run = winterline(&["report", &text(&path), "--json"]);
    assert_eq!(run.status, 1);
    assert_eq!(run.json()["written"], serde_json::json!([]));
    assert!(run.json()["error"].as_str().unwrap().contains("survey.json"), "{}", run.out);
}
