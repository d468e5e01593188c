//! All confirmed readings of a survey as decisions and rules of ages see them: those beside the scans, and those of
//! closed blind lists that are not filed yet.

use std::collections::HashMap;

use crate::domain::reading::{ImpressionReading, ReaderInitials, ScanReading, Structure};
use crate::domain::resolution::{FishReading, Resolution};
use crate::domain::several::readings_that_count;
use crate::store::blind_error::BlindError;
use crate::store::blind_filing::closed_readings;
use crate::store::collection::OpenSurvey;
use crate::store::resolution_file::{load_resolutions, reading_hash};
use crate::store::survey_check::SurveyReadings;

/// What stands to be decided, and what has been.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReadingsAndResolutions {
    /// Confirmed readings, at most one for each reader and impression; of several impressions of a fish those that the
    /// reader's choice lets count, as in every analysis.
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
    gather(survey, readings, true)
}

/// The same for rules of ages, which ask for the hash of a reading only where there are decisions.
///
/// # Errors
/// As [`readings_and_resolutions`].
pub(super) fn readings_for_rules(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
) -> Result<ReadingsAndResolutions, BlindError> {
    gather(survey, readings, false)
}

fn gather(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    hash_all: bool,
) -> Result<ReadingsAndResolutions, BlindError> {
    let closed = closed_readings(&survey.folder, &readings.sidecars)?;
    let decided = load_resolutions(&survey.folder)?;
    let with_hash = hash_all || !decided.resolutions.is_empty();
    let mut all: Vec<(FishReading, &ImpressionReading)> = Vec::new();
    let mut places: HashMap<(&str, u32, &ReaderInitials), usize> = HashMap::new();
    let beside = readings.sidecars.iter().map(|sidecar| &sidecar.reading);
    for scan in beside.chain(&closed.readings) {
        for impression in scan.confirmed().filter(|impression| !impression.fish.is_empty()) {
            let reading = fish_reading(scan, impression, with_hash);
            let place = (scan.scan.file.as_str(), impression.number, &scan.reader);
            let place = *places.entry(place).or_insert(all.len());
            match all.get_mut(place) {
                Some(there) => *there = (reading, impression),
                None => all.push((reading, impression)),
            }
        }
    }
    let problems = [closed.problems, decided.problems].concat();
    let readings = those_that_count(all);
    Ok(ReadingsAndResolutions { readings, resolutions: decided.resolutions, problems })
}

/// Where a reader has read several impressions of a fish, those on which their age of it rests; all where none is aged,
/// since what came of them counts too.
fn those_that_count(all: Vec<(FishReading, &ImpressionReading)>) -> Vec<FishReading> {
    let mut groups: HashMap<(&str, &ReaderInitials, Structure), Vec<usize>> = HashMap::new();
    for (at, (reading, impression)) in all.iter().enumerate() {
        let group = (reading.fish.as_str(), &reading.reader, impression.structure);
        groups.entry(group).or_default().push(at);
    }
    let mut is_out = vec![false; all.len()];
    for places in groups.into_values() {
        let read: Vec<&ImpressionReading> =
            places.iter().filter_map(|at| all.get(*at)).map(|(_, one)| *one).collect();
        let counting = readings_that_count(&read);
        for (number, at) in places.iter().enumerate() {
            if let Some(out) = is_out.get_mut(*at) {
                *out = !counting.is_empty() && !counting.contains(&number);
            }
        }
    }
    let all = all.into_iter().zip(is_out);
    all.filter(|(_, is_out)| !is_out).map(|((reading, _), _)| reading).collect()
}

fn fish_reading(
    scan: &ScanReading,
    impression: &ImpressionReading,
    with_hash: bool,
) -> FishReading {
    FishReading {
        fish: impression.fish.clone(),
        scan: scan.scan.file.clone(),
        impression: impression.number,
        reader: scan.reader.clone(),
        outcome: impression.outcome,
        age: impression.age,
        hash: if with_hash { reading_hash(scan, impression) } else { String::new() },
    }
}
