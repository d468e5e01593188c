//! Which fish to age: so many of each length group and sex, drawn at random with a recorded seed.
//!
//! Ageing by length group (Ketchen 1949, from memory) spends the work on the rare long fish; within a group the draw must
//! be random, not the first fish on the table.

use std::collections::BTreeMap;

use crate::analysis::numerics::splitmix::SplitMix64;
use crate::domain::fish::Sex;

use super::assignment::shuffle;
use super::length_groups::LengthGroups;
use super::sample::SampledFish;

/// Fish drawn from one length group, and one sex where sexes are kept apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawnGroup {
    /// Number of the length group.
    pub group: i64,
    /// The sex; `None` where sexes are not kept apart. Fish of unknown sex are a group of their own.
    pub sex: Option<Sex>,
    /// Fish to choose from.
    pub available: usize,
    /// Positions of the drawn fish in the sample, in order.
    pub drawn: Vec<usize>,
}

/// Draws up to `per_group` fish of each length group (and sex where `by_sex`). Rows that stand for several fish cannot
/// be drawn: those fish were only counted. One seed gives one result.
pub fn draw_fish_to_age(
    fish: &[SampledFish],
    groups: &LengthGroups,
    per_group: usize,
    by_sex: bool,
    seed: u64,
) -> Vec<DrawnGroup> {
    let mut strata: BTreeMap<(i64, Option<Sex>), Vec<usize>> = BTreeMap::new();
    for (index, one) in fish.iter().enumerate().filter(|(_, one)| one.count == 1) {
        let stratum = (groups.index_of(one.length), by_sex.then_some(one.sex));
        strata.entry(stratum).or_default().push(index);
    }
    strata
        .into_iter()
        .map(|((group, sex), mut members)| {
            let stream = group.unsigned_abs() * 4 + sex.map_or(0, |sex| 1 + sex as u64);
            shuffle(&mut members, &mut SplitMix64::stream(seed, stream));
            let available = members.len();
            members.truncate(per_group);
            members.sort_unstable();
            DrawnGroup { group, sex, available, drawn: members }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::survey::LengthUnit;
    use crate::domain::units::Millimetres;

    fn fish() -> Vec<SampledFish> {
        (0..40)
            .map(|i| SampledFish {
                sex: if i % 2 == 0 { Sex::Female } else { Sex::Unknown },
                ..SampledFish::unaged(i, Millimetres(200.0 + i as f64))
            })
            .collect()
    }

    #[test]
    fn each_group_gives_what_was_asked_or_what_it_has() {
        let groups = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
        let drawn = draw_fish_to_age(&fish(), &groups, 10, false, 3);
        let sizes: Vec<_> =
            drawn.iter().map(|one| (one.group, one.available, one.drawn.len())).collect();
        assert_eq!(sizes, [(8, 25, 10), (9, 15, 10)]);
        let by_sex = draw_fish_to_age(&fish(), &groups, 10, true, 3);
        let sizes: Vec<_> =
            by_sex.iter().map(|one| (one.sex, one.available, one.drawn.len())).collect();
        assert_eq!(
            sizes,
            [
                (Some(Sex::Female), 13, 10),
                (Some(Sex::Unknown), 12, 10),
                (Some(Sex::Female), 7, 7),
                (Some(Sex::Unknown), 8, 8)
            ]
        );
    }

    #[test]
    fn every_fish_of_a_group_is_drawn_as_often_as_any_other() {
        let groups = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
        let mut times = [0usize; 25];
        for seed in 0..2000 {
            for index in &draw_fish_to_age(&fish(), &groups, 5, false, seed)[0].drawn {
                times[*index] += 1;
            }
        }
        assert!(times.iter().all(|times| (330..470).contains(times)), "{times:?}");
    }
}
