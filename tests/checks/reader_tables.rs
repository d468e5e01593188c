//! Three readers of northern pike (Faust and others 2013, J. Fish Wildl. Manage. 4:332-341) and of yellow perch read
//! twice (Robillard & Marsden 1996, J. Great Lakes Res. 22:429-435). The expected values were recomputed with scipy;
//! the printed ones stand as a compilation gives them. The tables are not part of the project: the folder that holds
//! them is named by the environment variable `WINTERLINE_TABLES`.

use std::io::Write as _;
use std::path::PathBuf;

use serde_json::Value;
use winterline::analysis::agreement::comparison::{Comparison, Settings, compare};

use crate::agreement::{printed, readers};
use crate::published::Published;

/// Printed rather than passed over in silence: without the tables nothing is compared.
fn folder() -> Option<PathBuf> {
    let folder = std::env::var_os("WINTERLINE_TABLES").map(PathBuf::from);
    if folder.is_none() {
        // Straight to the stream: the test runner hides what `eprintln!` says in a passing test.
        let line = "NOT RUN: set WINTERLINE_TABLES to the folder that holds the tables of pike and perch readers\n";
        std::io::stderr().write_all(line.as_bytes()).unwrap();
    }
    folder
}

/// The columns of ages of the rows that hold every one of `wanted`.
fn columns(path: PathBuf, wanted: &[&str], ages: &[String]) -> Vec<Vec<u32>> {
    let mut reader = csv::Reader::from_path(path).unwrap();
    let headings = reader.headers().unwrap().clone();
    let places: Vec<usize> =
        ages.iter().map(|name| headings.iter().position(|found| found == name).unwrap()).collect();
    let mut columns = vec![Vec::new(); ages.len()];
    for record in reader.records().map(Result::unwrap) {
        if wanted.iter().all(|word| record.iter().any(|cell| cell == *word)) {
            for (column, place) in columns.iter_mut().zip(&places) {
                column.push(record[*place].parse().unwrap());
            }
        }
    }
    columns
}

fn compared_readers(folder: &std::path::Path, case: &Value) -> Comparison {
    let path = folder.join(case["input"]["file"].as_str().unwrap());
    let name = case["name"].as_str().unwrap();
    let columns = if let Some((place, structure)) = name.split_once(" / ") {
        let (structure, pair) =
            structure.split_once(' ').unwrap_or((structure, "reader1 v reader2 v reader3"));
        let names: Vec<String> = pair.split(" v ").map(str::to_owned).collect();
        columns(path, &[place, structure], &names)
    } else {
        let (reader, _) = name.split_once(' ').unwrap();
        columns(path, &[reader], &["read_1".to_owned(), "read_2".to_owned()])
    };
    compare(&readers(&columns), Settings::default())
}

fn values(found: &Comparison) -> [(&'static str, f64); 6] {
    let errors = found.percent_errors();
    [
        ("cv_percent", errors.mean_cv),
        ("ape_percent", errors.average_percent_error),
        ("d_percent", errors.mean_d),
        ("exact", found.precision.exact),
        ("within_1", found.precision.within_1),
        ("within_2", found.precision.within_2),
    ]
    .map(|(name, value)| (name, value.unwrap()))
}

#[test]
fn readers_of_pike_and_perch() {
    let file = Published::open("pike_and_perch_readers");
    assert_eq!(file.cases().len(), 19);
    let Some(folder) = folder() else { return };
    let (mut compared, mut as_printed) = (0, 0);
    for case in file.cases() {
        let (found, expected) = (compared_readers(&folder, case), &case["expected"]);
        assert_eq!(expected["n"], found.precision.n, "{}", case["name"]);
        assert_eq!(expected["readers"], found.readers.len());
        assert_eq!(expected["n_mean_zero"], found.precision.n_mean_age_zero);
        compared += 3;
        for (name, value) in values(&found) {
            printed(value, &expected[name], 0.00005);
            compared += 1;
            if let Some(number) = case["printed"][name].as_f64() {
                let decimals =
                    if number.fract() == 0.0 { 0 } else { decimals(&case["printed"][name]) };
                printed(value, &case["printed"][name], 0.5 * 10_f64.powi(-decimals));
                as_printed += 1;
            }
        }
        if !expected["bowker"].is_null() {
            compared += pair_tests(&found, expected);
        }
    }
    assert_eq!((compared, as_printed), (246 + 15 * 6, 20));
}

fn pair_tests(found: &Comparison, expected: &Value) -> usize {
    let pair = &found.pairs[0];
    let mut compared = 0;
    for (result, name) in pair.symmetry.iter().zip(["bowker", "evans_hoenig", "mcnemar"]) {
        printed(result.chi2, &expected[name][0], 0.00005);
        assert_eq!(expected[name][1], result.df);
        let p = expected[name][2].as_f64().unwrap();
        printed(result.p.unwrap(), &expected[name][2], 0.0005 * p);
        compared += 3;
    }
    let pooled = &pair.symmetry[2].groups[0];
    assert_eq!(expected["second_older"], pooled.above);
    assert_eq!(expected["second_younger"], pooled.below);
    compared + 2
}

fn decimals(printed: &Value) -> i32 {
    printed
        .to_string()
        .split_once('.')
        .map_or(0, |(_, decimals)| i32::try_from(decimals.len()).unwrap())
}
