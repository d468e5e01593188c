//! Taking a sheet in: as the field sheet of the open survey, of a new one, or as a table of radii.
//!
//! The sheet that was looked at is never written. A field sheet that was there before is kept under another name.

use std::path::{Path, PathBuf};

use crate::domain::survey::Survey;
use crate::store::cells::same_heading;
use crate::store::error::StoreError;
use crate::store::field_sheet::FIELD_SHEET;
use crate::store::fingerprint::Fingerprint;
use crate::store::safe_write::{Expected, write_whole};
use crate::store::survey_file::{read_survey, write_survey};
use crate::store::table_writer::table_bytes;

use super::sheet_import::SheetImport;
use super::sheet_radii::radii_draft;

/// A sheet made ready for a survey that is yet to be started.
#[derive(Debug, Clone, PartialEq)]
pub struct PreparedSheet {
    /// The sheet it was made from.
    pub name: String,
    /// What fish.csv will hold.
    pub csv: Vec<u8>,
    /// Settings that say how to read it: headings, and the species where the sheet has none.
    pub survey: Survey,
}

/// What was taken in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// Files that were written.
    pub files: Vec<PathBuf>,
    /// What was done, in words.
    pub words: String,
}

/// Scans for each row where no column names them and some are known; `None` otherwise.
pub(super) fn added_scans(import: &SheetImport) -> Option<Vec<Vec<String>>> {
    if import.column_of("scans").is_some() {
        return None;
    }
    let fish = import.column_of("fish")?;
    let rows = 0..import.sheet.rows.len();
    let numbers: Vec<String> = rows.map(|row| import.text(row, fish).to_owned()).collect();
    let found = import.scans.for_fish(&numbers);
    found.iter().any(|own| !own.is_empty()).then_some(found)
}

/// The field sheet as it would be written, and the settings that go with it.
///
/// # Errors
/// In plain words; not expected, since every row has as many cells as there are headings.
pub fn prepared_sheet(import: &SheetImport) -> Result<PreparedSheet, String> {
    let table = import.table();
    let mut survey = import.prepared_survey();
    let mut headings = table.headings;
    let mut rows: Vec<Vec<String>> = table.rows.into_iter().map(|row| row.cells).collect();
    if let Some(scans) = added_scans(import) {
        headings.push("scans".to_owned());
        survey.column_map.remove("scans");
        for (row, own) in rows.iter_mut().zip(&scans) {
            row.push(own.join(" | "));
        }
    }
    if !import.changes.is_empty() {
        headings.push(free_heading("import note", &headings));
        for (place, row) in rows.iter_mut().enumerate() {
            row.push(note_of(import, place));
        }
    }
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let csv = table_bytes(&headings, rows).map_err(|error| error.to_string())?;
    Ok(PreparedSheet { name: import.sheet.name.clone(), csv, survey })
}

/// What was changed in a row on the way in: it stays with the fish.
fn note_of(import: &SheetImport, row: usize) -> String {
    let changes = import.changes.range((row, 0)..=(row, usize::MAX));
    let notes: Vec<&str> = changes.map(|(_, change)| change.why.as_str()).collect();
    notes.join("; ")
}

fn free_heading(wanted: &str, taken: &[String]) -> String {
    let mut name = wanted.to_owned();
    let mut n = 2;
    while taken.iter().any(|one| same_heading(one, &name)) {
        name = format!("{wanted} {n}");
        n += 1;
    }
    name
}

/// Puts the sheet in the place of the field sheet of the survey in `folder`, which is kept beside it, and writes the
/// matching into survey.json.
///
/// # Errors
/// In plain words; the survey is then as it was before.
pub fn take_into_survey(import: &SheetImport, folder: &Path) -> Result<Taken, String> {
    let say = |error: StoreError| error.to_string();
    let prepared = prepared_sheet(import)?;
    let (mut survey, settings) = read_survey(folder).map_err(say)?;
    survey.column_map = prepared.survey.column_map;
    if survey.species.is_empty() {
        survey.species = prepared.survey.species;
    }
    let path = folder.join(FIELD_SHEET);
    let mut files = Vec::new();
    let mut words = format!("{} is the field sheet now", import.sheet.name);
    let before = std::fs::read(&path).ok();
    let is_own = is_same_file(&import.path, &path);
    let is_new = !is_own || !import.changes.is_empty() || needs_writing(import);
    if is_new {
        if let Some(before) = &before {
            let kept = free_name(folder);
            write_whole(&kept, before, Expected::Absent).map_err(say)?;
            let name = kept.file_name().unwrap_or_default().to_string_lossy().into_owned();
            words.push_str(&format!("; the one before is kept as {name}"));
            files.push(kept);
        }
        let expected = before.as_deref().map(Fingerprint::of);
        write_whole(&path, &prepared.csv, Expected::from(expected.as_ref())).map_err(say)?;
        files.push(path.clone());
    } else {
        words = "the columns of the field sheet are matched".to_owned();
    }
    if let Err(error) = write_survey(folder, &survey, Some(&settings)) {
        // A sheet whose headings nobody knows is worse than the one before.
        if let Some(before) = before.filter(|_| is_new) {
            write_whole(&path, &before, Expected::Anything).map_err(say)?;
        }
        return Err(say(error));
    }
    files.push(folder.join(crate::store::survey_file::SURVEY_FILE));
    Ok(Taken { files, words })
}

/// True where the survey's own sheet cannot stay as it is: a workbook, headings that would be misread, scans to add.
fn needs_writing(import: &SheetImport) -> bool {
    !import.sheet.sheets.is_empty()
        || import.sheet.has_new_headings
        || import.written_headings() != import.sheet.headings
        || added_scans(import).is_some()
}

fn is_same_file(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

fn free_name(folder: &Path) -> PathBuf {
    let name = |n: u32| folder.join(format!("fish-before-import-{n}.csv"));
    (1..).map(name).find(|path| !path.exists()).unwrap_or_else(|| name(0))
}

/// Writes the radii of the sheet as a table that `lengths --radii` takes.
///
/// # Errors
/// In plain words.
pub fn write_radii(import: &SheetImport, path: &Path) -> Result<Taken, String> {
    let draft = radii_draft(import);
    if let Some(blocking) = draft.blocking {
        return Err(blocking);
    }
    write_whole(path, draft.csv.as_bytes(), Expected::Absent).map_err(|error| error.to_string())?;
    let words = format!(
        "{} rows of radii written to '{}': winterline lengths --radii reads them",
        draft.n_rows,
        path.display()
    );
    Ok(Taken { files: vec![path.to_owned()], words })
}
