//! What a report says of the survey itself, of its fish, and of those left out.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use jiff::tz::TimeZone;

use super::survey_lengths::LeftOut;
use super::survey_report::Desk;
use crate::analysis::condition::fulton_k;
use crate::analysis::population::length_groups::LengthGroups;
use crate::domain::dates::Date;
use crate::domain::fish::{Fish, LengthType};
use crate::domain::reading::{ImpressionReading, Outcome};
use crate::report::survey_report::{Exclusion, Facts, SampleCounts};
use crate::store::collection::OpenSurvey;

/// Adds fish that are left out of something. A fish that is named twice for the same thing stands once.
pub(super) fn add_exclusions(
    exclusions: &mut Vec<Exclusion>,
    survey: &OpenSurvey,
    from: &'static str,
    left_out: &[LeftOut],
) {
    let numbers: HashMap<&str, &str> = survey
        .fish
        .iter()
        .map(|fish| {
            (fish.key.as_str(), if fish.number.is_empty() { &fish.key } else { &fish.number })
        })
        .map(|(key, number)| (key, number.as_str()))
        .collect();
    for one in left_out {
        let number = numbers.get(one.fish.as_str()).copied().unwrap_or(&one.fish);
        let fish = if number.is_empty() { format!("row {}", one.row) } else { number.to_owned() };
        let new = Exclusion { from, fish, row: Some(one.row), reason: one.reason.clone() };
        if !exclusions.contains(&new) {
            exclusions.push(new);
        }
    }
}

/// False for a fish left out only because it is of another species: the report is about one.
pub(super) fn is_of_the_report(one: &LeftOut) -> bool {
    !one.reason.starts_with("another species")
}

/// The confirmed readings of the report's reader on fish of its species, with the scan of each.
pub(super) fn own_readings<'a>(desk: &Desk<'a>) -> Vec<(&'a str, &'a ImpressionReading)> {
    let own: BTreeSet<&str> = desk
        .survey
        .fish
        .iter()
        .filter(|fish| desk.is_own(fish))
        .map(|fish| fish.key.as_str())
        .collect();
    let structure = desk.survey.survey.structure;
    desk.readings
        .sidecars
        .iter()
        .filter(|sidecar| sidecar.reading.reader == *desk.reader)
        .flat_map(|sidecar| {
            let scan = sidecar.reading.scan.file.as_str();
            sidecar.reading.confirmed().map(move |reading| (scan, reading))
        })
        .filter(|(_, reading)| {
            reading.structure == structure && own.contains(reading.fish.as_str())
        })
        .collect()
}

/// How many fish there were at each step.
pub(super) fn sample_counts(desk: &Desk<'_>) -> SampleCounts {
    let sum = |is_wanted: &dyn Fn(&Fish) -> bool| -> u64 {
        desk.survey
            .fish
            .iter()
            .filter(|fish| is_wanted(fish))
            .map(|fish| u64::from(fish.count))
            .sum()
    };
    let readings = own_readings(desk);
    let mut by_fish: BTreeMap<&str, Vec<&ImpressionReading>> = BTreeMap::new();
    for (_, reading) in &readings {
        by_fish.entry(reading.fish.as_str()).or_default().push(reading);
    }
    let mut outcomes: BTreeMap<&str, usize> = BTreeMap::new();
    for readings in by_fish.values() {
        let is_aged = readings.iter().any(|reading| reading.outcome == Some(Outcome::Aged));
        let first = readings.iter().find_map(|reading| reading.outcome);
        let word = if is_aged { "aged" } else { first.map_or("without an outcome", Outcome::word) };
        *outcomes.entry(word).or_default() += 1;
    }
    let aged = outcomes.get("aged").copied().unwrap_or(0);
    let mut outcomes: Vec<(String, usize)> =
        outcomes.into_iter().map(|(word, n)| (word.to_owned(), n)).collect();
    outcomes.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    SampleCounts {
        on_sheet: sum(&|_| true),
        of_species: sum(&|fish| desk.is_own(fish)),
        measured: sum(&|fish| desk.is_own(fish) && fish.length.is_some()),
        weighed: sum(&|fish| desk.is_own(fish) && fish.weight_g.is_some()),
        read: by_fish.len(),
        aged,
        with_lengths: 0,
        outcomes,
        with_proposals: readings.iter().filter(|(_, one)| one.conditions.proposals_shown).count(),
        blind: readings.iter().filter(|(_, one)| one.conditions.blind_list.is_some()).count(),
    }
}

/// What was surveyed, how and by whom.
pub(super) fn facts_of(desk: &Desk<'_>) -> Facts {
    let settings = &desk.survey.survey;
    let own: Vec<&Fish> = desk.survey.fish.iter().filter(|fish| desk.is_own(fish)).collect();
    let days: BTreeSet<Date> = own.iter().filter_map(|fish| fish.captured).collect();
    let sites: BTreeSet<&str> =
        own.iter().map(|fish| fish.body_site.trim()).filter(|site| !site.is_empty()).collect();
    let rule = settings.birthday_rule;
    let mut readers: Vec<String> = settings.readers.iter().map(ToString::to_string).collect();
    for sidecar in &desk.all.sidecars {
        let reader = sidecar.reading.reader.to_string();
        if !readers.iter().any(|known| known.eq_ignore_ascii_case(&reader)) {
            readers.push(reader);
        }
    }
    Facts {
        survey: settings.name.clone(),
        water: settings.water.clone(),
        species: desk.species.clone(),
        structure: settings.structure,
        light: settings.light,
        dates: days
            .first()
            .zip(days.last())
            .map(|(first, last)| [first.to_string(), last.to_string()]),
        crew: desk.request.crew.trim().to_owned(),
        runs: desk.tables.effort.clone().unwrap_or_default(),
        readers,
        reader: desk.reader.to_string(),
        ages: desk.ages.clone(),
        ageing_rule: settings.ageing_rule.clone(),
        birthday_rule: [rule.birthday, rule.window_start, rule.window_end]
            .map(|day| day.to_string()),
        length_type: own
            .iter()
            .find(|fish| fish.length.is_some())
            .map_or(LengthType::Total, |fish| fish.length_type),
        body_sites: sites.into_iter().map(str::to_owned).collect(),
        um_per_px: pixel_sizes(desk),
        date: date_of(desk),
    }
}

fn pixel_sizes(desk: &Desk<'_>) -> Option<[f64; 2]> {
    let own =
        desk.readings.sidecars.iter().filter(|sidecar| sidecar.reading.reader == *desk.reader);
    own.filter_map(|sidecar| Some(sidecar.reading.calibration.as_ref()?.mean_um_per_px())).fold(
        None,
        |range: Option<[f64; 2]>, um| {
            Some(range.map_or([um, um], |[low, high]| [low.min(um), high.max(um)]))
        },
    )
}

/// The day given, else the newest day on the field sheet, in the effort, or of a confirmed reading (in universal time, so
/// that it does not depend on where the report is written).
fn date_of(desk: &Desk<'_>) -> String {
    if let Some(date) = desk.request.date {
        return date.to_string();
    }
    let caught = desk.survey.fish.iter().filter_map(|fish| fish.captured);
    let fished = desk.tables.effort.iter().flatten().filter_map(|run| run.date);
    let read = desk
        .all
        .sidecars
        .iter()
        .flat_map(|sidecar| sidecar.reading.confirmed())
        .filter_map(|reading| Some(TimeZone::UTC.to_datetime(reading.confirmed?).date()));
    caught.chain(fished).chain(read).max().map_or_else(String::new, |date| date.to_string())
}

/// Condition factor by length group: name, fish, mean, standard error.
pub(super) fn condition_by_length(
    desk: &Desk<'_>,
    groups: Option<LengthGroups>,
) -> Vec<(String, usize, f64, Option<f64>)> {
    let Some(groups) = groups else { return Vec::new() };
    // Four groups of the key together: condition changes slowly with length, and each row needs fish.
    const TOGETHER: i64 = 4;
    let mut factors: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for fish in desk.survey.fish.iter().filter(|fish| desk.is_own(fish) && fish.count == 1) {
        let (Some(length), Some(weight)) = (fish.length, fish.weight_g) else { continue };
        if let Ok(factor) = fulton_k(length.value(), weight) {
            factors.entry(groups.index_of(length).div_euclid(TOGETHER)).or_default().push(factor);
        }
    }
    let row = |(group, values): (i64, Vec<f64>)| {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
        let se = (values.len() > 1).then(|| (squares / (n - 1.0) / n).sqrt());
        let name = groups.name(group * TOGETHER, group * TOGETHER + TOGETHER - 1);
        (name, values.len(), mean, se)
    };
    factors.into_iter().map(row).collect()
}
