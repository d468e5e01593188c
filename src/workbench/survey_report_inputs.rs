//! The hash of every file a report rests on.

use super::survey_report::{Desk, ReportError};
use crate::report::survey_report::InputFile;
use crate::store::effort_file::EFFORT_FILE;
use crate::store::field_sheet::FIELD_SHEET;
use crate::store::file_name::SCANS_FOLDER;
use crate::store::fingerprint::Fingerprint;
use crate::store::reference_file::REFERENCE_FILE;
use crate::store::stocking_file::STOCKING_FILE;
use crate::store::survey_file::SURVEY_FILE;

/// All files that were read, in order of name: settings, tables, sidecars, and the scans shown (`scans`).
pub(super) fn inputs_of(
    desk: &Desk<'_>,
    scans: Vec<InputFile>,
) -> Result<Vec<InputFile>, ReportError> {
    let mut inputs = scans;
    for name in [SURVEY_FILE, FIELD_SHEET, EFFORT_FILE, STOCKING_FILE, REFERENCE_FILE] {
        if let Some(print) = Fingerprint::of_file(&desk.survey.folder.join(name))? {
            inputs.push(input(name.to_owned(), &print));
        }
    }
    for sidecar in &desk.readings.sidecars {
        let name = sidecar.path.file_name().unwrap_or_default().to_string_lossy();
        inputs.push(input(format!("{SCANS_FOLDER}/{name}"), &sidecar.fingerprint));
    }
    inputs.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(inputs)
}

/// One file.
pub(super) fn input(name: String, print: &Fingerprint) -> InputFile {
    InputFile { name, bytes: print.length(), blake3: print.blake3_hex() }
}
