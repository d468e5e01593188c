//! From flags to a method of back-calculation and to the errors that are known.

use super::Failure;
use super::flags::{ErrorFlags, MethodFlags, RegressionFlag};
use crate::analysis::back_calculation::{Intercept, InterceptLine, Method, Origin};
use crate::domain::units::{Micrometres, Millimetres};
use crate::workbench::survey_uncertainty::StatedErrors;

/// The method asked for.
pub(super) fn method_of(flags: &MethodFlags) -> Result<Method, Failure> {
    let line = match flags.regression {
        Some(RegressionFlag::Gm) => InterceptLine::GeometricMean,
        _ => InterceptLine::LeastSquares,
    };
    let method = match flags.method.as_str() {
        "direct-proportion" => Method::DirectProportion,
        "fraser-lee" => Method::FraserLee(match flags.intercept {
            Some(mm) if mm.is_finite() => Intercept::Given {
                length: Millimetres(mm),
                source: flags
                    .intercept_source
                    .clone()
                    .unwrap_or_else(|| "given without a source".into()),
            },
            Some(_) => return Err(Failure::usage("--intercept needs a number of millimetres")),
            None => Intercept::Fitted(line),
        }),
        "scale-proportional" => Method::ScaleProportional,
        "body-proportional" => Method::BodyProportional,
        "power-scale-proportional" => Method::PowerScaleProportional,
        "power-body-proportional" => Method::PowerBodyProportional,
        "quadratic-scale-proportional" => Method::QuadraticScaleProportional,
        "quadratic-body-proportional" => Method::QuadraticBodyProportional,
        "biological-intercept" => Method::BiologicalIntercept(origin_of(flags)?),
        "modified-fry" => Method::ModifiedFry { origin: origin_of(flags)?, intercept: None },
        other => {
            return Err(Failure::usage(format!(
                "--method '{other}' is not known: use one of {}",
                METHODS.join(", ")
            )));
        }
    };
    if flags.method != "fraser-lee" && (flags.intercept.is_some() || flags.regression.is_some()) {
        return Err(Failure::usage("--intercept and --regression belong to --method fraser-lee"));
    }
    Ok(method)
}

const METHODS: [&str; 10] = [
    "direct-proportion",
    "fraser-lee",
    "scale-proportional",
    "body-proportional",
    "power-scale-proportional",
    "power-body-proportional",
    "quadratic-scale-proportional",
    "quadratic-body-proportional",
    "biological-intercept",
    "modified-fry",
];

fn origin_of(flags: &MethodFlags) -> Result<Origin, Failure> {
    match (flags.origin_length, flags.origin_radius) {
        (Some(mm), Some(um)) if mm.is_finite() && um.is_finite() => {
            Ok(Origin { length: Millimetres(mm), radius: Micrometres(um) })
        }
        _ => Err(Failure::usage(format!(
            "--method {} needs --origin-length MM and --origin-radius UM",
            flags.method
        ))),
    }
}

/// The errors a person has stated.
pub(super) fn stated_errors(flags: &ErrorFlags) -> Result<StatedErrors, Failure> {
    let checked = |name: &str, value: Option<f64>| match value {
        Some(sd) if !(sd.is_finite() && sd > 0.0) => {
            Err(Failure::usage(format!("{name} is {sd}: give a number above 0, or leave it out")))
        }
        value => Ok(value),
    };
    Ok(StatedErrors {
        mark_um: checked("--mark-error", flags.mark_error)?,
        focus_um: checked("--focus-error", flags.focus_error)?,
        length_mm: checked("--length-error", flags.length_error)?,
        calibration: checked("--calibration-error", flags.calibration_error)?
            .map(|percent| percent / 100.0),
        intercept_mm: checked("--intercept-error", flags.intercept_error)?,
    })
}
