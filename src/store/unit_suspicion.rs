//! Lengths that look as if they were written in another unit than stated. These are warnings: the person decides.
//!
//! Limits are common practice, no source: few fish that are aged measure less than 60 mm or more than 2 m.

use std::collections::BTreeMap;

use crate::domain::fish::Fish;
use crate::domain::survey::LengthUnit;
use crate::domain::units::Millimetres;

use super::problem::Problem;

/// Fewer fish than this say nothing about their unit.
const MIN_FISH: usize = 5;
/// A sample whose median is outside these, in millimetres, is suspected as a whole.
const USUAL_MEDIAN_MM: std::ops::RangeInclusive<f64> = 60.0..=1800.0;
/// A fish this many times shorter or longer than the median of its species is looked at.
const FAR: f64 = 6.0;
/// In another unit it must come within this factor of the median.
const CLOSE: f64 = 2.5;
/// More than this share of far fish is a group of its own, such as young of the year.
const MAX_SHARE: f64 = 0.1;

/// Warnings about lengths of `fish`, written in `stated` under `heading`, that fit another unit better.
pub(super) fn suspected_units(
    fish: &[Fish],
    stated: LengthUnit,
    file: &str,
    heading: &str,
) -> Vec<Problem> {
    let mut by_species: BTreeMap<String, Vec<(f64, &Fish)>> = BTreeMap::new();
    for fish in fish {
        if let Some(length) = fish.length {
            by_species.entry(fish.species.to_lowercase()).or_default().push((length.0, fish));
        }
    }
    let mut problems = Vec::new();
    for lengths in by_species.into_values().filter(|lengths| lengths.len() >= MIN_FISH) {
        let median_mm = median(lengths.iter().map(|(mm, _)| *mm));
        if let Some(other) = unit_for_sample(median_mm, stated) {
            let species = lengths.first().map_or("", |(_, fish)| fish.species.as_str());
            let message = format!(
                "expected lengths in {}, found a median of {:.1} over {} fish of '{species}', which fits {}: set the unit in \
                 survey.json or name the column {}",
                name(stated),
                median_mm / factor(stated),
                lengths.len(),
                name(other),
                heading_for(other)
            );
            problems.push(Problem::warning(file, message).in_column(heading));
        } else {
            problems.extend(outliers(&lengths, median_mm, stated, file, heading));
        }
    }
    problems
}

fn outliers(
    lengths: &[(f64, &Fish)],
    median_mm: f64,
    stated: LengthUnit,
    file: &str,
    heading: &str,
) -> Vec<Problem> {
    let far: Vec<_> = lengths
        .iter()
        .filter(|(mm, _)| mm / median_mm < 1.0 / FAR || mm / median_mm > FAR)
        .collect();
    if far.len() as f64 > MAX_SHARE * lengths.len() as f64 {
        return Vec::new();
    }
    far.into_iter()
        .filter_map(|(mm, fish)| {
            let other = best_unit(*mm, median_mm, stated)?;
            let message = format!(
                "expected a length in {}, found {}, which fits the other fish in {}: measure or type it again",
                name(stated),
                mm / factor(stated),
                name(other)
            );
            Some(Problem::warning(file, message).at_row(fish.row).in_column(heading))
        })
        .collect()
}

/// The other unit that brings a whole sample nearest to the usual lengths of fish.
fn unit_for_sample(median_mm: f64, stated: LengthUnit) -> Option<LengthUnit> {
    if USUAL_MEDIAN_MM.contains(&median_mm) {
        return None;
    }
    // 250 mm, 9.8 in: the middle of what is aged.
    others(stated)
        .map(|unit| (unit, median_mm / factor(stated) * factor(unit)))
        .filter(|(_, mm)| USUAL_MEDIAN_MM.contains(mm))
        .min_by(|a, b| distance(a.1, 250.0).total_cmp(&distance(b.1, 250.0)))
        .map(|(unit, _)| unit)
}

fn best_unit(mm: f64, median_mm: f64, stated: LengthUnit) -> Option<LengthUnit> {
    others(stated)
        .map(|unit| (unit, distance(mm / factor(stated) * factor(unit), median_mm)))
        .filter(|(_, distance)| *distance <= CLOSE.ln())
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(unit, _)| unit)
}

fn others(stated: LengthUnit) -> impl Iterator<Item = LengthUnit> {
    [LengthUnit::Millimetre, LengthUnit::Centimetre, LengthUnit::Inch]
        .into_iter()
        .filter(move |unit| *unit != stated)
}

/// How many times apart two lengths are, as a logarithm.
fn distance(a: f64, b: f64) -> f64 {
    (a / b).ln().abs()
}

fn factor(unit: LengthUnit) -> f64 {
    let Millimetres(mm) = unit.millimetres_from(1.0);
    mm
}

fn name(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Millimetre => "millimetres",
        LengthUnit::Centimetre => "centimetres",
        LengthUnit::Inch => "inches",
    }
}

fn heading_for(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Millimetre => "length_mm",
        LengthUnit::Centimetre => "length_cm",
        LengthUnit::Inch => "length_in",
    }
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
