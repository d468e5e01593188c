//! Mortality from the catch at age: two estimates, or the reason why there is none.

use crate::analysis::numerics::bootstrap::{PercentileInterval, percentile_interval};
use crate::analysis::numerics::standard_deviation;

use super::chapman_robson::ChapmanRobson;
use super::weighted_regression::CatchLine;

/// From which age on a catch is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FirstAge {
    /// The age of the largest catch.
    Peak,
    /// One year older.
    PeakPlusOne,
    /// A stated age.
    At(u32),
}

impl FirstAge {
    /// The rule for Chapman-Robson (recommended by Smith et al. 2012, N. Am. J. Fish. Manage. 32:956-967, abstract).
    pub const CHAPMAN_ROBSON: Self = Self::PeakPlusOne;
    /// The rule for the weighted line (same source).
    pub const REGRESSION: Self = Self::Peak;

    /// The age this means for a catch; `None` without catch.
    pub fn of(self, catch: &[(u32, f64)]) -> Option<u32> {
        match self {
            Self::Peak => peak_age(catch),
            Self::PeakPlusOne => peak_age(catch).map(|age| age.saturating_add(1)),
            Self::At(age) => Some(age),
        }
    }
}

/// The age of the largest catch, the youngest of several; `None` without catch.
pub fn peak_age(catch: &[(u32, f64)]) -> Option<u32> {
    let mut peak: Option<(u32, f64)> = None;
    for (age, n) in catch.iter().filter(|(_, n)| *n > 0.0) {
        let is_higher = peak.is_none_or(|(at, most)| *n > most || (*n == most && *age < at));
        if is_higher {
            peak = Some((*age, *n));
        }
    }
    peak.map(|(age, _)| age)
}

/// Why mortality is withheld.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Withheld {
    /// Year classes began with very different numbers.
    #[error(
        "stocking was uneven over the year classes used ({least} to {most} fish a year from {} to {}): the catch at age \
         then shows stocking, not mortality",
        years[0], years[1]
    )]
    UnevenStocking {
        /// Least number stocked in a year.
        least: u64,
        /// Most.
        most: u64,
        /// First and last year class looked at.
        years: [i16; 2],
    },
    /// Nobody asked.
    #[error("it was not asked for")]
    NotAskedFor,
    /// Nothing falls off after the peak.
    #[error(
        "the catch from the peak age on ({n:.0} fish, {n_ages} {}) is too small for mortality: it needs fish of several \
         ages older than the peak",
        if *n_ages == 1 { "age" } else { "ages" }
    )]
    TooLittleCatch {
        /// Fish from the peak on.
        n: f64,
        /// Ages among them.
        n_ages: usize,
    },
}

/// Both estimates of mortality.
#[derive(Debug, Clone, PartialEq)]
pub struct CatchCurve {
    /// Chapman-Robson; `None` where it has no value.
    pub chapman_robson: Option<ChapmanRobson>,
    /// The weighted line; `None` for fewer than 3 ages.
    pub regression: Option<CatchLine>,
    /// Errors over samples of fish drawn anew, where the catch comes from a key.
    pub bootstrap: Option<CurveBootstrap>,
}

/// Errors of mortality over samples of fish drawn anew: they hold the error of the key, which the formulas do not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurveBootstrap {
    /// Samples drawn.
    pub replicates: usize,
    /// Of these, samples without a value by Chapman-Robson.
    pub failed: usize,
    /// Standard deviation of S over samples.
    pub survival_se: Option<f64>,
    /// Standard deviation of Z over samples.
    pub z_se: Option<f64>,
    /// Percentile limits of S.
    pub survival: Option<PercentileInterval>,
    /// Percentile limits of Z.
    pub z: Option<PercentileInterval>,
    /// Standard deviation of Z by the weighted line.
    pub regression_z_se: Option<f64>,
}

impl CatchCurve {
    /// Both estimates of `catch` (age, number), each from its own first age unless one is stated for both.
    ///
    /// # Errors
    /// [`Withheld::TooLittleCatch`] where neither has a value.
    pub fn estimate(catch: &[(u32, f64)], first_age: Option<u32>) -> Result<Self, Withheld> {
        let first = |usual: FirstAge| first_age.map_or(usual, FirstAge::At).of(catch);
        let chapman_robson =
            first(FirstAge::CHAPMAN_ROBSON).and_then(|age| ChapmanRobson::estimate(catch, age));
        let regression =
            first(FirstAge::REGRESSION).and_then(|age| CatchLine::fit(catch, age).ok());
        if chapman_robson.is_none() && regression.is_none() {
            let from = first(FirstAge::REGRESSION).unwrap_or_default();
            let used = catch.iter().filter(|(age, n)| *age >= from && *n > 0.0);
            let n = used.clone().fold(0.0, |sum, (_, n)| sum + n);
            return Err(Withheld::TooLittleCatch { n, n_ages: used.count() });
        }
        Ok(Self { chapman_robson, regression, bootstrap: None })
    }

    /// Errors over `samples` of the catch, numbers at `ages`; first ages stay those of the estimate.
    pub fn bootstrap_over(&self, ages: &[u32], samples: &[Vec<f64>]) -> CurveBootstrap {
        let catch = |numbers: &Vec<f64>| -> Vec<(u32, f64)> {
            ages.iter().copied().zip(numbers.iter().copied()).collect()
        };
        let first = self.chapman_robson.as_ref().and_then(|one| one.ages.first().copied());
        let estimates: Vec<ChapmanRobson> = samples
            .iter()
            .filter_map(|numbers| ChapmanRobson::estimate(&catch(numbers), first?))
            .collect();
        let line_from = self.regression.as_ref().and_then(|one| one.ages.first().copied());
        let lines: Vec<f64> = samples
            .iter()
            .filter_map(|numbers| CatchLine::fit(&catch(numbers), line_from?).ok())
            .map(|line| line.z)
            .collect();
        let survival: Vec<f64> = estimates.iter().map(|one| one.survival).collect();
        let z: Vec<f64> = estimates.iter().map(|one| one.z).collect();
        CurveBootstrap {
            replicates: samples.len(),
            failed: samples.len() - estimates.len(),
            survival_se: standard_deviation(&survival),
            z_se: standard_deviation(&z),
            survival: percentile_interval(survival),
            z: percentile_interval(z),
            regression_z_se: standard_deviation(&lines),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CATCH: [(u32, f64); 6] =
        [(1, 12.0), (2, 60.0), (3, 60.0), (4, 31.0), (5, 14.0), (6, 6.0)];

    #[test]
    fn first_ages_follow_their_rules() {
        assert_eq!(peak_age(&CATCH), Some(2));
        let curve = CatchCurve::estimate(&CATCH, None).unwrap();
        assert_eq!(curve.chapman_robson.unwrap().ages, [3, 4, 5, 6]);
        assert_eq!(curve.regression.unwrap().ages, [2, 3, 4, 5, 6]);
        let stated = CatchCurve::estimate(&CATCH, Some(4)).unwrap();
        assert_eq!(stated.chapman_robson.unwrap().ages, [4, 5, 6]);
        assert_eq!(stated.regression.unwrap().ages, [4, 5, 6]);
    }

    #[test]
    fn a_catch_without_older_fish_is_withheld_with_its_reason() {
        let reason = CatchCurve::estimate(&[(1, 3.0), (2, 40.0)], None).unwrap_err().to_string();
        assert!(reason.contains("(40 fish, 1 age) is too small"), "{reason}");
        assert!(CatchCurve::estimate(&[], None).is_err());
    }

    #[test]
    fn samples_that_are_all_alike_have_no_spread() {
        let curve = CatchCurve::estimate(&CATCH, None).unwrap();
        let ages: Vec<u32> = CATCH.iter().map(|(age, _)| *age).collect();
        let numbers: Vec<f64> = CATCH.iter().map(|(_, n)| *n).collect();
        let found = curve.bootstrap_over(&ages, &[numbers.clone(), numbers, vec![0.0; 6]]);
        assert_eq!((found.replicates, found.failed), (3, 1));
        assert!(found.z_se.unwrap() < 1e-12 && found.regression_z_se.unwrap() < 1e-12);
    }
}
