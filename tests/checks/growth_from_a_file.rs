//! From a spreadsheet to the growth document, with sound and with damaged files.

use std::fmt::Write as _;

use winterline::analysis::growth::{
    BootstrapSettings, Curve, FitSettings, Observation, fit, profile_interval, study_growth,
};
use winterline::analysis::numerics::splitmix::SplitMix64;
use winterline::domain::progress::Progress;
use winterline::report::growth_json::{GrowthExtras, growth_json};
use winterline::report::growth_table::growth_text;
use winterline::store::length_at_age_table::parse_lengths_at_age;

use crate::published::{Comparison, Published, floats};

fn spreadsheet(file: &Published) -> String {
    let input = &file.case("data")["input"];
    let mut text = "\u{feff}length_mm;sex;Age\n".to_owned();
    let rows = floats(&input["age_years"]).into_iter().zip(floats(&input["length_mm"]));
    for (index, (age, length)) in rows.enumerate() {
        let sex = if index % 2 == 0 { "female" } else { "male" };
        writeln!(text, "{length};{sex};{age}").unwrap();
    }
    text
}

/// The document carries the fit of the published check, whatever the order of columns and the separator.
#[test]
fn the_document_holds_the_checked_fit() {
    let file = Published::open("09_growth_curves");
    let sheet = parse_lengths_at_age(spreadsheet(&file).as_bytes(), "lengths.csv").unwrap();
    assert!(sheet.problems.is_empty() && sheet.n_incomplete == 0);
    let by = sheet.table.group_column("SEX");
    let resampling = Some(BootstrapSettings { replicates: 100, seed: 8 });
    let settings = FitSettings::default();
    let curve = Curve::VonBertalanffy;
    let study =
        study_growth(curve, &sheet.table, by, &settings, resampling, &Progress::new()).unwrap();
    let document = growth_json(&study, &GrowthExtras::default(), None);
    let expected = &file.case("von_bertalanffy_with_t0")["expected"];
    let mut check = Comparison::within(1e-6);
    for parameter in document["parameters"].as_array().unwrap() {
        let name = parameter["name"].as_str().unwrap();
        check.number(name, parameter["estimate"].as_f64().unwrap(), &expected["parameters"][name]);
        check.number(name, parameter["se"].as_f64().unwrap(), &expected["se"][name]);
        check.numbers(name, &floats(&parameter["ci95"]), &expected["wald_ci95"][name]);
    }
    check.number("rss", document["rss"].as_f64().unwrap(), &expected["rss"]);
    assert_eq!(check.compared, 3 * 4 + 1);
    assert_eq!(document["groups"].as_array().unwrap().len(), 2);
    assert_eq!(document["groups"][0]["n"], 35);
    assert_eq!(document["comparison"].as_array().unwrap().len(), 4);
}

/// Cut short or with bytes changed, a file gives problems or a study, never a panic.
#[test]
fn damaged_files_do_no_harm() {
    let whole = spreadsheet(&Published::open("09_growth_curves")).into_bytes();
    let mut random = SplitMix64::new(41);
    let mut studied = 0;
    for round in 0..60 {
        let mut bytes = whole.clone();
        if round % 2 == 0 {
            bytes.truncate(random.next_below(bytes.len()));
        } else {
            for _ in 0..8 {
                let place = random.next_below(bytes.len());
                bytes[place] = random.next_u64() as u8;
            }
        }
        let Ok(sheet) = parse_lengths_at_age(&bytes, "lengths.csv") else { continue };
        let study = study_growth(
            Curve::Gompertz,
            &sheet.table,
            (!sheet.table.group_columns.is_empty()).then_some(0),
            &FitSettings::default(),
            Some(BootstrapSettings { replicates: 5, seed: 1 }),
            &Progress::new(),
        )
        .unwrap();
        let text = growth_text(&study, &GrowthExtras::default());
        assert!(!text.contains("NaN") && text.contains("Mind:"), "seed 41, round {round}: {text}");
        studied += 1;
    }
    assert!(studied > 20, "{studied}");
}

/// Samples without any growth in them, for every curve: a fit with its warnings or a reason, never a panic, and no value
/// that is not a number.
#[test]
fn samples_without_sense_do_no_harm() {
    let mut fitted = 0;
    for seed in 0..40 {
        let mut random = SplitMix64::new(seed);
        let n = 4 + random.next_below(20);
        let scale = 10f64.powf(6.0 * random.next_unit() - 2.0);
        let rows: Vec<Observation> = (0..n)
            .map(|fish| {
                let age = (random.next_below(8)) as f64;
                Observation::single(age, scale * (0.01 + random.next_unit()), fish)
            })
            .collect();
        for word in Curve::WORDS {
            let curve = Curve::from_word(word, 1.0, 7.0).unwrap();
            let Ok(found) = fit(curve, &rows, &FitSettings::default()) else { continue };
            fitted += 1;
            for (index, parameter) in found.parameters.iter().enumerate() {
                assert!(parameter.estimate.is_finite(), "seed {seed}, {word}");
                assert!(parameter.se.is_none_or(f64::is_finite), "seed {seed}, {word}");
                let limits = profile_interval(&found, index).unwrap_or([None, None]);
                assert!(
                    limits.iter().flatten().all(|limit| limit.is_finite()),
                    "seed {seed}, {word}"
                );
            }
        }
    }
    assert!(fitted > 200, "{fitted}");
}
