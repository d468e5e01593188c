//! Sidecars, `survey.json` and decisions, damaged in every way: no panic, no hang, a clear message or the same reading
//! after writing it back, and a file that cannot be read stays as it is.

use proptest::prelude::*;
use serde_json::{Value, json};
use winterline::domain::reading::{ImpressionReading, ReadingState, ScanReading};
use winterline::store::error::StoreError;
use winterline::store::resolution_file::load_resolutions;
use winterline::store::sidecar::{LoadedSidecar, load_sidecar, save_reading, sidecar_text};
use winterline::store::survey_file::{read_survey, write_survey};

use crate::bench::{Bench, reader, sound};
use crate::cases::{self, damaged, pick};
use crate::damage_json::damage_json;
use crate::messages::{judge, judge_all};

const SCAN: &str = "MH-0012.tif";
const SIDECAR: &str = "scans/MH-0012.tif.kb.json";

fn in_order(mut impressions: Vec<ImpressionReading>) -> Vec<ImpressionReading> {
    impressions.sort_by_key(|one| (one.number, one.state == ReadingState::Draft));
    impressions
}

/// Saving what was loaded changes nothing but the order, and doing it twice changes nothing at all.
fn rewritten(bench: &Bench, loaded: &LoadedSidecar, before: &[u8]) -> Result<(), TestCaseError> {
    let kb = reader("kb");
    let save = |reading: &ScanReading, at| save_reading(bench.folder(), &kb, reading, Some(at));
    let first = match save(&loaded.reading, &loaded.fingerprint) {
        Ok(fingerprint) => fingerprint,
        Err(error) => {
            prop_assert_eq!(
                std::fs::read(&loaded.path).unwrap(),
                before,
                "a refused save changed the file"
            );
            return judge_refusal(&error);
        }
    };
    let written = std::fs::read(&loaded.path).unwrap();
    let again = load_sidecar(&loaded.path).unwrap();
    prop_assert_eq!(
        in_order(again.reading.impressions.clone()),
        in_order(loaded.reading.impressions.clone())
    );
    prop_assert_eq!(&again.earlier, &loaded.earlier);
    prop_assert_eq!(&again.reading.calibration, &loaded.reading.calibration);
    prop_assert_eq!(&again.reading.scan, &loaded.reading.scan);
    prop_assert_eq!(again.fingerprint, first);
    save(&again.reading, &first).unwrap();
    prop_assert_eq!(
        std::fs::read(&loaded.path).unwrap(),
        written,
        "a second save changed the file"
    );
    Ok(())
}

fn judge_refusal(error: &StoreError) -> Result<(), TestCaseError> {
    let is_about_a_part = matches!(error, StoreError::BadReading { .. });
    judge(
        &error.to_string(),
        if is_about_a_part { &["not saved"] } else { &["MH-0012.tif.kb.json"] },
    )
}

#[test]
fn sidecars() {
    let (bench, sound) = (Bench::new(), sound("sidecar"));
    cases::run(&damaged(), |(which, ops)| {
        let bytes = damage_json(pick(&sound, which).unwrap(), &ops);
        let path = bench.put(SIDECAR, &bytes);
        match load_sidecar(&path) {
            Ok(loaded) if loaded.reading.scan.file == SCAN => rewritten(&bench, &loaded, &bytes),
            Ok(_) => Ok(()),
            Err(error) => {
                prop_assert!(!ops.is_empty(), "a sound file was refused: {}", error);
                prop_assert_eq!(std::fs::read(&path).unwrap(), bytes);
                judge(&error.to_string(), &["MH-0012.tif.kb.json"])
            }
        }
    });
}

/// Every object of the file, as a pointer to it.
fn objects(value: &Value, at: String, found: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                objects(
                    value,
                    format!("{at}/{}", key.replace('~', "~0").replace('/', "~1")),
                    found,
                );
            }
            found.push(at);
        }
        Value::Array(list) => {
            for (index, value) in list.iter().enumerate() {
                objects(value, format!("{at}/{index}"), found);
            }
        }
        _ => {}
    }
}

/// Keys that this program does not know, put anywhere, survive a rewrite with their values.
#[test]
fn unknown_keys_of_a_sidecar_are_kept() {
    let (bench, sound) = (Bench::new(), sound("sidecar"));
    let odd = prop_oneof![
        any::<f64>().prop_filter("JSON has no other", |n| n.is_finite()).prop_map(|n| json!(n)),
        any::<u64>().prop_map(|n| json!(n)),
        any::<i64>().prop_map(|n| json!(n)),
        any::<String>().prop_map(|text| json!(text)),
        any::<Option<bool>>().prop_map(|it| json!({"of": [it, {"a": it}], "": {}})),
    ];
    let strategy =
        (any::<u32>(), proptest::collection::vec((any::<u32>(), "[a-z ]{0,9}", odd), 1..6));
    cases::run(&strategy, |(which, additions)| {
        let mut value: Value = serde_json::from_slice(pick(&sound, which).unwrap()).unwrap();
        let mut places = Vec::new();
        objects(&value, String::new(), &mut places);
        let mut put = Vec::new();
        for (at, key, odd) in additions {
            let (place, key) = (pick(&places, at).unwrap(), format!("unknown {key}"));
            value.pointer_mut(place).unwrap()[&key] = odd;
            put.push(format!("{place}/{key}"));
        }
        let path = bench.put(SIDECAR, value.to_string().as_bytes());
        let loaded = load_sidecar(&path).unwrap();
        save_reading(bench.folder(), &reader("kb"), &loaded.reading, Some(&loaded.fingerprint))
            .unwrap();
        let after: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
        for place in put {
            prop_assert_eq!(after.pointer(&place), value.pointer(&place), "{}", place);
        }
        Ok(())
    });
}

#[test]
fn sound_sidecars_are_written_as_they_were() {
    for bytes in sound("sidecar-plain") {
        let bench = Bench::new();
        let loaded = load_sidecar(&bench.put(SIDECAR, &bytes)).unwrap();
        let text = sidecar_text(&loaded.reading).unwrap();
        assert_eq!(text, String::from_utf8(bytes).unwrap());
    }
}

#[test]
fn survey_settings() {
    let (bench, sound) = (Bench::new(), sound("survey.json"));
    cases::run(&damaged(), |(which, ops)| {
        let bytes = damage_json(pick(&sound, which).unwrap(), &ops);
        let path = bench.put("survey.json", &bytes);
        match read_survey(bench.folder()) {
            Ok((survey, fingerprint)) => {
                let written = write_survey(bench.folder(), &survey, Some(&fingerprint)).unwrap();
                let text = std::fs::read(&path).unwrap();
                prop_assert_eq!(&read_survey(bench.folder()).unwrap(), &(survey.clone(), written));
                write_survey(bench.folder(), &survey, Some(&written)).unwrap();
                prop_assert_eq!(std::fs::read(&path).unwrap(), text);
                Ok(())
            }
            Err(error) => {
                prop_assert!(!ops.is_empty(), "a sound file was refused: {}", error);
                judge(&error.to_string(), &["survey.json"])
            }
        }
    });
}

#[test]
fn decisions() {
    let (bench, sound) = (Bench::new(), sound("decision"));
    let value: Value = serde_json::from_slice(&sound[0]).unwrap();
    let name = format!("resolved/{}.json", value["id"].as_str().unwrap());
    cases::run(&damaged(), |(which, ops)| {
        let bytes = damage_json(pick(&sound, which).unwrap(), &ops);
        let path = bench.put(&name, &bytes);
        let all = load_resolutions(bench.folder()).unwrap();
        prop_assert_eq!(all.resolutions.len() + all.problems.len(), 1);
        prop_assert!(!ops.is_empty() || all.problems.is_empty(), "{:?}", all.problems);
        prop_assert_eq!(std::fs::read(&path).unwrap(), bytes);
        judge_all(&all.problems, &[&name["resolved/".len()..]])
    });
}
