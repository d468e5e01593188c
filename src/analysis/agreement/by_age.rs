//! Agreement at each age: what share of the fish that one reader gave an age got the same age from the other.

use super::matrix::AgeMatrix;

/// Agreement on the fish of one age.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AgreementAtAge {
    /// Age by the first reader, years.
    pub age: u32,
    /// Fish.
    pub n: u64,
    /// Of these, given the same age by the second reader.
    pub exact: u64,
    /// Of these, given an age at most one year away.
    pub within_1: u64,
}

impl AgreementAtAge {
    /// Percent given the same age.
    pub fn percent_exact(&self) -> f64 {
        100.0 * self.exact as f64 / self.n.max(1) as f64
    }

    /// Percent given an age at most one year away.
    pub fn percent_within_1(&self) -> f64 {
        100.0 * self.within_1 as f64 / self.n.max(1) as f64
    }
}

/// Agreement by the age the first reader (rows) gave; ages without a fish have no row.
pub fn agreement_by_age(matrix: &AgeMatrix) -> Vec<AgreementAtAge> {
    let mut rows: Vec<AgreementAtAge> = Vec::new();
    for (first, second, count) in matrix.cells() {
        let apart = first.abs_diff(second);
        let (exact, near) = (u64::from(apart == 0) * count, u64::from(apart <= 1) * count);
        match rows.last_mut().filter(|row| row.age == first) {
            Some(row) => {
                row.n += count;
                row.exact += exact;
                row.within_1 += near;
            }
            None => {
                rows.push(AgreementAtAge { age: first, n: count, exact, within_1: near });
            }
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_add_up_to_the_whole_table() {
        let rows = [vec![8, 2, 0], vec![1, 5, 0], vec![1, 0, 3]];
        let matrix = AgeMatrix::from_counts(2, &rows).unwrap();
        let found = agreement_by_age(&matrix);
        let expected = [(2, 10, 8, 10), (3, 6, 5, 6), (4, 4, 3, 3)]
            .map(|(age, n, exact, within_1)| AgreementAtAge { age, n, exact, within_1 });
        assert_eq!(found, expected);
        assert_eq!(found.iter().map(|row| row.n).sum::<u64>(), matrix.n());
        assert!((found[2].percent_exact() - 75.0).abs() < 1e-12);
        assert!((found[0].percent_within_1() - 100.0).abs() < 1e-12);
    }
}
