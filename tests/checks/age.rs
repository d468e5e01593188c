//! Ages by the birthday rule (common practice, no source; the rule table of fisheries textbooks, for example Quist,
//! Pegg & DeVries 2012, from memory).

use jiff::civil::Date;
use serde_json::Value;
use winterline::domain::age::{
    BirthdayRule, MonthDay, assign_age, decimal_age_from_new_year, decimal_age_since_hatch,
    marginal_increment_ratio,
};
use winterline::domain::reading::EdgeCondition;

use crate::published::{Comparison, Published, floats};

fn day(value: &Value) -> MonthDay {
    MonthDay::parse(value.as_str().unwrap()).unwrap()
}

fn date(value: &Value) -> Date {
    value.as_str().unwrap().parse().unwrap()
}

#[test]
fn ages_and_year_classes_follow_the_rule_table() {
    let published = Published::open("04_age_assignment");
    let mut compared = 0;
    for case in published.cases().iter().filter(|case| case["input"]["edge"].is_string()) {
        let (input, expected) = (&case["input"], &case["expected"]);
        let edge = match input["edge"].as_str().unwrap() {
            "at_edge_counted" => EdgeCondition::AtEdge,
            word => EdgeCondition::from_word(word).unwrap(),
        };
        let rule = BirthdayRule {
            birthday: day(&input["birthdate"]),
            window_start: day(&input["formation_window"][0]),
            window_end: day(&input["formation_window"][1]),
        };
        let counted = u32::try_from(input["annuli_counted"].as_u64().unwrap()).unwrap();
        let found = assign_age(counted, edge, date(&input["capture_date"]), &rule);
        let name = &case["name"];
        assert_eq!(found.age.map(u64::from), expected["age"].as_u64(), "{name}");
        assert_eq!(found.year_class.map(i64::from), expected["year_class"].as_i64(), "{name}");
        let flag = found.flag.map(|flag| flag.message());
        assert_eq!(flag, expected["review_flag"].as_str(), "{name}");
        compared += 3;
    }
    assert_eq!(compared, 42);
}

#[test]
fn marginal_increment_ratios() {
    let published = Published::open("04_age_assignment");
    let case = published.case("marginal_increment_ratio");
    let found: Vec<f64> = case["input"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fish| {
            marginal_increment_ratio(&floats(&fish["radii"]), fish["radius"].as_f64().unwrap())
        })
        .map(Option::unwrap)
        .collect();
    let mut comparison = Comparison::within(1e-9);
    comparison.numbers("marginal increment ratio", &found, &case["expected"]);
    assert_eq!(comparison.compared, 6);
}

#[test]
fn decimal_ages() {
    let published = Published::open("04_age_assignment");
    let case = published.case("decimal_age");
    let (input, expected) = (&case["input"], &case["expected"]);
    let captured = date(&input["capture_date"]);
    let mut comparison = Comparison::within(1e-9);
    let age = decimal_age_from_new_year(3, captured);
    comparison.number("since new year", age - 3.0, &expected["fraction_since_1_january"]);
    comparison.number("by new year", age, &expected["age_1_january"]);
    let since_hatch =
        decimal_age_since_hatch(2020, day(&input["hatch_month_day"]), captured).unwrap();
    comparison.number("since hatch", since_hatch, &expected["age_since_hatch"]);
    assert_eq!(comparison.compared, 3);
}
