//! Age-length key, composition, assignment of ages and catch per effort against check values 19.

use serde_json::Value;
use winterline::analysis::population::age_length_key::{AgeLengthKey, EmptyGroups};
use winterline::analysis::population::assignment::{AssignmentRule, assign_ages, whole_parts};
use winterline::analysis::population::catch_per_effort::RateOverRuns;
use winterline::analysis::population::composition::{bootstrap_composition, composition};
use winterline::analysis::population::length_groups::LengthGroups;
use winterline::analysis::population::sample::SampledFish;
use winterline::domain::progress::Progress;
use winterline::domain::survey::LengthUnit;
use winterline::domain::units::Millimetres;

use crate::published::{Comparison, Published, floats, indices};

const FILE: &str = "19_age_length_key";

/// The fish of the published table: each group's fish stand at its lower bound, which belongs to the group.
fn fish(file: &Published) -> Vec<SampledFish> {
    let input = &file.case("key")["input"];
    let ages = indices(&input["ages"]);
    let unaged = indices(&file.case("assignment_counts")["input"]["unaged_by_bin"]);
    let mut fish = Vec::new();
    for (at, lower) in floats(&input["length_bin_lower_mm"]).into_iter().enumerate() {
        let counts = indices(&input["aged_by_bin_rows_age_columns"][at]);
        for (age, count) in ages.iter().zip(counts) {
            for _ in 0..count {
                fish.push(SampledFish::aged(fish.len() + 2, Millimetres(lower), *age as u32));
            }
        }
        let count = unaged[at] as u32;
        fish.push(SampledFish { count, ..SampledFish::unaged(fish.len() + 2, Millimetres(lower)) });
    }
    fish
}

fn key(fish: &[SampledFish]) -> AgeLengthKey {
    let groups = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
    AgeLengthKey::new(fish, groups, EmptyGroups::Refuse).unwrap()
}

/// Ketchen 1949; Kimura 1977; Quinn & Deriso 1999 (both forms of the error); data made for the check, values by numpy.
#[test]
fn key_composition_and_both_errors() {
    let file = Published::open(FILE);
    let case = file.case("key");
    let (expected, mut compared) = (&case["expected"], Comparison::within(file.relative(case)));
    let key = key(&fish(&file));
    for (row, (shares, lower)) in key.rows.iter().zip(
        expected["key"]
            .as_array()
            .unwrap()
            .iter()
            .zip(case["input"]["length_bin_lower_mm"].as_array().unwrap()),
    ) {
        compared.numbers("shares", &row.shares(), shares);
        compared.number("lower bound", key.groups.lower_mm(row.first), lower);
    }
    for (row, sampled) in key.rows.iter().zip(case["input"]["sampled_by_bin"].as_array().unwrap()) {
        compared.count("sampled", row.sampled as usize, sampled);
    }
    let found = composition(&key).rows;
    let column =
        |value: fn(&winterline::analysis::population::composition::CompositionRow) -> f64| {
            found.iter().map(value).collect::<Vec<f64>>()
        };
    compared.numbers("p", &column(|row| row.proportion), &expected["p"]);
    compared.numbers("numbers", &column(|row| row.n_expected), &expected["numbers_at_age"]);
    compared.numbers("se", &column(|row| row.se), &expected["se_p_divisor_n"]);
    let se = column(|row| row.se_n_minus_1);
    compared.numbers("se, n - 1", &se, &expected["se_p_divisor_n_minus_1"]);
    compared.numbers("cv", &column(|row| row.cv.unwrap()), &expected["cv_p"]);
    let lengths = &file.case("mean_length_at_age_from_bin_midpoints")["expected"];
    compared.numbers("mean length", &column(|row| row.mean_length_mm.unwrap()), lengths);
    assert_eq!(compared.compared, 8 * 6 + 8 + 8 + 6 * 6);
}

/// Kimura 1977: the formula with divisor n against samples of the same fish drawn anew.
#[test]
fn the_bootstrap_agrees_with_the_formula() {
    let key = key(&fish(&Published::open(FILE)));
    let drawn = bootstrap_composition(&key, 3000, 2, &Progress::new()).unwrap();
    for (row, share) in composition(&key).rows.iter().zip(&drawn.shares) {
        let ratio = share.se.unwrap() / row.se;
        assert!((0.95..1.05).contains(&ratio), "age {}: ratio {ratio}", row.age);
    }
}

/// Isermann & Knight 2005: whole parts are given, the rest drawn.
#[test]
fn whole_parts_and_what_is_left_to_draw() {
    let file = Published::open(FILE);
    let expected = &file.case("assignment_counts")["expected"];
    let fish = fish(&file);
    let key = key(&fish);
    let mut compared = Comparison::within(0.0);
    let assigned = assign_ages(&key, &fish, AssignmentRule::WholePartsFirst, 11);
    for (at, row) in key.rows.iter().enumerate() {
        let parts = whole_parts(row);
        let rows: Vec<usize> = fish
            .iter()
            .filter(|one| one.age.is_none() && key.groups.index_of(one.length) == row.first)
            .map(|one| one.row)
            .collect();
        for ((whole, age), value) in
            parts.by_age.iter().zip(&key.ages).zip(expected["fixed_part"][at].as_array().unwrap())
        {
            compared.count("whole part", *whole as usize, value);
            let given = assigned.iter().filter(|one| rows.contains(&one.row) && one.age == *age);
            let extra = given.count() - *whole as usize;
            assert!(extra <= 1, "group {at}, age {age}: {extra} above the whole part");
        }
        compared.count("left", parts.left_to_draw as usize, &expected["left_to_draw"][at]);
    }
    let unaged = indices(&file.case("assignment_counts")["input"]["unaged_by_bin"]);
    assert_eq!(assigned.len(), unaged.iter().sum::<usize>());
    assert_eq!(compared.compared, 8 * 6 + 8);
}

/// Mean, standard error and relative standard error over nets, values by numpy.
#[test]
fn catch_per_net_by_age() {
    let file = Published::open(FILE);
    let case = file.case("catch_per_net");
    let nets: Vec<Vec<f64>> = case["input"]["catch_by_net_rows_age_columns"]
        .as_array()
        .unwrap()
        .iter()
        .map(floats)
        .collect();
    let over = |at: usize| {
        RateOverRuns::of(&nets.iter().map(|net| net[at]).collect::<Vec<f64>>()).unwrap()
    };
    let rates: Vec<RateOverRuns> = (0..6).map(over).collect();
    let expected: &Value = &case["expected"];
    let mut compared = Comparison::within(file.relative(case));
    compared.numbers("mean", &rates.iter().map(|r| r.mean).collect::<Vec<_>>(), &expected["mean"]);
    let se: Vec<f64> = rates.iter().map(|rate| rate.se.unwrap()).collect();
    compared.numbers("se", &se, &expected["se"]);
    let rse: Vec<f64> = rates.iter().map(|rate| rate.rse_percent().unwrap()).collect();
    compared.numbers("rse", &rse, &expected["rse_percent"]);
    assert_eq!(compared.compared, 18);
}
