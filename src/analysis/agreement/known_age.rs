//! Accuracy: ages against known ages (marked fish, a reference collection). Kept apart from precision, which says
//! only whether readers agree (Beamish & McFarlane 1983, Trans. Am. Fish. Soc. 112:735-743; Campana 2001, J. Fish
//! Biol. 59:197-242; both from memory).

use super::bias::{BiasRow, PairedDifference, age_bias, paired_difference};
use super::matrix::AgeMatrix;
use crate::analysis::quality::control_chart::wilson_interval;

/// A share of fish.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Fish of this kind.
    pub n: u64,
    /// Percent of all.
    pub percent: f64,
    /// 95 % Wilson interval, percent.
    pub ci95: [f64; 2],
}

/// How near ages come to known ages.
#[derive(Debug, Clone, PartialEq)]
pub struct Accuracy {
    /// Fish with a known age and a reading.
    pub n: u64,
    /// Read at the known age.
    pub correct: Share,
    /// Read younger.
    pub too_young: Share,
    /// Read older.
    pub too_old: Share,
    /// Within one year of the known age.
    pub within_1: Share,
    /// Error overall, read minus known, with its paired test.
    pub error: PairedDifference,
    /// By known age.
    pub by_known_age: Vec<BiasRow>,
}

/// Accuracy from a table with known ages in rows and ages read in columns; `None` without fish.
pub fn accuracy(known_by_read: &AgeMatrix) -> Option<Accuracy> {
    let n = known_by_read.n();
    let share = |of_kind: &dyn Fn(u32, u32) -> bool| -> Option<Share> {
        let cells = known_by_read.cells();
        let count =
            cells.filter(|(known, read, _)| of_kind(*known, *read)).map(|cell| cell.2).sum();
        let [low, high] = wilson_interval(count, n)?;
        let percent = 100.0 * count as f64 / n as f64;
        Some(Share { n: count, percent, ci95: [100.0 * low, 100.0 * high] })
    };
    Some(Accuracy {
        n,
        correct: share(&|known, read| read == known)?,
        too_young: share(&|known, read| read < known)?,
        too_old: share(&|known, read| read > known)?,
        within_1: share(&|known, read| read.abs_diff(known) <= 1)?,
        error: paired_difference(known_by_read)?,
        by_known_age: age_bias(known_by_read),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fish_is_right_too_young_or_too_old() {
        let rows = [vec![5, 1, 0], vec![3, 6, 1], vec![1, 4, 9]];
        let found = accuracy(&AgeMatrix::from_counts(3, &rows).unwrap()).unwrap();
        assert_eq!((found.n, found.correct.n, found.too_young.n, found.too_old.n), (30, 20, 8, 2));
        assert_eq!(found.within_1.n, 29);
        assert!((found.correct.percent - 200.0 / 3.0).abs() < 1e-12);
        // By hand: (2 x 1 - 7 x 1 - 1 x 2)/30.
        assert!((found.error.mean + 7.0 / 30.0).abs() < 1e-12);
        assert_eq!(found.by_known_age.len(), 3);
    }

    #[test]
    fn without_fish_there_is_no_value() {
        assert!(accuracy(&AgeMatrix::from_counts(3, &[vec![0]]).unwrap()).is_none());
    }
}
