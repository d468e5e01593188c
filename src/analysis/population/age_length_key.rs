//! The age-length key: for each length group, the share of its fish at each age.
//!
//! Ketchen 1949, "Stratified subsampling for determining age distributions", Trans. Am. Fish. Soc. 79:205-212 (from
//! memory): q(l, a) = n(l, a) / n(l) with n(l) fish aged in group l and n(l, a) of them at age a.

use std::collections::{BTreeMap, BTreeSet};

use crate::domain::ages::OLDEST_AGE;

use super::PopulationError;
use super::length_groups::LengthGroups;
use super::sample::SampledFish;

/// What to do with a length group that holds fish and not one aged fish.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum EmptyGroups {
    /// Stop and name it.
    #[default]
    Refuse,
    /// Make one group of it and the nearest group with aged fish (the lower of two as near).
    Merge,
    /// Leave it a group of its own and use the aged fish of the nearest groups below and above, pooled.
    Borrow,
}

/// One length group of a key, or several merged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyGroup {
    /// Number of its first group in [`LengthGroups`].
    pub first: i64,
    /// Number of its last group; the first again unless groups were merged.
    pub last: i64,
    /// Fish measured, aged and unaged.
    pub sampled: u64,
    /// Aged fish at each age of the key, in the order of its ages; those of the neighbours where borrowed.
    pub by_age: Vec<u64>,
    /// Numbers of the groups its aged fish were borrowed from; empty where they are its own.
    pub borrowed_from: Vec<i64>,
}

impl KeyGroup {
    /// Fish aged; those of the neighbours where borrowed.
    pub fn aged(&self) -> u64 {
        self.by_age.iter().sum()
    }

    /// Share of each age, in the order of the key's ages.
    pub fn shares(&self) -> Vec<f64> {
        let n = self.aged() as f64;
        self.by_age.iter().map(|count| *count as f64 / n).collect()
    }

    /// Fish measured and not aged.
    pub fn unaged(&self) -> u64 {
        if self.is_borrowed() { self.sampled } else { self.sampled.saturating_sub(self.aged()) }
    }

    /// True where it had no aged fish of its own.
    pub fn is_borrowed(&self) -> bool {
        !self.borrowed_from.is_empty()
    }
}

/// An age-length key in which every group has shares.
#[derive(Debug, Clone, PartialEq)]
pub struct AgeLengthKey {
    /// How lengths are grouped.
    pub groups: LengthGroups,
    /// Ages found among the aged fish, in order.
    pub ages: Vec<u32>,
    /// Groups with fish, in order of length.
    pub rows: Vec<KeyGroup>,
    /// Groups between the shortest and the longest fish that hold no fish at all.
    pub gaps: Vec<i64>,
}

impl AgeLengthKey {
    /// Makes the key of a sample.
    ///
    /// # Errors
    /// [`PopulationError`] without aged fish, for lengths or ages that are none, and, unless `empty` allows a remedy,
    /// for groups with fish of which none was aged.
    pub fn new(
        fish: &[SampledFish],
        groups: LengthGroups,
        empty: EmptyGroups,
    ) -> Result<Self, PopulationError> {
        check(fish)?;
        let ages: BTreeSet<u32> = fish.iter().filter_map(|fish| fish.age).collect();
        if ages.is_empty() {
            return Err(PopulationError::NoAgedFish);
        }
        let ages: Vec<u32> = ages.into_iter().collect();
        let mut counted: BTreeMap<i64, KeyGroup> = BTreeMap::new();
        for fish in fish {
            let index = groups.index_of(fish.length);
            let group = counted.entry(index).or_insert_with(|| KeyGroup {
                first: index,
                last: index,
                sampled: 0,
                by_age: vec![0; ages.len()],
                borrowed_from: Vec::new(),
            });
            group.sampled += u64::from(fish.count);
            let place = fish.age.and_then(|age| ages.binary_search(&age).ok());
            if let Some(count) = place.and_then(|place| group.by_age.get_mut(place)) {
                *count += u64::from(fish.count);
            }
        }
        let gaps = gaps(&counted);
        let rows: Vec<KeyGroup> = counted.into_values().collect();
        let rows = match empty {
            EmptyGroups::Refuse => refused(rows, &groups)?,
            EmptyGroups::Merge => merged(rows),
            EmptyGroups::Borrow => borrowed(&rows),
        };
        Ok(Self { groups, ages, rows, gaps })
    }

    /// Fish measured, aged and unaged.
    pub fn n_sampled(&self) -> u64 {
        self.rows.iter().map(|row| row.sampled).sum()
    }

    /// Fish aged.
    pub fn n_aged(&self) -> u64 {
        self.rows.iter().filter(|row| !row.is_borrowed()).map(KeyGroup::aged).sum()
    }

    /// The row a fish belongs to.
    pub fn row_of(&self, fish: &SampledFish) -> Option<&KeyGroup> {
        let index = self.groups.index_of(fish.length);
        self.rows.iter().find(|row| (row.first..=row.last).contains(&index))
    }

    /// A row's name, as "200-225 mm".
    pub fn name_of(&self, row: &KeyGroup) -> String {
        self.groups.name(row.first, row.last)
    }

    /// Middle of a row's lengths, millimetres.
    pub fn midpoint_mm(&self, row: &KeyGroup) -> f64 {
        let upper = self.groups.lower_mm(row.last.saturating_add(1));
        f64::midpoint(self.groups.lower_mm(row.first), upper)
    }
}

/// A fish cannot be longer; anything above is a slip of the keyboard.
const LONGEST_MM: f64 = 20_000.0;

fn check(fish: &[SampledFish]) -> Result<(), PopulationError> {
    for one in fish {
        let length_mm = one.length.0;
        if !(length_mm > 0.0 && length_mm <= LONGEST_MM) {
            return Err(PopulationError::BadLength { row: one.row, length_mm });
        }
        if let Some(age) = one.age.filter(|age| *age > OLDEST_AGE) {
            return Err(PopulationError::AgeTooHigh { row: one.row, age });
        }
    }
    Ok(())
}

fn gaps(counted: &BTreeMap<i64, KeyGroup>) -> Vec<i64> {
    let next = counted.keys().skip(1);
    counted.keys().zip(next).flat_map(|(index, next)| index + 1..*next).collect()
}

fn refused(rows: Vec<KeyGroup>, groups: &LengthGroups) -> Result<Vec<KeyGroup>, PopulationError> {
    let empty: Vec<&KeyGroup> = rows.iter().filter(|row| row.aged() == 0).collect();
    if empty.is_empty() {
        return Ok(rows);
    }
    Err(PopulationError::EmptyGroups {
        groups: empty.iter().map(|row| groups.name(row.first, row.last)).collect(),
        n_fish: empty.iter().map(|row| row.sampled).sum(),
    })
}

/// Each row without aged fish joins the nearest row with some; what lies between goes with it.
fn merged(rows: Vec<KeyGroup>) -> Vec<KeyGroup> {
    let aged: Vec<i64> = rows.iter().filter(|row| row.aged() > 0).map(|row| row.first).collect();
    let home_of = |row: &KeyGroup| {
        let away = |home: &&i64| (**home - row.first).unsigned_abs();
        // The first of equals wins: the shorter neighbour.
        aged.iter().min_by_key(away).copied().unwrap_or(row.first)
    };
    let mut joined: BTreeMap<i64, KeyGroup> = BTreeMap::new();
    for row in rows {
        match joined.entry(home_of(&row)) {
            std::collections::btree_map::Entry::Vacant(free) => {
                free.insert(row);
            }
            std::collections::btree_map::Entry::Occupied(mut taken) => {
                let home = taken.get_mut();
                home.first = home.first.min(row.first);
                home.last = home.last.max(row.last);
                home.sampled += row.sampled;
                for (count, more) in home.by_age.iter_mut().zip(row.by_age) {
                    *count += more;
                }
            }
        }
    }
    joined.into_values().collect()
}

fn borrowed(rows: &[KeyGroup]) -> Vec<KeyGroup> {
    let has_aged = |row: &&KeyGroup| row.aged() > 0;
    rows.iter()
        .enumerate()
        .map(|(at, row)| {
            if row.aged() > 0 {
                return row.clone();
            }
            let below = rows.iter().take(at).rev().find(has_aged);
            let above = rows.iter().skip(at + 1).find(has_aged);
            let mut filled = row.clone();
            for neighbour in below.into_iter().chain(above) {
                filled.borrowed_from.push(neighbour.first);
                for (count, more) in filled.by_age.iter_mut().zip(&neighbour.by_age) {
                    *count += more;
                }
            }
            filled
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::survey::LengthUnit;
    use crate::domain::units::Millimetres;

    fn fish() -> Vec<SampledFish> {
        let aged = [(210.0, 1), (215.0, 2), (260.0, 2), (265.0, 3), (268.0, 3)];
        let mut fish: Vec<SampledFish> =
            aged.map(|(mm, age)| SampledFish::aged(2, Millimetres(mm), age)).into();
        for mm in [205.0, 230.0, 231.0, 261.0, 335.0] {
            fish.push(SampledFish::unaged(2, Millimetres(mm)));
        }
        fish
    }

    fn key(empty: EmptyGroups) -> Result<AgeLengthKey, PopulationError> {
        let groups = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
        AgeLengthKey::new(&fish(), groups, empty)
    }

    #[test]
    fn groups_without_aged_fish_block_and_are_named() {
        let message = key(EmptyGroups::Refuse).unwrap_err().to_string();
        assert!(message.contains("225-250 mm, 325-350 mm, which hold 3 fish"), "{message}");
        assert!(message.contains("merged") && message.contains("borrow"));
    }

    #[test]
    fn merging_joins_the_nearest_group() {
        let key = key(EmptyGroups::Merge).unwrap();
        let rows: Vec<_> =
            key.rows.iter().map(|row| (key.name_of(row), row.sampled, row.aged())).collect();
        assert_eq!(rows, [("200-250 mm".to_owned(), 5, 2), ("250-350 mm".to_owned(), 5, 3)]);
        assert_eq!(key.gaps, [11, 12]);
        assert_eq!((key.n_sampled(), key.n_aged()), (10, 5));
    }

    #[test]
    fn borrowing_pools_the_neighbours_on_both_sides() {
        let key = key(EmptyGroups::Borrow).unwrap();
        let between = &key.rows[1];
        assert_eq!((between.by_age.as_slice(), between.unaged()), (&[1, 2, 2][..], 2));
        assert_eq!(between.borrowed_from, [8, 10]);
        assert_eq!(key.rows[3].by_age, [0, 1, 2]);
        assert_eq!(key.rows[3].borrowed_from, [10]);
        assert_eq!(key.n_aged(), 5);
    }

    #[test]
    fn what_is_no_fish_is_refused() {
        let groups = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
        let try_one = |fish| AgeLengthKey::new(&[fish], groups, EmptyGroups::Refuse);
        assert_eq!(
            try_one(SampledFish::unaged(2, Millimetres(200.0))),
            Err(PopulationError::NoAgedFish)
        );
        assert!(try_one(SampledFish::aged(2, Millimetres(f64::NAN), 3)).is_err());
        assert!(try_one(SampledFish::aged(2, Millimetres(200.0), 501)).is_err());
    }
}
