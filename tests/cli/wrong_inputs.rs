//! Wrong inputs: each gets one clear line that says where it is wrong and what to do, and loses nothing.

use crate::run::{SOUND, slope, survey_with, text, winterline};
use winterline::imaging::encode::{TiffOptions, tiff_bytes};

/// Runs `check` on a survey with these rows; gives status and text.
fn check(rows: &str) -> (i32, String) {
    let (_folder, survey) = survey_with(rows);
    let run = winterline(&["check", &text(&survey)]);
    (run.status, run.out)
}

fn assert_says(found: &str, parts: &[&str]) {
    for part in parts {
        assert!(found.contains(part), "expected '{part}' in:\n{found}");
    }
}

/// Proposes on a file of these bytes; gives status and standard error.
fn propose_on(name: &str, bytes: &[u8]) -> (i32, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    let run = winterline(&["propose", &text(&path), "--structure", "scale"]);
    (run.status, run.err)
}

/// A PNG header that claims this size, with nothing behind it.
fn png_claiming(width: u32, height: u32) -> Vec<u8> {
    let mut header = b"IHDR".to_vec();
    header.extend(width.to_be_bytes());
    header.extend(height.to_be_bytes());
    header.extend([8, 0, 0, 0, 0]);
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    bytes.extend(13_u32.to_be_bytes());
    bytes.extend(&header);
    bytes.extend(crc32(&header).to_be_bytes());
    bytes.extend([0, 0, 0, 0]);
    bytes.extend(b"IEND\xaeB`\x82");
    bytes
}

/// CRC-32 as in the PNG standard (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |mut crc, byte| {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { 0xedb8_8320 ^ (crc >> 1) } else { crc >> 1 };
        }
        crc
    })
}

#[test]
fn a_sound_survey_has_no_errors() {
    let (status, found) = check(SOUND);
    assert_eq!(status, 0, "{found}");
    assert_says(&found, &["0 errors, 0 warnings"]);
}

#[test]
fn a_text_file_named_tif_is_refused() {
    let (status, message) =
        propose_on("letter.tif", b"Dear colleague, the scans follow by post.\n");
    assert_eq!(status, 1);
    assert_says(&message, &["letter.tif", "not a readable picture"]);
}

#[test]
fn a_truncated_tiff_is_refused() {
    let whole = tiff_bytes(&slope(), Some([5.0, 5.0]), TiffOptions::default()).unwrap();
    let (status, message) = propose_on("half.tif", &whole[..whole.len() / 2]);
    assert_eq!(status, 1);
    assert_says(&message, &["half.tif", "copy the file again"]);
}

#[test]
fn a_png_claiming_60000_by_60000_is_refused() {
    let (status, message) = propose_on("huge.png", &png_claiming(60_000, 60_000));
    assert_eq!(status, 1);
    assert_says(&message, &["huge.png", "60000", "limit"]);
}

#[test]
fn a_missing_column_is_named() {
    let (status, found) =
        check("fish,capture_date,scans\n1,2025-10-06,AR-1.tif\n2,2025-10-06,AR-2.png\n");
    assert_eq!(status, 1);
    assert_says(&found, &["error: fish.csv", "column", "'length'"]);
}

#[test]
fn a_duplicate_fish_is_named_with_both_rows() {
    let (status, found) = check(
        "fish,capture_date,length,scans\n1,2025-10-06,182,AR-1.tif\n1,2025-10-06,201,AR-2.png\n",
    );
    assert_eq!(status, 1);
    assert_says(&found, &["fish.csv, row 3", "column 'fish'", "'1'", "row 2"]);
}

#[test]
fn a_length_of_minus_5_is_refused() {
    let (status, found) = check(
        "fish,capture_date,length,scans\n1,2025-10-06,182,AR-1.tif\n2,2025-10-06,-5,AR-2.png\n",
    );
    assert_eq!(status, 1);
    assert_says(&found, &["fish.csv, row 3, column 'length'", "-5"]);
}

#[test]
fn the_31st_of_february_is_refused() {
    let (status, found) = check(
        "fish,capture_date,length,scans\n1,2025-02-31,182,AR-1.tif\n2,2025-10-06,201,AR-2.png\n",
    );
    assert_eq!(status, 1);
    assert_says(&found, &["fish.csv, row 2, column 'capture_date'", "2025-02-31", "no such day"]);
}

#[test]
fn inches_among_millimetres_are_suspected() {
    let mut rows = String::from(
        "fish,capture_date,length,scans\n1,2025-10-06,182,AR-1.tif\n2,2025-10-06,7.5,AR-2.png\n",
    );
    for fish in 3..14 {
        rows.push_str(&format!("{fish},2025-10-06,{},\n", 170 + 3 * fish));
    }
    let (_, found) = check(&rows);
    assert_says(&found, &["warning: fish.csv, row 3, column 'length'", "7.5", "inches"]);
}

#[test]
fn a_scan_no_fish_claims_is_named() {
    let (status, found) = check("fish,capture_date,length,scans\n1,2025-10-06,182,AR-1.tif\n");
    assert_eq!(status, 0);
    assert_says(&found, &["warning: scans/AR-2.png", "no fish claims this scan"]);
}

#[test]
fn a_fish_without_a_scan_is_named() {
    let (status, found) = check(&format!("{SOUND}3,2025-10-06,190,\n"));
    assert_eq!(status, 0);
    assert_says(&found, &["warning: fish.csv, row 4, column 'scans'", "fish '3' has no scan"]);
}

#[test]
fn a_named_scan_that_is_not_there_is_an_error() {
    let (status, found) = check(&format!("{SOUND}3,2025-10-06,190,AR-3.tif\n"));
    assert_eq!(status, 1);
    assert_says(&found, &["error: fish.csv, row 4, column 'scans'", "AR-3.tif"]);
}

#[test]
fn a_folder_that_is_no_survey_is_told() {
    let folder = tempfile::tempdir().unwrap();
    for verb in ["check", "read", "lengths"] {
        let run = winterline(&[verb, &text(folder.path())]);
        assert_eq!(run.status, 1, "{verb}: {}", run.err);
        assert!(run.err.contains("survey.json"), "{verb}: {}", run.err);
        assert!(run.out.is_empty());
    }
}

#[test]
fn wrong_command_lines_leave_with_2() {
    for arguments in [
        &["proposee"][..],
        &["propose"],
        &["propose", "a.tif"],
        &["lengths", "x", "--method", "guess"],
        &["lengths", "x", "--method", "modified-fry"],
        &["simulate", "pictures", "x", "--style", "unheard-of"],
        &["check"],
    ] {
        let run = winterline(arguments);
        assert_eq!(run.status, 2, "{arguments:?}: {}", run.err);
        assert!(!run.err.is_empty(), "{arguments:?}");
    }
    assert_eq!(winterline(&["--help"]).status, 0);
    assert_eq!(winterline(&["--version"]).status, 0);
}
