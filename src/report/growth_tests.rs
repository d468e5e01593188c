//! Growth as JSON and as text say the same, and leave nothing unsaid.

use serde_json::Value;

use crate::analysis::condition::LengthCategories;
use crate::analysis::condition_summary::summarise_condition;
use crate::analysis::growth::{BootstrapSettings, Curve, FitSettings, GrowthStudy, study_growth};
use crate::analysis::year_effects::{FishEffect, Increment, Scale, year_effects};
use crate::domain::length_at_age::{LengthAtAge, LengthAtAgeTable};
use crate::domain::progress::Progress;

use super::growth_json::{GrowthExtras, growth_error_json, growth_json};
use super::growth_table::growth_text;

fn study() -> GrowthStudy {
    let mut rows = Vec::new();
    for (sex, n) in [("f", 40u32), ("m", 40), ("", 2)] {
        for fish in 0..n {
            let age = f64::from(1 + fish % 9);
            rows.push(LengthAtAge {
                fish: None,
                age,
                length: 520.0 * (1.0 - (-0.28 * (age + 0.5)).exp()) + f64::from(fish * 29 % 13)
                    - 6.0,
                weight: 1.0,
                groups: vec![sex.to_owned()],
                row: rows.len() + 2,
            });
        }
    }
    let table = LengthAtAgeTable { group_columns: vec!["sex".to_owned()], rows };
    let resampling = Some(BootstrapSettings { replicates: 40, seed: 5 });
    let settings = FitSettings::default();
    study_growth(Curve::VonBertalanffy, &table, Some(0), &settings, resampling, &Progress::new())
        .unwrap()
}

fn propagated() -> crate::analysis::uncertainty::Propagated {
    use crate::analysis::back_calculation::{Method, SampleFish};
    use crate::analysis::uncertainty::{ErrorInputs, Scope, Settings, UncertainFish, propagate};
    use crate::domain::units::{Micrometres, Millimetres};
    let fish: Vec<UncertainFish> = (0..40)
        .map(|i| {
            let annuli = vec![Micrometres(500.0 + f64::from(i))];
            let length = Some(Millimetres(200.0 + f64::from(i % 7)));
            UncertainFish::once(SampleFish::new(
                i.to_string(),
                length,
                Some(Micrometres(900.0)),
                annuli,
            ))
        })
        .collect();
    let settings = Settings { replicates: 100, seed: 1, scope: Scope::Population };
    let errors = ErrorInputs::unknown();
    propagate(&fish, &Method::DirectProportion, &errors, None, settings, &Progress::new()).unwrap()
}

fn extras() -> GrowthExtras {
    let increments: Vec<Increment> = (0..20usize)
        .flat_map(|fish| (1..=4u32).map(move |age| (fish, age)))
        .map(|(fish, age)| Increment {
            fish,
            age,
            year: 2010 + (fish % 5) as i32 + age as i32,
            size: 100.0 / f64::from(age)
                * (1.0 + 0.02 * ((fish * 7 + age as usize * 5) % 9) as f64),
        })
        .collect();
    let categories = LengthCategories {
        bounds_mm: [130.0, 200.0, 250.0, 300.0, 380.0],
        source: "entered".to_owned(),
    };
    let fish = [(150.0, Some(30.0)), (210.0, None)];
    GrowthExtras {
        year_effects: vec![year_effects(&increments, Scale::Log, FishEffect::Random).unwrap()],
        condition: Some(summarise_condition(&fish, None, Some(&categories)).unwrap()),
        uncertainty: Some(propagated()),
        by_key: None,
    }
}

#[test]
fn the_document_has_the_agreed_fields() {
    let document = growth_json(&study(), &extras(), None);
    let top = [
        "curve",
        "n",
        "converged",
        "parameters",
        "rss",
        "residual_sd",
        "log_likelihood",
        "aicc",
        "bootstrap",
        "groups",
        "comparison",
        "year_effects",
        "condition",
        "uncertainty",
    ];
    for name in top {
        assert!(!document[name].is_null(), "{name}");
    }
    for name in ["name", "estimate", "se", "ci95", "ci95_profile"] {
        assert!(!document["parameters"][0][name].is_null(), "{name}");
    }
    for name in ["name", "median", "ci95"] {
        assert!(!document["bootstrap"]["parameters"][0][name].is_null(), "{name}");
    }
    for name in ["hypothesis", "chi2", "df", "p"] {
        assert!(!document["comparison"][0][name].is_null(), "{name}");
    }
    for name in ["year", "n", "effect", "se", "ci95"] {
        assert!(!document["year_effects"][0][name].is_null(), "{name}");
    }
    assert_eq!(document["uncertainty"][0]["share"], serde_json::Value::Null);
    assert_eq!(document["uncertainty"][0]["source"], "mark placement");
    assert!(document["uncertainty"][6]["share"].as_f64().unwrap() > 0.0);
    assert_eq!(document["uncertainty_detail"]["by_age"][0]["n"], 40);
    assert_eq!(document["condition"]["size_structure"]["psd"]["PSD"]["percent"], 50.0);
}

#[test]
fn a_group_too_small_says_so_and_stops_nothing() {
    let document = growth_json(&study(), &GrowthExtras::default(), None);
    let groups = document["groups"].as_array().unwrap();
    assert_eq!(groups.len(), 3);
    let error = groups[0]["error"].as_str().unwrap();
    assert!(error.contains("2 distinct ages"), "{error}");
    assert!(groups[1]["error"].is_null() && groups[2]["converged"] == true);
    assert_eq!(document["comparison"].as_array().unwrap().len(), 4);
    assert_eq!(document["year_effects"], Value::Null);
}

#[test]
fn bad_input_keeps_the_shape() {
    let document = growth_error_json("gompertz", "lengths.csv, row 3: no");
    assert_eq!(document["error"], "lengths.csv, row 3: no");
    assert!(document["parameters"].as_array().unwrap().is_empty());
}

#[test]
fn the_text_shows_what_the_document_holds() {
    let (study, extras) = (study(), extras());
    let text = growth_text(&study, &extras);
    let linf = study.whole.outcome.as_ref().unwrap().fit.parameters[0].estimate;
    for wanted in [
        format!("{linf:.1}"),
        "sex = m".to_owned(),
        "sex = (empty)".to_owned(),
        "same Linf".to_owned(),
        "40 replicates, 0 failed, seed 5".to_owned(),
        "Growth years".to_owned(),
        "Kimura 1980".to_owned(),
    ] {
        assert!(text.contains(&wanted), "{wanted} in\n{text}");
    }
    assert!(!text.contains("NaN") && !text.contains(" inf"));
}
