//! `compare` on a folder of surveys: what comes out is the same with and without the index, whatever has changed.

use std::fs::File;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use serde_json::Value;

use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{Run, text, winterline};

const INDEX: &str = ".winterline-index";

fn some_fish(seed: f64) -> Vec<ReadFish> {
    let sexes = ["f", "m", ""];
    (0..12)
        .map(|i| {
            let age = 1 + i % 3;
            let length_mm = 120.0 + 60.0 * f64::from(age) + seed + f64::from(i);
            ReadFish { sex: sexes[i as usize % 3], ..fish(length_mm, age) }
        })
        .collect()
}

/// Three waters in two regions, one of them with two surveys, and folders that are no surveys.
fn archive() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let archive = folder.path().join("archive");
    for (region, name, water, seed) in [
        ("north", "Alder Run 2024", "Alder Run", 0.0),
        ("north", "Alder Run 2025", "Alder Run", 6.0),
        ("south", "Birch Lake 2025", "Birch Lake", -9.0),
        ("south", "Cedar Lake 2025", "Cedar Lake", 14.0),
    ] {
        let fish = some_fish(seed);
        let path = survey(&archive.join(region), name, water, &fish);
        read_by(&path, "kb", &fish, false);
    }
    std::fs::create_dir_all(archive.join("pictures of boats/2025")).unwrap();
    at_rest(&archive);
    (folder, archive)
}

/// Sets the times of all files back, as if nobody had touched them for a while.
fn at_rest(folder: &Path) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            at_rest(&path);
        } else {
            age(&path, 3600);
        }
    }
}

fn age(path: &Path, seconds: u64) {
    let file = File::options().write(true).open(path).unwrap();
    file.set_modified(SystemTime::now() - Duration::from_secs(seconds)).unwrap();
}

fn compare(archive: &Path, more: &[&str]) -> Run {
    let mut arguments = vec!["compare".to_owned(), text(archive), "--min-fish".into(), "2".into()];
    arguments.extend(more.iter().map(|&word| word.to_owned()));
    winterline(&arguments)
}

/// Compares the outcome with and without the index, and returns the document with what the run said of the index.
fn same_both_ways(archive: &Path, what: &str) -> (Value, String) {
    let with = compare(archive, &["--json"]);
    let without = compare(archive, &["--json", "--without-index"]);
    assert_eq!(with.out, without.out, "{what}");
    assert_eq!(with.status, without.status, "{what}");
    let said = with.err.lines().find(|line| line.contains("unchanged")).unwrap_or_default();
    let said = said.split("': ").nth(1).unwrap_or_default().to_owned();
    (with.json(), said)
}

fn index_files(archive: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(archive.join(INDEX)).unwrap();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
}

#[test]
fn the_index_changes_nothing_but_the_time() {
    let (_folder, archive) = archive();
    let (found, said) = same_both_ways(&archive, "first");
    assert_eq!(said, "0 unchanged since they were last compared, 4 read");
    assert_eq!(found["surveys"].as_array().unwrap().len(), 4);
    assert_eq!(found["surveys"][0]["left_out"], Value::Null);
    assert_eq!(index_files(&archive).len(), 4);
    let (again, said) = same_both_ways(&archive, "again");
    assert_eq!(
        (&again, said.as_str()),
        (&found, "4 unchanged since they were last compared, 0 read")
    );
    // Other settings are kept beside the first ones.
    let capture = compare(&archive, &["--json", "--basis", "capture"]);
    assert!(capture.err.contains("0 unchanged since"), "{}", capture.err);
    assert_ne!(capture.out, compare(&archive, &["--json"]).out);
    assert!(same_both_ways(&archive, "both").1.starts_with("4 unchanged"));
    // Surveys named one by one give the same numbers, and the names of fish left out besides.
    let names = [
        "north/Alder Run 2024",
        "north/Alder Run 2025",
        "south/Birch Lake 2025",
        "south/Cedar Lake 2025",
    ];
    let mut arguments =
        vec!["compare".to_owned(), "--min-fish".into(), "2".into(), "--json".into()];
    arguments.extend(names.map(|name| text(&archive.join(name))));
    let by_name = winterline(&arguments).json();
    assert_eq!(
        (&by_name["waters"], &by_name["standard_ages"]),
        (&found["waters"], &found["standard_ages"])
    );
    assert!(by_name["surveys"][0]["left_out"].is_array());
}

#[test]
fn a_changed_sidecar_is_seen() {
    let (_folder, archive) = archive();
    let (before, _) = same_both_ways(&archive, "before");
    let sidecar = archive.join("south/Birch Lake 2025/scans/S.png.kb.json");
    let changed =
        std::fs::read_to_string(&sidecar).unwrap().replacen("\"age\": 1", "\"age\": 7", 1);
    std::fs::write(&sidecar, changed).unwrap();
    age(&sidecar, 600);
    let (after, said) = same_both_ways(&archive, "after");
    assert!(said.starts_with("3 unchanged") && said.ends_with("1 read"), "{said}");
    assert_ne!(before, after);
    assert!(same_both_ways(&archive, "at rest").1.starts_with("4 unchanged"));
}

#[test]
fn a_scan_that_comes_or_goes_is_seen() {
    let (_folder, archive) = archive();
    same_both_ways(&archive, "before");
    let scans = archive.join("north/Alder Run 2025/scans");
    std::fs::write(scans.join("T.png"), b"no picture at all").unwrap();
    let (_, said) = same_both_ways(&archive, "added");
    assert!(said.starts_with("3 unchanged"), "{said}");
    std::fs::rename(scans.join("S.png"), scans.join("U.png")).unwrap();
    let (found, said) = same_both_ways(&archive, "gone");
    assert!(said.starts_with("3 unchanged"), "{said}");
    // The sidecar has lost its scan, which is an error of the survey.
    assert!(found["surveys"][1]["error"].as_str().unwrap().contains("S.png"), "{found}");
    assert!(same_both_ways(&archive, "as it was").1.starts_with("4 unchanged"));
}

#[test]
fn a_removed_and_an_added_survey_are_seen() {
    let (_folder, archive) = archive();
    same_both_ways(&archive, "before");
    std::fs::remove_dir_all(archive.join("south/Cedar Lake 2025")).unwrap();
    let (found, said) = same_both_ways(&archive, "removed");
    assert_eq!(found["surveys"].as_array().unwrap().len(), 3);
    assert!(said.starts_with("3 unchanged") && said.ends_with("0 read"), "{said}");
    let fish = some_fish(3.0);
    read_by(&survey(&archive, "Doe Pond 2025", "Doe Pond", &fish), "kb", &fish, false);
    let (found, said) = same_both_ways(&archive, "added");
    assert_eq!(found["surveys"].as_array().unwrap().len(), 4);
    assert!(said.ends_with("1 read"), "{said}");
}

#[test]
fn a_field_sheet_of_the_same_size_is_seen_by_its_time() {
    let (_folder, archive) = archive();
    let (before, _) = same_both_ways(&archive, "before");
    let sheet = archive.join("south/Birch Lake 2025/fish.csv");
    let rows = std::fs::read_to_string(&sheet).unwrap();
    let changed = rows.replacen("171,", "191,", 1);
    assert!(changed != rows && changed.len() == rows.len(), "{rows}");
    std::fs::write(&sheet, changed).unwrap();
    age(&sheet, 3599);
    let (after, said) = same_both_ways(&archive, "after");
    assert!(said.starts_with("3 unchanged"), "{said}");
    assert_ne!(before, after);
}

/// Within the tick of a clock a file can change twice and bear the same time, so what is young is read again.
#[test]
fn files_that_were_just_written_are_not_trusted() {
    let (_folder, archive) = archive();
    let sheet = archive.join("south/Birch Lake 2025/fish.csv");
    std::fs::write(&sheet, std::fs::read(&sheet).unwrap()).unwrap();
    same_both_ways(&archive, "first");
    assert_eq!(index_files(&archive).len(), 3);
    assert!(same_both_ways(&archive, "again").1.starts_with("3 unchanged"));
    // A time in the future is no time at rest either.
    let file = File::options().write(true).open(&sheet).unwrap();
    file.set_modified(SystemTime::now() + Duration::from_secs(7200)).unwrap();
    same_both_ways(&archive, "future");
    assert_eq!(index_files(&archive).len(), 3);
}

#[test]
fn decisions_and_closed_folders_are_part_of_the_stamp() {
    let (_folder, archive) = archive();
    same_both_ways(&archive, "before");
    let survey = archive.join("north/Alder Run 2024");
    for folder in ["excluded", "resolved", "lists"] {
        std::fs::create_dir(survey.join(folder)).unwrap();
        std::fs::write(survey.join(folder).join("x.json"), b"not whole").unwrap();
        age(&survey.join(folder).join("x.json"), 600);
        let (_, said) = same_both_ways(&archive, folder);
        assert!(said.starts_with("3 unchanged"), "{folder}: {said}");
    }
    // The settings of the survey, too.
    let settings = std::fs::read_to_string(survey.join("survey.json")).unwrap();
    std::fs::write(survey.join("survey.json"), settings.replace("Alder Run\"", "Elder Run\""))
        .unwrap();
    age(&survey.join("survey.json"), 600);
    let (found, said) = same_both_ways(&archive, "settings");
    assert!(said.starts_with("3 unchanged"), "{said}");
    assert_eq!(found["waters"].as_array().unwrap().len(), 4);
}

#[test]
fn a_damaged_or_copied_index_does_no_harm() {
    let (_folder, archive) = archive();
    let (before, _) = same_both_ways(&archive, "before");
    let files = index_files(&archive);
    let whole: Vec<Vec<u8>> = files.iter().map(|path| std::fs::read(path).unwrap()).collect();
    // One cut short, one with a flipped bit, one emptied, one in the place of another.
    std::fs::write(&files[0], &whole[0][..whole[0].len() / 2]).unwrap();
    let mut flipped = whole[1].clone();
    flipped[whole[1].len() / 2] ^= 4;
    std::fs::write(&files[1], flipped).unwrap();
    std::fs::write(&files[2], b"").unwrap();
    std::fs::write(&files[3], &whole[0]).unwrap();
    let index = archive.join(INDEX);
    for copy in ["of-x (conflicted copy 2025-06-03).index", "Copy of x.index", ".tmp-left-over"] {
        std::fs::write(index.join(copy), &whole[2]).unwrap();
    }
    let (after, said) = same_both_ways(&archive, "damaged");
    assert_eq!(
        (&after, said.as_str()),
        (&before, "0 unchanged since they were last compared, 4 read")
    );
    let (again, said) = same_both_ways(&archive, "mended");
    assert_eq!(again, before);
    assert!(said.starts_with("4 unchanged"), "{said}");
    assert_eq!(index_files(&archive).len(), 7);
    // A file where the folder should be: no index, no error.
    std::fs::remove_dir_all(&index).unwrap();
    std::fs::write(&index, b"in the way").unwrap();
    assert_eq!(same_both_ways(&archive, "no place").0, before);
}

#[cfg(unix)]
#[test]
fn an_archive_that_cannot_be_written_to_is_compared_all_the_same() {
    use std::os::unix::fs::PermissionsExt;
    let (_folder, archive) = archive();
    let expected = compare(&archive, &["--json", "--without-index"]);
    assert!(!archive.join(INDEX).exists());
    std::fs::set_permissions(&archive, std::fs::Permissions::from_mode(0o555)).unwrap();
    // Whoever may do anything (root) can write all the same; then there is nothing to see here.
    let is_closed = std::fs::write(archive.join("probe"), b"").is_err();
    let found = compare(&archive, &["--json"]);
    std::fs::set_permissions(&archive, std::fs::Permissions::from_mode(0o755)).unwrap();
    assert_eq!((&found.out, found.status), (&expected.out, expected.status));
    if is_closed {
        let said = found.err.lines().filter(|line| line.contains("cannot be written to")).count();
        assert_eq!(said, 1, "{}", found.err);
    }
}

#[test]
fn several_people_compare_at_once() {
    let (_folder, archive) = archive();
    let expected = compare(&archive, &["--json", "--without-index"]).out;
    std::thread::scope(|scope| {
        let runs: Vec<_> =
            (0..4).map(|_| scope.spawn(|| compare(&archive, &["--json"]).out)).collect();
        for run in runs {
            assert_eq!(run.join().unwrap(), expected);
        }
    });
    assert_eq!(index_files(&archive).len(), 4);
    assert!(same_both_ways(&archive, "after").1.starts_with("4 unchanged"));
}

#[test]
fn a_bad_survey_of_an_archive_does_not_stop_the_rest() {
    let (_folder, archive) = archive();
    std::fs::write(archive.join("south/Birch Lake 2025/survey.json"), b"{").unwrap();
    let found = compare(&archive, &["--json"]);
    assert_eq!(found.status, 1);
    let found = found.json();
    assert!(found["surveys"][2]["error"].as_str().unwrap().contains("survey.json"));
    assert_eq!(found["waters"].as_array().unwrap().len(), 2);
    let empty = tempfile::tempdir().unwrap();
    let nothing = compare(empty.path(), &["--json"]);
    assert_eq!(nothing.status, 1);
    assert!(nothing.json()["surveys"][0]["error"].as_str().unwrap().contains("survey.json"));
    assert!(!empty.path().join(INDEX).exists());
}
