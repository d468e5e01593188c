//! Back-calculation: from annulus radii and length at capture to length at every earlier age.
//!
//! Each method is one formula in a file of its own, with its source. Symbols there: L length at capture, S total
//! radius, S_i radius to the end of annulus i, L_i length at annulus i. Radii are in µm, lengths in mm. All radii of a
//! fish must be measured along one axis from one focus.

mod age_effect;
mod biological_intercept;
mod body_proportional;
mod calculation;
mod comparison;
mod direct_proportion;
mod exclusion;
mod fitting;
mod formula;
mod fraser_lee;
mod lee;
mod method;
mod modified_fry;
mod power;
mod quadratic_forms;
mod readings;
mod relation;
mod sample;
mod scale_proportional;
mod tables;
mod uncertainty;
mod warning;

pub use calculation::{FishLengths, LengthsResult, back_calculate};
pub use comparison::{ComparedAge, LargestDifference, MethodComparison, compare_methods};
pub use exclusion::{Excluded, Flag, Reason};
pub(crate) use fitting::fit_pairs;
pub(crate) use formula::{Annulus, Capture, Formula};
pub use lee::{CAUSES, LeeRow, lee_phenomenon};
pub use method::{Intercept, InterceptLine, Method, Options, Origin};
pub use modified_fry::{FryCurve, fit_fry_curve};
pub(crate) use relation::Pairs;
pub use relation::{Direction, LineLimits, Relation, Shape};
pub(crate) use sample::Measured;
pub use sample::{Radii, SampleFish};
pub use tables::{AgeRow, GrandMeans, GroupRow, LengthTables, length_tables};
pub use uncertainty::{InputErrors, LengthVariance, fraser_lee_variance, mark_error_from_pairs};
pub use warning::Warning;

use crate::analysis::numerics::NumericsError;

/// Why a method cannot be used on a sample at all.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BackCalculationError {
    /// Too few fish to fit the relation.
    #[error(
        "the relation of length and radius needs at least {needed} fish with both, found {found}: add fish, or give an intercept with its source"
    )]
    TooFewFish {
        /// Fish needed.
        needed: usize,
        /// Fish found.
        found: usize,
    },
    /// The relation could not be fitted.
    #[error("the relation of length and radius cannot be fitted: {0}")]
    Fit(NumericsError),
    /// A relation that does not rise where it is used.
    #[error(
        "the fitted relation ({direction}) does not rise over radii {:.0} to {:.0} µm: choose another method or check the radii",
        radii_um[0], radii_um[1]
    )]
    NotRising {
        /// What was predicted from what.
        direction: &'static str,
        /// Radii it is used on.
        radii_um: [f64; 2],
    },
    /// A relation that gives no positive length somewhere it is used.
    #[error(
        "the fitted relation gives lengths of 0 or less within radii {:.0} to {:.0} µm: choose another method or check the radii",
        radii_um[0], radii_um[1]
    )]
    NotPositive {
        /// Radii it is used on.
        radii_um: [f64; 2],
    },
    /// Total, fork or standard lengths in one sample.
    #[error("the sample mixes {first} and {second} lengths: analyse one length type at a time")]
    MixedLengthTypes {
        /// One type.
        first: &'static str,
        /// Another.
        second: &'static str,
    },
    /// An intercept that is not a number.
    #[error("intercept is {found_mm}: give a number of millimetres")]
    BadIntercept {
        /// Intercept found.
        found_mm: f64,
    },
    /// A biological intercept that cannot be.
    #[error(
        "origin is {length_mm} mm at {radius_um} µm: the length must be above 0, the radius not below 0 (above 0 for modified-fry)"
    )]
    BadOrigin {
        /// Length found.
        length_mm: f64,
        /// Radius found.
        radius_um: f64,
    },
    /// A standard intercept on another structure.
    #[error(
        "standard intercepts are published for scales, and this sample is read from {found}: use a fitted or biological intercept"
    )]
    StandardInterceptNeedsScales {
        /// Structure of the sample.
        found: &'static str,
    },
    /// A standard intercept with another length type.
    #[error(
        "standard intercepts are published for total length, and this sample holds {found} lengths: convert them or use a fitted intercept"
    )]
    StandardInterceptNeedsTotalLength {
        /// Length type of the sample.
        found: &'static str,
    },
    /// A standard intercept nobody has looked up.
    #[error("a standard intercept needs its source: enter publication and page")]
    StandardInterceptNeedsSource,
    /// A standard intercept of another species.
    #[error(
        "the standard intercept is for {species}, the sample holds {found}: analyse one species at a time"
    )]
    StandardInterceptForOtherSpecies {
        /// Species of the intercept.
        species: String,
        /// Species found.
        found: String,
    },
    /// The curve through the origin could not be fitted.
    #[error("the curve of modified-fry cannot be fitted to this sample: choose another method")]
    FryFit,
    /// A fitted or given start outside its bounds.
    #[error(
        "the start of the modified-fry curve is {found_mm:.2} mm and must lie between 0 and the length at origin, {origin_mm} mm: choose another method"
    )]
    FryIntercept {
        /// Start found.
        found_mm: f64,
        /// Length at origin.
        origin_mm: f64,
    },
}
