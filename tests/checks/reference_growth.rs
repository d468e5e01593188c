//! Growth against a reference: Schneider, Laarman & Gowing 2000; Jackson, Quist & Larscheid 2008. The reference is invented.

use serde_json::Value;
use winterline::analysis::reference::{Percentile, growth_index, percentile_of, standing};
use winterline::domain::fish::{LengthType, Sex};
use winterline::domain::reference::{LengthBasis, ReferenceLength};
use winterline::domain::units::Millimetres;

use crate::published::{Comparison, Published, floats};

fn reference(input: &Value) -> Vec<ReferenceLength> {
    let table = &input["reference"];
    floats(&table["age"])
        .iter()
        .zip(floats(&table["mean"]))
        .zip(floats(&table["sd"]))
        .map(|((age, mean), sd)| ReferenceLength {
            species: "walleye".to_owned(),
            sex: Sex::Unknown,
            age: *age as u32,
            basis: LengthBasis::Capture,
            months: vec![9],
            length_type: LengthType::Total,
            structure: None,
            mean: Millimetres(mean),
            sd: Some(Millimetres(sd)),
            n: None,
            percentiles: Vec::new(),
            source: "invented".to_owned(),
            row: 0,
        })
        .collect()
}

fn observed(input: &Value) -> Vec<(u32, f64)> {
    let rows = input["observed"].as_array().unwrap();
    rows.iter().map(|row| (row[0].as_u64().unwrap() as u32, row[1].as_f64().unwrap())).collect()
}

#[test]
fn each_fish_against_the_reference() {
    let file = Published::open("18_growth_index");
    let case = file.case("per_fish");
    let reference = reference(&case["input"]);
    let mut check = Comparison::within(1e-9);
    let expected = case["expected"].as_array().unwrap();
    for ((age, length), wanted) in observed(&case["input"]).into_iter().zip(expected) {
        let at_age = reference.iter().find(|entry| entry.age == age).unwrap();
        let found = standing(length, at_age);
        check.number("percent", found.percent, &wanted["percent"]);
        check.number("z", found.z.unwrap(), &wanted["z"]);
        check.number("deviation", found.deviation_mm, &wanted["deviation"]);
    }
    assert_eq!(check.compared, 27);
}

#[test]
fn index_over_ages() {
    let file = Published::open("18_growth_index");
    let input = &file.case("per_fish")["input"];
    let expected = &file.case("index")["expected"];
    let found = growth_index(&observed(input), &reference(input), 1);
    let mut check = Comparison::within(1e-9);
    for (index, age) in found.ages.iter().enumerate() {
        check.count("age", age.age as usize, &expected["ages"][index]);
        check.count("n", age.n, &expected["n"][index]);
        check.number("mean", age.mean_mm, &expected["mean_length"][index]);
        check.number(
            "deviation",
            age.standing.unwrap().deviation_mm,
            &expected["deviation"][index],
        );
    }
    let wanted = &expected["mean_deviation_unweighted"];
    check.number("index", found.mean_deviation_mm.unwrap(), wanted);
    let wanted = &expected["mean_deviation_weighted_by_n"];
    check.number("weighted", found.weighted_deviation_mm.unwrap(), wanted);
    let wanted = &expected["mean_percent_of_age_means"];
    check.number("percent", found.mean_percent.unwrap(), wanted);
    assert_eq!(check.compared, 6 * 4 + 3);
    let [low, high] = found.ci95_mm.unwrap();
    assert!(low < found.mean_deviation_mm.unwrap() && found.mean_deviation_mm.unwrap() < high);
}

#[test]
fn percentiles_between_tabulated_ones() {
    let file = Published::open("18_growth_index");
    let case = file.case("percentile_from_quantiles");
    let quantiles = &case["input"]["quantiles"];
    let table: Vec<(f64, Millimetres)> = floats(&quantiles["p"])
        .into_iter()
        .zip(floats(&quantiles["length"]).into_iter().map(Millimetres))
        .collect();
    let mut check = Comparison::within(1e-9);
    let mut outside = 0;
    let expected = case["expected"].as_array().unwrap();
    for (length, wanted) in floats(&case["input"]["lengths"]).iter().zip(expected) {
        match percentile_of(*length, &table).unwrap() {
            Percentile::At(percent) => check.number("percentile", percent, wanted),
            other => {
                assert_eq!(wanted.as_str(), Some(other.to_string().as_str()));
                outside += 1;
            }
        }
    }
    assert_eq!((check.compared, outside), (5, 2));
}
