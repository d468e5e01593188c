//! Symmetry of the table of agreement: do the readers part as often one way as the other?
//!
//! Sources: Bowker 1948 (J. Am. Stat. Assoc. 43:572-574), with degrees of freedom counting only pairs of cells that
//! hold fish (Hoenig, Morgan & Brown 1995, Can. J. Fish. Aquat. Sci. 52:364-368); Evans & Hoenig 1998 (Biometrics
//! 54:620-629); McNemar 1947 (Psychometrika 12:153-157) on the pooled table, without continuity correction.

use super::matrix::{AgeMatrix, MirrorCells};
use super::null_distribution::{exact_p, simulated_p};
use crate::analysis::numerics::distribution::chi_squared_upper;

pub use super::null_distribution::Simulated;

/// A test of symmetry, from no pooling to full pooling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SymmetryTest {
    /// Each pair of mirrored cells by itself.
    Bowker,
    /// Cells pooled by the size of the difference: the usual choice for ages.
    EvansHoenig,
    /// All cells above the diagonal against all below.
    McNemar,
}

impl SymmetryTest {
    /// All, from no pooling to full pooling.
    pub const ALL: [Self; 3] = [Self::Bowker, Self::EvansHoenig, Self::McNemar];

    /// The word used in files: `bowker`, `evans-hoenig`, `mcnemar`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bowker => "bowker",
            Self::EvansHoenig => "evans-hoenig",
            Self::McNemar => "mcnemar",
        }
    }

    /// The name for a person.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Bowker => "Bowker",
            Self::EvansHoenig => "Evans-Hoenig",
            Self::McNemar => "McNemar, pooled",
        }
    }
}

/// Disagreements that are compared with each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Group {
    /// Difference between the readers in years where the group is one of these; `None` otherwise.
    pub difference: Option<u32>,
    /// Fish the second reader called older.
    pub above: u64,
    /// Fish the second reader called younger.
    pub below: u64,
}

/// The outcome of one test.
#[derive(Debug, Clone, PartialEq)]
pub struct Symmetry {
    /// Which test.
    pub test: SymmetryTest,
    /// The statistic; 0 without any disagreement.
    pub chi2: f64,
    /// Degrees of freedom: groups with at least one fish.
    pub df: usize,
    /// P from the chi-square distribution; `None` without any disagreement: there is nothing to test.
    pub p: Option<f64>,
    /// P(chi2 >= observed) by enumeration, each group Binomial(n, 1/2); `None` where there is nothing to test or
    /// the table is too large.
    pub p_exact: Option<f64>,
    /// The same probability from random draws where enumeration was too large.
    pub simulated: Option<Simulated>,
    /// The groups with at least one fish.
    pub groups: Vec<Group>,
}

impl Symmetry {
    /// The best probability there is: exact, else simulated, else from the chi-square distribution.
    pub fn best_p(&self) -> Option<f64> {
        self.p_exact.or(self.simulated.map(|simulated| simulated.p)).or(self.p)
    }

    /// True where most groups hold fewer than five fish, so that the chi-square distribution is a poor guide
    /// (common practice, no source).
    pub fn is_sparse(&self) -> bool {
        let small = self.groups.iter().filter(|group| group.above + group.below < 5).count();
        2 * small > self.groups.len()
    }
}

/// All three tests; `seed` is for probabilities that must be simulated.
pub fn symmetry_tests(matrix: &AgeMatrix, seed: u64) -> Vec<Symmetry> {
    let pairs = matrix.mirror_cells();
    SymmetryTest::ALL.into_iter().map(|test| tested(test, groups(test, &pairs), seed)).collect()
}

fn groups(test: SymmetryTest, pairs: &[MirrorCells]) -> Vec<Group> {
    let single = |pair: &MirrorCells| Group {
        difference: Some(pair.older - pair.younger),
        above: pair.above,
        below: pair.below,
    };
    let mut groups: Vec<Group> = pairs.iter().map(single).collect();
    match test {
        SymmetryTest::Bowker => groups,
        SymmetryTest::EvansHoenig => {
            groups.sort_by_key(|group| group.difference);
            pooled(groups, |a, b| a.difference == b.difference)
        }
        SymmetryTest::McNemar => {
            let widened = |group| Group { difference: None, ..group };
            pooled(groups.into_iter().map(widened).collect(), |_, _| true)
        }
    }
}

fn pooled(mut groups: Vec<Group>, together: impl Fn(&Group, &Group) -> bool) -> Vec<Group> {
    groups.dedup_by(|later, kept| {
        let pool = together(later, kept);
        if pool {
            kept.above += later.above;
            kept.below += later.below;
        }
        pool
    });
    groups
}

fn tested(test: SymmetryTest, groups: Vec<Group>, seed: u64) -> Symmetry {
    let chi2 = groups.iter().map(statistic).sum();
    let df = groups.len();
    let sizes: Vec<u64> = groups.iter().map(|group| group.above + group.below).collect();
    let some = !groups.is_empty();
    let p = if some { chi_squared_upper(chi2, df as f64) } else { None };
    let p_exact = if some { exact_p(&sizes, chi2) } else { None };
    let simulated = if p_exact.is_none() { simulated_p(&sizes, chi2, seed) } else { None };
    Symmetry { test, chi2, df, p, p_exact, simulated, groups }
}

fn statistic(group: &Group) -> f64 {
    let (above, below) = (group.above as f64, group.below as f64);
    (above - below).powi(2) / (above + below)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_disagreement_there_is_no_test() {
        let matrix = AgeMatrix::from_counts(0, &[vec![3, 0], vec![0, 4]]).unwrap();
        for result in symmetry_tests(&matrix, 1) {
            assert_eq!((result.chi2, result.df), (0.0, 0));
            assert_eq!((result.p, result.p_exact, result.simulated), (None, None, None));
        }
    }

    #[test]
    fn turning_the_table_changes_nothing_but_the_sides() {
        let rows = [vec![4, 3, 1], vec![0, 6, 2], vec![0, 1, 5]];
        let matrix = AgeMatrix::from_counts(2, &rows).unwrap();
        let there = symmetry_tests(&matrix, 1);
        let back = symmetry_tests(&matrix.transposed(), 1);
        for (a, b) in there.iter().zip(&back) {
            assert_eq!((a.chi2, a.df, a.p_exact), (b.chi2, b.df, b.p_exact));
        }
        assert_eq!(there[2].groups, [Group { difference: None, above: 6, below: 1 }]);
        assert_eq!(there[1].groups.len(), 2);
        assert!(there[0].is_sparse());
    }
}
