//! Sidecars on disk: round trips, the published schema, unknown keys, and what a confirmed reading outlives.

use std::path::Path;

use kurbo::{Point, Rect};
use serde_json::{Value, json};

use crate::domain::axis::Axis;
use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::reading::{
    Certainty, Confidence, EdgeCondition, ImpressionReading, Light, Mark, MarkKind, MarkOrigin,
    OtherAxis, Outcome, ReaderInitials, ReadingState, ScanIdentity, ScanReading, Structure,
};
use crate::domain::several::{FishChoice, Way};
use crate::domain::units::Pixels;

use super::file_name::sidecar_path;
use super::fingerprint::Fingerprint;
use super::sidecar::{load_sidecar, save_reading, sidecar_text};

pub(super) const SCAN: &str = "MH-0012.tif";

pub(super) fn kb() -> ReaderInitials {
    ReaderInitials::new("kb").unwrap()
}

pub(super) fn survey_folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("scans")).unwrap();
    folder
}

fn mark(kind: MarkKind, px: f64, origin: MarkOrigin, certainty: Certainty) -> Mark {
    Mark { kind, position: Pixels(px), origin, certainty }
}

/// An impression with every field set, with numbers that have no short binary form.
pub(super) fn impression(number: u32, state: ReadingState) -> ImpressionReading {
    let mut reading = ImpressionReading::new(number, "0012", Structure::Scale);
    reading.bounds = Some(Rect::new(0.1, 0.2, 1000.3, 1e-17 + 777.7));
    reading.light = Some(Light::Transmitted);
    reading.axis = Some(
        Axis::new([Point::new(0.1, 1.0 / 3.0), Point::new(100.7, -3.3), Point::new(412.9, 5e-12)])
            .unwrap(),
    );
    reading.edge = Some(Pixels(400.1 + 0.2));
    reading.marks = vec![
        mark(MarkKind::Annulus, 0.1 + 0.2, MarkOrigin::AcceptedProposal, Certainty::Clear),
        mark(
            MarkKind::Check,
            155.000_000_000_000_03,
            MarkOrigin::MovedProposal,
            Certainty::Doubtful,
        ),
        mark(MarkKind::Annulus, 301.123_456_789_012_3, MarkOrigin::ByHand, Certainty::Faint),
    ];
    reading.other_axes = vec![OtherAxis {
        axis: Axis::straight(Point::new(0.1, 1.0 / 3.0), Point::new(-7.7, 300.3)).unwrap(),
        edge: Pixels(290.1),
        marks: reading.marks.iter().take(1).copied().collect(),
    }];
    let at = jiff::Timestamp::from_second(1_750_000_000).unwrap();
    reading.choice = Some(FishChoice { way: Way::Alone, at });
    reading.edge_condition = Some(EdgeCondition::Medium);
    reading.outcome = Some(Outcome::Aged);
    reading.age = Some(3);
    reading.confidence = Some(Confidence::Fair);
    reading.state = state;
    reading.conditions.proposals_shown = true;
    reading.conditions.length_shown = true;
    reading.conditions.blind_list = Some("june re-read".to_owned());
    reading.started = Some("2025-06-03T14:05:00.123456789Z".parse().unwrap());
    reading.confirmed = Some("2025-06-03T14:07:00Z".parse().unwrap());
    reading.note = "crossing over at 2; \"odd\" \u{1F41F}\n".to_owned();
    reading
}

pub(super) fn scan_reading(impressions: Vec<ImpressionReading>) -> ScanReading {
    let mut calibration =
        Calibration::new(5.291_666_666_666_667, 5.3, CalibrationSource::StageMicrometer).unwrap();
    calibration.se_um_per_px = Some(0.012_345_678_901_234_5);
    ScanReading {
        scan: ScanIdentity {
            file: SCAN.to_owned(),
            width_px: 4000,
            height_px: 3000,
            blake3: Fingerprint::of(b"scan").blake3_hex(),
        },
        reader: kb(),
        calibration: Some(calibration),
        impressions,
    }
}

pub(super) fn confirmed() -> ScanReading {
    scan_reading(vec![impression(1, ReadingState::Confirmed)])
}

pub(super) fn path_in(folder: &Path) -> std::path::PathBuf {
    sidecar_path(folder, SCAN, &kb()).unwrap()
}

fn value_of(folder: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path_in(folder)).unwrap()).unwrap()
}

fn schema_errors(value: &Value) -> Vec<String> {
    let schema: Value =
        serde_json::from_str(include_str!("../../docs/sidecar.schema.json")).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    validator
        .iter_errors(value)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect()
}

#[test]
fn every_field_comes_back_exactly_and_the_file_fits_the_schema() {
    let folder = survey_folder();
    let mut bare = ImpressionReading::new(3, "", Structure::FinRay);
    bare.note.clear();
    let reading = scan_reading(vec![
        impression(1, ReadingState::Confirmed),
        impression(2, ReadingState::Draft),
        bare,
    ]);
    let saved = save_reading(folder.path(), &kb(), &reading, None).unwrap();
    let loaded = load_sidecar(&path_in(folder.path())).unwrap();
    assert_eq!(loaded.reading, reading);
    assert_eq!(loaded.fingerprint, saved);
    assert!(!loaded.is_read_only());
    assert_eq!(schema_errors(&value_of(folder.path())), Vec::<String>::new());
    // Saving what was loaded gives the same bytes.
    let again = save_reading(folder.path(), &kb(), &loaded.reading, Some(&saved)).unwrap();
    assert_eq!(again, saved);

    let mut unknown = scan_reading(Vec::new());
    unknown.calibration = None;
    let value: Value = serde_json::from_str(&sidecar_text(&unknown).unwrap()).unwrap();
    assert_eq!(schema_errors(&value), Vec::<String>::new());
}

/// Random doubles of all magnitudes, from a 64-bit linear congruential sequence (Knuth's multiplier; from memory).
#[test]
fn any_double_comes_back_exactly() {
    let seed = 20_250_603_u64;
    let mut state = seed;
    let mut next = || {
        loop {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let number = f64::from_bits(state ^ (state >> 31));
            if number.is_finite() {
                return number;
            }
        }
    };
    let folder = survey_folder();
    let path = path_in(folder.path());
    for round in 0..50 {
        let mut draft = ImpressionReading::new(1, "1", Structure::Otolith);
        draft.edge = Some(Pixels(next()));
        draft.bounds = Some(Rect { x0: next(), y0: next(), x1: next(), y1: next() });
        draft.axis = Axis::new((0..6).map(|_| Point::new(next(), next()))).ok();
        draft.marks = (0..40)
            .map(|_| mark(MarkKind::Annulus, next(), MarkOrigin::ByHand, Certainty::Clear))
            .collect();
        draft.marks.sort_by(|a, b| a.position.0.total_cmp(&b.position.0));
        let mut reading = scan_reading(vec![draft]);
        reading.calibration =
            Calibration::new(next().abs(), next().abs(), CalibrationSource::Stated).ok();
        std::fs::write(&path, sidecar_text(&reading).unwrap()).unwrap();
        let loaded = load_sidecar(&path).unwrap();
        assert_eq!(loaded.reading, reading, "seed {seed}, round {round}");
    }
}

#[test]
fn the_schema_refuses_what_the_program_would_not_write() {
    let good: Value = serde_json::from_str(&sidecar_text(&confirmed()).unwrap()).unwrap();
    for (pointer, wrong) in [
        ("/version", json!(2)),
        ("/reader", json!("k b")),
        ("/scan/file", json!("../x.tif")),
        ("/scan/blake3", json!("ABC")),
        ("/calibration/x_um_per_px", json!(0)),
        ("/impressions/0/number", json!(0)),
        ("/impressions/0/state", json!("proposed")),
        ("/impressions/0/outcome", json!(null)),
        ("/impressions/0/marks/0/position_px", json!("12")),
        ("/impressions/0/axis_px", json!([[1, 2]])),
        ("/impressions/0/started", json!("yesterday")),
    ] {
        let mut bad = good.clone();
        *bad.pointer_mut(pointer).unwrap() = wrong;
        assert!(!schema_errors(&bad).is_empty(), "{pointer}");
    }
}

#[test]
fn micrometres_stand_beside_pixels() {
    let folder = survey_folder();
    let reading = confirmed();
    save_reading(folder.path(), &kb(), &reading, None).unwrap();
    let value = value_of(folder.path());
    let first = &reading.impressions[0];
    let axis = first.axis.as_ref().unwrap();
    let scale = reading.calibration.as_ref().unwrap();
    for (index, mark) in first.marks.iter().enumerate() {
        let written = &value["impressions"][0]["marks"][index];
        assert_eq!(written["position_px"], json!(mark.position.0));
        assert_eq!(written["position_um"], json!(axis.micrometres_at(mark.position, scale).0));
    }
    assert_eq!(value["impressions"][0]["focus_px"], value["impressions"][0]["axis_px"][0]);
}

#[test]
fn marks_out_of_order_are_put_in_order_with_their_own_keys() {
    let folder = survey_folder();
    let draft = scan_reading(vec![impression(1, ReadingState::Draft)]);
    let mut value: Value = serde_json::from_str(&sidecar_text(&draft).unwrap()).unwrap();
    let marks = value["impressions"][0]["marks"].as_array_mut().unwrap();
    marks[0]["lab_field"] = json!("first");
    marks.reverse();
    std::fs::write(path_in(folder.path()), value.to_string()).unwrap();
    let loaded = load_sidecar(&path_in(folder.path())).unwrap();
    assert_eq!(loaded.reading, draft);
    assert_eq!(loaded.stale_micrometres, Vec::<String>::new());
    save_reading(folder.path(), &kb(), &loaded.reading, Some(&loaded.fingerprint)).unwrap();
    assert_eq!(value_of(folder.path())["impressions"][0]["marks"][0]["lab_field"], "first");
}

#[test]
fn unknown_keys_are_kept_at_every_level() {
    let folder = survey_folder();
    let reading = scan_reading(vec![impression(1, ReadingState::Draft)]);
    save_reading(folder.path(), &kb(), &reading, None).unwrap();
    let places = [
        "",
        "/scan",
        "/calibration",
        "/impressions/0",
        "/impressions/0/box_px",
        "/impressions/0/margin",
        "/impressions/0/marks/1",
    ];
    let extra = json!({"deep": [1, 2.5, null, {"x": "y"}]});
    let mut value = value_of(folder.path());
    for place in places {
        value.pointer_mut(place).unwrap()["lab_field"] = extra.clone();
    }
    std::fs::write(path_in(folder.path()), value.to_string()).unwrap();

    let loaded = load_sidecar(&path_in(folder.path())).unwrap();
    let mut edited = loaded.reading.clone();
    edited.impressions[0].note = "edited".to_owned();
    edited.impressions[0].marks[0].position = Pixels(2.0);
    let saved = save_reading(folder.path(), &kb(), &edited, Some(&loaded.fingerprint)).unwrap();
    let check = |value: &Value| {
        for place in places {
            assert_eq!(value.pointer(place).unwrap()["lab_field"], extra, "{place}");
        }
        assert_eq!(schema_errors(value), Vec::<String>::new());
    };
    check(&value_of(folder.path()));
    // They also follow a draft into its confirmed reading.
    edited.impressions[0].state = ReadingState::Confirmed;
    save_reading(folder.path(), &kb(), &edited, Some(&saved)).unwrap();
    check(&value_of(folder.path()));
}

#[test]
fn a_confirmed_reading_survives_a_later_draft_and_then_moves_to_earlier() {
    let folder = survey_folder();
    let first = confirmed();
    let saved = save_reading(folder.path(), &kb(), &first, None).unwrap();

    // A program that holds only the draft cannot drop the confirmed reading.
    let mut draft = impression(1, ReadingState::Draft);
    draft.note = "second thoughts".to_owned();
    let only_draft = scan_reading(vec![draft.clone()]);
    let saved = save_reading(folder.path(), &kb(), &only_draft, Some(&saved)).unwrap();
    let loaded = load_sidecar(&path_in(folder.path())).unwrap();
    assert_eq!(loaded.reading.impressions, [first.impressions[0].clone(), draft.clone()]);
    assert_eq!(loaded.reading.latest(1), Some(&draft));
    assert_eq!(loaded.reading.confirmed().count(), 1);
    assert_eq!(schema_errors(&value_of(folder.path())), Vec::<String>::new());

    let mut second = draft;
    second.state = ReadingState::Confirmed;
    second.age = Some(4);
    let mut reading = loaded.reading;
    reading.put(second.clone());
    let saved = save_reading(folder.path(), &kb(), &reading, Some(&saved)).unwrap();
    let loaded = load_sidecar(&path_in(folder.path())).unwrap();
    assert_eq!(loaded.reading.impressions, [second.clone()]);
    assert_eq!(loaded.earlier, first.impressions);
    assert_eq!(schema_errors(&value_of(folder.path())), Vec::<String>::new());

    // Saving the same again, or nothing at all, adds and loses nothing.
    let saved = save_reading(folder.path(), &kb(), &loaded.reading, Some(&saved)).unwrap();
    save_reading(folder.path(), &kb(), &scan_reading(Vec::new()), Some(&saved)).unwrap();
    let loaded = load_sidecar(&path_in(folder.path())).unwrap();
    assert_eq!(loaded.reading.impressions, [second]);
    assert_eq!(loaded.earlier, first.impressions);
}

#[test]
fn a_given_up_draft_goes() {
    let folder = survey_folder();
    let draft = scan_reading(vec![impression(1, ReadingState::Draft)]);
    let saved = save_reading(folder.path(), &kb(), &draft, None).unwrap();
    save_reading(folder.path(), &kb(), &scan_reading(Vec::new()), Some(&saved)).unwrap();
    assert_eq!(load_sidecar(&path_in(folder.path())).unwrap().reading.impressions, []);
}
