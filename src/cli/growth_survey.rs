//! What `growth` does with a survey besides fitting: weights by an age-length key, errors carried to the curve, units.

use super::flags::{GrowthFlags, UnitFlag};
use super::{Failure, output};
use crate::analysis::growth::{Curve, FitSettings};
use crate::analysis::population::weighted_lengths::WeightedAge;
use crate::analysis::uncertainty::{
    CurveRows, CurveWanted, Propagated, Scope, Settings, propagate,
};
use crate::domain::length_at_age::{LengthAtAge, LengthAtAgeTable};
use crate::domain::reading::ReaderInitials;
use crate::domain::reference::LengthBasis;
use crate::domain::survey::LengthUnit;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;
use crate::workbench::survey_growth::{LengthsWanted, SurveyLengths};
use crate::workbench::survey_key_weights::KeyWeights;
use crate::workbench::survey_uncertainty::{StatedErrors, error_inputs, uncertain_fish};

/// Weights the rows by the age-length key where asked for, or warns where that would be due.
pub(super) fn weigh(
    flags: &GrowthFlags,
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    reader: &ReaderInitials,
    lengths: &SurveyLengths<'_>,
    table: &mut LengthAtAgeTable,
    notes: &mut Vec<String>,
) -> Result<Option<Vec<WeightedAge>>, Failure> {
    let weights = KeyWeights::of(survey, readings, reader, &lengths.species, flags.width);
    if !flags.weight_by_key {
        notes.extend(weights.ok().and_then(|weights| weights.warning()));
        return Ok(None);
    }
    let weights = weights.map_err(Failure::data)?;
    let by_row = |row: &LengthAtAge| row.fish.as_deref().and_then(|fish| weights.weight(fish));
    let before = table.rows.len();
    table.rows.retain(|row| by_row(row).is_some());
    if table.rows.len() < before {
        notes.push(format!(
            "{} aged fish are no part of the age-length key and are left out",
            before - table.rows.len()
        ));
    }
    // Weights of mean 1 keep the residual standard deviation that of one fish.
    let sum: f64 = table.rows.iter().filter_map(by_row).sum();
    let scale = table.rows.len() as f64 / sum;
    for row in &mut table.rows {
        row.weight = scale * by_row(row).unwrap_or(1.0);
    }
    notes.push(format!(
        "aged fish are weighted by the age-length key: {} aged stand for {} measured; use --bootstrap for limits",
        weights.n_aged, weights.n_measured
    ));
    Ok(Some(weights.means(lengths)))
}

/// Every known error carried to the curve, where asked for.
pub(super) fn carried(
    flags: &GrowthFlags,
    wanted: &LengthsWanted,
    settings: &FitSettings,
    stated: &StatedErrors,
    (survey, readings, reader): (&OpenSurvey, &SurveyReadings, &ReaderInitials),
    lengths: &SurveyLengths<'_>,
    table: &LengthAtAgeTable,
) -> Result<Option<Propagated>, Failure> {
    let Some(count) = flags.errors.uncertainty else { return Ok(None) };
    if flags.weight_by_key || flags.unit != UnitFlag::Mm {
        let words =
            "--uncertainty works in millimetres and without --weight-by-key: ask for one at a time";
        return Err(Failure::usage(words));
    }
    let rows = match lengths.basis {
        LengthBasis::Capture => CurveRows::AtCapture,
        LengthBasis::Annulus => CurveRows::LastAnnulus,
    };
    let ages = || table.rows.iter().map(|row| row.age);
    let (youngest, oldest) = (ages().fold(f64::INFINITY, f64::min), ages().fold(0.0, f64::max));
    let curve = Curve::from_word(&flags.curve, youngest, oldest).map(|curve| CurveWanted {
        curve,
        settings: settings.clone(),
        rows,
    });
    let fish = uncertain_fish(survey, readings, reader, &lengths.sample);
    let errors = error_inputs(survey, readings, reader, stated);
    let how = Settings { replicates: count as usize, seed: flags.seed, scope: Scope::Population };
    output::with_progress("carrying errors", |watch| {
        propagate(&fish, &wanted.method, &errors, curve.as_ref(), how, watch)
    })
    .map(Some)
    .map_err(|error| Failure::data(error.to_string()))
}

pub(super) const fn unit_word(unit: UnitFlag) -> &'static str {
    match unit {
        UnitFlag::Mm => LengthUnit::Millimetre.word(),
        UnitFlag::Cm => LengthUnit::Centimetre.word(),
        UnitFlag::In => LengthUnit::Inch.word(),
    }
}

pub(super) fn scale_to(unit: UnitFlag, table: &mut LengthAtAgeTable) {
    let mm = match unit {
        UnitFlag::Mm => return,
        UnitFlag::Cm => LengthUnit::Centimetre.millimetres_from(1.0),
        UnitFlag::In => LengthUnit::Inch.millimetres_from(1.0),
    };
    table.rows.iter_mut().for_each(|row| row.length /= mm.value());
}
