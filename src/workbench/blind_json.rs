//! The readings of a blind list as JSON, by tag: what its readers may see of it themselves.

use serde_json::{Value, json};

use crate::domain::blind::ListName;
use crate::domain::reading::ReaderInitials;
use crate::store::blind::load_list;
use crate::store::blind_error::BlindError;
use crate::store::blind_readings::{blind_readings_path, load_blind_readings, readers_of_list};
use crate::store::collection::OpenSurvey;
use crate::store::error::StoreError;

/// The readings of one reader or of all on a list, each file as it is on disk. No fish and no scan is named.
///
/// # Errors
/// [`BlindError`] when the list is not there, or it or a reader's file cannot be read.
pub fn blind_readings_json(
    survey: &OpenSurvey,
    name: &ListName,
    reader: Option<&ReaderInitials>,
) -> Result<Value, BlindError> {
    let list = load_list(&survey.folder, name)?.list;
    let mut files = Vec::new();
    for found in readers_of_list(&survey.folder, name)? {
        if reader.is_some_and(|reader| *reader != found) {
            continue;
        }
        let path = blind_readings_path(&survey.folder, name, &found);
        load_blind_readings(&path)?;
        let text = std::fs::read_to_string(&path)
            .map_err(StoreError::io("read the blind readings", &path))?;
        // It has just been read, so it parses.
        files.push(serde_json::from_str::<Value>(&text).unwrap_or(Value::Null));
    }
    Ok(json!({
        "survey": survey.survey.name,
        "list": list.name.as_str(),
        "is_closed": list.closed.is_some(),
        "n_impressions": list.entries.len(),
        "readings": files,
        "problems": [],
        "error": null,
    }))
}
