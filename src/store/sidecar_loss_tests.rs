//! Sidecars in bad company: damage, newer programs, failing disks and other readers. Nothing is ever lost.

use serde_json::{Value, json};

use crate::domain::reading::{ReaderInitials, ReadingState};
use crate::domain::units::Pixels;

use super::error::StoreError;
use super::file_name::sidecar_path;
use super::fingerprint::Fingerprint;
use super::safe_write::Step;
use super::sidecar::{
    OpenedSidecar, load_sidecar, open_sidecar, save_reading, save_reading_with, set_aside,
    sidecar_text,
};
use super::sidecar_tests::{SCAN, confirmed, impression, kb, path_in, scan_reading, survey_folder};

#[test]
fn damaged_sidecars_never_panic_and_are_never_overwritten() {
    let folder = survey_folder();
    let good = sidecar_text(&confirmed()).unwrap().into_bytes();
    let path = path_in(folder.path());
    let mut n_unreadable = 0;
    for cut in (0..good.len() - 2).step_by(7) {
        let mut flipped = good.clone();
        flipped[cut] ^= 0x15;
        for damaged in [good[..cut].to_vec(), flipped] {
            std::fs::write(&path, &damaged).unwrap();
            let Err(error) = load_sidecar(&path) else { continue };
            assert!(
                matches!(
                    error,
                    StoreError::UnreadableSidecar { .. } | StoreError::NewerVersion { .. }
                ),
                "{error}"
            );
            n_unreadable += 1;
            let saved = save_reading(folder.path(), &kb(), &confirmed(), None);
            assert!(matches!(saved, Err(StoreError::ChangedByOther { .. })));
            let loaded = Fingerprint::of(&damaged);
            assert!(save_reading(folder.path(), &kb(), &confirmed(), Some(&loaded)).is_err());
            assert_eq!(std::fs::read(&path).unwrap(), damaged);
        }
    }
    assert!(n_unreadable > 300, "{n_unreadable}");
}

#[test]
fn an_unreadable_sidecar_is_set_aside_under_a_free_name_and_named() {
    let folder = survey_folder();
    let path = path_in(folder.path());
    for (number, text) in [(1, "{\"format\":"), (2, "not json")] {
        std::fs::write(&path, text).unwrap();
        let OpenedSidecar::SetAside { kept_as, message } =
            open_sidecar(folder.path(), SCAN, &kb()).unwrap()
        else {
            panic!("expected it to be set aside")
        };
        assert_eq!(
            kept_as,
            folder.path().join(format!("scans/MH-0012.tif.kb.json.unreadable-{number}"))
        );
        assert_eq!(std::fs::read_to_string(&kept_as).unwrap(), text);
        assert!(message.contains(&format!("unreadable-{number}")), "{message}");
        assert_eq!(open_sidecar(folder.path(), SCAN, &kb()).unwrap(), OpenedSidecar::New);
    }
    save_reading(folder.path(), &kb(), &confirmed(), None).unwrap();
    assert!(set_aside(&folder.path().join("scans/none.json")).is_err());
}

#[test]
fn messages_name_the_key_path() {
    let folder = survey_folder();
    let path = path_in(folder.path());
    let good: Value = serde_json::from_str(&sidecar_text(&confirmed()).unwrap()).unwrap();
    for (pointer, wrong, expected) in [
        (
            "/impressions/0/marks/2/kind",
            json!("ring"),
            "at impressions[0].marks[2].kind: expected a kind of mark",
        ),
        ("/impressions/0/age", json!(-1), "at impressions[0].age"),
        (
            "/impressions/0/marks/1/position_px",
            json!(null),
            "at impressions[0].marks[1].position_px",
        ),
        ("/impressions/0/axis_px", json!([[1.0, 1.0]]), "at impressions[0].axis_px: an axis needs"),
        (
            "/impressions/0/focus_px",
            json!([9, 9]),
            "at impressions[0].focus_px: expected the first point",
        ),
        ("/impressions/0/started", json!("noon"), "at impressions[0].started: expected a time"),
        ("/calibration/y_um_per_px", json!(-2), "at calibration: a pixel size of -2"),
        ("/reader", json!("k b"), "at reader"),
        ("/format", json!("other"), "at format"),
        ("/version", json!("one"), "at version"),
    ] {
        let mut bad = good.clone();
        *bad.pointer_mut(pointer).unwrap() = wrong;
        std::fs::write(&path, bad.to_string()).unwrap();
        let error = load_sidecar(&path).unwrap_err().to_string();
        assert!(
            error.contains(expected) && error.contains("MH-0012.tif.kb.json"),
            "{pointer}: {error}"
        );
    }
}

#[test]
fn a_newer_version_can_be_looked_at_and_not_written() {
    let folder = survey_folder();
    let path = path_in(folder.path());
    let mut value: Value = serde_json::from_str(&sidecar_text(&confirmed()).unwrap()).unwrap();
    value["version"] = json!(7);
    std::fs::write(&path, value.to_string()).unwrap();
    let loaded = load_sidecar(&path).unwrap();
    assert!(loaded.is_read_only());
    assert_eq!(loaded.reading, confirmed());
    let refused = save_reading(folder.path(), &kb(), &loaded.reading, Some(&loaded.fingerprint));
    let error = refused.unwrap_err();
    assert!(matches!(error, StoreError::NewerVersion { found: 7, supported: 1, .. }));
    assert!(error.to_string().contains("install a newer program"));
    // One that no longer reads like ours is not taken for a damaged one.
    value["impressions"] = json!({"1": []});
    std::fs::write(&path, value.to_string()).unwrap();
    let opened = open_sidecar(folder.path(), SCAN, &kb());
    assert!(matches!(opened, Err(StoreError::NewerVersion { .. })));
    assert!(path.exists());
}

#[test]
fn a_failing_disk_loses_nothing() {
    let folder = survey_folder();
    let saved = save_reading(folder.path(), &kb(), &confirmed(), None).unwrap();
    let before = std::fs::read(path_in(folder.path())).unwrap();
    for failing in Step::ALL {
        let draft = scan_reading(vec![impression(1, ReadingState::Draft)]);
        let result = save_reading_with(folder.path(), &kb(), &draft, Some(&saved), &mut |step| {
            if step == failing { Err(std::io::ErrorKind::StorageFull.into()) } else { Ok(()) }
        });
        assert!(matches!(result, Err(StoreError::Io { .. })), "{failing:?}");
        assert_eq!(std::fs::read(path_in(folder.path())).unwrap(), before);
        assert_eq!(std::fs::read_dir(folder.path().join("scans")).unwrap().count(), 1);
    }
}

#[test]
fn readers_write_their_own_files_only() {
    let folder = survey_folder();
    let tv = ReaderInitials::new("tv").unwrap();
    let refused = save_reading(folder.path(), &tv, &confirmed(), None);
    assert!(matches!(refused, Err(StoreError::WrongReader { .. })));
    // Nor where the file's name says one reader and the file another.
    let path = sidecar_path(folder.path(), SCAN, &tv).unwrap();
    std::fs::write(&path, sidecar_text(&confirmed()).unwrap()).unwrap();
    let loaded = Fingerprint::of_file(&path).unwrap().unwrap();
    let mut theirs = confirmed();
    theirs.reader = tv.clone();
    let refused = save_reading(folder.path(), &tv, &theirs, Some(&loaded));
    assert!(matches!(refused, Err(StoreError::WrongReader { .. })));
}

#[test]
fn letter_case_of_initials_does_not_make_a_second_file() {
    let folder = survey_folder();
    let path = folder.path().join("scans/MH-0012.tif.KB.json");
    std::fs::write(&path, sidecar_text(&confirmed()).unwrap()).unwrap();
    let OpenedSidecar::Loaded(loaded) = open_sidecar(folder.path(), SCAN, &kb()).unwrap() else {
        panic!("expected the file to be found")
    };
    assert_eq!(loaded.path, path);
    save_reading(folder.path(), &kb(), &loaded.reading, Some(&loaded.fingerprint)).unwrap();
    assert_eq!(std::fs::read_dir(folder.path().join("scans")).unwrap().count(), 1);
}

#[test]
fn readings_that_do_not_hold_together_are_not_written() {
    let folder = survey_folder();
    let mut no_outcome = confirmed();
    no_outcome.impressions[0].outcome = None;
    let mut not_a_number = confirmed();
    not_a_number.impressions[0].marks[0].position = Pixels(f64::NAN);
    let mut twice = confirmed();
    twice.impressions.push(twice.impressions[0].clone());
    let mut numbered_0 = confirmed();
    numbered_0.impressions[0].number = 0;
    let mut bad_hash = confirmed();
    bad_hash.scan.blake3 = "abc".to_owned();
    let mut bad_error = confirmed();
    bad_error.calibration.as_mut().unwrap().se_um_per_px = Some(f64::NAN);
    for bad in [no_outcome, not_a_number, twice, numbered_0, bad_hash, bad_error] {
        let result = save_reading(folder.path(), &kb(), &bad, None);
        assert!(matches!(result, Err(StoreError::BadReading { .. })));
    }
    let mut outside = confirmed();
    outside.scan.file = "../MH-0012.tif".to_owned();
    let result = save_reading(folder.path(), &kb(), &outside, None);
    assert!(matches!(result, Err(StoreError::UnsafeName { .. })));
    assert_eq!(std::fs::read_dir(folder.path().join("scans")).unwrap().count(), 0);
}
