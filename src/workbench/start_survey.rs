//! Starting a survey from pictures, a field sheet, or both: a new folder with everything the program needs.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::domain::progress::Progress;
use crate::domain::reading::{ReaderInitials, Structure};
use crate::domain::survey::Survey;
use crate::store::field_sheet::FIELD_SHEET;
use crate::store::file_name::{SCANS_FOLDER, is_scan_name};
use crate::store::safe_write::{Expected, write_whole};
use crate::store::survey_file::write_survey;

use super::sheet_taking::PreparedSheet;

/// A survey to be started.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NewSurvey {
    /// The folder to make; it must not be there yet, or be empty.
    pub folder: PathBuf,
    /// Name of the survey.
    pub name: String,
    /// Water body.
    pub water: String,
    /// Structure that is read.
    pub structure: Structure,
    /// Initials of its first reader, where known.
    pub reader: Option<ReaderInitials>,
    /// Pictures to copy into it.
    pub pictures: Vec<PathBuf>,
    /// Name of its field sheet, for the person; without one each picture is a fish of its own, named after it.
    pub sheet: Option<PathBuf>,
    /// The field sheet as it was matched, and the settings to read it by.
    pub prepared: Option<Arc<PreparedSheet>>,
}

/// True for a file that can be a scan, by its name.
pub fn is_picture(path: &Path) -> bool {
    path.file_name().and_then(|name| name.to_str()).is_some_and(is_scan_name)
}

/// The survey folder a file belongs to: the one that holds it, or the one whose scans hold it.
pub fn survey_of(path: &Path) -> Option<PathBuf> {
    let holds = |folder: &Path| folder.join("survey.json").is_file();
    let folder = path.parent()?;
    if holds(folder) {
        return Some(folder.to_owned());
    }
    let is_scans = folder.file_name().is_some_and(|name| name == SCANS_FOLDER);
    folder.parent().filter(|above| is_scans && holds(above)).map(Path::to_owned)
}

/// Makes the folder, copies pictures and field sheet, and writes the settings last: a folder without them is no survey
/// yet. What was copied from stays as it is.
///
/// # Errors
/// In plain words, with the path; what was made stays and is named.
pub fn start_survey(new: &NewSurvey, progress: &Progress) -> Result<PathBuf, String> {
    if new.name.trim().is_empty() {
        return Err("give the survey a name".to_owned());
    }
    let folder = &new.folder;
    if std::fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some()) {
        return Err(format!("'{}' is not empty: choose a new folder", folder.display()));
    }
    let mut names: Vec<&str> = Vec::new();
    for picture in &new.pictures {
        let name =
            picture.file_name().and_then(|name| name.to_str()).filter(|_| is_picture(picture));
        let name = name.ok_or_else(|| {
            format!("'{}' cannot be a scan: give a TIFF, PNG, JPEG or BMP file", picture.display())
        })?;
        if names.iter().any(|other| other.eq_ignore_ascii_case(name)) {
            return Err(format!("two pictures are called '{name}': rename one of them"));
        }
        names.push(name);
    }
    let scans = folder.join(SCANS_FOLDER);
    std::fs::create_dir_all(&scans)
        .map_err(|error| format!("cannot make '{}': {error}", scans.display()))?;
    progress.set_total(new.pictures.len());
    for (picture, name) in new.pictures.iter().zip(&names) {
        progress.checkpoint().map_err(|_| "stopped starting the survey".to_owned())?;
        std::fs::copy(picture, scans.join(name))
            .map_err(|error| format!("cannot copy '{}': {error}", picture.display()))?;
        progress.step();
    }
    let sheet = match (&new.prepared, &new.sheet) {
        (Some(prepared), _) => prepared.csv.clone(),
        (None, Some(sheet)) => std::fs::read(sheet)
            .map_err(|error| format!("cannot read '{}': {error}", sheet.display()))?,
        (None, None) => sheet_of(&names).into_bytes(),
    };
    let failed = |error: crate::store::error::StoreError| error.to_string();
    write_whole(&folder.join(FIELD_SHEET), &sheet, Expected::Absent).map_err(failed)?;
    let mut survey = Survey::new(new.name.trim(), new.water.trim(), new.structure);
    if let Some(prepared) = &new.prepared {
        survey.column_map.clone_from(&prepared.survey.column_map);
        survey.species.clone_from(&prepared.survey.species);
    }
    survey.readers.extend(new.reader.clone());
    write_survey(folder, &survey, None).map_err(failed)?;
    Ok(folder.clone())
}

/// A row for each picture, its name without ending as the fish's number.
fn sheet_of(names: &[&str]) -> String {
    let mut sheet = "fish,species,capture_date,length,length_type,scans\n".to_owned();
    for name in names {
        let stem = name.rsplit_once('.').map_or(*name, |(stem, _)| stem);
        _ = writeln!(sheet, "{},,,,,{}", quoted(stem), quoted(name));
    }
    sheet
}

/// A cell by RFC 4180.
fn quoted(cell: &str) -> String {
    if cell.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::collection::OpenSurvey;

    #[test]
    fn a_survey_started_from_pictures_opens_with_a_fish_for_each() {
        let from = tempfile::tempdir().unwrap();
        let pictures = ["b 2.png", "a,1.png"].map(|name| {
            let path = from.path().join(name);
            std::fs::write(&path, b"picture").unwrap();
            path
        });
        let folder = from.path().join("new");
        let new = NewSurvey {
            folder: folder.clone(),
            name: "Heron Slough".into(),
            pictures: pictures.to_vec(),
            reader: ReaderInitials::new("kb").ok(),
            ..NewSurvey::default()
        };
        assert_eq!(start_survey(&new, &Progress::new()), Ok(folder.clone()));
        let opened = OpenSurvey::open(&folder).unwrap();
        let numbers: Vec<&str> = opened.fish.iter().map(|fish| fish.number.as_str()).collect();
        assert_eq!(numbers, ["b 2", "a,1"]);
        assert_eq!(opened.scans, ["a,1.png", "b 2.png"]);
        assert_eq!(survey_of(&folder.join("scans/b 2.png")), Some(folder.clone()));
        assert_eq!(survey_of(&folder.join("fish.csv")), Some(folder.clone()));
        assert_eq!(survey_of(&pictures[0]), None);
        assert!(start_survey(&new, &Progress::new()).unwrap_err().contains("is not empty"));
    }

    #[test]
    fn what_cannot_be_a_scan_and_a_survey_without_a_name_are_refused() {
        let from = tempfile::tempdir().unwrap();
        let text = from.path().join("notes.txt");
        std::fs::write(&text, b"words").unwrap();
        let mut new = NewSurvey {
            folder: from.path().join("new"),
            name: " ".into(),
            pictures: vec![text],
            ..NewSurvey::default()
        };
        assert!(start_survey(&new, &Progress::new()).unwrap_err().contains("name"));
        new.name = "Heron Slough".into();
        assert!(start_survey(&new, &Progress::new()).unwrap_err().contains("cannot be a scan"));
        assert!(!new.folder.exists());
    }
}
