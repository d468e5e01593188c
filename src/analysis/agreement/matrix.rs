//! The table of agreement: how many fish the first reader gave age i and the second age j.

use super::readings::CompleteAges;
use crate::domain::ages::OLDEST_AGE;

/// Counts of fish by two ages, the first reader's in rows, every age from the lowest to the highest on both axes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AgeMatrix {
    lowest: u32,
    size: usize,
    counts: Vec<u64>,
}

/// Two cells that mirror each other across the diagonal and hold at least one fish between them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MirrorCells {
    /// Lower age, years.
    pub younger: u32,
    /// Higher age, years.
    pub older: u32,
    /// Fish the second reader called older.
    pub above: u64,
    /// Fish the second reader called younger.
    pub below: u64,
}

impl AgeMatrix {
    /// The table of two readers; `None` unless there are exactly two of them and a fish both aged.
    pub fn from_ages(ages: &CompleteAges) -> Option<Self> {
        if ages.n_readers() != 2 {
            return None;
        }
        let all = || ages.fish().flatten().copied();
        let (lowest, highest) = (all().min()?, all().max()?);
        let size = usize::try_from(highest - lowest).ok()? + 1;
        let mut counts = vec![0; size * size];
        for fish in ages.fish() {
            if let [first, second] = fish {
                let cell = (first - lowest) as usize * size + (second - lowest) as usize;
                if let Some(count) = counts.get_mut(cell) {
                    *count += 1;
                }
            }
        }
        Some(Self { lowest, size, counts })
    }

    /// A table that is already counted; `None` unless it is square, not empty, and ends by [`OLDEST_AGE`].
    pub fn from_counts(lowest: u32, rows: &[Vec<u64>]) -> Option<Self> {
        let size = rows.len();
        let highest = u32::try_from(size.checked_sub(1)?).ok()?.checked_add(lowest)?;
        let square = rows.iter().all(|row| row.len() == size);
        (square && highest <= OLDEST_AGE).then(|| Self { lowest, size, counts: rows.concat() })
    }

    /// Number of ages on each axis.
    pub fn size(&self) -> usize {
        self.size
    }

    /// The ages on both axes, years.
    pub fn ages(&self) -> impl Iterator<Item = u32> + Clone {
        (self.lowest..).take(self.size)
    }

    /// The rows, youngest age of the first reader first.
    pub fn rows(&self) -> impl Iterator<Item = &[u64]> + Clone {
        self.counts.chunks_exact(self.size)
    }

    /// All cells with fish in them: first reader's age, second reader's age, number of fish.
    pub fn cells(&self) -> impl Iterator<Item = (u32, u32, u64)> + Clone {
        self.rows().zip(self.ages()).flat_map(move |(row, first)| {
            row.iter()
                .zip(self.ages())
                .filter(|(count, _)| **count > 0)
                .map(move |(count, second)| (first, second, *count))
        })
    }

    /// Number of fish.
    pub fn n(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// Fish in each row.
    pub fn row_totals(&self) -> Vec<u64> {
        self.rows().map(|row| row.iter().sum()).collect()
    }

    /// Fish in each column.
    pub fn column_totals(&self) -> Vec<u64> {
        let mut totals = vec![0; self.size];
        for row in self.rows() {
            for (total, count) in totals.iter_mut().zip(row) {
                *total += count;
            }
        }
        totals
    }

    /// The same fish with the second reader in rows.
    #[must_use]
    pub fn transposed(&self) -> Self {
        let columns = (0..self.size)
            .flat_map(|column| self.counts.iter().skip(column).step_by(self.size).copied());
        Self { lowest: self.lowest, size: self.size, counts: columns.collect() }
    }

    /// The pairs of mirrored cells with at least one fish, in order of the younger and then the older age.
    pub fn mirror_cells(&self) -> Vec<MirrorCells> {
        let mirrored = self.transposed();
        let rows = self.rows().zip(mirrored.rows()).zip(self.ages()).enumerate();
        let mut pairs = Vec::new();
        for (index, ((above, below), younger)) in rows {
            let cells = above.iter().zip(below).zip(self.ages()).skip(index + 1);
            pairs.extend(cells.filter(|((above, below), _)| **above + **below > 0).map(
                |((above, below), older)| MirrorCells {
                    younger,
                    older,
                    above: *above,
                    below: *below,
                },
            ));
        }
        pairs
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn small() -> AgeMatrix {
        AgeMatrix::from_counts(2, &[vec![5, 2, 0], vec![1, 0, 3], vec![0, 0, 4]]).unwrap()
    }

    #[test]
    fn totals_and_transpose_agree() {
        let matrix = small();
        assert_eq!(matrix.n(), 15);
        assert_eq!(matrix.row_totals(), [7, 4, 4]);
        assert_eq!(matrix.column_totals(), [6, 2, 7]);
        assert_eq!(matrix.transposed().row_totals(), matrix.column_totals());
        assert_eq!(matrix.transposed().transposed(), matrix);
        assert_eq!(matrix.cells().count(), 5);
    }

    #[test]
    fn mirrored_cells_know_who_read_older() {
        let pairs = small().mirror_cells();
        let first = MirrorCells { younger: 2, older: 3, above: 2, below: 1 };
        let second = MirrorCells { younger: 3, older: 4, above: 3, below: 0 };
        assert_eq!(pairs, [first, second]);
    }

    #[test]
    fn a_ragged_or_empty_table_is_refused() {
        assert!(AgeMatrix::from_counts(0, &[]).is_none());
        assert!(AgeMatrix::from_counts(0, &[vec![1, 2]]).is_none());
        assert!(AgeMatrix::from_counts(500, &[vec![1, 0], vec![0, 1]]).is_none());
    }
}
