//! Names as Windows and services that keep folders in step see them. The rules of Windows are from memory of its page
//! "Naming Files, Paths, and Namespaces"; the forms of second copies are common practice, no source.

use winterline::domain::blind::ListName;
use winterline::domain::progress::Progress;
use winterline::domain::reading::ReaderInitials;
use winterline::store::collection::OpenSurvey;
use winterline::store::file_name::{check_file_name, parse_sidecar_name};

use crate::bench::sound;
use crate::faults::pond;

#[test]
fn names_that_windows_keeps_or_changes_are_refused() {
    let device = ["CON", "prn", "Aux", "NUL", "com1", "COM9", "lpt1", "LPT9", "com0"];
    for name in device {
        for ending in [".tif", ".tar.tif", " .tif"] {
            assert!(check_file_name(&format!("{name}{ending}")).is_err(), "{name}{ending}");
        }
        assert!(ReaderInitials::new(name).is_err() && ListName::new(name).is_err(), "{name}");
    }
    for name in [
        "a.tif.",
        "a.tif ",
        " a.tif",
        "a:b.tif",
        "a.tif:stream",
        "a\\b.tif",
        "a/b.tif",
        "\\\\share\\a.tif",
        "C:a.tif",
        "a<.tif",
        "a>.tif",
        "a\".tif",
        "a|.tif",
        "a?.tif",
        "a*.tif",
        "a\u{1}.tif",
        "..",
        ".",
    ] {
        assert!(check_file_name(name).is_err(), "{name}");
    }
    for name in [
        "console.tif",
        "com10.tif",
        "nul-1.tif",
        "a b.tif",
        "größe.tif",
        "a.b.tif",
        "a'b (left).tif",
    ] {
        assert!(check_file_name(name).is_ok(), "{name}");
    }
}

/// Whatever a service calls a second copy of a sidecar, it is named by the check and its reading does not count.
#[test]
fn second_copies_are_named_and_never_read() {
    let original = sound("sidecar-plain");
    for copy in [
        "MH-0012.tif.kb (1).json",
        "MH-0012.tif.kb (conflicted copy).json",
        "MH-0012.tif.kb (KB's conflicted copy 2025-06-03).json",
        "MH-0012.tif.kb (Case Conflict).json",
        "MH-0012.tif.kb - Copy.json",
        "MH-0012.tif.kb - Copy (2).json",
        "Copy of MH-0012.tif.kb.json",
        "MH-0012.tif.kb.sync-conflict-20250603-101112-ABC.json",
        "MH-0012 (1).tif.kb.json",
        "MH-0012.tif.kb-LAPTOP.json",
        "MH-0012.tif.kb-1.json",
        "MH-0012.tif.kb.json.bak",
        "MH-0012.tif.kb.conflict.json",
        "MH-0012.tif_conflict.kb.json",
    ] {
        let bench = pond();
        bench.put(&format!("scans/{copy}"), &original[0]);
        let opened = OpenSurvey::open(bench.folder()).unwrap();
        let readings = opened.load_readings(&Progress::new()).unwrap();
        assert_eq!(readings.sidecars.len(), 1, "{copy} was read");
        let check = opened.check(&Progress::new()).unwrap();
        let is_named = check.problems.iter().any(|problem| problem.file == format!("scans/{copy}"));
        assert!(is_named || copy.ends_with(".bak"), "{copy} was not named: {:?}", check.problems);
        assert_eq!(check.n_confirmed, 2, "{copy}");
    }
}

#[test]
fn second_copies_of_lists_and_decisions_are_named_and_never_read() {
    let (list, decision) = (sound("list"), sound("decision"));
    for (copy, bytes) in [
        ("lists/june-1 (1).json", &list[0]),
        ("lists/june-1 (conflicted copy).json", &list[0]),
        ("lists/june-1-laptop.json", &list[0]),
        ("resolved/0123456789abcdef01234567.json", &decision[0]),
        ("resolved/x (1).json", &decision[0]),
        ("survey (1).json", &list[0]),
        ("fish - Copy.csv", &list[0]),
    ] {
        let bench = pond();
        bench.put(copy, bytes);
        let check = OpenSurvey::open(bench.folder()).unwrap().check(&Progress::new()).unwrap();
        let told: Vec<String> = check.problems.iter().map(ToString::to_string).collect();
        let name = copy.rsplit('/').next().unwrap();
        assert!(
            told.iter().any(|told| told.contains(name) && told.contains("copy")),
            "{copy}: {told:?}"
        );
    }
}

#[test]
fn sidecar_names_are_told_apart_whatever_the_case() {
    assert_eq!(parse_sidecar_name("MH-1.TIF.KB.JSON"), parse_sidecar_name("MH-1.TIF.kb.json"));
    for name in [
        "MH-1.tif.json",
        "MH-1.kb.json",
        "MH-1.tif..json",
        ".kb.json",
        "MH-1.tif.nul.json",
        "MH-1.tif.kb.json ",
    ] {
        assert_eq!(parse_sidecar_name(name), None, "{name}");
    }
}
