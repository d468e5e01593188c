//! The whole of a back-calculation: check, fit, calculate, tabulate.

use crate::analysis::numerics::standard_deviation;
use crate::domain::age::year_class;
use crate::domain::fish::LengthType;

use super::BackCalculationError;
use super::exclusion::{Excluded, Flag, Reason};
use super::fitting::{Fitted, fit};
use super::formula::{Annulus, Capture};
use super::lee::{LeeRow, lee_phenomenon};
use super::method::{Method, Options};
use super::modified_fry::FryCurve;
use super::relation::Relation;
use super::sample::{Measured, SampleFish};
use super::tables::{LengthTables, length_tables};
use super::warning::{Warning, warnings};

/// The lengths of one fish.
#[derive(Debug, Clone, PartialEq)]
pub struct FishLengths {
    /// The fish's key.
    pub key: String,
    /// Line of the file it came from, where there is one.
    pub row: Option<usize>,
    /// Length at each annulus, mm; the number of them is the age at capture.
    pub lengths_mm: Vec<f64>,
    /// Length at capture, mm.
    pub length_at_capture_mm: f64,
    /// Total radius, µm; the mean over several structures.
    pub radius_at_capture_um: f64,
    /// The last length is the length at capture, since the edge is counted.
    pub edge_counted: bool,
    /// Structures read.
    pub n_structures: usize,
    /// Standard deviation over the structures of the length at each annulus, mm; `None` for one structure. An
    /// edge-counted length has 0.
    pub between_structures_sd_mm: Option<Vec<f64>>,
    /// Year class, as known or from date and age.
    pub year_class: Option<i16>,
    /// What a reader should know.
    pub flags: Vec<Flag>,
}

impl FishLengths {
    /// Age at capture, years.
    pub fn age(&self) -> usize {
        self.lengths_mm.len()
    }
}

/// All that comes of back-calculating a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthsResult {
    /// The method used.
    pub method: Method,
    /// Length at which the formula meets radius 0, mm, where the method has one: a for Fraser-Lee and modified Fry,
    /// -a/b for the scale-proportional line, c for the body-proportional one.
    pub intercept_mm: Option<f64>,
    /// The relation fitted; `None` where the method needs none.
    pub relation: Option<Relation>,
    /// The curve fitted for modified Fry.
    pub fry_curve: Option<FryCurve>,
    /// Fish with lengths, in the order of the sample.
    pub fish: Vec<FishLengths>,
    /// Tables over them.
    pub tables: LengthTables,
    /// Lee's phenomenon, annulus by annulus.
    pub lee: Vec<LeeRow>,
    /// Fish left out, each with its reason.
    pub excluded: Vec<Excluded>,
    /// Remarks on the whole.
    pub warnings: Vec<Warning>,
}

/// Back-calculates a sample.
///
/// Fish whose radii do not hold together are left out of lengths and relation alike; fish of age 0 stay in the
/// relation. Nothing is rounded.
///
/// # Errors
/// [`BackCalculationError`] where the method cannot be used on the sample at all; faults of single fish are listed
/// in [`LengthsResult::excluded`].
pub fn back_calculate(
    sample: &[SampleFish],
    method: Method,
    options: &Options,
) -> Result<LengthsResult, BackCalculationError> {
    let length_type = one_length_type(sample)?;
    let mut left_out: Vec<(usize, Reason)> = Vec::new();
    let mut places = Vec::new();
    let mut measured = Vec::new();
    for (place, fish) in sample.iter().enumerate() {
        match Measured::check(fish) {
            Ok(sound) => {
                places.push(place);
                measured.push(sound);
            }
            Err(reason) => left_out.push((place, reason)),
        }
    }
    let fitted = fit(&method, &measured, length_type, options)?;
    let mut fish = Vec::new();
    for (place, sound) in places.into_iter().zip(&measured) {
        match fish_lengths(&fitted, sound, options) {
            Ok(lengths) => fish.push(lengths),
            Err(reason) => left_out.push((place, reason)),
        }
    }
    left_out.sort_by_key(|(place, _)| *place);
    let excluded = left_out.into_iter().filter_map(|(place, reason)| {
        let fish = sample.get(place)?;
        Some(Excluded { fish: fish.key.clone(), row: fish.row, reason })
    });
    let mut result = LengthsResult {
        method,
        intercept_mm: fitted.intercept_mm,
        relation: fitted.relation,
        fry_curve: fitted.fry_curve,
        tables: length_tables(&fish),
        lee: lee_phenomenon(&fish),
        fish,
        excluded: excluded.collect(),
        warnings: Vec::new(),
    };
    result.warnings = warnings(&result, species_of(sample));
    Ok(result)
}

fn one_length_type(sample: &[SampleFish]) -> Result<LengthType, BackCalculationError> {
    let first = sample.first().map_or(LengthType::Total, |fish| fish.length_type);
    match sample.iter().find(|fish| fish.length_type != first) {
        Some(other) => Err(BackCalculationError::MixedLengthTypes {
            first: first.word(),
            second: other.length_type.word(),
        }),
        None => Ok(first),
    }
}

fn species_of(sample: &[SampleFish]) -> Vec<String> {
    let mut species: Vec<String> = Vec::new();
    for one in sample.iter().map(|fish| fish.species.trim()).filter(|one| !one.is_empty()) {
        if !species.iter().any(|known| known.eq_ignore_ascii_case(one)) {
            species.push(one.to_owned());
        }
    }
    species
}

fn fish_lengths(
    fitted: &Fitted,
    measured: &Measured<'_>,
    options: &Options,
) -> Result<FishLengths, Reason> {
    let fish = measured.fish;
    let capture = Capture {
        length_mm: measured.length_mm,
        radius_um: measured.radius_um,
        age: measured.age(),
    };
    fitted.formula.admit(&capture)?;
    let mut lengths_mm = lengths_at(fitted, &capture, &measured.mean_ratios)?;
    let mut flags = flags(fitted, &capture, measured, &lengths_mm, options);
    let mut between = match measured.ratios.as_slice() {
        [] | [_] => None,
        several => Some(between_structures(fitted, &capture, several)?),
    };
    if fish.edge_counted {
        lengths_mm.push(measured.length_mm);
        flags.push(Flag::EdgeCounted);
        between = between.map(|mut sds| {
            sds.push(0.0);
            sds
        });
    }
    let by_age = year_class_by_age(fish, measured.age(), options);
    if let (Some(entered), Some(by_age)) = (fish.year_class, by_age)
        && entered != by_age
    {
        flags.push(Flag::YearClassDisagrees { entered, by_age });
    }
    Ok(FishLengths {
        key: fish.key.clone(),
        row: fish.row,
        lengths_mm,
        length_at_capture_mm: measured.length_mm,
        radius_at_capture_um: measured.radius_um,
        edge_counted: fish.edge_counted,
        n_structures: measured.ratios.len(),
        between_structures_sd_mm: between,
        year_class: fish.year_class.or(by_age),
        flags,
    })
}

fn year_class_by_age(fish: &SampleFish, age: usize, options: &Options) -> Option<i16> {
    year_class(u32::try_from(age).ok()?, fish.capture_date?, options.birthday)
}

fn lengths_at(fitted: &Fitted, capture: &Capture, ratios: &[f64]) -> Result<Vec<f64>, Reason> {
    ratios
        .iter()
        .enumerate()
        .map(|(index, ratio)| {
            let annulus = Annulus { number: index + 1, ratio: *ratio };
            // An annulus on the edge has the length at capture exactly, by every method.
            if annulus.ratio == 1.0 {
                return Ok(capture.length_mm);
            }
            let length_mm = fitted.formula.length_mm(capture, annulus)?;
            if length_mm.is_finite() {
                Ok(length_mm)
            } else {
                Err(Reason::NoNumber { annulus: annulus.number })
            }
        })
        .collect()
}

fn between_structures(
    fitted: &Fitted,
    capture: &Capture,
    ratios: &[Vec<f64>],
) -> Result<Vec<f64>, Reason> {
    let each: Vec<Vec<f64>> =
        ratios.iter().map(|one| lengths_at(fitted, capture, one)).collect::<Result<_, Reason>>()?;
    let annuli = each.first().map_or(0, Vec::len);
    Ok((0..annuli)
        .filter_map(|index| {
            let column: Vec<f64> = each.iter().filter_map(|one| one.get(index).copied()).collect();
            standard_deviation(&column)
        })
        .collect())
}

fn flags(
    fitted: &Fitted,
    capture: &Capture,
    measured: &Measured<'_>,
    lengths_mm: &[f64],
    options: &Options,
) -> Vec<Flag> {
    let mut found = Vec::new();
    for (index, (ratio, length_mm)) in measured.mean_ratios.iter().zip(lengths_mm).enumerate() {
        let annulus = index + 1;
        if fitted.formula.extrapolates(capture, Annulus { number: annulus, ratio: *ratio }) {
            found.push(Flag::InsideOrigin { annulus });
        }
        if *length_mm <= 0.0 {
            found.push(Flag::LengthNotPositive { annulus });
        } else if options.hatching_length.is_some_and(|hatching| *length_mm < hatching.value()) {
            found.push(Flag::BelowHatchingLength { annulus });
        }
    }
    found
}
