//! From closed lists to sidecars, and readings that come back from another office.

use std::path::Path;

use jiff::Timestamp;
use kurbo::Point;

use crate::domain::reading::{ImpressionReading, ReaderInitials, ReadingState, ScanReading};

use super::blind::{close_list, create_list};
use super::blind_error::BlindError;
use super::blind_filing::{closed_readings, file_closed_lists, in_scan_pixels};
use super::blind_readings::{
    ListHead, blind_readings_path, load_blind_readings, save_blind_reading,
};
use super::blind_take_in::take_in;
use super::blind_tests::{at, blind_reading, head, june, list, reader};
use super::file_name::sidecar_path;
use super::fingerprint::Fingerprint;
use super::sidecar::{LoadedSidecar, load_sidecar, save_reading};
use super::sidecar_tests::impression;

fn survey() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("scans")).unwrap();
    create_list(folder.path(), &list()).unwrap();
    folder
}

fn read_blind(folder: &Path, who: &ReaderInitials, tags: &[&str]) {
    let path = blind_readings_path(folder, &june(), who);
    let mut expected = Fingerprint::of_file(&path).unwrap();
    for tag in tags {
        let what = [blind_reading("2025-06-10T08:00:00Z")];
        expected =
            Some(save_blind_reading(&path, &head(), who, tag, &what, expected.as_ref()).unwrap());
    }
}

fn close(folder: &Path) {
    close_list(folder, &june(), None, at("2025-07-01T08:00:00Z")).unwrap();
}

fn sidecar(folder: &Path, scan: &str, who: &ReaderInitials) -> LoadedSidecar {
    load_sidecar(&sidecar_path(folder, scan, who).unwrap()).unwrap()
}

fn own_reading(folder: &Path, who: &ReaderInitials, impressions: Vec<ImpressionReading>) {
    let scan = list().entries[0].scan.clone();
    let reading = ScanReading { scan, reader: who.clone(), calibration: None, impressions };
    save_reading(folder, who, &reading, None).unwrap();
}

#[test]
fn places_move_by_whole_pixels() {
    let entry = &list().entries[0];
    let moved = in_scan_pixels(entry, &blind_reading("2025-06-10T08:00:00Z")).unwrap();
    // The box begins at the border before column 99 (its left, 99.5, is widened) and row 150.
    let offset = entry.scan_from_crop();
    assert_eq!((entry.bounds.x0 + 0.5, entry.bounds.y0 + 0.5), (offset.x, offset.y));
    assert_eq!(moved.axis.unwrap().focus(), Point::new(400.25 + offset.x, 700.5 + offset.y));
    assert_eq!((moved.fish.as_str(), moved.number), ("0012", 1));
}

#[test]
fn an_open_list_gives_nothing_and_a_closed_one_is_filed_once() {
    let folder = survey();
    let tv = reader("tv");
    read_blind(folder.path(), &tv, &["BKTRX", "ZZQPL", "MNDFG"]);
    assert_eq!(file_closed_lists(folder.path(), &tv).unwrap().n_readings, 0);
    assert_eq!(closed_readings(folder.path(), &[]).unwrap().readings.len(), 0);
    close(folder.path());
    let unfiled = closed_readings(folder.path(), &[]).unwrap();
    assert_eq!(unfiled.readings.len(), 2);
    assert_eq!(unfiled.readings[0].impressions.len(), 2);
    assert_eq!(file_closed_lists(folder.path(), &reader("kb")).unwrap().n_readings, 0);

    let filed = file_closed_lists(folder.path(), &tv).unwrap();
    assert_eq!((filed.n_readings, filed.problems), (3, Vec::new()));
    let both = sidecar(folder.path(), "MH-0012.tif", &tv);
    assert_eq!(both.reading, unfiled.readings[0]);
    assert_eq!(both.reading.impressions[1].fish, "0013");
    assert_eq!(both.reading.impressions[1].conditions.blind_list.as_deref(), Some("June-1"));
    assert_eq!(both.reading.calibration, list().entries[0].calibration);

    let before = std::fs::read(&both.path).unwrap();
    let again = file_closed_lists(folder.path(), &tv).unwrap();
    assert_eq!((again.n_readings, again.written.len()), (0, 0));
    assert_eq!(std::fs::read(&both.path).unwrap(), before);
    let all = [both, sidecar(folder.path(), "MH-0014.tif", &tv)];
    assert_eq!(closed_readings(folder.path(), &all).unwrap().readings.len(), 0);
}

#[test]
fn a_reader_who_rereads_their_own_scan_keeps_both_readings_and_the_draft() {
    let folder = survey();
    let tv = reader("tv");
    let mut own = impression(1, ReadingState::Confirmed);
    own.conditions.blind_list = None;
    let mut draft = own.clone();
    (draft.state, draft.age) = (ReadingState::Draft, Some(9));
    let other = impression(7, ReadingState::Confirmed);
    own_reading(folder.path(), &tv, vec![own.clone(), draft.clone(), other.clone()]);
    read_blind(folder.path(), &tv, &["BKTRX"]);
    close(folder.path());
    assert_eq!(file_closed_lists(folder.path(), &tv).unwrap().n_readings, 1);
    let there = sidecar(folder.path(), "MH-0012.tif", &tv);
    assert_eq!(there.earlier, [own]);
    let blind = in_scan_pixels(
        &list().entries[0],
        &load_blind_readings(&blind_readings_path(folder.path(), &june(), &tv)).unwrap().tagged[0]
            .impressions[0],
    )
    .unwrap();
    assert_eq!(there.reading.impressions, [blind, draft, other]);
    assert_eq!(file_closed_lists(folder.path(), &tv).unwrap().n_readings, 0);
    // Reading it once more in the usual way does not bring the blind one back.
    let mut later = there.reading.clone();
    let mut newest = impression(1, ReadingState::Confirmed);
    newest.confirmed = Some(at("2025-08-01T08:00:00Z"));
    later.put(newest);
    save_reading(folder.path(), &tv, &later, Some(&there.fingerprint)).unwrap();
    assert_eq!(file_closed_lists(folder.path(), &tv).unwrap().n_readings, 0);
}

#[test]
fn drafts_and_damage_are_not_filed_and_other_readings_are() {
    let folder = survey();
    let (tv, kb) = (reader("tv"), reader("kb"));
    read_blind(folder.path(), &tv, &["BKTRX"]);
    let path = blind_readings_path(folder.path(), &june(), &tv);
    let mut draft = blind_reading("2025-06-10T08:00:00Z");
    draft.state = ReadingState::Draft;
    let loaded = load_blind_readings(&path).unwrap();
    save_blind_reading(&path, &head(), &tv, "MNDFG", &[draft], Some(&loaded.fingerprint)).unwrap();
    std::fs::write(blind_readings_path(folder.path(), &june(), &kb), "{\"format\":").unwrap();
    std::fs::write(folder.path().join("lists/broken.json"), "{").unwrap();
    close(folder.path());
    let unfiled = closed_readings(folder.path(), &[]).unwrap();
    assert_eq!((unfiled.readings.len(), unfiled.problems.len()), (1, 2));
    let filed = file_closed_lists(folder.path(), &tv).unwrap();
    assert_eq!((filed.n_readings, filed.problems.len()), (1, 1));
    let scan_changed = folder.path().join("scans/MH-0014.tif.tv.json");
    assert!(!scan_changed.exists());
    assert_eq!(file_closed_lists(folder.path(), &kb).unwrap().problems.len(), 2);
    assert_eq!(
        std::fs::read(blind_readings_path(folder.path(), &june(), &kb)).unwrap(),
        b"{\"format\":"
    );
}

#[test]
fn a_scan_that_was_replaced_is_not_filed_upon() {
    let folder = survey();
    let tv = reader("tv");
    let mut scan = list().entries[0].scan.clone();
    scan.blake3 = Fingerprint::of(b"another picture").blake3_hex();
    let impressions = vec![impression(1, ReadingState::Confirmed)];
    let reading = ScanReading { scan, reader: tv.clone(), calibration: None, impressions };
    save_reading(folder.path(), &tv, &reading, None).unwrap();
    read_blind(folder.path(), &tv, &["BKTRX"]);
    close(folder.path());
    let filed = file_closed_lists(folder.path(), &tv).unwrap();
    assert_eq!(filed.n_readings, 0);
    assert!(filed.problems[0].contains("the scan is another picture"), "{:?}", filed.problems);
    assert_eq!(sidecar(folder.path(), "MH-0012.tif", &tv).reading, reading);
}

#[test]
fn returned_readings_are_checked_and_taken_in_by_tag() {
    let (here, there) = (survey(), tempfile::tempdir().unwrap());
    let mo = reader("mo");
    let path = there.path().join("june-1.mo.json");
    let when = at("2025-07-02T08:00:00Z");
    let what = [blind_reading("2025-06-20T08:00:00Z")];
    let one = save_blind_reading(&path, &head(), &mo, "BKTRX", &what, None).unwrap();
    let written = take_in(here.path(), &path, when).unwrap().unwrap();
    assert_eq!(written, here.path().join("lists/june-1.mo.json"));
    assert!(load_blind_readings(&written).unwrap().is_taken_in);
    assert_eq!(take_in(here.path(), &path, when).unwrap(), None);
    // A later return that holds all of the earlier one takes its place; one that lacks some does not.
    save_blind_reading(&path, &head(), &mo, "MNDFG", &what, Some(&one)).unwrap();
    assert_eq!(take_in(here.path(), &path, when).unwrap(), Some(written.clone()));
    std::fs::remove_file(&path).unwrap();
    save_blind_reading(&path, &head(), &mo, "ZZQPL", &what, None).unwrap();
    let kept = std::fs::read(&written).unwrap();
    assert!(matches!(take_in(here.path(), &path, when), Err(BlindError::Taken { .. })));
    assert_eq!(std::fs::read(&written).unwrap(), kept);
    close(here.path());
    assert_eq!(closed_readings(here.path(), &[]).unwrap().readings.len(), 2);
}

#[test]
fn what_does_not_belong_is_not_taken_in() {
    let (here, there) = (survey(), tempfile::tempdir().unwrap());
    let (mo, path) = (reader("mo"), there.path().join("june-1.mo.json"));
    let what = [blind_reading("2025-06-20T08:00:00Z")];
    let refused = |expected: &str| {
        let error = take_in(here.path(), &path, Timestamp::UNIX_EPOCH).unwrap_err().to_string();
        assert!(error.contains(expected), "{error}");
        assert_eq!(std::fs::read_dir(here.path().join("lists")).unwrap().count(), 1);
    };
    let save = |head: &ListHead, tag: &str| {
        let _ = std::fs::remove_file(&path);
        save_blind_reading(&path, head, &mo, tag, &what, None).unwrap();
    };
    save(&head(), "QQQQQ");
    refused("the list 'June-1' has no tag QQQQQ: nothing was taken in");
    save(&ListHead { id: "another".to_owned(), ..head() }, "BKTRX");
    refused("another list that is also named 'June-1'");
    save(
        &ListHead { name: crate::domain::blind::ListName::new("july").unwrap(), ..head() },
        "BKTRX",
    );
    refused("there is no list 'july'");
    std::fs::write(&path, "PK\u{3}\u{4}").unwrap();
    refused("this is the pack itself");
    std::fs::write(&path, "{\"format\":").unwrap();
    refused("it is not whole JSON");
    save(&head(), "BKTRX");
    std::fs::write(blind_readings_path(here.path(), &june(), &mo), "{").unwrap();
    assert!(matches!(
        take_in(here.path(), &path, Timestamp::UNIX_EPOCH),
        Err(BlindError::Taken { .. })
    ));
}
