//! Faults that need rights, room or time of their own. `benches/faults.sh` gives them what they need; without it a test
//! says loudly that it did not run, or runs on a small scale.

use std::path::PathBuf;
use std::time::Instant;

use winterline::store::collection::OpenSurvey;
use winterline::store::error::StoreError;
use winterline::store::sidecar::{load_sidecar, save_reading};

use crate::bench::reader;
use crate::faults::{assert_told, edited, loaded, pond, save};

fn given(name: &str) -> Option<PathBuf> {
    let found = std::env::var_os(name).map(PathBuf::from);
    if found.is_none() {
        eprintln!("NOT RUN: {name} is not set; benches/faults.sh sets it");
    }
    found
}

/// `WINTERLINE_SMALL_DISK` names a folder on a disk of a few hundred kilobytes. Readings are saved until it is full: the
/// one that does not fit is told, every earlier one is whole, and after freeing room the same save succeeds.
#[test]
fn the_disk_is_full() {
    let Some(disk) = given("WINTERLINE_SMALL_DISK") else { return };
    let bench = pond();
    let (mut reading, _) = loaded(&bench);
    let folder = disk.join("survey");
    std::fs::create_dir_all(folder.join("scans")).unwrap();
    let ballast = disk.join("ballast");
    std::fs::write(&ballast, vec![1; 20_000]).unwrap();
    reading.impressions[0].note = "n".repeat(30_000);
    let kb = reader("kb");
    let name = |number: usize| format!("MH-{number:04}.tif");
    let mut n_saved = 0;
    let told = loop {
        assert!(n_saved < 1000, "the disk is not small");
        reading.scan.file = name(n_saved);
        match save_reading(&folder, &kb, &reading, None) {
            Ok(_) => n_saved += 1,
            Err(error) => break error,
        }
    };
    assert!(n_saved > 2, "{n_saved}");
    assert_told(
        &told.to_string(),
        &["could not save the file", "free some room on the disk", &name(n_saved)],
    );
    for number in 0..n_saved {
        reading.scan.file = name(number);
        let path = folder.join(format!("scans/{}.kb.json", name(number)));
        assert_eq!(load_sidecar(&path).unwrap().reading, reading);
    }
    let n_files = std::fs::read_dir(folder.join("scans")).unwrap().count();
    assert_eq!(n_files, n_saved, "something was left over");
    // A rewrite of what is there fails too, and leaves it as it was.
    let path = folder.join(format!("scans/{}.kb.json", name(0)));
    let before = load_sidecar(&path).unwrap();
    let longer = edited(&before.reading);
    save(&folder, &longer, &before.fingerprint).unwrap_err();
    assert_eq!(load_sidecar(&path).unwrap(), before);
    std::fs::remove_file(ballast).unwrap();
    std::fs::remove_file(folder.join(format!("scans/{}.kb.json", name(1)))).unwrap();
    reading.scan.file = name(n_saved);
    save_reading(&folder, &kb, &reading, None).unwrap();
    eprintln!(
        "a disk full after {n_saved} readings: all of them whole, the next saved once there was room"
    );
}

/// Rights are not asked of root, so this runs as another user.
#[test]
#[cfg(unix)]
fn the_folder_and_the_file_may_not_be_written() {
    use std::os::unix::fs::PermissionsExt;
    let bench = pond();
    let (reading, at) = loaded(&bench);
    let set = |name: &str, mode| {
        let rights = std::fs::Permissions::from_mode(mode);
        std::fs::set_permissions(bench.folder().join(name), rights).unwrap();
    };
    set("scans/MH-0012.tif.kb.json", 0o444);
    let told = save(bench.folder(), &edited(&reading), &at).unwrap_err();
    assert!(matches!(told, StoreError::ReadOnly { .. }), "{told}");
    assert_told(&told.to_string(), &["the file is read-only", "allow writing first"]);
    set("scans/MH-0012.tif.kb.json", 0o644);
    set("scans", 0o555);
    let is_root = std::fs::write(bench.folder().join("scans/probe"), b"").is_ok();
    if is_root {
        set("scans", 0o755);
        eprintln!(
            "NOT RUN: rights are not asked of root; benches/faults.sh runs this as another user"
        );
        return;
    }
    let told = save(bench.folder(), &edited(&reading), &at).unwrap_err().to_string();
    assert_told(&told, &["could not save the file", "ask whoever looks after the folder"]);
    assert_eq!(loaded(&bench), (reading.clone(), at));
    set("scans", 0o000);
    let told = OpenSurvey::open(bench.folder()).unwrap_err().to_string();
    assert_told(&told, &["could not list the scans", "ask whoever looks after the folder"]);
    set("scans", 0o755);
    save(bench.folder(), &edited(&reading), &at).unwrap();
}

/// `WINTERLINE_SCANS` scans in one folder (2000 without it), each with a sidecar: opening, a save and a new sidecar.
#[test]
fn a_folder_of_very_many_scans() {
    let n_scans: usize =
        std::env::var("WINTERLINE_SCANS").map_or(2000, |text| text.parse().unwrap());
    let bench = pond();
    let (mut reading, _) = loaded(&bench);
    for number in 0..n_scans {
        bench.put(&format!("scans/T-{number:06}.tif"), b"");
    }
    for number in 0..n_scans / 10 {
        bench.put(&format!("scans/T-{number:06}.tif.kb.json"), b"");
    }
    let began = Instant::now();
    let opened = OpenSurvey::open(bench.folder()).unwrap();
    let opening = began.elapsed();
    assert_eq!(opened.scans.len(), n_scans + 1);
    reading.scan.file = format!("T-{:06}.tif", n_scans - 1);
    let began = Instant::now();
    save_reading(bench.folder(), &reader("kb"), &reading, None).unwrap();
    let saving = began.elapsed();
    eprintln!(
        "{n_scans} scans in one folder: opened in {opening:?}, a new reading saved in {saving:?}"
    );
    assert!(opening.as_secs() < 20 && saving.as_secs() < 5, "{opening:?} {saving:?}");
}
