//! Ages for fish that were measured and not aged, drawn by the key.
//!
//! Isermann & Knight 2005, N. Am. J. Fish. Manage. 25:1153-1160 (from memory). An assigned age is a draw, not a reading:
//! it never enters a comparison of readers.

use std::collections::BTreeMap;

use crate::analysis::numerics::splitmix::SplitMix64;

use super::age_length_key::{AgeLengthKey, KeyGroup};
use super::sample::SampledFish;

/// How ages are drawn within a length group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum AssignmentRule {
    /// Each age gets the whole part of its expected number; the rest are drawn by the fractional parts, each age at
    /// most once.
    #[default]
    WholePartsFirst,
    /// Every fish is drawn by the shares of the key.
    FullyRandom,
}

/// The age one fish was given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AssignedAge {
    /// Key of the fish; empty where it has none.
    pub fish: String,
    /// Its row. A row that stands for several fish is named once for each.
    pub row: usize,
    /// The age, years.
    pub age: u32,
}

/// What a length group gives away before anything is drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WholeParts {
    /// Whole part of unaged fish times share, for each age of the key.
    pub by_age: Vec<u64>,
    /// Fractional parts as counts out of the aged fish, for each age.
    pub remainders: Vec<u64>,
    /// Fish left to draw.
    pub left_to_draw: u64,
}

/// Whole and fractional parts of the expected numbers of a group's unaged fish, in whole numbers throughout.
pub fn whole_parts(row: &KeyGroup) -> WholeParts {
    let (unaged, aged) = (u128::from(row.unaged()), u128::from(row.aged().max(1)));
    let narrow = |value: u128| u64::try_from(value).unwrap_or(u64::MAX);
    let products = || row.by_age.iter().map(|count| unaged * u128::from(*count));
    let by_age: Vec<u64> = products().map(|product| narrow(product / aged)).collect();
    let given: u64 = by_age.iter().sum();
    WholeParts {
        remainders: products().map(|product| narrow(product % aged)).collect(),
        left_to_draw: row.unaged().saturating_sub(given),
        by_age,
    }
}

/// Gives every unaged fish an age, in the order of the sample. One seed gives one result; each length group has its own
/// stream, so that fish of one group do not change the draws in another.
pub fn assign_ages(
    key: &AgeLengthKey,
    fish: &[SampledFish],
    rule: AssignmentRule,
    seed: u64,
) -> Vec<AssignedAge> {
    let mut by_group: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for (index, one) in fish.iter().enumerate().filter(|(_, one)| one.age.is_none()) {
        if let Some(row) = key.row_of(one) {
            let slots = by_group.entry(row.first).or_default();
            slots.extend(std::iter::repeat_n(index, one.count as usize));
        }
    }
    let mut drawn: Vec<(usize, u32)> = Vec::new();
    for row in &key.rows {
        let Some(slots) = by_group.get(&row.first) else { continue };
        let mut random = SplitMix64::stream(seed, row.first.unsigned_abs());
        let places = match rule {
            AssignmentRule::WholePartsFirst => whole_parts_first(row, &mut random),
            AssignmentRule::FullyRandom => {
                slots.iter().map(|_| weighted_place(&row.by_age, &mut random)).collect()
            }
        };
        let ages = places.into_iter().filter_map(|place| key.ages.get(place).copied());
        drawn.extend(slots.iter().copied().zip(ages));
    }
    drawn.sort_by_key(|(index, _)| *index);
    drawn
        .into_iter()
        .filter_map(|(index, age)| {
            let one = fish.get(index)?;
            Some(AssignedAge { fish: one.fish.clone(), row: one.row, age })
        })
        .collect()
}

/// Places in the key's ages, one for each unaged fish, in random order.
fn whole_parts_first(row: &KeyGroup, random: &mut SplitMix64) -> Vec<usize> {
    let parts = whole_parts(row);
    let mut places: Vec<usize> = Vec::new();
    for (place, count) in parts.by_age.iter().enumerate() {
        places.extend(std::iter::repeat_n(place, usize::try_from(*count).unwrap_or(usize::MAX)));
    }
    let mut remainders = parts.remainders;
    for _ in 0..parts.left_to_draw {
        let place = weighted_place(&remainders, random);
        places.push(place);
        if let Some(remainder) = remainders.get_mut(place) {
            *remainder = 0;
        }
    }
    shuffle(&mut places, random);
    places
}

/// A place drawn in proportion to its weight.
fn weighted_place(weights: &[u64], random: &mut SplitMix64) -> usize {
    let total: u64 = weights.iter().sum();
    let mut at = random.next_below(usize::try_from(total).unwrap_or(usize::MAX)) as u64;
    weights
        .iter()
        .position(|weight| {
            let is_here = at < *weight;
            at = at.saturating_sub(*weight);
            is_here
        })
        .unwrap_or(0)
}

/// Fisher-Yates, from the end (Durstenfeld 1964, from memory).
pub(super) fn shuffle<T>(items: &mut [T], random: &mut SplitMix64) {
    for last in (1..items.len()).rev() {
        items.swap(last, random.next_below(last + 1));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::population::age_length_key::EmptyGroups;
    use crate::analysis::population::length_groups::LengthGroups;
    use crate::domain::survey::LengthUnit;
    use crate::domain::units::Millimetres;

    fn sample() -> (AgeLengthKey, Vec<SampledFish>) {
        let mut fish: Vec<SampledFish> = [1, 1, 2, 3, 3, 3]
            .into_iter()
            .map(|age| SampledFish::aged(2, Millimetres(210.0), age))
            .collect();
        fish.push(SampledFish { count: 6, ..SampledFish::unaged(8, Millimetres(205.0)) });
        fish.extend((9..14).map(|row| SampledFish::unaged(row, Millimetres(220.0))));
        let groups = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
        let key = AgeLengthKey::new(&fish, groups, EmptyGroups::Refuse).unwrap();
        (key, fish)
    }

    fn counts(ages: &[AssignedAge]) -> [usize; 3] {
        [1, 2, 3].map(|age| ages.iter().filter(|one| one.age == age).count())
    }

    /// Eleven fish at 2/6, 1/6, 3/6: 3.67, 1.83, 5.5; so 3, 1, 5 and two drawn from parts 4/6, 5/6, 3/6.
    #[test]
    fn whole_parts_are_kept_and_each_age_gains_at_most_one() {
        let (key, fish) = sample();
        let parts = whole_parts(&key.rows[0]);
        assert_eq!((parts.by_age, parts.remainders), (vec![3, 1, 5], vec![4, 5, 3]));
        let mut gains = [0usize; 3];
        for seed in 0..3000 {
            let ages = assign_ages(&key, &fish, AssignmentRule::WholePartsFirst, seed);
            assert_eq!(ages.len(), 11);
            assert_eq!(ages.iter().filter(|one| one.row == 8).count(), 6);
            for (gain, (count, whole)) in
                gains.iter_mut().zip(counts(&ages).into_iter().zip([3, 1, 5]))
            {
                assert!(count == whole || count == whole + 1);
                *gain += count - whole;
            }
        }
        // Two draws without replacement by 4, 5, 3: P(in) = 4/12 + 5/12·4/7 + 3/12·4/9 and so on.
        for (gain, weight, others) in [(gains[0], 4.0, [5.0, 3.0]), (gains[1], 5.0, [4.0, 3.0])] {
            let second: f64 = others.iter().map(|o| o / 12.0 * weight / (12.0 - o)).sum();
            let expected = 3000.0 * (weight / 12.0 + second);
            assert!((gain as f64 - expected).abs() < 100.0, "{gain} against {expected}");
        }
    }

    #[test]
    fn fully_random_draws_follow_the_shares() {
        let (key, fish) = sample();
        let mut total = [0usize; 3];
        for seed in 0..2000 {
            let ages = assign_ages(&key, &fish, AssignmentRule::FullyRandom, seed);
            for (sum, count) in total.iter_mut().zip(counts(&ages)) {
                *sum += count;
            }
        }
        for (found, share) in total.into_iter().zip([2.0, 1.0, 3.0]) {
            assert!((found as f64 / 22_000.0 - share / 6.0).abs() < 0.015);
        }
    }

    #[test]
    fn a_seed_gives_one_result() {
        let (key, fish) = sample();
        let run = |seed| assign_ages(&key, &fish, AssignmentRule::default(), seed);
        assert_eq!(run(4), run(4));
        assert!((5..50).any(|seed| run(4) != run(seed)));
    }
}
