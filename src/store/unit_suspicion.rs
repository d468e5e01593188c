//! Lengths and weights that look as if they were written in another unit than stated. These are warnings: the person decides.
//!
//! Limits are common practice, no source: few fish that are aged measure less than 60 mm or more than 2 m.

use std::collections::BTreeMap;

use crate::domain::fish::Fish;
use crate::domain::survey::{LengthUnit, WeightUnit};
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
/// A sample whose median condition factor is outside these is suspected as a whole: eels lie near 0.2, deep sunfish near 2.5.
const USUAL_CONDITION: std::ops::RangeInclusive<f64> = 0.08..=8.0;
/// A fish this many times lighter or heavier for its length than the median is looked at.
const FAR_CONDITION: f64 = 20.0;

/// A number, or the numbers of a whole sample, that fit another unit better than the one stated.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspicion {
    /// Row of the one fish; `None`: a whole sample.
    pub row: Option<usize>,
    /// The column of the field sheet that names the unit it fits, such as `length_in`.
    pub fits: &'static str,
    /// What a number in that unit is multiplied with to be in the one stated.
    pub to_stated: f64,
    /// What was expected, what was found, what to do.
    pub message: String,
}

/// Warnings about lengths of `fish`, written in `stated` under `heading`, that fit another unit better.
pub(super) fn suspected_units(
    fish: &[Fish],
    stated: LengthUnit,
    file: &str,
    heading: &str,
) -> Vec<Problem> {
    as_problems(suspected_lengths(fish, stated), file, heading)
}

/// Warnings about weights of `fish`, written in `stated` under `heading`, that fit another unit better.
pub(super) fn suspected_weight_units(
    fish: &[Fish],
    stated: WeightUnit,
    file: &str,
    heading: &str,
) -> Vec<Problem> {
    as_problems(suspected_weights(fish, stated), file, heading)
}

fn as_problems(found: Vec<Suspicion>, file: &str, heading: &str) -> Vec<Problem> {
    let problem = |one: Suspicion| {
        let problem = Problem::warning(file, one.message).in_column(heading);
        match one.row {
            Some(row) => problem.at_row(row),
            None => problem,
        }
    };
    found.into_iter().map(problem).collect()
}

/// Lengths of `fish`, written in `stated`, that fit another unit better.
pub fn suspected_lengths(fish: &[Fish], stated: LengthUnit) -> Vec<Suspicion> {
    let mut by_species: BTreeMap<String, Vec<(f64, &Fish)>> = BTreeMap::new();
    for fish in fish {
        if let Some(length) = fish.length {
            by_species.entry(fish.species.to_lowercase()).or_default().push((length.0, fish));
        }
    }
    let mut found = Vec::new();
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
            found.push(suspicion(None, other, stated, message));
        } else {
            found.extend(outliers(&lengths, median_mm, stated));
        }
    }
    found
}

fn suspicion(
    row: Option<usize>,
    fits: LengthUnit,
    stated: LengthUnit,
    message: String,
) -> Suspicion {
    Suspicion { row, fits: heading_for(fits), to_stated: factor(fits) / factor(stated), message }
}

fn outliers(lengths: &[(f64, &Fish)], median_mm: f64, stated: LengthUnit) -> Vec<Suspicion> {
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
            Some(suspicion(Some(fish.row), other, stated, message))
        })
        .collect()
}

/// Weights of `fish`, written in `stated`, that fit another unit better by the lengths of the fish: by the condition
/// factor 100 000 W/L³ in g and mm, which is near 1 for most fish (Fulton's factor, from memory). Where lengths are in
/// doubt themselves nothing is said.
pub fn suspected_weights(fish: &[Fish], stated: WeightUnit) -> Vec<Suspicion> {
    let mut by_species: BTreeMap<String, Vec<(f64, &Fish)>> = BTreeMap::new();
    for fish in fish {
        if let (Some(length), Some(weight_g)) = (fish.length, fish.weight_g) {
            let factor = 1e5 * weight_g / length.0.powi(3);
            by_species.entry(fish.species.to_lowercase()).or_default().push((factor, fish));
        }
    }
    let mut found = Vec::new();
    for factors in by_species.into_values().filter(|factors| factors.len() >= MIN_FISH) {
        let usual = median(factors.iter().map(|(factor, _)| *factor));
        let median_mm =
            median(factors.iter().filter_map(|(_, fish)| fish.length).map(|length| length.0));
        if !USUAL_MEDIAN_MM.contains(&median_mm) {
            continue;
        }
        if !USUAL_CONDITION.contains(&usual) {
            let other = weights_but(stated)
                .map(|unit| (unit, usual / grams(stated) * grams(unit)))
                .filter(|(_, factor)| USUAL_CONDITION.contains(factor))
                .min_by(|a, b| distance(a.1, 1.2).total_cmp(&distance(b.1, 1.2)));
            let species = factors.first().map_or("", |(_, fish)| fish.species.as_str());
            found.extend(other.map(|(unit, _)| weight_suspicion(None, unit, stated, format!(
                "expected weights in {}, found {} fish of '{species}' whose weights for their lengths fit {}: set the unit in \
                 survey.json or name the column {}",
                weight_name(stated), factors.len(), weight_name(unit), weight_heading(unit)
            ))));
        } else {
            found.extend(weight_outliers(&factors, usual, stated));
        }
    }
    found
}

fn weight_outliers(factors: &[(f64, &Fish)], usual: f64, stated: WeightUnit) -> Vec<Suspicion> {
    let far: Vec<_> = factors
        .iter()
        .filter(|(factor, _)| {
            factor / usual < 1.0 / FAR_CONDITION || factor / usual > FAR_CONDITION
        })
        .collect();
    if far.len() as f64 > MAX_SHARE * factors.len() as f64 {
        return Vec::new();
    }
    let of = |(factor, fish): &(f64, &Fish)| {
        let other = weights_but(stated)
            .map(|unit| (unit, distance(factor / grams(stated) * grams(unit), usual)))
            .filter(|(_, distance)| *distance <= CLOSE.ln())
            .min_by(|a, b| a.1.total_cmp(&b.1))?
            .0;
        let message = format!(
            "expected a weight in {}, found {}, which fits the length of this fish in {}: weigh or type it again",
            weight_name(stated),
            fish.weight_g? / grams(stated),
            weight_name(other)
        );
        Some(weight_suspicion(Some(fish.row), other, stated, message))
    };
    far.into_iter().filter_map(of).collect()
}

fn weight_suspicion(
    row: Option<usize>,
    fits: WeightUnit,
    stated: WeightUnit,
    message: String,
) -> Suspicion {
    Suspicion { row, fits: weight_heading(fits), to_stated: grams(fits) / grams(stated), message }
}

fn weights_but(stated: WeightUnit) -> impl Iterator<Item = WeightUnit> {
    [WeightUnit::Gram, WeightUnit::Kilogram, WeightUnit::Pound]
        .into_iter()
        .filter(move |unit| *unit != stated)
}

fn grams(unit: WeightUnit) -> f64 {
    unit.grams_from(1.0)
}

fn weight_name(unit: WeightUnit) -> &'static str {
    match unit {
        WeightUnit::Gram => "grams",
        WeightUnit::Kilogram => "kilograms",
        WeightUnit::Pound => "pounds",
    }
}

fn weight_heading(unit: WeightUnit) -> &'static str {
    match unit {
        WeightUnit::Gram => "weight_g",
        WeightUnit::Kilogram => "weight_kg",
        WeightUnit::Pound => "weight_lb",
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn perch(row: usize, mm: f64, g: f64) -> Fish {
        Fish {
            species: "yellow perch".to_owned(),
            length: Some(Millimetres(mm)),
            weight_g: Some(g),
            row,
            ..Fish::named(&row.to_string())
        }
    }

    /// Fish of condition factor 1.2 (within what is usual for perch; common practice, no source).
    fn weights(factor: f64) -> Vec<Fish> {
        (2..20)
            .map(|row| {
                let mm = 150.0 + 5.0 * row as f64;
                perch(row, mm, factor * 1.2e-5 * mm.powi(3))
            })
            .collect()
    }

    #[test]
    fn pounds_and_kilograms_among_grams_are_seen_by_the_lengths() {
        // A pound is 453.59237 g by definition.
        assert_eq!(suspected_weights(&weights(1.0), WeightUnit::Gram), []);
        let whole = suspected_weights(&weights(1.0 / 453.592_37), WeightUnit::Gram);
        assert_eq!((whole.len(), whole[0].row, whole[0].fits), (1, None, "weight_lb"));
        assert!((whole[0].to_stated - 453.592_37).abs() < 1e-9);
        let kilograms = suspected_weights(&weights(1.0 / 1000.0), WeightUnit::Gram);
        assert_eq!(kilograms[0].fits, "weight_kg");
        let mut one = weights(1.0);
        one[3].weight_g = one[3].weight_g.map(|g| g / 453.592_37);
        let found = suspected_weights(&one, WeightUnit::Gram);
        assert_eq!((found.len(), found[0].row, found[0].fits), (1, Some(5), "weight_lb"));
    }

    #[test]
    fn inches_among_millimetres_are_seen_and_say_how_to_turn_them() {
        let mut fish = weights(1.0);
        fish[2].length = fish[2].length.map(|mm| Millimetres(mm.0 / 25.4));
        let found = suspected_lengths(&fish, LengthUnit::Millimetre);
        assert_eq!((found.len(), found[0].row, found[0].fits), (1, Some(4), "length_in"));
        assert!((found[0].to_stated - 25.4).abs() < 1e-12);
    }
}
