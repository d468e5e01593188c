//! Good and poor growth years: Weisberg 1993; Weisberg, Spangler & Richmond 2010.

use std::collections::HashMap;

use serde_json::Value;
use winterline::analysis::year_effects::{
    FishEffect, Increment, Scale, YearEffects, year_effects, year_effects_by_piece,
};

use crate::published::{Comparison, Published};

fn increments(file: &Published) -> Vec<Increment> {
    let mut fish: HashMap<String, usize> = HashMap::new();
    file.case("log_increments_fixed")["input"]["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            let next = fish.len();
            Increment {
                fish: *fish.entry(row[0].as_str().unwrap().to_owned()).or_insert(next),
                age: u32::try_from(row[1].as_u64().unwrap()).unwrap(),
                year: i32::try_from(row[2].as_i64().unwrap()).unwrap(),
                size: row[3].as_f64().unwrap(),
            }
        })
        .collect()
}

fn compare_fixed(check: &mut Comparison, found: &YearEffects, expected: &Value) {
    check.count("rank", found.rank, &expected["rank"]);
    check.count("df", found.df_residual, &expected["df_residual"]);
    check.number("sd", found.residual_sd, &expected["residual_sd"]);
    let effects = expected["year_effect_sum_to_zero"].as_array().unwrap();
    assert_eq!(found.years.len(), effects.len());
    for (year, wanted) in found.years.iter().zip(effects) {
        check.count("year", year.year as usize, &wanted["year"]);
        check.number("effect", year.effect, &wanted["effect"]);
        check.number("se", year.se, &wanted["se"]);
        check.numbers("ci", &year.ci95, &wanted["ci95"]);
        if wanted["percent"].is_null() {
            assert_eq!(year.percent, None);
        } else {
            check.number("percent", year.percent.unwrap(), &wanted["percent"]);
        }
    }
    let means = expected["year_adjusted_mean_equal_age_weights"].as_array().unwrap();
    for (mean, wanted) in found.adjusted_means.iter().zip(means) {
        check.number("mean", mean.mean, &wanted["mean"]);
        check.number("mean se", mean.se, &wanted["se"]);
    }
    for (name, found) in [("F_year", found.f_year.unwrap()), ("F_age", found.f_age.unwrap())] {
        check.number(name, found.0, &expected[name]);
        check.count(name, found.1[0], &expected[format!("{name}_df")][0]);
        check.count(name, found.1[1], &expected[format!("{name}_df")][1]);
        check.number(name, found.2, &expected[format!("{name}_p")]);
    }
}

/// Fixed effects of logarithms and of raw increments, against R lm.
#[test]
fn fixed_effects() {
    let file = Published::open("17_year_effects");
    let mut check = Comparison::within(1e-8);
    for (name, scale) in
        [("log_increments_fixed", Scale::Log), ("raw_increments_fixed", Scale::Raw)]
    {
        let found = year_effects(&increments(&file), scale, FishEffect::None).unwrap();
        compare_fixed(&mut check, &found, &file.case(name)["expected"]);
    }
    let common = 3 + 7 * 5 + 7 * 2 + 2 * 4;
    assert_eq!(check.compared, 2 * common + 7);
}

/// Random fish by REML, against R nlme.
#[test]
fn random_fish() {
    let file = Published::open("17_year_effects");
    let expected = &file.case("log_increments_random_fish")["expected"];
    let found = year_effects(&increments(&file), Scale::Log, FishEffect::Random).unwrap();
    let mut check = Comparison::within(1e-4);
    check.number("fish", found.fish_sd.unwrap(), &expected["sd_fish"]);
    check.number("residual", found.residual_sd, &expected["sd_residual"]);
    check.number("first", found.intercept, &expected["intercept_first_age_first_year"]);
    for (effect, age) in found.age_effects.iter().zip(&found.ages[1..]) {
        let wanted = &expected["age_effects_against_first"][age.to_string()];
        check.number("age", *effect, wanted);
    }
    for (year, wanted) in
        found.years.iter().zip(expected["year_effect_sum_to_zero"].as_array().unwrap())
    {
        check.number("effect", year.effect, &wanted["effect"]);
        check.number("se", year.se, &wanted["se"]);
    }
    assert_eq!(check.compared, 3 + 6 + 14);
    // The planted poor year is found.
    let poor = found.years.iter().find(|year| year.year == 2018).unwrap();
    assert!(poor.is_poor() && !poor.is_good());
}

/// Five thousand fish take no longer than their increments need, and every piece is reported.
#[test]
fn thousands_of_fish_and_separate_pieces() {
    let mut rows = Vec::new();
    for fish in 0..5000usize {
        for age in 1..=7u32 {
            let year_class = 1990 + (fish % 20) as i32;
            let year = year_class + age as i32 - 1;
            let wave = if year == 2001 { 0.7 } else { 1.0 };
            // Deterministic scatter among fish and within them.
            let own = 1.0 + 0.1 * ((fish * 37 % 101) as f64 / 101.0 - 0.5);
            let noise = 1.0 + 0.05 * (((fish * 7 + age as usize * 13) % 17) as f64 / 17.0 - 0.5);
            rows.push(Increment {
                fish,
                age,
                year,
                size: 200.0 / f64::from(age) * wave * own * noise,
            });
        }
    }
    rows.push(Increment { fish: 9000, age: 30, year: 1900, size: 4.0 });
    let pieces = year_effects_by_piece(&rows, Scale::Log, FishEffect::Random);
    assert_eq!(pieces.len(), 2);
    let found = pieces[0].1.as_ref().unwrap();
    let poor = found.years.iter().find(|year| year.year == 2001).unwrap();
    // ln 0.7 less its share of the mean over 26 years.
    assert!((poor.effect - 0.7f64.ln() * 25.0 / 26.0).abs() < 0.01, "{}", poor.effect);
    assert!(pieces[1].1.is_err());
}
