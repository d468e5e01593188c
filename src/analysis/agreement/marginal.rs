//! Marginal homogeneity: do both readers find the same number of fish of each age?
//!
//! Sources: Stuart 1955 (Biometrika 42:412-416); Maxwell 1970 (Br. J. Psychiatry 116:651-655).

use nalgebra::{DMatrix, DVector};

use super::matrix::AgeMatrix;
use crate::analysis::numerics::distribution::chi_squared_upper;

/// The Stuart-Maxwell test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarginalHomogeneity {
    /// The statistic.
    pub chi2: f64,
    /// Degrees of freedom: ages the readers parted at, less one for each group of ages linked by disagreements.
    pub df: usize,
    /// P from the chi-square distribution.
    pub p: Option<f64>,
}

/// The Stuart-Maxwell test; `None` without any disagreement.
///
/// Ages at which the readers never part say nothing and are left out. Ages fall into groups linked by disagreements;
/// differences sum to 0 within each, so one age of each group is dropped and the rest has a regular covariance.
pub fn stuart_maxwell(matrix: &AgeMatrix) -> Option<MarginalHomogeneity> {
    let links = links(matrix);
    let mut group_of = vec![None; matrix.size()];
    let (mut chi2, mut df) = (0.0, 0);
    for start in 0..matrix.size() {
        if group_of.get(start).is_none_or(Option::is_some) {
            continue;
        }
        let members = linked_ages(start, &links, &mut group_of);
        if members.len() > 1 {
            chi2 += group_statistic(&members, matrix, &links)?;
            df += members.len() - 1;
        }
    }
    (df > 0).then(|| MarginalHomogeneity { chi2, df, p: chi_squared_upper(chi2, df as f64) })
}

/// Fish the readers part on between each two ages, either way round.
fn links(matrix: &AgeMatrix) -> Vec<Vec<f64>> {
    let mirrored = matrix.transposed();
    let rows = matrix.rows().zip(mirrored.rows()).enumerate();
    rows.map(|(row, (counts, mirror))| {
        let cells = counts.iter().zip(mirror).enumerate();
        cells.map(|(column, (a, b))| if column == row { 0.0 } else { (a + b) as f64 }).collect()
    })
    .collect()
}

fn linked_ages(start: usize, links: &[Vec<f64>], group_of: &mut [Option<usize>]) -> Vec<usize> {
    let mut members = Vec::new();
    let mut waiting = vec![start];
    while let Some(age) = waiting.pop() {
        let Some(place) = group_of.get_mut(age).filter(|place| place.is_none()) else { continue };
        *place = Some(start);
        members.push(age);
        let row = links.get(age).map_or(&[] as &[f64], Vec::as_slice);
        waiting.extend(
            row.iter().enumerate().filter(|(_, fish)| **fish > 0.0).map(|(other, _)| other),
        );
    }
    members
}

fn group_statistic(members: &[usize], matrix: &AgeMatrix, links: &[Vec<f64>]) -> Option<f64> {
    let (rows, columns) = (matrix.row_totals(), matrix.column_totals());
    let kept = members.get(1..)?;
    let link = |a: usize, b: usize| links.get(a).and_then(|row| row.get(b)).copied().unwrap_or(0.0);
    let parted = |age: usize| links.get(age).map_or(0.0, |row| row.iter().sum());
    let covariance =
        DMatrix::from_fn(kept.len(), kept.len(), |i, j| match (kept.get(i), kept.get(j)) {
            (Some(a), Some(b)) if a == b => parted(*a),
            (Some(a), Some(b)) => -link(*a, *b),
            _ => 0.0,
        });
    let total = |totals: &[u64], age: usize| totals.get(age).map_or(0.0, |count| *count as f64);
    let differences = DVector::from_iterator(
        kept.len(),
        kept.iter().map(|age| total(&rows, *age) - total(&columns, *age)),
    );
    let solved = covariance.cholesky()?.solve(&differences);
    Some(differences.dot(&solved))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With two ages the test is McNemar's: (4 - 1)²/5.
    #[test]
    fn with_two_ages_it_is_mcnemar() {
        let matrix = AgeMatrix::from_counts(2, &[vec![3, 4], vec![1, 2]]).unwrap();
        let found = stuart_maxwell(&matrix).unwrap();
        assert!((found.chi2 - 1.8).abs() < 1e-12);
        assert_eq!(found.df, 1);
    }

    /// Two separate groups, (1, 2) and (4, 5), each as above; age 3 never parted at.
    #[test]
    fn separate_groups_add_up() {
        let rows = [
            vec![3, 4, 0, 0, 0],
            vec![1, 2, 0, 0, 0],
            vec![0, 0, 9, 0, 0],
            vec![0, 0, 0, 3, 4],
            vec![0, 0, 0, 1, 2],
        ];
        let found = stuart_maxwell(&AgeMatrix::from_counts(1, &rows).unwrap()).unwrap();
        assert!((found.chi2 - 3.6).abs() < 1e-12);
        assert_eq!(found.df, 2);
    }

    #[test]
    fn full_agreement_is_no_test() {
        let matrix = AgeMatrix::from_counts(2, &[vec![3, 0], vec![0, 2]]).unwrap();
        assert!(stuart_maxwell(&matrix).is_none());
    }
}
