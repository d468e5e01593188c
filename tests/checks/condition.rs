//! Relative weight, Fulton's factor and size structure. Equations and categories stand in the file with their sources.

use winterline::analysis::condition::{LengthCategories, StandardWeight, fulton_k, size_structure};

use crate::published::{Comparison, Published, floats};

#[test]
fn relative_weights() {
    let file = Published::open("21_condition_and_size_structure");
    let case = file.case("relative_weight");
    let equations: Vec<StandardWeight> = case["input"]["equations"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| StandardWeight {
            species: row["species"].as_str().unwrap().to_owned(),
            intercept: row["intercept"].as_f64().unwrap(),
            slope: row["slope"].as_f64().unwrap(),
            minimum_mm: row["minimum_TL_mm"].as_f64().unwrap(),
            source: row["source"].as_str().unwrap().to_owned(),
        })
        .collect();
    let mut check = Comparison::within(1e-9);
    let mut too_short = 0;
    for wanted in case["expected"].as_array().unwrap() {
        let species = wanted["species"].as_str().unwrap();
        let equation = equations.iter().find(|equation| equation.species == species).unwrap();
        let length = wanted["length"].as_f64().unwrap();
        check.number("Ws", equation.standard_weight_g(length), &wanted["Ws"]);
        match equation.relative_weight(length, wanted["weight"].as_f64().unwrap()).unwrap() {
            Some(found) => check.number("Wr", found, &wanted["Wr"]),
            None => {
                assert!(wanted["Wr"].is_null() && wanted["below_minimum"] == true);
                too_short += 1;
            }
        }
    }
    assert_eq!((check.compared, too_short), (7 + 6, 1));
}

/// Gabelhouse 1984; Wilson 1927; Clopper & Pearson 1934.
#[test]
fn size_structure_with_intervals() {
    let file = Published::open("21_condition_and_size_structure");
    let case = file.case("size_structure");
    let bounds = floats(&case["input"]["cut_mm"]);
    let categories = LengthCategories {
        bounds_mm: bounds.try_into().unwrap(),
        source: "Gabelhouse 1984".to_owned(),
    };
    let found = size_structure(&floats(&case["input"]["lengths_mm"]), &categories).unwrap();
    let expected = &case["expected"];
    let mut check = Comparison::within(1e-9);
    for (count, name) in
        found.at_least.iter().zip(["stock", "quality", "preferred", "memorable", "trophy"])
    {
        check.count(name, *count, &expected["counts_at_least"][name]);
    }
    let psd = found.psd.unwrap();
    for (value, name) in psd.iter().zip(["PSD", "PSD_P", "PSD_M", "PSD_T"]) {
        check.number(name, value.percent, &expected[name]);
    }
    for (value, name) in found.increments.unwrap().iter().zip(["S-Q", "Q-P", "P-M", "M-T", "T"]) {
        check.number(name, *value, &expected["incremental"][name]);
    }
    check.numbers("wilson", &psd[0].wilson95, &expected["PSD_wilson95"]);
    check.numbers("exact", &psd[0].clopper_pearson95, &expected["PSD_clopper_pearson95"]);
    assert_eq!(check.compared, 5 + 4 + 5 + 4);
}

#[test]
fn fulton() {
    let file = Published::open("21_condition_and_size_structure");
    let case = file.case("fulton_condition");
    let at = |name: &str| case["input"][name].as_f64().unwrap();
    let mut check = Comparison::within(1e-9);
    check.number("K", fulton_k(at("length_mm"), at("weight_g")).unwrap(), &case["expected"]["K"]);
    assert_eq!(check.compared, 1);
}
