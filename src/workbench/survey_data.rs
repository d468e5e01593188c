//! From a gathered survey to the tables of its data.

use std::collections::HashMap;

use super::survey_report::GatheredSurvey;
use crate::analysis::back_calculation::FishLengths;
use crate::domain::age::year_class;
use crate::domain::fish::Fish;
use crate::domain::reading::{ImpressionReading, MarkKind, ScanReading};
use crate::domain::several::age_that_counts;
use crate::report::data::{FishRow, MarkRow, ReadingRow, SurveyData};

/// The data of a survey: every row of the field sheet, every confirmed reading of every reader, and the results.
pub fn survey_data(gathered: &GatheredSurvey) -> SurveyData<'_> {
    let (mut readings, mut marks) = (Vec::new(), Vec::new());
    for sidecar in &gathered.readings.sidecars {
        add_readings(&sidecar.reading, &mut readings, &mut marks);
    }
    SurveyData { report: &gathered.report, fish: fish_rows(gathered), readings, marks }
}

fn fish_rows(gathered: &GatheredSurvey) -> Vec<FishRow> {
    let report = &gathered.report;
    let birthday = gathered.survey.survey.birthday_rule.birthday;
    let lengths: HashMap<&str, &FishLengths> = report
        .lengths
        .as_ref()
        .map(|result| result.fish.iter().map(|one| (one.key.as_str(), one)).collect())
        .unwrap_or_default();
    let ages = ages_of(gathered);
    let mut left_out: HashMap<usize, Vec<String>> = HashMap::new();
    for one in &report.exclusions {
        if let Some(row) = one.row {
            left_out.entry(row).or_default().push(format!("{}: {}", one.from, one.reason));
        }
    }
    let row = |fish: &Fish| {
        let known = lengths.get(fish.key.as_str());
        let age = ages.get(fish.key.as_str()).copied().filter(|_| fish.count == 1);
        let by_age = || year_class(age?, fish.captured?, birthday);
        FishRow {
            fish: fish.clone(),
            age,
            year_class: fish.known_year_class.or_else(by_age),
            radius_um: known.map(|one| one.radius_at_capture_um).filter(|um| *um > 0.0),
            lengths_mm: known.map(|one| one.lengths_mm.clone()).unwrap_or_default(),
            edge_counted: known.is_some_and(|one| one.edge_counted),
            n_structures: known.map_or(0, |one| one.n_structures),
            left_out: left_out.get(&fish.row).cloned().unwrap_or_default(),
        }
    };
    gathered.survey.fish.iter().map(row).collect()
}

/// The ages that count; fish whose impressions were given different ages have none.
fn ages_of(gathered: &GatheredSurvey) -> HashMap<&str, u32> {
    let structure = gathered.survey.survey.structure;
    let mut read: HashMap<&str, Vec<&ImpressionReading>> = HashMap::new();
    let own = gathered
        .counted
        .sidecars
        .iter()
        .filter(|sidecar| sidecar.reading.reader.as_str() == gathered.report.facts.reader);
    for reading in own.flat_map(|sidecar| sidecar.reading.confirmed()) {
        if reading.structure == structure {
            read.entry(reading.fish.as_str()).or_default().push(reading);
        }
    }
    read.into_iter().filter_map(|(key, read)| Some((key, age_that_counts(&read)?))).collect()
}

fn add_readings(scan: &ScanReading, readings: &mut Vec<ReadingRow>, marks: &mut Vec<MarkRow>) {
    let calibration = scan.calibration.as_ref();
    for reading in scan.confirmed() {
        readings.push(ReadingRow {
            scan: scan.scan.file.clone(),
            scan_blake3: scan.scan.blake3.clone(),
            reader: scan.reader.to_string(),
            reading: reading.clone(),
            radius_um: calibration
                .and_then(|calibration| Some(reading.total_radius(calibration)?.value())),
            um_per_px: calibration.map(|one| [one.x_um_per_px(), one.y_um_per_px()]),
        });
        let Some(axis) = &reading.axis else { continue };
        let mut numbers = [0_u32; 2];
        for mark in &reading.marks {
            let [annuli, checks] = &mut numbers;
            let number = if mark.kind == MarkKind::Annulus { annuli } else { checks };
            *number += 1;
            let at = axis.point_at(mark.position);
            marks.push(MarkRow {
                fish: reading.fish.clone(),
                scan: scan.scan.file.clone(),
                impression: reading.number,
                reader: scan.reader.to_string(),
                kind: mark.kind.word(),
                number: *number,
                radius_um: calibration.map(|one| axis.micrometres_at(mark.position, one).value()),
                position_px: mark.position.value(),
                at_px: [at.x, at.y],
                origin: mark.origin.word(),
                certainty: mark.certainty.word(),
            });
        }
    }
}
