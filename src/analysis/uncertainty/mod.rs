//! How sure lengths at age and growth parameters are, by simulation of every known error (JCGM 101:2008), and how much
//! each source contributes.
//!
//! Errors of single fish (marks, focus, length at capture) are already part of the scatter among fish. So the limits draw
//! fish with replacement, the relation of length and radius from the same fish, and what all fish share (calibration, a
//! given intercept, the reader); the table of sources switches on one source at a time, and takes the errors of single
//! fish out of what is left for sampling.

mod inputs;
mod perturbed;
mod propagated;
mod propagation;
mod replicate;
mod shares;
mod states;
#[cfg(test)]
mod tests;

pub use inputs::{CurveRows, ErrorInputs, Known, OtherReading, Scope, Source, UncertainFish};
pub use propagated::{
    CurveWanted, Propagated, Settings, SourceShare, UncertainAge, UncertainParameter,
};
pub use propagation::propagate;

use crate::analysis::back_calculation::BackCalculationError;
use crate::domain::progress::Stopped;

/// Why no uncertainty can be given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum UncertaintyError {
    /// Nothing to work on.
    #[error("no fish has radii and a length that hold together: read the survey first")]
    NoFish,
    /// The method itself cannot be used.
    #[error(transparent)]
    Method(#[from] BackCalculationError),
    /// Too few replicates for limits.
    #[error("{found} replicates cannot give 95 % limits: ask for {least} or more")]
    TooFewReplicates {
        /// Asked for.
        found: usize,
        /// Needed.
        least: usize,
    },
    /// Someone asked to stop.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}
