//! The hash of every file a report rests on.

use super::survey_report::{Desk, ReportError};
use crate::report::survey_report::InputFile;
use crate::store::blind::LISTS_FOLDER;
use crate::store::effort_file::EFFORT_FILE;
use crate::store::exclusion_file::EXCLUDED_FOLDER;
use crate::store::field_sheet::FIELD_SHEET;
use crate::store::file_name::SCANS_FOLDER;
use crate::store::fingerprint::Fingerprint;
use crate::store::reference_file::REFERENCE_FILE;
use crate::store::resolution_file::RESOLVED_FOLDER;
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
    // A reading of a closed list that is not filed yet has no sidecar; its list stands among the inputs.
    for sidecar in desk.all.sidecars.iter().filter(|one| !one.path.as_os_str().is_empty()) {
        let name = sidecar.path.file_name().unwrap_or_default().to_string_lossy();
        inputs.push(input(format!("{SCANS_FOLDER}/{name}"), &sidecar.fingerprint));
    }
    for folder in [EXCLUDED_FOLDER, RESOLVED_FOLDER, LISTS_FOLDER] {
        inputs.extend(decisions_in(desk, folder)?);
    }
    inputs.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(inputs)
}

/// The JSON files in a folder of the survey: decisions on fish and ages, and blind lists.
fn decisions_in(desk: &Desk<'_>, folder: &str) -> Result<Vec<InputFile>, ReportError> {
    let path = desk.survey.folder.join(folder);
    let names = std::fs::read_dir(&path).into_iter().flatten().flatten();
    let names = names.map(|entry| entry.file_name().to_string_lossy().into_owned());
    let mut found = Vec::new();
    for name in names.filter(|name| name.ends_with(".json") && !name.starts_with('.')) {
        if let Some(print) = Fingerprint::of_file(&path.join(&name))? {
            found.push(input(format!("{folder}/{name}"), &print));
        }
    }
    Ok(found)
}

/// One file.
pub(super) fn input(name: String, print: &Fingerprint) -> InputFile {
    InputFile { name, bytes: print.length(), blake3: print.blake3_hex() }
}
