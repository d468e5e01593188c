//! Names of files inside a survey: which are safe, and what a sidecar's name says.

use std::path::{Path, PathBuf};

use crate::domain::reading::{ReaderInitials, is_device_name};

use super::error::StoreError;

/// Folder of the scans and their sidecars, inside the survey folder.
pub const SCANS_FOLDER: &str = "scans";

/// Endings of file names that are pictures this program opens, lower case.
pub const SCAN_ENDINGS: [&str; 6] = ["tif", "tiff", "png", "jpg", "jpeg", "bmp"];

/// Names of files have at most 255 bytes on common systems (POSIX.1-2017, NAME_MAX of usual file systems; from
/// memory). What is written beside a scan has up to 31 bytes more: reader, ending, and the mark of a file set aside.
const LONGEST_NAME: usize = 224;

/// Refuses a name that would lead out of its folder or that Windows cannot hold, so that a survey can move.
///
/// # Errors
/// [`StoreError::UnsafeName`], saying what to write instead.
pub fn check_file_name(name: &str) -> Result<(), StoreError> {
    match fault_in(name) {
        None => Ok(()),
        Some(reason) => Err(StoreError::UnsafeName { name: name.to_owned(), reason }),
    }
}

/// What is wrong with a file name; `None` for a good one.
pub(super) fn fault_in(name: &str) -> Option<&'static str> {
    let stem = name.split('.').next().unwrap_or_default().trim_end();
    if name.is_empty() {
        Some("it is empty: write the file's name")
    } else if name.contains(['/', '\\']) || name.as_bytes().get(1) == Some(&b':') {
        Some("write the file's own name, without folders; scans lie in the folder scans")
    } else if name.contains("..") {
        Some("two dots in a row are not allowed: rename the file")
    } else if name.chars().any(|c| c.is_control() || "<>:\"|?*".contains(c)) {
        Some("it holds a character that some systems do not allow in names: rename the file")
    } else if name.starts_with('.') || name.ends_with(['.', ' ']) || name.starts_with(' ') {
        Some("it begins or ends with a dot or space: rename the file")
    } else if is_device_name(stem) {
        Some("Windows keeps this name for a device: rename the file")
    } else if name.len() > LONGEST_NAME {
        Some(
            "it is too long for a sidecar to be kept beside it: shorten it to 200 letters or fewer",
        )
    } else {
        None
    }
}

/// True for a file name that ends like a picture.
pub fn is_scan_name(name: &str) -> bool {
    name.rsplit_once('.').is_some_and(|(stem, ending)| {
        !stem.is_empty() && SCAN_ENDINGS.iter().any(|known| ending.eq_ignore_ascii_case(known))
    })
}

/// The name of a reader's sidecar for a scan: `MH-0012.tif.kb.json`. Initials are written in lower case, since
/// some systems fold case and others do not.
pub fn sidecar_name(scan: &str, reader: &ReaderInitials) -> String {
    format!("{scan}.{}.json", reader.as_str().to_ascii_lowercase())
}

/// Where a reader's sidecar for a scan lies in a survey folder.
///
/// # Errors
/// [`StoreError::UnsafeName`] when the scan's name would lead out of the folder.
pub fn sidecar_path(
    survey: &Path,
    scan: &str,
    reader: &ReaderInitials,
) -> Result<PathBuf, StoreError> {
    check_file_name(scan)?;
    Ok(survey.join(SCANS_FOLDER).join(sidecar_name(scan, reader)))
}

/// The scan and the reader a sidecar's name stands for; `None` where the name is not a sidecar's.
pub fn parse_sidecar_name(name: &str) -> Option<(&str, ReaderInitials)> {
    let (stem, ending) = name.rsplit_once('.')?;
    let (scan, reader) = stem.rsplit_once('.')?;
    if !ending.eq_ignore_ascii_case("json") || !is_scan_name(scan) {
        return None;
    }
    Some((scan, ReaderInitials::new(reader).ok()?))
}

/// True for names that services which keep folders in step, or people, give to second copies of a sidecar.
pub fn looks_like_conflict_copy(name: &str) -> bool {
    let name = name.to_lowercase();
    let stem = match name.rsplit_once('.') {
        Some((stem, ending)) if ending == "json" || SCAN_ENDINGS.contains(&ending) => stem,
        _ => &name,
    };
    let is_numbered = stem.strip_suffix(')').is_some_and(|rest| {
        rest.rsplit_once('(')
            .is_some_and(|(_, n)| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
    });
    name.contains("conflict")
        || name.contains("copy of ")
        || stem.ends_with("copy")
        || stem.ends_with("copy)")
        || is_numbered
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_lead_out_or_that_windows_refuses_are_refused() {
        for bad in [
            "",
            "..",
            "../x.tif",
            "a/b.tif",
            "a\\b.tif",
            "/etc/x.tif",
            "C:\\scans\\x.tif",
            "C:x.tif",
            "x..tif",
            "CON.tif",
            "com1.tif",
            "a?.tif",
            "a.tif.",
            "a.tif ",
            ".hidden.tif",
            "a\n.tif",
            "a|b.tif",
            "nul",
            "LPT9.tar.tif",
            "aux .tif",
            "a:stream.tif",
        ] {
            assert!(check_file_name(bad).is_err(), "{bad}");
        }
        let longest = "n".repeat(LONGEST_NAME - 4) + ".tif";
        assert!(check_file_name(&longest).is_ok());
        assert!(check_file_name(&format!("n{longest}")).is_err());
        for good in ["MH-0012.tif", "fish 12 left.TIFF", "Größe 3.png", "console.tif", "a.b.tif"]
        {
            assert!(check_file_name(good).is_ok(), "{good}");
        }
    }

    #[test]
    fn a_sidecar_name_tells_scan_and_reader() {
        let kb = ReaderInitials::new("KB").unwrap();
        assert_eq!(sidecar_name("MH-0012.tif", &kb), "MH-0012.tif.kb.json");
        assert_eq!(parse_sidecar_name("MH-0012.tif.kb.json"), Some(("MH-0012.tif", kb.clone())));
        assert_eq!(parse_sidecar_name("a.b.TIF.KB.JSON"), Some(("a.b.TIF", kb)));
        for other in
            ["MH-0012.tif", "MH-0012.tif.json", "survey.json", "x.tif.k b.json", "x.tif.con.json"]
        {
            assert_eq!(parse_sidecar_name(other), None, "{other}");
        }
    }

    #[test]
    fn copies_are_told_from_sidecars() {
        for copy in [
            "MH-0012.tif.kb (conflicted copy).json",
            "MH-0012.tif.kb (KB's conflicted copy 2025-06-03).json",
            "MH-0012.tif.kb.sync-conflict-20250603-101112-ABC.json",
            "MH-0012.tif.kb (1).json",
            "MH-0012.tif.kb - Copy.json",
            "Copy of MH-0012.tif.kb.json",
        ] {
            assert!(looks_like_conflict_copy(copy), "{copy}");
        }
        assert!(!looks_like_conflict_copy("MH-0012.tif.kb.json"));
    }
}
