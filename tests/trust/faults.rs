//! Faults of disks, folders, clocks and other programs: what the reader is told, and that nothing confirmed is lost.
//! Faults that need rights or room of their own are in `faults_system.rs`.

use std::path::Path;

use serde_json::Value;
use winterline::domain::progress::Progress;
use winterline::domain::reading::ScanReading;
use winterline::domain::resolution::standing;
use winterline::store::blind::load_list;
use winterline::store::collection::OpenSurvey;
use winterline::store::error::StoreError;
use winterline::store::fingerprint::Fingerprint;
use winterline::store::resolution_file::{NewDecision, decide, load_resolution, load_resolutions};
use winterline::store::safe_write::{Expected, write_whole};
use winterline::store::sidecar::{OpenedSidecar, load_sidecar, open_sidecar, save_reading};
use winterline::store::survey_file::{read_survey, write_survey};

use crate::bench::{Bench, reader, sound, survey};

const SCAN: &str = "MH-0012.tif";
const SIDECAR: &str = "scans/MH-0012.tif.kb.json";

/// A survey with one fish, one scan and kb's readings on it.
pub fn pond() -> Bench {
    let bench = Bench::new();
    write_survey(bench.folder(), &survey(), None).unwrap();
    bench.put(
        "fish.csv",
        b"fish,capture_date,length,scans\n0012,2025-05-03,300,MH-0012.tif\n0013,2025-05-03,310,\n",
    );
    bench.put("scans/MH-0012.tif", b"scan");
    bench.put(SIDECAR, &sound("sidecar-plain")[0]);
    bench
}

pub fn loaded(bench: &Bench) -> (ScanReading, Fingerprint) {
    let loaded = load_sidecar(&bench.folder().join(SIDECAR)).unwrap();
    (loaded.reading, loaded.fingerprint)
}

/// The reading with another age on its first impression.
pub fn edited(reading: &ScanReading) -> ScanReading {
    let mut edited = reading.clone();
    edited.impressions[0].age = Some(7);
    edited
}

pub fn save(
    folder: &Path,
    reading: &ScanReading,
    at: &Fingerprint,
) -> Result<Fingerprint, StoreError> {
    save_reading(folder, &reader("kb"), reading, Some(at))
}

fn problems(folder: &Path) -> Vec<String> {
    let check = OpenSurvey::open(folder).unwrap().check(&Progress::new()).unwrap();
    check.problems.iter().map(ToString::to_string).collect()
}

pub fn assert_told(told: &str, parts: &[&str]) {
    assert!(!told.contains('\n'), "{told}");
    for part in parts {
        assert!(told.contains(part), "expected '{part}' in: {told}");
    }
}

#[test]
fn the_folder_vanishes_and_comes_back() {
    let bench = pond();
    let (reading, at) = loaded(&bench);
    let (scans, away) = (bench.folder().join("scans"), bench.folder().join("away"));
    std::fs::rename(&scans, &away).unwrap();
    let told = save(bench.folder(), &edited(&reading), &at).unwrap_err().to_string();
    assert_told(
        &told,
        &["could not save the sidecar", "drive or the network share is still connected", "kb.json"],
    );
    assert!(!scans.exists(), "a folder was made where the drive should be");
    std::fs::rename(&away, &scans).unwrap();
    save(bench.folder(), &edited(&reading), &at).unwrap();
    let (again, _) = loaded(&bench);
    assert_eq!(again.impressions[0].age, Some(7));
    assert!(
        load_sidecar(&bench.folder().join(SIDECAR))
            .unwrap()
            .earlier
            .contains(&reading.impressions[0])
    );
}

#[test]
fn the_file_alone_vanishes() {
    let bench = pond();
    let (reading, at) = loaded(&bench);
    std::fs::remove_file(bench.folder().join(SIDECAR)).unwrap();
    let told = save(bench.folder(), &edited(&reading), &at).unwrap_err().to_string();
    assert_told(&told, &["not saved", "no longer there", "bring it back"]);
}

#[test]
fn another_program_changes_the_file() {
    let bench = pond();
    let (reading, at) = loaded(&bench);
    let mut theirs: Value = serde_json::from_slice(&sound("sidecar-plain")[0]).unwrap();
    theirs["impressions"][0]["note"] = "theirs".into();
    let theirs = theirs.to_string();
    bench.put(SIDECAR, theirs.as_bytes());
    let told = save(bench.folder(), &edited(&reading), &at).unwrap_err().to_string();
    assert_told(&told, &["has changed since it was opened", "open it again and repeat the edit"]);
    assert_eq!(std::fs::read_to_string(bench.folder().join(SIDECAR)).unwrap(), theirs);
}

/// A clock that runs backwards, or is set back, changes no order of readings and of decisions.
#[test]
fn the_clock_goes_backwards() {
    let bench = pond();
    let (mut reading, at) = loaded(&bench);
    reading.impressions[0].age = Some(9);
    reading.impressions[0].confirmed = Some("1999-01-01T00:00:00Z".parse().unwrap());
    save(bench.folder(), &reading, &at).unwrap();
    let after = load_sidecar(&bench.folder().join(SIDECAR)).unwrap();
    assert_eq!(after.reading.impressions[0].age, Some(9), "the reading confirmed last stands");
    assert_eq!(after.earlier.len(), 1);

    let file = &sound("decision")[0];
    let id = serde_json::from_slice::<Value>(file).unwrap()["id"].as_str().unwrap().to_owned();
    let first = load_resolution(&bench.put(&format!("resolved/{id}.json"), file)).unwrap();
    let next = NewDecision {
        fish: first.fish.clone(),
        considered: first.considered.clone(),
        decision: winterline::domain::resolution::Decision::Consensus(5),
        by: reader("lead"),
        why: "seen again".to_owned(),
        supersedes: Some(first.id.clone()),
    };
    let (second, _) =
        decide(bench.folder(), &next, "1999-01-01T00:00:00Z".parse().unwrap()).unwrap();
    let all = load_resolutions(bench.folder()).unwrap();
    assert_eq!(standing(&all.resolutions, &first.fish), [&second]);
    assert_eq!(all.resolutions.len(), 2);
}

#[test]
fn names_and_paths_that_are_very_long() {
    let bench = pond();
    let long = format!("{}.tif", "n".repeat(216));
    bench.put(&format!("scans/{long}"), b"scan");
    assert!(OpenSurvey::open(bench.folder()).unwrap().scans.contains(&long));
    let (mut reading, _) = loaded(&bench);
    reading.scan.file = long.clone();
    reading.reader = reader("twelve-chars");
    save_reading(bench.folder(), &reading.reader, &reading, None).unwrap();
    let path = bench.folder().join(format!("scans/{long}.twelve-chars.json"));
    assert_eq!(load_sidecar(&path).unwrap().reading, reading);
    std::fs::write(&path, "{broken").unwrap();
    let opened = open_sidecar(bench.folder(), &long, &reading.reader).unwrap();
    assert!(matches!(opened, OpenedSidecar::SetAside { .. }));

    let too_long = format!("{}.tif", "n".repeat(240));
    bench.put(&format!("scans/{too_long}"), b"scan");
    let told = problems(bench.folder()).into_iter().find(|told| told.contains(&too_long)).unwrap();
    assert_told(&told, &["this scan is not read", "shorten it to 200"]);
    let deep = bench.folder().join("d/".repeat(3000));
    let told = read_survey(&deep).unwrap_err().to_string();
    assert_told(&told, &["shorten the name"]);
}

#[test]
#[cfg(target_os = "linux")]
fn names_that_are_no_text() {
    use std::os::unix::ffi::OsStrExt;
    let odd = std::ffi::OsStr::from_bytes(b"pond-\xFF\xFE\n");
    let bench = pond();
    let inside = bench.folder().join("scans").join(odd);
    std::fs::write(&inside, b"scan").unwrap();
    let told =
        problems(bench.folder()).into_iter().find(|told| told.contains("not UTF-8")).unwrap();
    assert_told(&told, &["scans/pond-", "\\n", "rename the file"]);

    // A survey in a folder of such a name is read and written all the same.
    let whole = tempfile::tempdir().unwrap();
    let moved = whole.path().join(odd);
    std::fs::create_dir(&moved).unwrap();
    for name in ["survey.json", "fish.csv"] {
        std::fs::copy(bench.folder().join(name), moved.join(name)).unwrap();
    }
    std::fs::remove_file(&inside).unwrap();
    std::fs::rename(bench.folder().join("scans"), moved.join("scans")).unwrap();
    let before = load_sidecar(&moved.join(SIDECAR)).unwrap();
    save(&moved, &edited(&before.reading), &before.fingerprint).unwrap();
    assert_eq!(load_sidecar(&moved.join(SIDECAR)).unwrap().reading.impressions[0].age, Some(7));
    let told = save(&moved, &before.reading, &before.fingerprint).unwrap_err().to_string();
    assert_told(&told, &["has changed since it was opened"]);
}

/// Two versions of the program on one survey: the older one looks at what it can and changes nothing of the newer.
#[test]
fn files_of_a_newer_program_are_left_alone() {
    let bench = pond();
    let raise = |name: &str, file: &[u8]| {
        let mut value: Value = serde_json::from_slice(file).unwrap();
        value["version"] = 9.into();
        value["new_thing"] = serde_json::json!({"a": [1, 2]});
        (bench.put(name, value.to_string().as_bytes()), value.to_string())
    };
    let (path, text) = raise(SIDECAR, &sound("sidecar-plain")[0]);
    let newer = load_sidecar(&path).unwrap();
    assert!(newer.is_read_only());
    assert_eq!(newer.reading.impressions.len(), 3, "what reads like ours is shown");
    let told =
        save(bench.folder(), &edited(&newer.reading), &newer.fingerprint).unwrap_err().to_string();
    assert_told(&told, &["has version 9", "install a newer program"]);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
    let opened = open_sidecar(bench.folder(), SCAN, &reader("kb")).unwrap();
    assert!(matches!(opened, OpenedSidecar::Loaded(_)), "never set aside");
    let told =
        problems(bench.folder()).into_iter().find(|told| told.contains("version 9")).unwrap();
    assert_told(&told, &["warning: scans/MH-0012.tif.kb.json", "it can be looked at, not changed"]);

    // One whose very shape is new is not even looked at, and not set aside either.
    let shape = r#"{"format": "winterline-readings", "version": 9, "scan": "of another kind"}"#;
    bench.put(SIDECAR, shape.as_bytes());
    let told = open_sidecar(bench.folder(), SCAN, &reader("kb")).unwrap_err().to_string();
    assert_told(&told, &["has version 9", "install a newer program"]);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), shape);

    let (path, text) = raise("lists/june-1.json", &sound("list")[0]);
    let june = winterline::domain::blind::ListName::new("june-1").unwrap();
    assert_told(
        &load_list(bench.folder(), &june).unwrap_err().to_string(),
        &["version 9", "install a newer program"],
    );
    assert_eq!(std::fs::read_to_string(path).unwrap(), text);
    let (path, text) = raise("resolved/x.json", &sound("decision")[0]);
    assert_told(
        &load_resolutions(bench.folder()).unwrap().problems[0],
        &["version 9", "install a newer program"],
    );
    assert_eq!(std::fs::read_to_string(path).unwrap(), text);
    let (path, text) =
        raise("survey.json", &std::fs::read(bench.folder().join("survey.json")).unwrap());
    let told = write_survey(bench.folder(), &survey(), Some(&Fingerprint::of(text.as_bytes())))
        .unwrap_err();
    assert_told(&told.to_string(), &["version 9 is newer", "install a newer program"]);
    assert_eq!(std::fs::read_to_string(path).unwrap(), text);
}

/// A file where a folder should be, and a folder where a file should be.
#[test]
fn files_and_folders_that_took_each_others_names() {
    let bench = pond();
    let (reading, at) = loaded(&bench);
    std::fs::remove_file(bench.folder().join(SIDECAR)).unwrap();
    std::fs::create_dir(bench.folder().join(SIDECAR)).unwrap();
    let told = save(bench.folder(), &reading, &at).unwrap_err().to_string();
    assert_told(&told, &["a file and a folder have the same name here"]);
    let taken = bench.put("taken", b"");
    let told = write_whole(&taken.join("x.json"), b"x", Expected::Absent).unwrap_err().to_string();
    assert_told(&told, &["rename one of the two"]);
}
