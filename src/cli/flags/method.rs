//! Flags that say how radii become lengths, and how large the errors on the way are.

use clap::{Args, ValueEnum};

/// Where the intercept of Fraser-Lee comes from when it is not given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RegressionFlag {
    /// Ordinary least squares.
    Ols,
    /// Geometric mean line.
    Gm,
}

/// The method of back-calculation.
#[derive(Debug, Clone, Args)]
pub struct MethodFlags {
    /// Method of back-calculation.
    #[arg(long, default_value = "fraser-lee")]
    pub method: String,
    /// Intercept for fraser-lee, millimetres.
    #[arg(long, value_name = "MM", conflicts_with = "regression", allow_negative_numbers = true)]
    pub intercept: Option<f64>,
    /// Source of that intercept, printed with the result.
    #[arg(long, value_name = "TEXT", requires = "intercept")]
    pub intercept_source: Option<String>,
    /// Regression that gives the intercept for fraser-lee (default: ols).
    #[arg(long, value_enum)]
    pub regression: Option<RegressionFlag>,
    /// Length at the early event of biological-intercept and modified-fry, millimetres.
    #[arg(long, value_name = "MM")]
    pub origin_length: Option<f64>,
    /// Radius at that event, micrometres.
    #[arg(long, value_name = "UM")]
    pub origin_radius: Option<f64>,
}

/// How errors are carried to the result. An error that is neither given nor found in the survey is named as missing.
#[derive(Debug, Clone, Args)]
pub struct ErrorFlags {
    /// Carry every known error to the result by simulation, with so many replicates (1000 where no number is given).
    #[arg(
        long,
        value_name = "N",
        num_args = 0..=1,
        default_missing_value = "1000",
        value_parser = clap::value_parser!(u32).range(100..=1_000_000)
    )]
    pub uncertainty: Option<u32>,
    /// Standard deviation of a mark along the axis, micrometres (default: from scans read twice).
    #[arg(long, value_name = "UM", requires = "uncertainty")]
    pub mark_error: Option<f64>,
    /// Standard deviation of the focus along the axis, micrometres (default: from scans read twice).
    #[arg(long, value_name = "UM", requires = "uncertainty")]
    pub focus_error: Option<f64>,
    /// Standard deviation of a length at capture, millimetres.
    #[arg(long, value_name = "MM", requires = "uncertainty")]
    pub length_error: Option<f64>,
    /// Standard error of the pixel size, percent (default: from the calibrations).
    #[arg(long, value_name = "PERCENT", requires = "uncertainty")]
    pub calibration_error: Option<f64>,
    /// Standard error of a given intercept, millimetres.
    #[arg(long, value_name = "MM", requires_all = ["uncertainty", "intercept"])]
    pub intercept_error: Option<f64>,
}
