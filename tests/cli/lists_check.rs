//! What `check` finds in lists/ and resolved/, and opening a list that cannot be read.

use crate::read_survey::{ReadFish, fish, read_by, survey};
use crate::run::{text, winterline};

fn with_list(folder: &std::path::Path) -> std::path::PathBuf {
    let all: Vec<ReadFish> = [fish(200.0, 2)].to_vec();
    let path = survey(folder, "alder-run", "Alder Run", &all);
    read_by(&path, "kb", &all, false);
    let run = winterline(&["list", "new", &text(&path), "june", "--seed", "3", "--all"]);
    assert_eq!(run.status, 0, "{}", run.err);
    path
}

#[test]
fn sound_lists_are_no_problem_and_damaged_ones_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = with_list(folder.path());
    let run = winterline(&["check", &text(&path)]);
    assert_eq!(run.status, 0, "{}{}", run.out, run.err);
    let list = path.join("lists/june.json");
    let sound = std::fs::read_to_string(&list).unwrap();
    for (from, to, expected) in [
        ("\"version\": 1", "\"version\": \"one\"", "lists/june.json"),
        ("\"fish\": \"1\"", "\"fish\": \"9\"", "fish '9', which is not in fish.csv"),
    ] {
        assert!(sound.contains(from), "{sound}");
        std::fs::write(&list, sound.replacen(from, to, 1)).unwrap();
        let run = winterline(&["check", &text(&path)]);
        assert_eq!(run.status, 1);
        assert!(run.out.contains(expected), "{}", run.out);
    }
    std::fs::write(&list, &sound).unwrap();
    std::fs::create_dir_all(path.join("resolved")).unwrap();
    std::fs::write(path.join("resolved/3f0c.json"), "{\"format\": \"winterline-res").unwrap();
    let run = winterline(&["check", &text(&path)]);
    assert_eq!(run.status, 1);
    assert!(run.out.contains("resolved") && run.out.contains("3f0c.json"), "{}", run.out);
}

#[test]
fn opening_a_list_needs_a_name_that_is_there_and_a_reader() {
    let folder = tempfile::tempdir().unwrap();
    let path = text(&with_list(folder.path()));
    let run = winterline(&["read", &path, "--list", "june"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("--list needs --reader"), "{}", run.err);
    let run = winterline(&["read", &path, "--list", "july", "--reader", "rt"]);
    assert_eq!(run.status, 1);
    assert!(run.err.contains("there is no list 'july'"), "{}", run.err);
    assert_eq!(winterline(&["list", "close", &path, "june"]).status, 0);
    let run = winterline(&["read", &path, "--list", "june", "--reader", "rt"]);
    assert_eq!(run.status, 1);
    assert!(run.err.contains("is closed and takes no more readings"), "{}", run.err);
}
