//! From the confirmed readings of a survey to the sample that back-calculation takes.

use std::collections::HashMap;

use crate::analysis::back_calculation::{Options, SampleFish};
use crate::domain::calibration::Calibration;
use crate::domain::exclusion::standing_exclusions;
use crate::domain::fish::Fish;
use crate::domain::reading::{ImpressionReading, ReaderInitials, ReadingState};
use crate::domain::several::readings_that_count;
pub use crate::domain::survey_summary::LeftOut;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;

/// The fish of a survey as one reader read them.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveySample {
    /// Whose readings they are.
    pub reader: ReaderInitials,
    /// Fish with radii, in the order of the field sheet.
    pub fish: Vec<SampleFish>,
    /// The age each was given, by key.
    pub ages: HashMap<String, u32>,
    /// Fish without radii, and those that somebody left out.
    pub left_out: Vec<LeftOut>,
    /// How many of them somebody left out, with a recorded reason.
    pub n_left_out_by_hand: usize,
}

/// The reader whose readings are used when nobody is named: the survey's first, else the first by name.
pub fn default_reader(survey: &OpenSurvey) -> Option<ReaderInitials> {
    survey.survey.readers.first().cloned().or_else(|| {
        survey.sidecars.iter().map(|sidecar| sidecar.reader.clone()).min_by_key(|r| r.to_string())
    })
}

/// What back-calculation must know of the survey.
pub fn survey_options(survey: &OpenSurvey) -> Options {
    Options {
        structure: survey.survey.structure,
        birthday: survey.survey.birthday_rule.birthday,
        ..Options::default()
    }
}

/// Gathers the confirmed readings of `reader` on the survey's structure. Fish only counted are no part of it.
pub fn survey_sample(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    reader: &ReaderInitials,
) -> SurveySample {
    let mut by_fish: HashMap<&str, Vec<(&ImpressionReading, Option<&Calibration>)>> =
        HashMap::new();
    for sidecar in readings.sidecars.iter().filter(|sidecar| sidecar.reading.reader == *reader) {
        for impression in &sidecar.reading.impressions {
            let counts = impression.state == ReadingState::Confirmed
                && impression.structure == survey.survey.structure;
            if counts {
                let calibration = sidecar.reading.calibration.as_ref();
                by_fish
                    .entry(impression.fish.as_str())
                    .or_default()
                    .push((impression, calibration));
            }
        }
    }
    let mut sample = SurveySample {
        reader: reader.clone(),
        fish: Vec::new(),
        ages: HashMap::new(),
        left_out: Vec::new(),
        n_left_out_by_hand: 0,
    };
    let excluded = standing_exclusions(&readings.exclusions);
    for fish in survey.fish.iter().filter(|fish| fish.count == 1) {
        let read = by_fish.get(fish.key.as_str()).map_or(&[][..], Vec::as_slice);
        if let Some(decision) = excluded.get(fish.key.as_str()).filter(|one| one.is_left_out) {
            let (fish, row, reason) = (fish.key.clone(), fish.row, decision.reason());
            sample.left_out.push(LeftOut { fish, row, reason });
            sample.n_left_out_by_hand += 1;
            continue;
        }
        match sample_fish(fish, read, reader) {
            Ok((one, age)) => {
                sample.ages.insert(fish.key.clone(), age);
                sample.fish.push(one);
            }
            Err(reason) => {
                sample.left_out.push(LeftOut { fish: fish.key.clone(), row: fish.row, reason });
            }
        }
    }
    sample
}

fn sample_fish(
    fish: &Fish,
    read: &[(&ImpressionReading, Option<&Calibration>)],
    reader: &ReaderInitials,
) -> Result<(SampleFish, u32), String> {
    let all: Vec<&ImpressionReading> = read.iter().map(|(impression, _)| *impression).collect();
    let aged: Vec<_> =
        readings_that_count(&all).into_iter().filter_map(|index| read.get(index)).collect();
    if aged.is_empty() {
        return Err(match read.first().and_then(|(impression, _)| impression.outcome) {
            Some(outcome) => format!("read as {} by {reader}", outcome.word()),
            None => format!("no confirmed reading by {reader}"),
        });
    }
    let mut ages: Vec<u32> = aged.iter().filter_map(|(impression, _)| impression.age).collect();
    ages.sort_unstable();
    ages.dedup();
    let [age] = ages.as_slice() else {
        return Err(format!(
            "{reader} gave its scales different ages: settle on one, or prefer one (Shift+P on the Read desk)"
        ));
    };
    let measured: Vec<(&ImpressionReading, &Calibration)> = aged
        .into_iter()
        .map(|(impression, calibration)| Some((*impression, (*calibration)?)))
        .collect::<Option<_>>()
        .ok_or("the pixel size of its scan is not known: set the calibration")?;
    Ok((SampleFish::from_readings(fish, &measured), *age))
}
