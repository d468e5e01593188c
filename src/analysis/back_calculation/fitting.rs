//! From a method's name to its coefficients on a sample.

use crate::domain::fish::LengthType;
use crate::domain::units::Millimetres;

use super::BackCalculationError;
use super::age_effect::AgeEffect;
use super::biological_intercept::BiologicalIntercept;
use super::body_proportional::BodyProportional;
use super::direct_proportion::DirectProportion;
use super::formula::Formula;
use super::fraser_lee::FraserLee;
use super::method::{Intercept, InterceptLine, Method, Options, Origin, check_standard_intercept};
use super::modified_fry::{FryCurve, ModifiedFry, fit_fry_curve};
use super::power::Power;
use super::quadratic_forms::{QuadraticBodyProportional, QuadraticScaleProportional};
use super::relation::{Direction, Pairs, Relation};
use super::sample::Measured;
use super::scale_proportional::ScaleProportional;

/// A method ready to use.
pub(crate) struct Fitted {
    pub(crate) formula: Box<dyn Formula>,
    pub(crate) relation: Option<Relation>,
    /// Length at which the formula meets radius 0, where it is one number for the sample, mm.
    pub(crate) intercept_mm: Option<f64>,
    pub(crate) fry_curve: Option<FryCurve>,
}

impl Fitted {
    fn plain(formula: impl Formula + 'static, intercept_mm: Option<f64>) -> Self {
        Self { formula: Box::new(formula), relation: None, intercept_mm, fry_curve: None }
    }

    fn with(
        formula: impl Formula + 'static,
        intercept_mm: Option<f64>,
        relation: Relation,
    ) -> Self {
        Self { relation: Some(relation), ..Self::plain(formula, intercept_mm) }
    }
}

/// Fits what the method needs on the fish that hold together.
pub(crate) fn fit(
    method: &Method,
    measured: &[Measured<'_>],
    length_type: LengthType,
    options: &Options,
) -> Result<Fitted, BackCalculationError> {
    if let Method::FraserLee(Intercept::Standard { species, source, .. }) = method {
        let in_sample: Vec<&str> = measured.iter().map(|fish| fish.fish.species.as_str()).collect();
        check_standard_intercept((species, source), options.structure, length_type, &in_sample)?;
    }
    fit_pairs(method, &Pairs::of(measured), used_radii_um(measured))
}

/// The same on pairs. `used_um`: smallest annulus radius and largest total radius, where the relation is used.
pub(crate) fn fit_pairs(
    method: &Method,
    pairs: &Pairs<'_>,
    used_um: [f64; 2],
) -> Result<Fitted, BackCalculationError> {
    match method {
        Method::DirectProportion => Ok(Fitted::plain(DirectProportion, None)),
        Method::FraserLee(intercept) => fraser_lee(intercept, pairs),
        Method::ScaleProportional => {
            let relation = pairs.line(Direction::RadiusOnLength)?;
            let formula = ScaleProportional {
                intercept_um: relation.intercept,
                slope_um_per_mm: relation.slope,
            };
            let foot_mm = formula.length_at_no_radius_mm();
            Ok(Fitted::with(formula, Some(foot_mm), relation))
        }
        Method::BodyProportional => body_proportional(pairs, used_um),
        Method::PowerScaleProportional => {
            let relation = pairs.log_log(Direction::RadiusOnLength)?;
            Ok(Fitted::with(Power::scale_proportional(relation.slope), None, relation))
        }
        Method::PowerBodyProportional => {
            let relation = pairs.log_log(Direction::LengthOnRadius)?;
            Ok(Fitted::with(Power::body_proportional(relation.slope), None, relation))
        }
        Method::QuadraticScaleProportional => {
            let relation = pairs.quadratic(Direction::RadiusOnLength)?;
            let formula = QuadraticScaleProportional { coefficients: parabola(&relation) };
            Ok(Fitted::with(formula, None, relation))
        }
        Method::QuadraticBodyProportional => quadratic_body_proportional(pairs, used_um),
        Method::BiologicalIntercept(origin) => {
            let (length_mm, radius_um) = checked_origin(*origin, 0.0)?;
            Ok(Fitted::plain(BiologicalIntercept { length_mm, radius_um }, None))
        }
        Method::ModifiedFry { origin, intercept } => modified_fry(*origin, *intercept, pairs),
        Method::AgeEffect => {
            let relation = pairs.with_age()?;
            let formula = AgeEffect {
                constant_um: relation.intercept,
                per_mm: relation.slope,
                per_year: relation.per_year.unwrap_or_default(),
            };
            Ok(Fitted::with(formula, None, relation))
        }
    }
}

fn fraser_lee(intercept: &Intercept, pairs: &Pairs<'_>) -> Result<Fitted, BackCalculationError> {
    let given = |length: &Millimetres| {
        let intercept_mm = length.value();
        if !intercept_mm.is_finite() {
            return Err(BackCalculationError::BadIntercept { found_mm: intercept_mm });
        }
        Ok(Fitted::plain(FraserLee { intercept_mm }, Some(intercept_mm)))
    };
    match intercept {
        Intercept::Fitted(line) => {
            let relation = match line {
                InterceptLine::LeastSquares => pairs.line(Direction::LengthOnRadius)?,
                InterceptLine::GeometricMean => pairs.geometric_mean()?,
            };
            let intercept_mm = relation.intercept;
            Ok(Fitted::with(FraserLee { intercept_mm }, Some(intercept_mm), relation))
        }
        Intercept::Given { length, .. } | Intercept::Standard { length, .. } => given(length),
    }
}

fn body_proportional(
    pairs: &Pairs<'_>,
    radii_um: [f64; 2],
) -> Result<Fitted, BackCalculationError> {
    let relation = pairs.line(Direction::LengthOnRadius)?;
    let formula =
        BodyProportional { intercept_mm: relation.intercept, slope_mm_per_um: relation.slope };
    if formula.expected_mm(radii_um[0]) <= 0.0 {
        return Err(BackCalculationError::NotPositive { radii_um });
    }
    Ok(Fitted::with(formula, Some(relation.intercept), relation))
}

fn quadratic_body_proportional(
    pairs: &Pairs<'_>,
    radii_um: [f64; 2],
) -> Result<Fitted, BackCalculationError> {
    let relation = pairs.quadratic(Direction::LengthOnRadius)?;
    let formula = QuadraticBodyProportional { coefficients: parabola(&relation) };
    if !radii_um.iter().all(|radius_um| formula.rises_at(*radius_um)) {
        return Err(BackCalculationError::NotRising {
            direction: relation.direction.word(),
            radii_um,
        });
    }
    if formula.expected_mm(radii_um[0]) <= 0.0 {
        return Err(BackCalculationError::NotPositive { radii_um });
    }
    Ok(Fitted::with(formula, None, relation))
}

fn modified_fry(
    origin: Origin,
    intercept: Option<Millimetres>,
    pairs: &Pairs<'_>,
) -> Result<Fitted, BackCalculationError> {
    let (length_mm, radius_um) = checked_origin(origin, f64::MIN_POSITIVE)?;
    let curve = match intercept {
        Some(_) => None,
        None => Some(fit_fry_curve(pairs.lengths_mm(), pairs.radii_um(), (length_mm, radius_um))?),
    };
    let intercept_mm = match (intercept, curve) {
        (Some(given), _) => given.value(),
        (None, Some(curve)) => curve.intercept_mm,
        (None, None) => return Err(BackCalculationError::FryFit),
    };
    if !(intercept_mm > 0.0 && intercept_mm < length_mm) {
        return Err(BackCalculationError::FryIntercept {
            found_mm: intercept_mm,
            origin_mm: length_mm,
        });
    }
    let formula = ModifiedFry { length_mm, radius_um, intercept_mm };
    Ok(Fitted { fry_curve: curve, ..Fitted::plain(formula, Some(intercept_mm)) })
}

/// Length and radius of the event as numbers; the radius at least `least_um`.
fn checked_origin(origin: Origin, least_um: f64) -> Result<(f64, f64), BackCalculationError> {
    let (length_mm, radius_um) = (origin.length.value(), origin.radius.value());
    let sound = length_mm.is_finite() && length_mm > 0.0 && radius_um.is_finite();
    if sound && radius_um >= least_um {
        Ok((length_mm, radius_um))
    } else {
        Err(BackCalculationError::BadOrigin { length_mm, radius_um })
    }
}

fn parabola(relation: &Relation) -> [f64; 3] {
    [relation.intercept, relation.slope, relation.quadratic.unwrap_or_default()]
}

/// Smallest annulus radius and largest total radius of the sample, µm: where a relation of length on radius is used.
fn used_radii_um(measured: &[Measured<'_>]) -> [f64; 2] {
    measured.iter().fold([f64::INFINITY, 0.0], |[low, high], fish| {
        let first = fish.mean_ratios.first().map_or(fish.radius_um, |ratio| ratio * fish.radius_um);
        [low.min(first), high.max(fish.radius_um)]
    })
}
