//! All statistics of agreement of a set of readers, over the set and for each pair.

use rayon::prelude::*;

use super::bias::{BiasRow, PairedDifference, age_bias, paired_difference};
use super::icc::{IntraclassCorrelation, intraclass_correlation};
use super::kappa::{Kappa, KappaWeights, kappa};
use super::limits::{LimitsOfAgreement, USUAL_MULTIPLE, limits_of_agreement};
use super::marginal::{MarginalHomogeneity, stuart_maxwell};
use super::matrix::AgeMatrix;
use super::precision::{MeanAgeZero, PercentErrors, Precision};
use super::readings::{CompleteAges, ReaderAges};
use super::symmetry::{Symmetry, symmetry_tests};
use super::verdict::{Verdict, pair_verdict, set_verdict};

/// Settings of a comparison.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// How fish of mean age 0 enter percent error, CV and D.
    pub mean_age_zero: MeanAgeZero,
    /// Seed of simulated probabilities.
    pub seed: u64,
    /// Level at which a test counts as showing a bias.
    pub level: f64,
}

impl Default for Settings {
    /// Mean age 0 counts as zero, level 0.05 (common practice, no source), a fixed seed.
    fn default() -> Self {
        Self { mean_age_zero: MeanAgeZero::Zero, seed: 1998, level: 0.05 }
    }
}

/// Two readers.
#[derive(Debug, Clone, PartialEq)]
pub struct PairComparison {
    /// Names, the first in rows of the matrix.
    pub readers: [String; 2],
    /// Fish left out because one of the two gave no age.
    pub left_out: usize,
    /// Percent agreement, percent error, CV, D.
    pub precision: Precision,
    /// The table of agreement; `None` without fish.
    pub matrix: Option<AgeMatrix>,
    /// Tests of symmetry; empty without fish.
    pub symmetry: Vec<Symmetry>,
    /// Kappa in the order of [`KappaWeights::ALL`].
    pub kappa: [Option<Kappa>; 3],
    /// Age-bias table with the first reader as reference.
    pub bias_on_first: Vec<BiasRow>,
    /// Age-bias table with the second reader as reference.
    pub bias_on_second: Vec<BiasRow>,
    /// Paired test of all differences, second minus first.
    pub difference: Option<PairedDifference>,
    /// Intraclass correlation of the ages.
    pub icc: Option<IntraclassCorrelation>,
    /// Limits of agreement of the ages, second minus first, years.
    pub limits: Option<LimitsOfAgreement>,
    /// Stuart-Maxwell test.
    pub stuart_maxwell: Option<MarginalHomogeneity>,
    /// What follows.
    pub verdict: Verdict,
}

/// Two or more readers.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Names.
    pub readers: Vec<String>,
    /// Fish left out because a reader gave no age.
    pub left_out: usize,
    /// Precision over all readers.
    pub precision: Precision,
    /// Intraclass correlation of the ages over all readers.
    pub icc: Option<IntraclassCorrelation>,
    /// Each pair of readers, over the fish both aged.
    pub pairs: Vec<PairComparison>,
    /// What follows over the set.
    pub verdict: Verdict,
    /// The settings it was made with.
    pub settings: Settings,
}

impl Comparison {
    /// Percent error, CV and D over all readers under the settings' convention.
    pub fn percent_errors(&self) -> PercentErrors {
        self.precision.percent_errors(self.settings.mean_age_zero)
    }
}

/// Compares all readers with each other.
pub fn compare(ages: &ReaderAges, settings: Settings) -> Comparison {
    let complete = ages.complete();
    let readers = ages.readers().to_vec();
    let precision = Precision::of(&complete);
    let indices = (0..readers.len()).flat_map(|a| (a + 1..readers.len()).map(move |b| (a, b)));
    let named = |index: usize| readers.get(index).cloned();
    let work: Vec<_> = indices.collect();
    let pairs: Vec<PairComparison> = work
        .into_par_iter()
        .filter_map(|(a, b)| {
            Some(compare_pair([named(a)?, named(b)?], &ages.pair(a, b)?, settings))
        })
        .collect();
    let verdict = set_verdict(&precision, &pairs, settings);
    Comparison {
        left_out: complete.left_out(),
        icc: intraclass_correlation(complete.n_readers(), complete.fish()),
        readers,
        precision,
        pairs,
        verdict,
        settings,
    }
}

fn compare_pair(readers: [String; 2], ages: &CompleteAges, settings: Settings) -> PairComparison {
    let matrix = AgeMatrix::from_ages(ages);
    let table = matrix.as_ref();
    let mut pair = PairComparison {
        readers,
        left_out: ages.left_out(),
        precision: table.map_or_else(|| Precision::of(ages), Precision::of_matrix),
        symmetry: table.map_or_else(Vec::new, |table| symmetry_tests(table, settings.seed)),
        kappa: KappaWeights::ALL.map(|weights| table.and_then(|table| kappa(table, weights))),
        bias_on_first: table.map_or_else(Vec::new, age_bias),
        bias_on_second: table.map_or_else(Vec::new, |table| age_bias(&table.transposed())),
        difference: table.and_then(paired_difference),
        icc: intraclass_correlation(2, ages.fish()),
        limits: table.and_then(age_limits),
        stuart_maxwell: table.and_then(stuart_maxwell),
        matrix: None,
        verdict: Verdict::default(),
    };
    pair.matrix = matrix;
    pair.verdict = pair_verdict(&pair, settings);
    pair
}

fn age_limits(matrix: &AgeMatrix) -> Option<LimitsOfAgreement> {
    let cells = matrix.cells().map(|(a, b, count)| (f64::from(b), f64::from(a), count));
    limits_of_agreement(cells, USUAL_MULTIPLE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_uses_every_fish_both_aged() {
        let names = ["a", "b", "c"].map(str::to_owned).to_vec();
        let columns = vec![
            vec![Some(3), Some(4), Some(5), Some(5)],
            vec![Some(3), Some(4), Some(6), Some(5)],
            vec![Some(3), None, Some(5), None],
        ];
        let found = compare(&ReaderAges::new(names, columns).unwrap(), Settings::default());
        assert_eq!((found.precision.n, found.left_out, found.pairs.len()), (2, 2, 3));
        assert_eq!((found.pairs[0].precision.n, found.pairs[0].left_out), (4, 0));
        assert_eq!((found.pairs[1].precision.n, found.pairs[1].left_out), (2, 2));
    }

    #[test]
    fn without_a_common_fish_nothing_is_claimed() {
        let columns = vec![vec![Some(3), None], vec![None, Some(3)]];
        let ages = ReaderAges::new(vec!["a".into(), "b".into()], columns).unwrap();
        let found = compare(&ages, Settings::default());
        assert_eq!((found.precision.n, found.left_out), (0, 2));
        assert!(found.pairs[0].matrix.is_none() && found.pairs[0].symmetry.is_empty());
        assert_eq!(found.percent_errors().mean_cv, None);
    }
}
