//! Decisions that lie one to a file, named by what they decide on and what they replace, so that two people deciding at
//! once want the same name and the second is refused.

use std::io;
use std::path::{Path, PathBuf};

use super::blind_error::BlindError;
use super::blind_file::create_whole;
use super::fingerprint::Fingerprint;

/// Names of the decisions in a folder, in order; files that tools left there under hidden names are passed over.
pub(super) fn decision_names(folder: &Path) -> io::Result<Vec<String>> {
    let mut names: Vec<String> = std::fs::read_dir(folder)?
        .flatten()
        .filter_map(|entry| entry.file_name().into_string().ok())
        .filter(|name| !name.starts_with('.') && name.ends_with(".json"))
        .collect();
    names.sort();
    Ok(names)
}

/// The name of a decision: the same for all who decide on the same thing after the same earlier decision.
pub(super) fn decision_id(on: &str, supersedes: Option<&str>) -> String {
    let text = format!("{on}\n{}", supersedes.unwrap_or_default());
    Fingerprint::of(text.as_bytes()).blake3_hex().chars().take(24).collect()
}

/// Where a decision lies.
pub(super) fn decision_path(survey: &Path, folder: &str, id: &str) -> PathBuf {
    survey.join(folder).join(format!("{id}.json"))
}

/// Writes a decision as a new file. `by_of` tells who made the one that is there already.
///
/// # Errors
/// [`BlindError::DecidedByOther`] where somebody was faster; what writing or `by_of` tell. Nothing is overwritten.
pub(super) fn keep_decision(
    path: &Path,
    text: &str,
    by_of: impl Fn(&Path) -> Result<String, BlindError>,
) -> Result<(), BlindError> {
    match create_whole(path, text.as_bytes(), "look at the decision that is there") {
        Ok(_) => Ok(()),
        // Somebody was faster between the look before and the write.
        Err(BlindError::Taken { path, .. }) => {
            let by = by_of(&path)?;
            Err(BlindError::DecidedByOther { path, by })
        }
        Err(error) => Err(error),
    }
}
