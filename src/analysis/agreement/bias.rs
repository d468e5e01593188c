//! Age bias: what one reader calls the fish that the other calls a given age.
//!
//! Source: Campana, Annand & McMillan 1995 (Trans. Am. Fish. Soc. 124:131-138); Holm 1979 (Scand. J. Stat. 6:65-70)
//! for the adjustment over ages. Conditioning on one error-prone reading tilts the extremes toward the middle, so
//! the table is read both ways.

use super::matrix::AgeMatrix;
use crate::analysis::numerics::distribution::{t_quantile, t_two_sided};
use crate::analysis::numerics::holm::holm;

/// Whether an age could be tested.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum BiasStatus {
    /// Tested; the age is in the family of Holm's adjustment.
    Tested,
    /// A single fish.
    TooFew,
    /// Every fish got the same age from the other reader, so that there is no spread to test against.
    NoSpread,
}

impl BiasStatus {
    /// A few plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Tested => "tested",
            Self::TooFew => "not tested: fewer than two fish",
            Self::NoSpread => "not tested: no spread",
        }
    }
}

/// One reference age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BiasRow {
    /// Age by the reference reader, years.
    pub age: u32,
    /// Fish of that age.
    pub n: u64,
    /// Mean age by the other reader, years.
    pub mean: f64,
    /// Standard deviation of those ages; `None` for one fish.
    pub sd: Option<f64>,
    /// Standard error of the mean.
    pub se: Option<f64>,
    /// 95 % t interval of the mean.
    pub ci95: Option<[f64; 2]>,
    /// One-sample t against the reference age, n - 1 degrees of freedom.
    pub t: Option<f64>,
    /// Two-sided p of t.
    pub p: Option<f64>,
    /// p after Holm's adjustment over the tested ages.
    pub p_holm: Option<f64>,
    /// Whether it was tested.
    pub status: BiasStatus,
}

/// The paired test of all differences, second reader minus first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairedDifference {
    /// Fish.
    pub n: u64,
    /// Mean difference, years.
    pub mean: f64,
    /// Standard deviation of the differences; `None` for one fish.
    pub sd: Option<f64>,
    /// 95 % t interval of the mean difference.
    pub ci95: Option<[f64; 2]>,
    /// Paired t; `None` where all differences are alike.
    pub t: Option<f64>,
    /// Degrees of freedom.
    pub df: u64,
    /// Two-sided p of t.
    pub p: Option<f64>,
}

/// The age-bias table with the first reader (rows of the matrix) as reference; give the transposed matrix for the
/// other direction. Ages without a fish have no row.
pub fn age_bias(matrix: &AgeMatrix) -> Vec<BiasRow> {
    let mut rows: Vec<BiasRow> = matrix
        .rows()
        .zip(matrix.ages())
        .filter_map(|(counts, age)| {
            let ages = matrix.ages().map(f64::from).zip(counts.iter().copied());
            let sample = Sample::of(ages.clone())?;
            let spread = ages.filter(|(_, count)| *count > 0).count() > 1;
            Some(row(age, &sample, spread))
        })
        .collect();
    let adjusted = holm(&rows.iter().map(|row| row.p).collect::<Vec<_>>());
    for (row, p_holm) in rows.iter_mut().zip(adjusted) {
        row.p_holm = p_holm;
    }
    rows
}

/// The paired t test over all fish; `None` without fish.
pub fn paired_difference(matrix: &AgeMatrix) -> Option<PairedDifference> {
    let differences =
        matrix.cells().map(|(first, second, n)| (f64::from(second) - f64::from(first), n));
    let sample = Sample::of(differences.clone())?;
    let first_difference = differences.clone().next()?.0;
    let spread = differences.into_iter().any(|(difference, _)| difference != first_difference);
    let t = sample.se().filter(|_| spread).map(|se| sample.mean / se);
    Some(PairedDifference {
        n: sample.n,
        mean: sample.mean,
        sd: sample.sd,
        ci95: sample.ci95(),
        t,
        df: sample.n - 1,
        p: t.and_then(|t| t_two_sided(t, sample.df())),
    })
}

fn row(age: u32, sample: &Sample, spread: bool) -> BiasRow {
    let status = match (sample.n, spread) {
        (0..=1, _) => BiasStatus::TooFew,
        (_, false) => BiasStatus::NoSpread,
        (_, true) => BiasStatus::Tested,
    };
    let tested_se = sample.se().filter(|_| status == BiasStatus::Tested);
    let t = tested_se.map(|se| (sample.mean - f64::from(age)) / se);
    BiasRow {
        age,
        n: sample.n,
        mean: sample.mean,
        sd: sample.sd,
        se: sample.se(),
        ci95: sample.ci95(),
        t,
        p: t.and_then(|t| t_two_sided(t, sample.df())),
        p_holm: None,
        status,
    }
}

struct Sample {
    n: u64,
    mean: f64,
    sd: Option<f64>,
}

impl Sample {
    fn of(values: impl Iterator<Item = (f64, u64)> + Clone) -> Option<Self> {
        let n: u64 = values.clone().map(|(_, count)| count).sum();
        if n == 0 {
            return None;
        }
        let total: f64 = values.clone().map(|(value, count)| value * count as f64).sum();
        let mean = total / n as f64;
        let squares: f64 = values.map(|(value, count)| (value - mean).powi(2) * count as f64).sum();
        let sd = (n > 1).then(|| (squares / (n - 1) as f64).sqrt());
        Some(Self { n, mean, sd })
    }

    fn df(&self) -> f64 {
        self.n as f64 - 1.0
    }

    fn se(&self) -> Option<f64> {
        self.sd.map(|sd| sd / (self.n as f64).sqrt())
    }

    fn ci95(&self) -> Option<[f64; 2]> {
        let half = t_quantile(0.975, self.df())? * self.se()?;
        Some([self.mean - half, self.mean + half])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shift_without_spread_is_not_tested() {
        let matrix = AgeMatrix::from_counts(1, &[vec![0, 4], vec![0, 0]]).unwrap();
        let rows = age_bias(&matrix);
        assert_eq!(rows.len(), 1);
        assert_eq!(
            (rows[0].status, rows[0].p, rows[0].sd),
            (BiasStatus::NoSpread, None, Some(0.0))
        );
        let overall = paired_difference(&matrix).unwrap();
        assert_eq!((overall.mean, overall.t, overall.p), (1.0, None, None));
    }

    #[test]
    fn the_two_directions_differ_and_the_overall_test_changes_sign() {
        let matrix = AgeMatrix::from_counts(1, &[vec![3, 2], vec![1, 5]]).unwrap();
        let there = paired_difference(&matrix).unwrap();
        let back = paired_difference(&matrix.transposed()).unwrap();
        assert_eq!(there.mean, -back.mean);
        assert_eq!(there.p, back.p);
        assert_ne!(age_bias(&matrix)[0].mean, age_bias(&matrix.transposed())[0].mean);
    }
}
