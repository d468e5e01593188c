//! Precision of repeated ages: percent agreement, average percent error, CV and the index D.
//!
//! Sources: Beamish & Fournier 1981 (Can. J. Fish. Aquat. Sci. 38:982-983) for average percent error; Chang 1982
//! (Can. J. Fish. Aquat. Sci. 39:1208-1210) for CV and D.

use super::matrix::AgeMatrix;
use super::readings::CompleteAges;

/// How a fish whose mean age is 0 enters percent error, CV and D.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum MeanAgeZero {
    /// It counts with a contribution of 0: all readers agree.
    #[default]
    Zero,
    /// It is left out of these three means; the other statistics keep it.
    LeftOut,
}

impl MeanAgeZero {
    /// The word used in files and on the command line: `zero` or `left-out`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Zero => "zero",
            Self::LeftOut => "left-out",
        }
    }

    /// The value for a word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Zero, Self::LeftOut].into_iter().find(|way| way.word() == word.trim())
    }
}

/// Percent error, CV and D as means over fish, percent; `None` without fish or with one reading a fish.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PercentErrors {
    /// Average percent error.
    pub average_percent_error: Option<f64>,
    /// Mean coefficient of variation.
    pub mean_cv: Option<f64>,
    /// Mean index of precision D = CV/√(number of readings).
    pub mean_d: Option<f64>,
}

/// Precision of a set of readings of the same fish.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precision {
    /// Fish with a reading from every reader.
    pub n: u64,
    /// Percent of fish whose readings are all equal; `None` without fish.
    pub exact: Option<f64>,
    /// Percent of fish whose readings span at most one year.
    pub within_1: Option<f64>,
    /// Percent of fish whose readings span at most two years.
    pub within_2: Option<f64>,
    /// Fish with mean age 0.
    pub n_mean_age_zero: u64,
    /// Percent error, CV and D with fish of mean age 0 as contributions of 0.
    pub counting_zero: PercentErrors,
    /// The same without fish of mean age 0.
    pub leaving_out_zero: PercentErrors,
}

impl Precision {
    /// The percent errors under a convention for fish of mean age 0.
    pub fn percent_errors(&self, convention: MeanAgeZero) -> PercentErrors {
        match convention {
            MeanAgeZero::Zero => self.counting_zero,
            MeanAgeZero::LeftOut => self.leaving_out_zero,
        }
    }

    /// Precision of any number of readers.
    pub fn of(ages: &CompleteAges) -> Self {
        let mut sums = Sums::default();
        for fish in ages.fish() {
            sums.add(fish, 1);
        }
        sums.finish(ages.n_readers())
    }

    /// Precision of two readers, each cell of their table once.
    pub fn of_matrix(matrix: &AgeMatrix) -> Self {
        let mut sums = Sums::default();
        for (first, second, count) in matrix.cells() {
            sums.add(&[first, second], count);
        }
        sums.finish(2)
    }
}

/// Percent error and CV of one fish, percent: `(100/R) Σ|x - x̄|/x̄` and `100 √(Σ(x - x̄)²/(R - 1))/x̄`.
///
/// Both are 0 where the mean age is 0; `None` for fewer than two readings.
pub fn fish_percent_error_and_cv(ages: &[u32]) -> Option<(f64, f64)> {
    if ages.len() < 2 {
        return None;
    }
    let n = ages.len() as f64;
    let mean = ages.iter().map(|age| f64::from(*age)).sum::<f64>() / n;
    if mean == 0.0 {
        return Some((0.0, 0.0));
    }
    let deviations = ages.iter().map(|age| f64::from(*age) - mean);
    let (absolute, squared) = deviations
        .fold((0.0, 0.0), |(absolute, squared), d: f64| (absolute + d.abs(), squared + d * d));
    Some((100.0 * absolute / (n * mean), 100.0 * (squared / (n - 1.0)).sqrt() / mean))
}

#[derive(Default)]
struct Sums {
    n: u64,
    within: [u64; 3],
    n_mean_age_zero: u64,
    percent_error: f64,
    cv: f64,
}

impl Sums {
    fn add(&mut self, ages: &[u32], weight: u64) {
        let (Some(youngest), Some(oldest)) = (ages.iter().min(), ages.iter().max()) else { return };
        self.n += weight;
        let span = oldest - youngest;
        for (within, limit) in self.within.iter_mut().zip(0..) {
            *within += if span <= limit { weight } else { 0 };
        }
        self.n_mean_age_zero += if *oldest == 0 { weight } else { 0 };
        // Most fish are read alike: they add nothing to the sums.
        if span > 0
            && let Some((percent_error, cv)) = fish_percent_error_and_cv(ages)
        {
            self.percent_error += percent_error * weight as f64;
            self.cv += cv * weight as f64;
        }
    }

    fn finish(&self, n_readers: usize) -> Precision {
        let percent = |count: u64| (self.n > 0).then(|| 100.0 * count as f64 / self.n as f64);
        let [exact, within_1, within_2] = self.within.map(percent);
        let errors = |n: u64| {
            let mean = |sum: f64| (n > 0 && n_readers > 1).then(|| sum / n as f64);
            PercentErrors {
                average_percent_error: mean(self.percent_error),
                mean_cv: mean(self.cv),
                mean_d: mean(self.cv).map(|cv| cv / (n_readers as f64).sqrt()),
            }
        };
        Precision {
            n: self.n,
            exact,
            within_1,
            within_2,
            n_mean_age_zero: self.n_mean_age_zero,
            counting_zero: errors(self.n),
            leaving_out_zero: errors(self.n - self.n_mean_age_zero),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// For two readings CV = √2 times percent error, by algebra.
    #[test]
    fn two_readings_follow_the_identity() {
        for (first, second) in [(1, 2), (0, 3), (7, 9), (4, 4)] {
            let (percent_error, cv) = fish_percent_error_and_cv(&[first, second]).unwrap();
            assert!((cv - std::f64::consts::SQRT_2 * percent_error).abs() < 1e-12);
        }
        assert_eq!(fish_percent_error_and_cv(&[3]), None);
    }

    #[test]
    fn the_convention_for_age_zero_touches_the_three_means_only() {
        let matrix = AgeMatrix::from_counts(0, &[vec![3, 1], vec![0, 4]]).unwrap();
        let precision = Precision::of_matrix(&matrix);
        assert_eq!((precision.n, precision.n_mean_age_zero), (8, 3));
        assert_eq!(precision.exact, Some(87.5));
        let zero = precision.percent_errors(MeanAgeZero::Zero).average_percent_error.unwrap();
        let left_out =
            precision.percent_errors(MeanAgeZero::LeftOut).average_percent_error.unwrap();
        assert!((zero - 100.0 / 8.0).abs() < 1e-12);
        assert!((left_out - 100.0 / 5.0).abs() < 1e-12);
    }

    #[test]
    fn without_fish_there_is_no_value() {
        let matrix = AgeMatrix::from_counts(0, &[vec![0]]).unwrap();
        let precision = Precision::of_matrix(&matrix);
        assert_eq!(precision.exact, None);
        assert_eq!(precision.counting_zero.mean_cv, None);
    }

    #[test]
    fn words_go_there_and_back() {
        for way in [MeanAgeZero::Zero, MeanAgeZero::LeftOut] {
            assert_eq!(MeanAgeZero::from_word(way.word()), Some(way));
        }
    }
}
