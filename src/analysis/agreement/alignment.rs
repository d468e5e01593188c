//! Mark by mark: which mark of one reader is the same ring as which mark of the other, and where the two part.
//!
//! Two marks are the same ring where their distances from the focus differ by no more than a tolerance; of all ways to
//! pair marks in order, the one with the most pairs is taken, and among those the one whose pairs lie closest together
//! (common practice, no source; the search is the ordinary one for aligning two ordered sequences).

use super::matching::Side;

/// Two marks count as one ring where they differ by no more than this share of the distance to the margin (common
/// practice, no source).
pub const USUAL_TOLERANCE: f64 = 0.03;

/// A place along the axis and who marked it. At least one of the two did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AlignedMark {
    /// Index of the first reader's mark.
    pub first: Option<usize>,
    /// Index of the second reader's mark.
    pub second: Option<usize>,
}

impl AlignedMark {
    /// The reader who alone marked it; `None` where both did.
    pub fn alone(&self) -> Option<Side> {
        match (self.first, self.second) {
            (Some(_), None) => Some(Side::First),
            (None, Some(_)) => Some(Side::Second),
            _ => None,
        }
    }
}

/// How good a pairing of the first few marks is: more pairs first, then less distance between them.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Score {
    pairs: usize,
    distance: f64,
}

impl Score {
    fn is_better_than(&self, other: &Self) -> bool {
        self.pairs > other.pairs || (self.pairs == other.pairs && self.distance < other.distance)
    }
}

/// Pairs two readers' marks, from the focus out. Distances increase, in any one unit that both share; marks further
/// apart than `tolerance` are different rings.
pub fn align_marks(first: &[f64], second: &[f64], tolerance: f64) -> Vec<AlignedMark> {
    let width = second.len() + 1;
    let mut best = vec![Score { pairs: 0, distance: 0.0 }; (first.len() + 1) * width];
    let at = |table: &[Score], i: usize, j: usize| {
        table.get(i * width + j).copied().unwrap_or(Score { pairs: 0, distance: 0.0 })
    };
    let joined = |table: &[Score], i: usize, j: usize| -> Option<Score> {
        let (a, b) = (first.get(i.checked_sub(1)?)?, second.get(j.checked_sub(1)?)?);
        let before = at(table, i - 1, j - 1);
        let distance = (a - b).abs();
        (distance <= tolerance)
            .then(|| Score { pairs: before.pairs + 1, distance: before.distance + distance })
    };
    for i in 0..=first.len() {
        for j in 0..=second.len() {
            let mut here = Score { pairs: 0, distance: 0.0 };
            if i > 0 {
                here = at(&best, i - 1, j);
            }
            if j > 0 && at(&best, i, j - 1).is_better_than(&here) {
                here = at(&best, i, j - 1);
            }
            if let Some(joined) = joined(&best, i, j).filter(|joined| joined.is_better_than(&here))
            {
                here = joined;
            }
            if let Some(cell) = best.get_mut(i * width + j) {
                *cell = here;
            }
        }
    }
    let mut pairs = Vec::new();
    let (mut i, mut j) = (first.len(), second.len());
    while i > 0 && j > 0 {
        let here = at(&best, i, j);
        if at(&best, i - 1, j) == here {
            i -= 1;
        } else if at(&best, i, j - 1) == here {
            j -= 1;
        } else {
            (i, j) = (i - 1, j - 1);
            pairs.push((i, j));
        }
    }
    pairs.reverse();
    in_order(first, second, &pairs)
}

/// The pairs with the marks only one reader made, from the focus out.
fn in_order(first: &[f64], second: &[f64], pairs: &[(usize, usize)]) -> Vec<AlignedMark> {
    let mut all = Vec::with_capacity(first.len() + second.len());
    let (mut i, mut j) = (0, 0);
    let ends = pairs.iter().copied().map(Some).chain([None]);
    for pair in ends {
        let (end_i, end_j) = pair.unwrap_or((first.len(), second.len()));
        while i < end_i || j < end_j {
            let from_first =
                match (first.get(i).filter(|_| i < end_i), second.get(j).filter(|_| j < end_j)) {
                    (Some(a), Some(b)) => a <= b,
                    (Some(_), None) => true,
                    _ => false,
                };
            if from_first {
                all.push(AlignedMark { first: Some(i), second: None });
                i += 1;
            } else {
                all.push(AlignedMark { first: None, second: Some(j) });
                j += 1;
            }
        }
        if let Some((a, b)) = pair {
            all.push(AlignedMark { first: Some(a), second: Some(b) });
            (i, j) = (a + 1, b + 1);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(aligned: &[AlignedMark]) -> Vec<(usize, usize)> {
        aligned.iter().filter_map(|one| Some((one.first?, one.second?))).collect()
    }

    #[test]
    fn a_mark_only_one_reader_made_is_found_between_the_others() {
        let kb = [0.50, 0.93, 1.20, 1.92, 2.41];
        let ml = [0.51, 0.90, 1.22, 2.40];
        let aligned = align_marks(&kb, &ml, 0.08);
        assert_eq!(pairs(&aligned), [(0, 0), (1, 1), (2, 2), (4, 3)]);
        let alone: Vec<_> = aligned.iter().filter(|one| one.alone().is_some()).collect();
        assert_eq!(alone, [&AlignedMark { first: Some(3), second: None }]);
        assert_eq!(alone[0].alone(), Some(Side::First));
    }

    #[test]
    fn equal_counts_may_still_be_other_rings() {
        let aligned = align_marks(&[1.0, 2.0, 3.0], &[1.0, 2.5, 3.0], 0.1);
        assert_eq!(pairs(&aligned), [(0, 0), (2, 2)]);
        let sides: Vec<_> = aligned.iter().filter_map(AlignedMark::alone).collect();
        assert_eq!(sides, [Side::First, Side::Second]);
    }

    #[test]
    fn nothing_is_no_trouble() {
        assert!(align_marks(&[], &[], 1.0).is_empty());
        assert_eq!(align_marks(&[1.0], &[], 1.0)[0].alone(), Some(Side::First));
        assert_eq!(align_marks(&[], &[1.0], 1.0)[0].alone(), Some(Side::Second));
        assert_eq!(align_marks(&[f64::NAN], &[1.0], 1.0).len(), 2);
    }

    /// Best of all pairings in order, by trying every one.
    fn by_trying(first: &[f64], second: &[f64], tolerance: f64) -> Score {
        let (Some((a, rest_a)), Some((b, rest_b))) = (first.split_first(), second.split_first())
        else {
            return Score { pairs: 0, distance: 0.0 };
        };
        let mut best = by_trying(rest_a, second, tolerance);
        let other = by_trying(first, rest_b, tolerance);
        if other.is_better_than(&best) {
            best = other;
        }
        if (a - b).abs() <= tolerance {
            let rest = by_trying(rest_a, rest_b, tolerance);
            let joined = Score { pairs: rest.pairs + 1, distance: rest.distance + (a - b).abs() };
            if joined.is_better_than(&best) {
                best = joined;
            }
        }
        best
    }

    proptest::proptest! {
        #[test]
        fn no_other_pairing_is_better(
            mut first in proptest::collection::vec(0_u32..60, 0..7),
            mut second in proptest::collection::vec(0_u32..60, 0..7),
            tolerance in 0_u32..12,
        ) {
            first.sort_unstable();
            second.sort_unstable();
            // Whole numbers: sums are exact, whatever their order.
            let of = |marks: &[u32]| marks.iter().map(|at| f64::from(*at)).collect::<Vec<f64>>();
            let (first, second, tolerance) = (of(&first), of(&second), f64::from(tolerance));
            let aligned = align_marks(&first, &second, tolerance);
            let found = pairs(&aligned);
            let distance: f64 = found.iter().map(|(i, j)| (first[*i] - second[*j]).abs()).sum();
            let best = by_trying(&first, &second, tolerance);
            proptest::prop_assert_eq!(Score { pairs: found.len(), distance }, best);
            let every = |side: fn(&AlignedMark) -> Option<usize>| {
                aligned.iter().filter_map(side).collect::<Vec<_>>()
            };
            proptest::prop_assert_eq!(every(|one| one.first), (0..first.len()).collect::<Vec<_>>());
            proptest::prop_assert_eq!(every(|one| one.second), (0..second.len()).collect::<Vec<_>>());
        }
    }
}
