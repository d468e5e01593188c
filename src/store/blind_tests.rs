//! Blind lists and their readings on disk: round trips, unknown keys, damage, several writers, a writer that is killed.

use std::path::Path;
use std::time::Duration;

use jiff::Timestamp;
use kurbo::{Point, Rect};
use serde_json::{Value, json};

use crate::domain::axis::Axis;
use crate::domain::blind::{BlindPolicy, BlindRule, ListName};
use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::reading::{
    ImpressionReading, Light, ReaderInitials, ReadingState, ScanIdentity, Structure,
};
use crate::domain::units::Millimetres;

use super::blind::{
    BlindEntry, BlindList, close_list, create_list, list_names, list_path, load_list,
    on_pixel_borders,
};
use super::blind_error::BlindError;
use super::blind_readings::{
    ListHead, OpenedBlindReadings, blind_readings_path, load_blind_readings, open_blind_readings,
    readers_of_list, save_blind_reading, save_blind_reading_with,
};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::safe_write::Step;
use super::sidecar_tests::impression;

pub(super) fn june() -> ListName {
    ListName::new("June-1").unwrap()
}

pub(super) fn reader(text: &str) -> ReaderInitials {
    ReaderInitials::new(text).unwrap()
}

pub(super) fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

/// Two impressions of one scan and one of another; boxes on the borders of pixels.
pub(super) fn list() -> BlindList {
    let calibration = Calibration::new(5.3, 5.4, CalibrationSource::StageMicrometer).unwrap();
    let entry = |tag: &str, fish: &str, file: &str, number: u32| BlindEntry {
        tag: tag.to_owned(),
        fish: fish.to_owned(),
        scan: ScanIdentity {
            file: file.to_owned(),
            width_px: 4000,
            height_px: 3000,
            blake3: Fingerprint::of(file.as_bytes()).blake3_hex(),
        },
        impression: number,
        structure: Structure::Scale,
        light: Some(Light::Transmitted),
        bounds: Rect::new(99.5 * f64::from(number), 149.5, 99.5 * f64::from(number) + 800.0, 949.5),
        calibration: Some(calibration.clone()),
        is_reference: number == 2,
        known_age: (number == 2).then_some(4),
    };
    let mut entries = vec![
        entry("BKTRX", "0012", "MH-0012.tif", 1),
        entry("ZZQPL", "0013", "MH-0012.tif", 2),
        entry("MNDFG", "0014", "MH-0014.tif", 1),
    ];
    for entry in &mut entries {
        entry.bounds = on_pixel_borders(entry.bounds, 4000, 3000).unwrap();
    }
    BlindList {
        name: june(),
        id: BlindList::id_of(
            "Maple Hollow Pond",
            &june(),
            at("2025-06-01T08:00:00Z"),
            &["BKTRX".into()],
        ),
        seed: 18_446_744_073_709_551_615,
        rule: BlindRule::PerLength { n: 3, width: Millimetres(25.4) },
        policy: BlindPolicy { proposals: true, ..BlindPolicy::default() },
        drawn_by: Some(reader("lead")),
        drawn: at("2025-06-01T08:00:00Z"),
        closed: None,
        entries,
    }
}

pub(super) fn head() -> ListHead {
    ListHead { name: june(), id: list().id }
}

/// A confirmed reading with a straight axis, told apart by its time.
pub(super) fn blind_reading(confirmed: &str) -> ImpressionReading {
    let mut reading = impression(1, ReadingState::Confirmed);
    reading.axis =
        Some(Axis::straight(Point::new(400.25, 700.5), Point::new(400.25, 20.0)).unwrap());
    reading.confirmed = Some(at(confirmed));
    reading
}

#[test]
fn a_list_goes_there_and_back_and_is_closed_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = create_list(folder.path(), &list()).unwrap();
    assert_eq!(path, folder.path().join("lists/june-1.json"));
    assert_eq!(load_list(folder.path(), &june()).unwrap().list, list());
    assert_eq!(list_names(folder.path()).unwrap(), [june()]);
    let again = create_list(folder.path(), &list());
    assert!(matches!(again, Err(BlindError::Taken { .. })));

    let text = std::fs::read_to_string(&path).unwrap();
    let text = text.replacen('{', "{\"permit\": [1.25],", 1).replacen(
        "\"tag\"",
        "\"slide\": 7, \"tag\"",
        1,
    );
    std::fs::write(&path, text).unwrap();
    let when = at("2025-07-01T08:00:00Z");
    assert_eq!(
        close_list(folder.path(), &june(), Some(&reader("lead")), when).unwrap(),
        Some(path.clone())
    );
    assert_eq!(close_list(folder.path(), &june(), None, when).unwrap(), None);
    let closed = load_list(folder.path(), &june()).unwrap().list;
    assert_eq!(closed, BlindList { closed: Some((when, Some(reader("lead")))), ..list() });
    let value: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
    assert_eq!((&value["permit"], &value["entries"][0]["slide"]), (&json!([1.25]), &json!(7)));
    let other = ListName::new("july").unwrap();
    assert!(matches!(load_list(folder.path(), &other), Err(BlindError::NoSuchList { .. })));
}

#[test]
fn a_damaged_list_is_told_and_never_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = create_list(folder.path(), &list()).unwrap();
    let good = std::fs::read(&path).unwrap();
    let mut n_damaged = 0;
    for cut in (0..good.len() - 2).step_by(11) {
        let mut flipped = good.clone();
        flipped[cut] ^= 0x15;
        for damaged in [good[..cut].to_vec(), flipped] {
            std::fs::write(&path, &damaged).unwrap();
            let Err(error) = load_list(folder.path(), &june()) else { continue };
            assert!(
                matches!(error, BlindError::Unreadable { .. } | BlindError::Newer { .. }),
                "{error}"
            );
            n_damaged += 1;
            assert!(close_list(folder.path(), &june(), None, Timestamp::UNIX_EPOCH).is_err());
            assert!(create_list(folder.path(), &list()).is_err());
            assert_eq!(std::fs::read(&path).unwrap(), damaged);
        }
    }
    assert!(n_damaged > 150, "{n_damaged}");
}

#[test]
fn messages_name_the_key_path() {
    let folder = tempfile::tempdir().unwrap();
    let path = create_list(folder.path(), &list()).unwrap();
    let good: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
    for (pointer, wrong, expected) in [
        ("/entries/1/structure", json!("feather"), "at entries[1].structure: expected a structure"),
        ("/entries/1/tag", json!("bktrx"), "at entries[1].tag: 'bktrx' stands twice"),
        ("/entries/2/scan/file", json!("../x.tif"), "at entries[2].scan.file"),
        (
            "/entries/0/box_px/left",
            json!(9000),
            "at entries[0].box_px: the box does not lie on the scan",
        ),
        ("/rule/rule", json!("best"), "at rule.rule: 'best' is not a rule"),
        ("/drawn", json!("June"), "at drawn: expected a time"),
        ("/version", json!(2), "has version 2 and this program knows versions up to 1"),
        ("/format", json!("other"), "at format: expected 'winterline-blind-list'"),
    ] {
        let mut value = good.clone();
        *value.pointer_mut(pointer).unwrap() = wrong;
        std::fs::write(&path, value.to_string()).unwrap();
        let error = load_list(folder.path(), &june()).unwrap_err().to_string();
        assert!(error.contains(expected), "{pointer}: {error}");
    }
}

#[test]
fn readings_go_there_and_back_and_nothing_confirmed_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let (tv, path) = (reader("TV"), blind_readings_path(folder.path(), &june(), &reader("tv")));
    assert_eq!(path, folder.path().join("lists/june-1.tv.json"));
    let first = blind_reading("2025-06-10T08:00:00Z");
    let mut draft = blind_reading("2025-06-11T08:00:00Z");
    draft.state = ReadingState::Draft;
    let save = |tag: &str, what: &[ImpressionReading], expected: Option<Fingerprint>| {
        save_blind_reading(&path, &head(), &tv, tag, what, expected.as_ref())
    };
    let one = save("BKTRX", std::slice::from_ref(&first), None).unwrap();
    // An empty wish does not take away what is confirmed.
    let two = save("bktrx", &[draft.clone()], Some(one)).unwrap();
    let loaded = load_blind_readings(&path).unwrap();
    assert_eq!(loaded.tagged.len(), 1);
    let states: Vec<ReadingState> =
        loaded.tagged[0].impressions.iter().map(|one| one.state).collect();
    assert_eq!(states, [ReadingState::Confirmed, ReadingState::Draft]);

    let text =
        std::fs::read_to_string(&path).unwrap().replacen("\"tag\"", "\"desk\": 3, \"tag\"", 1);
    std::fs::write(&path, &text).unwrap();
    assert!(matches!(
        save("BKTRX", &[], Some(two)),
        Err(BlindError::Store(StoreError::ChangedByOther { .. }))
    ));
    let second = blind_reading("2025-06-12T08:00:00Z");
    save("BKTRX", &[second], Some(Fingerprint::of(text.as_bytes()))).unwrap();
    let loaded = load_blind_readings(&path).unwrap();
    let times =
        |list: &[ImpressionReading]| list.iter().map(|one| one.confirmed).collect::<Vec<_>>();
    assert_eq!(times(&loaded.tagged[0].impressions), [Some(at("2025-06-12T08:00:00Z"))]);
    assert_eq!(times(&loaded.tagged[0].earlier), [first.confirmed]);
    let value: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
    assert_eq!(value["readings"][0]["desk"], json!(3));

    let kept = loaded.tagged[0].earlier[0].clone();
    let mut expected = first;
    (expected.fish, expected.bounds, expected.number) = (String::new(), None, 1);
    expected.conditions.blind_list = Some("June-1".to_owned());
    assert_eq!(kept, expected);
}

#[test]
fn another_readers_file_and_another_lists_file_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = blind_readings_path(folder.path(), &june(), &reader("tv"));
    let what = [blind_reading("2025-06-10T08:00:00Z")];
    let one = save_blind_reading(&path, &head(), &reader("tv"), "BKTRX", &what, None).unwrap();
    let other = save_blind_reading(&path, &head(), &reader("kb"), "BKTRX", &what, Some(&one));
    assert!(matches!(other, Err(BlindError::Store(StoreError::WrongReader { .. }))));
    let mut wrong = head();
    wrong.id = "another".to_owned();
    let other = save_blind_reading(&path, &wrong, &reader("tv"), "BKTRX", &what, Some(&one));
    assert!(matches!(other, Err(BlindError::OtherList { .. })));
    assert_eq!(Fingerprint::of_file(&path).unwrap(), Some(one));
}

#[test]
fn two_readers_write_at_once_and_each_keeps_their_own() {
    let folder = tempfile::tempdir().unwrap();
    let tags = ["BKTRX", "ZZQPL", "MNDFG"];
    let write = |who: &str| {
        let (who, path) = (reader(who), blind_readings_path(folder.path(), &june(), &reader(who)));
        let mut expected = None;
        for round in 0..20 {
            for tag in tags {
                let what = [blind_reading(&format!("2025-06-10T08:{round:02}:00Z"))];
                expected = Some(
                    save_blind_reading(&path, &head(), &who, tag, &what, expected.as_ref())
                        .unwrap(),
                );
            }
        }
    };
    std::thread::scope(|scope| {
        for who in ["kb", "tv"] {
            scope.spawn(move || write(who));
        }
    });
    assert_eq!(readers_of_list(folder.path(), &june()).unwrap(), [reader("kb"), reader("tv")]);
    for who in ["kb", "tv"] {
        let path = blind_readings_path(folder.path(), &june(), &reader(who));
        let loaded = load_blind_readings(&path).unwrap();
        assert_eq!(loaded.confirmed().count(), 3);
        assert!(loaded.tagged.iter().all(|tagged| tagged.earlier.len() == 19), "{who}");
    }
}

#[test]
fn damaged_readings_are_set_aside_and_a_failing_disk_leaves_the_old_ones() {
    let folder = tempfile::tempdir().unwrap();
    let path = blind_readings_path(folder.path(), &june(), &reader("tv"));
    let what = [blind_reading("2025-06-10T08:00:00Z")];
    assert_eq!(open_blind_readings(&path).unwrap(), OpenedBlindReadings::New);
    let one = save_blind_reading(&path, &head(), &reader("tv"), "BKTRX", &what, None).unwrap();
    for failing in Step::ALL {
        let result = save_blind_reading_with(
            &path,
            &head(),
            &reader("tv"),
            ("ZZQPL", &what),
            Some(&one),
            &mut |step| {
                if step == failing { Err(std::io::ErrorKind::StorageFull.into()) } else { Ok(()) }
            },
        );
        assert!(result.is_err(), "{failing:?}");
        assert_eq!(Fingerprint::of_file(&path).unwrap(), Some(one), "{failing:?}");
    }
    let good = std::fs::read(&path).unwrap();
    std::fs::write(&path, &good[..good.len() / 2]).unwrap();
    assert!(save_blind_reading(&path, &head(), &reader("tv"), "BKTRX", &what, None).is_err());
    assert_eq!(std::fs::read(&path).unwrap(), good[..good.len() / 2]);
    let OpenedBlindReadings::SetAside { kept_as, message } = open_blind_readings(&path).unwrap()
    else {
        panic!("expected it to be set aside")
    };
    assert_eq!(std::fs::read(&kept_as).unwrap(), good[..good.len() / 2]);
    assert!(message.contains("june-1.tv.json.unreadable-1"), "{message}");
    save_blind_reading(&path, &head(), &reader("tv"), "BKTRX", &what, None).unwrap();
}

/// Runs this very test in a second process as a writer without end, and kills it at odd moments.
#[test]
fn a_killed_writer_leaves_no_damaged_file() {
    const FOLDER: &str = "WINTERLINE_TEST_WRITES_TO";
    let path_in = |folder: &Path| blind_readings_path(folder, &june(), &reader("tv"));
    if let Some(folder) = std::env::var_os(FOLDER) {
        let path = path_in(Path::new(&folder));
        let mut expected = Fingerprint::of_file(&path).unwrap();
        for round in (0..60).cycle() {
            let what = [blind_reading(&format!("2025-06-10T08:{round:02}:00Z"))];
            expected = save_blind_reading(
                &path,
                &head(),
                &reader("tv"),
                "BKTRX",
                &what,
                expected.as_ref(),
            )
            .ok();
            super::resolution_tests::decide_next(Path::new(&folder));
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let name = "store::blind_tests::a_killed_writer_leaves_no_damaged_file";
    let mut before = (0, 0);
    for round in 0..6_u64 {
        let mut child = std::process::Command::new(std::env::current_exe().unwrap())
            .args([name, "--exact", "--nocapture"])
            .env(FOLDER, folder.path())
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .spawn()
            .unwrap();
        let is_writing = || load_blind_readings(&path_in(folder.path())).is_ok();
        for _ in 0..500 {
            if is_writing() {
                break;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        std::thread::sleep(Duration::from_millis(60 + 17 * round));
        child.kill().unwrap();
        child.wait().unwrap();
        let loaded = load_blind_readings(&path_in(folder.path())).unwrap();
        let resolutions = super::resolution_file::load_resolutions(folder.path()).unwrap();
        assert_eq!(resolutions.problems, Vec::<String>::new());
        let now = (loaded.tagged[0].earlier.len(), resolutions.resolutions.len());
        assert!(now.0 >= before.0 && now.1 >= before.1, "{before:?} {now:?}");
        before = now;
    }
    assert!(before.0 > 6 && before.1 > 6, "the writer hardly wrote: {before:?}");
}

#[test]
fn boxes_are_widened_to_pixels_and_cut_to_the_scan() {
    let wide = on_pixel_borders(Rect::new(10.2, -7.0, 20.7, 90.0), 100, 80);
    assert_eq!(wide, Some(Rect::new(9.5, -0.5, 21.5, 79.5)));
    let same = Rect::new(9.5, -0.5, 21.5, 79.5);
    assert_eq!(on_pixel_borders(same, 100, 80), Some(same));
    assert_eq!(on_pixel_borders(Rect::new(100.0, 0.0, 120.0, 9.0), 100, 80), None);
    let path = list_path(Path::new("survey"), &june());
    assert_eq!(path, Path::new("survey/lists/june-1.json"));
}
