//! Growth curves: fits with safeguards, their uncertainty, and comparison of groups.

mod bands;
mod cells;
pub mod conversions;
mod curve;
mod fit;
#[cfg(test)]
mod fit_tests;
pub mod ford_walford;
mod groups;
mod guards;
mod influence;
mod objective;
mod profile;
mod refit;
mod resample;
mod selection;
mod separable;
mod sigmoid;
mod starts;
mod study;
mod von_bertalanffy;
mod warning;

pub use bands::{Band, predict};
pub use cells::{ErrorModel, Observation};
pub use curve::{Curve, MAX_PARAMETERS, Row};
pub use fit::{Fit, FitSettings, Parameter, fit};
pub use groups::{Comparison, GroupComparison, compare_groups};
pub use influence::{Support, supports};
pub use profile::profile_interval;
pub use refit::Refit;
pub use resample::{Bootstrap, BootstrapParameter, bootstrap};
pub use selection::{Ranked, rank_curves};
pub use study::{
    BootstrapSettings, FittedGrowth, GroupGrowth, GrowthStudy, observations_of, study_growth,
};
pub use warning::Warning;

/// Why no curve can be fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GrowthError {
    /// A row that is no length at age.
    #[error("row {position} of the lengths at age: {what} is {found}, but must be a number {}", wanted(.what))]
    BadObservation {
        /// Position among the rows, from 1.
        position: usize,
        /// Which value.
        what: &'static str,
        /// The value.
        found: f64,
    },
    /// Too few ages for the number of parameters.
    #[error(
        "{found} distinct ages in {rows} rows cannot settle {parameters} parameters: add ages or fix a parameter"
    )]
    TooFewAges {
        /// Distinct ages.
        found: usize,
        /// Rows.
        rows: usize,
        /// Free parameters.
        parameters: usize,
    },
    /// A name the curve does not have.
    #[error("{curve} has no parameter '{name}': use one of {known}")]
    UnknownParameter {
        /// The name as given.
        name: String,
        /// The curve.
        curve: &'static str,
        /// The names it has.
        known: String,
    },
    /// A fixed value that no curve can have.
    #[error(
        "parameter {name} cannot be fixed at {found}: give a finite number, above 0 for lengths and rates"
    )]
    BadFixedValue {
        /// The parameter.
        name: String,
        /// The value.
        found: f64,
    },
    /// Nothing left to fit.
    #[error("every parameter of {curve} is fixed: leave at least one free")]
    NothingFree {
        /// The curve.
        curve: &'static str,
    },
    /// The two ages of the Francis form.
    #[error(
        "the ages of the Francis form must rise, found {young} and {old}: choose two different ages"
    )]
    BadFrancisAges {
        /// Young age.
        young: f64,
        /// Old age.
        old: f64,
    },
    /// No start led anywhere.
    #[error("no start of {curve} gives lengths at every age: try another curve or additive error")]
    NoStart {
        /// The curve.
        curve: &'static str,
    },
    /// A comparison of fewer than two groups.
    #[error("found {found} group to compare: two or more are needed")]
    OneGroup {
        /// Groups found.
        found: usize,
    },
}

fn wanted(what: &str) -> &'static str {
    if what == "age" { "of 0 or more" } else { "above 0" }
}
