//! `lengths` on a table of radii, against the published check values, and its faults.

use serde_json::Value;

use crate::run::{text, winterline};

fn published() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/published/01_backcalc_linear.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn case<'a>(file: &'a Value, name: &str) -> &'a Value {
    file["cases"].as_array().unwrap().iter().find(|case| case["name"] == name).unwrap()
}

/// The table of check 01 as a person would keep it: semicolons, a byte-order mark, headings in capitals.
fn radii_table(file: &Value) -> String {
    let fish = case(file, "regressions")["input"]["fish"].as_array().unwrap();
    let most =
        fish.iter().map(|one| one["annulus_radii_mm"].as_array().unwrap().len()).max().unwrap();
    let mut table = String::from("\u{feff}RADIUS_UM;Fish;Length_MM");
    for annulus in 1..=most {
        table.push_str(&format!(";A{annulus}_um"));
    }
    for one in fish {
        let um = |value: &Value| format!("{}", value.as_f64().unwrap() * 1000.0);
        table.push_str(&format!(
            "\r\n{};{};{}",
            um(&one["radius_mm"]),
            one["id"].as_str().unwrap(),
            one["length_mm"]
        ));
        let radii = one["annulus_radii_mm"].as_array().unwrap();
        for annulus in 0..most {
            table.push_str(&format!(";{}", radii.get(annulus).map_or_else(String::new, um)));
        }
    }
    table + "\r\n"
}

/// Lengths of check 01 (formulas: Lea 1910; Fraser 1916; Lee 1920; values computed with numpy and statsmodels from the
/// published formulas), through the program: CSV in, JSON out.
#[test]
fn published_lengths_come_out_of_the_program() {
    let file = published();
    let folder = tempfile::tempdir().unwrap();
    let table = folder.path().join("radii.csv");
    std::fs::write(&table, radii_table(&file)).unwrap();
    let mut compared = 0;
    for (name, more) in [
        ("direct_proportion", &["--method", "direct-proportion"][..]),
        ("fraser_lee_standard_intercept", &["--method", "fraser-lee", "--intercept", "55"]),
        ("fraser_lee_intercept_from_L_on_S", &["--method", "fraser-lee", "--regression", "ols"]),
        ("fraser_lee_intercept_from_GM", &["--method", "fraser-lee", "--regression", "gm"]),
        ("scale_proportional_linear_S_on_L", &["--method", "scale-proportional"]),
        ("body_proportional_linear_L_on_S", &["--method", "body-proportional"]),
    ] {
        let mut arguments =
            vec!["lengths".to_owned(), "--radii".into(), text(&table), "--json".into()];
        arguments.extend(more.iter().map(|&word| word.to_owned()));
        let run = winterline(&arguments);
        assert_eq!(run.status, 0, "{}", run.err);
        let found = run.json();
        for one in found["fish"].as_array().unwrap() {
            let expected =
                case(&file, name)["expected"][one["fish"].as_str().unwrap()].as_array().unwrap();
            let lengths = one["lengths_mm"].as_array().unwrap();
            assert_eq!(lengths.len(), expected.len());
            for (a, b) in lengths.iter().zip(expected) {
                let (a, b) = (a.as_f64().unwrap(), b.as_f64().unwrap());
                assert!((a - b).abs() <= 1e-9 * b.abs(), "{name} {}: {a} for {b}", one["fish"]);
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 360);
}

#[test]
fn faulty_rows_are_named_and_the_rest_is_done() {
    let folder = tempfile::tempdir().unwrap();
    let table = folder.path().join("radii.csv");
    std::fs::write(
        &table,
        "fish,length_mm,radius_um,a1_um,a2_um\n007,300,2000,800,1500\n8,abc,2000,800,\n9,250,1000,800,1200\n",
    )
    .unwrap();
    let run = winterline(&[
        "lengths",
        "--radii",
        &text(&table),
        "--method",
        "direct-proportion",
        "--json",
    ]);
    assert_eq!(run.status, 1);
    let found = run.json();
    assert_eq!(found["fish"][0]["fish"], "007");
    assert!((found["fish"][0]["lengths_mm"][0].as_f64().unwrap() - 120.0).abs() < 1e-9);
    assert_eq!(found["excluded"][0]["fish"], "9");
    assert!(run.err.contains("row 3, column 'length_mm'"), "{}", run.err);
}

#[test]
fn a_method_that_cannot_be_used_is_a_document_with_an_error() {
    let folder = tempfile::tempdir().unwrap();
    let table = folder.path().join("radii.csv");
    std::fs::write(&table, "fish,length_mm,radius_um,a1_um\n1,300,2000,800\n").unwrap();
    let run =
        winterline(&["lengths", "--radii", &text(&table), "--method", "fraser-lee", "--json"]);
    assert_eq!(run.status, 1);
    assert!(run.json()["error"].is_string());
}
