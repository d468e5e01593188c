//! `agree` on tables of ages against published check values, on a survey, and on what is wrong.

use serde_json::Value;

use crate::fixture::{Compared, case, published};
use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{Run, text, winterline};

/// Writes columns of ages as a table with semicolons and runs `agree` on it.
fn agree(columns: &[Vec<u64>], more: &[&str]) -> Run {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ages.csv");
    let mut table = "\u{feff}Fish".to_owned();
    (1..=columns.len()).for_each(|reader| table.push_str(&format!(";reader {reader}")));
    for fish in 0..columns[0].len() {
        table.push_str(&format!("\r\n{:03}", fish + 1));
        columns.iter().for_each(|column| table.push_str(&format!(";{}", column[fish])));
    }
    std::fs::write(&path, table).unwrap();
    let mut arguments = vec!["agree".to_owned(), "--ages".into(), text(&path)];
    arguments.extend(more.iter().map(|&word| word.to_owned()));
    winterline(&arguments)
}

fn ages(value: &Value) -> Vec<u64> {
    value.as_array().unwrap().iter().map(|age| age.as_u64().unwrap()).collect()
}

fn columns_of(input: &Value) -> Vec<Vec<u64>> {
    if let Some(fish) = input["ages"].as_array() {
        let fish: Vec<Vec<u64>> = fish.iter().map(ages).collect();
        return (0..fish[0].len())
            .map(|reader| fish.iter().map(|ages| ages[reader]).collect())
            .collect();
    }
    let names = ["reader1", "reader2", "reader3"];
    names.iter().filter(|name| !input[**name].is_null()).map(|name| ages(&input[*name])).collect()
}

/// Check 13: Beamish & Fournier 1981, Chang 1982; arithmetic by numpy.
#[test]
fn published_precision_comes_out_of_the_program() {
    let file = published("13_reader_precision");
    let mut compared = Compared::within(1e-9);
    for name in ["hand_table", "two_readers", "three_readers"] {
        let one = case(&file, name);
        let (columns, expected) = (columns_of(&one["input"]), &one["expected"]);
        for (way, ending) in [("zero", ""), ("left-out", "_excluding_mean_zero")] {
            let run = agree(&columns, &["--json", "--mean-age-zero", way]);
            assert_eq!(run.status, 0, "{}", run.err);
            let found = run.json();
            compared.number(&found["average_percent_error"], &expected[format!("APE{ending}")]);
            compared.number(&found["mean_cv_percent"], &expected[format!("CV{ending}")]);
            compared.number(&found["mean_d_percent"], &expected[format!("D{ending}")]);
            compared.number(
                &found["percent_agreement"]["exact"],
                &expected["PA_all_readers_identical"],
            );
            compared.number(&found["percent_agreement"]["within_1"], &expected["PA_all_within_1"]);
            assert_eq!(found["n"], expected["n"]);
            assert_eq!(found["mean_age_zero"]["n"], expected["n_mean_zero"]);
            assert_eq!(found["mean_age_zero"]["counted_as"], way);
        }
        let found = agree(&columns, &["--json"]).json();
        let pairs = expected["pairwise"].as_object().unwrap();
        for (index, pair) in pairs.values().enumerate() {
            let block = if columns.len() == 2 { &found } else { &found["pairs"][index] };
            compared.number(&block["percent_agreement"]["exact"], &pair["PA0"]);
            compared.number(&block["percent_agreement"]["within_2"], &pair["PA2"]);
            compared.number(&block["difference"]["mean"], &pair["mean_diff"]);
        }
    }
    assert_eq!(compared.count, 3 * 2 * 5 + 7 * 3);
}

/// Checks 14 to 16 on one table: Campana, Annand & McMillan 1995; Bowker 1948; Evans & Hoenig 1998; Fleiss, Cohen &
/// Everitt 1969; arithmetic by scipy and statsmodels.
#[test]
fn published_bias_symmetry_and_kappa_come_out_of_the_program() {
    let bias = published("14_age_bias");
    let bias = case(&bias, "reader2_against_reader1");
    let found = agree(&columns_of(&bias["input"]), &["--json"]).json();
    let mut compared = Compared::within(1e-8);
    let reference = &found["readers"][0];
    let rows: Vec<&Value> = found["bias"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|row| row["reference"] == *reference)
        .collect();
    for (row, expected) in rows.iter().zip(bias["expected"]["rows"].as_array().unwrap()) {
        assert_eq!((&row["age"], &row["n"]), (&expected["ref_age"], &expected["n"]));
        for name in ["mean", "sd", "se", "p", "p_holm"] {
            compared.number(&row[name], &expected[name]);
        }
    }
    assert_eq!(compared.count, 11 * 5);

    let symmetry = published("15_symmetry_tests");
    let expected = &case(&symmetry, "reader_table")["expected"];
    let table = &case(&symmetry, "reader_table")["input"]["table_rows_reader1"];
    let found = agree(&columns_of_table(table), &["--json"]).json();
    for (index, name) in ["bowker", "evans_hoenig", "pooled_mcnemar"].iter().enumerate() {
        let test = &found["symmetry"][index];
        compared.number(&test["chi2"], &expected[name]["chi2"]);
        compared.number(&test["p"], &expected[name]["p"]);
        assert_eq!(test["df"], expected[name]["df"]);
    }
    let kappas = published("16_kappa_icc_limits_of_agreement");
    for weights in ["unweighted", "linear", "quadratic"] {
        let one = case(&kappas, &format!("reader_table_{weights}"));
        assert_eq!(one["input"]["table"], *table);
        let kappa = &found["kappa"][weights];
        compared.number(&kappa["estimate"], &one["expected"]["kappa"]);
        for name in ["se", "se_null", "z"] {
            compared.number(&kappa[name], &one["expected"][name]);
        }
    }
    assert_eq!(found["matrix"]["counts"], *table);
    assert_eq!(compared.count, 11 * 5 + 6 + 12);
}

fn columns_of_table(table: &Value) -> Vec<Vec<u64>> {
    let (mut first, mut second) = (Vec::new(), Vec::new());
    for (a, row) in table.as_array().unwrap().iter().enumerate() {
        for (b, count) in ages(row).into_iter().enumerate() {
            first.extend(std::iter::repeat_n(a as u64, count as usize));
            second.extend(std::iter::repeat_n(b as u64, count as usize));
        }
    }
    vec![first, second]
}

#[test]
fn what_does_not_exist_is_null() {
    let found = agree(&[vec![4, 4], vec![4, 4]], &["--json"]).json();
    assert_eq!(found["symmetry"][0]["p"], Value::Null);
    assert_eq!(found["kappa"]["linear"], Value::Null);
    assert_eq!(found["bias"][0]["p"], Value::Null);
    assert_eq!(found["percent_agreement"]["exact"], 100.0);
    let three = agree(&[vec![4, 5], vec![4, 5], vec![4, 6]], &["--json"]).json();
    for field in ["symmetry", "kappa", "bias", "limits", "stuart_maxwell", "matrix"] {
        assert_eq!(three.get(field), Some(&Value::Null), "{field}");
    }
    assert_eq!(three["pairs"].as_array().unwrap().len(), 3);
}

#[test]
fn wrong_tables_and_wrong_words_are_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ages.csv");
    std::fs::write(&path, "fish,kb,rt\n1,3,3\n2,x,4\n3,5,5\n").unwrap();
    let run = winterline(&["agree", "--ages", &text(&path), "--json"]);
    assert_eq!(run.status, 1);
    let found = run.json();
    assert_eq!(found["n"], 2);
    assert!(found["error"].as_str().unwrap().contains("row 3, column 'kb'"), "{}", found["error"]);
    assert!(run.err.contains("row 3, column 'kb'"), "{}", run.err);
    for wrong in [
        &["--readers", "kb,zz"][..],
        &["--readers", "kb,KB"],
        &["--readers", "kb"],
        &["--mean-age-zero", "1"],
    ] {
        let mut arguments = vec!["agree", "--ages", path.to_str().unwrap(), "--json"];
        arguments.extend(wrong);
        let run = winterline(&arguments);
        assert_eq!((run.status, run.out.as_str()), (2, ""), "{wrong:?}: {}", run.err);
    }
    assert_eq!(winterline(&["agree"]).status, 2);
    let run = winterline(&["agree", "--ages", &text(&folder.path().join("no.csv")), "--json"]);
    assert_eq!(run.status, 1);
    assert!(run.json()["error"].is_string());
}

#[test]
fn readings_with_proposals_are_labelled_not_independent() {
    let folder = tempfile::tempdir().unwrap();
    let known = |year| ReadFish { year_class: Some(year), ..fish(250.0, 3) };
    let read = vec![known(2022), known(2022), known(2021), fish(200.0, 2)];
    let path = survey(folder.path(), "Alder Run 2025", "Alder Run", &read);
    read_by(&path, "kb", &read, true);
    let mut other = read.clone();
    other[1] = fish(250.0, 4);
    read_by(&path, "rt", &other, true);
    let run = winterline(&["agree", &text(&path), "--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    assert_eq!((&found["n"], &found["independent"]), (&Value::from(4), &Value::from(false)));
    assert_eq!(found["percent_agreement"]["exact"], 75.0);
    assert_eq!(found["readings"][1]["proposals_shown"], true);
    // Two of three fish of known year class are read as 3 years; the third is 4 years old.
    assert_eq!(
        (&found["accuracy"][0]["n"], &found["accuracy"][0]["correct"]["n"]),
        (&Value::from(3), &Value::from(2))
    );
    assert_eq!(found["radii"][0]["n_equal_counts"], 3);
    let words = winterline(&["agree", &text(&path)]).out;
    assert!(words.contains("kb and rt: not independent"), "{words}");
    let unaided = survey(folder.path(), "Alder Run 2026", "Alder Run", &read);
    read_by(&unaided, "kb", &read, true);
    read_by(&unaided, "rt", &other, false);
    assert_eq!(winterline(&["agree", &text(&unaided), "--json"]).json()["independent"], true);
    let table = winterline(&["agree", &text(&unaided), "--csv"]).out;
    assert!(table.lines().nth(1).unwrap().starts_with("kb,rt,4,0,75,"), "{table}");
}
