//! All confirmed readings of a survey as decisions and rules of ages see them: those beside the scans, and those of
//! closed blind lists that are not filed yet.

use crate::domain::reading::{ImpressionReading, ScanReading};
use crate::domain::resolution::{FishReading, Resolution};
use crate::store::blind_error::BlindError;
use crate::store::blind_filing::closed_readings;
use crate::store::collection::OpenSurvey;
use crate::store::resolution_file::{load_resolutions, reading_hash};
use crate::store::survey_check::SurveyReadings;

/// What stands to be decided, and what has been.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReadingsAndResolutions {
    /// Confirmed readings, at most one for each reader and impression.
    pub readings: Vec<FishReading>,
    /// Decisions, in order of time.
    pub resolutions: Vec<Resolution>,
    /// What was wrong with lists and decisions, one sentence each.
    pub problems: Vec<String>,
}

/// Gathers the confirmed readings and the decisions of a survey. Where a reader has re-read an impression in a closed
/// list, that reading stands for the earlier one, as it will when it is filed.
///
/// # Errors
/// [`BlindError`] when the folder of lists or of decisions cannot be read.
pub fn readings_and_resolutions(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
) -> Result<ReadingsAndResolutions, BlindError> {
    let closed = closed_readings(&survey.folder, &readings.sidecars)?;
    let decided = load_resolutions(&survey.folder)?;
    let mut all: Vec<FishReading> = Vec::new();
    let beside = readings.sidecars.iter().map(|sidecar| &sidecar.reading);
    for scan in beside.chain(&closed.readings) {
        for impression in scan.confirmed().filter(|impression| !impression.fish.is_empty()) {
            let reading = fish_reading(scan, impression);
            let same = |there: &FishReading| {
                there.scan == reading.scan
                    && there.impression == reading.impression
                    && there.reader == reading.reader
            };
            match all.iter_mut().find(|there| same(there)) {
                Some(there) => *there = reading,
                None => all.push(reading),
            }
        }
    }
    let problems = [closed.problems, decided.problems].concat();
    Ok(ReadingsAndResolutions { readings: all, resolutions: decided.resolutions, problems })
}

fn fish_reading(scan: &ScanReading, impression: &ImpressionReading) -> FishReading {
    FishReading {
        fish: impression.fish.clone(),
        scan: scan.scan.file.clone(),
        impression: impression.number,
        reader: scan.reader.clone(),
        outcome: impression.outcome,
        age: impression.age,
        hash: reading_hash(scan, impression),
    }
}
