//! Mean length at age where only some of the fish of each length group were aged: each aged fish stands for the fish of
//! its group.
//!
//! Where equal numbers were aged in each length group, long and short fish of an age are over-represented among the aged
//! ones, and their plain mean is biased (Bettoli & Miranda 2001, N. Am. J. Fish. Manage. 21:425-428, from memory). With
//! N(l) fish measured and n(l) aged in group l, an aged fish has the weight N(l)/n(l), and the mean is
//! R = sum w L / sum w over the fish of the age: the same as the mean over expected numbers N(l) q(l, a).
//! Its variance is that of a ratio in a two-phase sample, in the form of the share of an age (Kimura 1977, from memory):
//! with e = (L - R)/p for fish of the age and 0 for others, Var R = sum of λ² s²(e)/n(l) + λ ē²/N, λ = N(l)/N.

use std::collections::BTreeMap;

use crate::analysis::numerics::distribution::t_quantile;

use super::age_length_key::AgeLengthKey;
use super::sample::SampledFish;

/// Mean length at one age, weighted and plain.
#[derive(Debug, Clone, PartialEq)]
pub struct WeightedAge {
    /// Age, years.
    pub age: u32,
    /// Aged fish with a length at this age.
    pub n_aged: usize,
    /// Fish they stand for.
    pub n_expected: f64,
    /// Weighted mean, mm.
    pub mean_mm: f64,
    /// Weighted standard deviation among fish, mm; `None` for one fish.
    pub sd_mm: Option<f64>,
    /// Standard error of the weighted mean, mm; `None` for one fish.
    pub se_mm: Option<f64>,
    /// 95 % limits of the weighted mean, mm, by Student's t on Satterthwaite's degrees of freedom over length groups; `None`
    /// for one fish.
    pub ci95_mm: Option<[f64; 2]>,
    /// Mean of the aged fish alone, mm.
    pub plain_mean_mm: f64,
}

/// An aged fish: its row of the key and its lengths at ages, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyedFish {
    /// Position of its row in [`AgeLengthKey::rows`].
    pub row: usize,
    /// Whole age and length.
    pub lengths_mm: Vec<(u32, f64)>,
}

/// The row a fish belongs to and the number of fish it stands for; `None` outside the key and in groups without aged fish
/// of their own.
pub fn weight_of(key: &AgeLengthKey, fish: &SampledFish) -> Option<(usize, f64)> {
    let index = key.groups.index_of(fish.length);
    let place = key.rows.iter().position(|row| (row.first..=row.last).contains(&index))?;
    let row = key.rows.get(place).filter(|row| !row.is_borrowed() && row.aged() > 0)?;
    Some((place, row.sampled as f64 / row.aged() as f64))
}

/// Weighted means of every age, in order.
pub fn weighted_lengths(key: &AgeLengthKey, fish: &[KeyedFish]) -> Vec<WeightedAge> {
    let mut by_age: BTreeMap<u32, Vec<(usize, f64)>> = BTreeMap::new();
    for one in fish {
        for (age, length_mm) in &one.lengths_mm {
            by_age.entry(*age).or_default().push((one.row, *length_mm));
        }
    }
    by_age.into_iter().filter_map(|(age, rows)| weighted(key, age, &rows)).collect()
}

fn weighted(key: &AgeLengthKey, age: u32, rows: &[(usize, f64)]) -> Option<WeightedAge> {
    let stands_for = |row: usize| {
        key.rows.get(row).map_or(0.0, |row| row.sampled as f64 / row.aged().max(1) as f64)
    };
    let n_expected: f64 = rows.iter().map(|(row, _)| stands_for(*row)).sum();
    let sum: f64 = rows.iter().map(|(row, mm)| stands_for(*row) * mm).sum();
    if rows.is_empty() || n_expected <= 0.0 {
        return None;
    }
    let mean_mm = sum / n_expected;
    let squares: f64 = rows.iter().map(|(row, mm)| stands_for(*row) * (mm - mean_mm).powi(2)).sum();
    let n = rows.len();
    let (variance, df) = variance(key, rows, mean_mm, n_expected);
    let se_mm = (n > 1).then(|| variance.sqrt());
    let half = se_mm.zip(t_quantile(0.975, df)).map(|(se, t)| t * se);
    Some(WeightedAge {
        age,
        n_aged: n,
        n_expected,
        mean_mm,
        sd_mm: (n > 1).then(|| (squares / n_expected * n as f64 / (n as f64 - 1.0)).sqrt()),
        se_mm,
        ci95_mm: half.map(|half| [mean_mm - half, mean_mm + half]),
        plain_mean_mm: rows.iter().map(|(_, mm)| mm).sum::<f64>() / n as f64,
    })
}

/// The variance of the mean and its degrees of freedom.
fn variance(
    key: &AgeLengthKey,
    rows: &[(usize, f64)],
    mean_mm: f64,
    n_expected: f64,
) -> (f64, f64) {
    let total = key.n_sampled() as f64;
    let share = n_expected / total;
    let mut by_row: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for (row, mm) in rows {
        let e = (mm - mean_mm) / share;
        let sums = by_row.entry(*row).or_default();
        *sums = (sums.0 + e, sums.1 + e * e);
    }
    let parts: Vec<(f64, f64, f64)> = by_row
        .into_iter()
        .filter_map(|(row, (sum, squares))| {
            let row = key.rows.get(row)?;
            let (n, weight) = (row.aged() as f64, row.sampled as f64 / total);
            let mean = sum / n;
            let within = if n > 1.0 { (squares - n * mean * mean) / (n - 1.0) / n } else { 0.0 };
            Some((weight * weight * within, weight * mean * mean / total, n - 1.0))
        })
        .collect();
    let variance: f64 = parts.iter().map(|(within, between, _)| within + between).sum();
    let spent: f64 =
        parts.iter().filter(|part| part.2 > 0.0).map(|part| part.0 * part.0 / part.2).sum();
    let most = (rows.len() as f64 - 1.0).max(1.0);
    let df = if spent > 0.0 { (variance * variance / spent).clamp(1.0, most) } else { most };
    (variance, df)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::numerics::splitmix::SplitMix64;
    use crate::analysis::population::age_length_key::EmptyGroups;
    use crate::analysis::population::length_groups::LengthGroups;
    use crate::domain::survey::LengthUnit;
    use crate::domain::units::Millimetres;

    fn groups() -> LengthGroups {
        LengthGroups::new(20.0, LengthUnit::Millimetre).unwrap()
    }

    fn keyed(key: &AgeLengthKey, sample: &[SampledFish]) -> Vec<KeyedFish> {
        let aged = sample.iter().filter_map(|one| {
            let (row, _) = weight_of(key, one)?;
            Some(KeyedFish { row, lengths_mm: vec![(one.age?, one.length.value())] })
        });
        aged.collect()
    }

    #[test]
    fn a_worked_example_by_hand() {
        // 200-220 mm: 6 fish, 2 aged, both age 2; 220-240 mm: 4 fish, 2 aged, ages 2 and 3. Weights 3 and 2.
        let aged = [(202.0, 2), (210.0, 2), (226.0, 2), (230.0, 3)];
        let mut sample: Vec<SampledFish> =
            aged.map(|(mm, age)| SampledFish::aged(2, Millimetres(mm), age)).into();
        for mm in [203.0, 204.0, 211.0, 219.0, 221.0, 239.0] {
            sample.push(SampledFish::unaged(2, Millimetres(mm)));
        }
        let key = AgeLengthKey::new(&sample, groups(), EmptyGroups::Refuse).unwrap();
        let found = weighted_lengths(&key, &keyed(&key, &sample));
        assert_eq!((found[0].age, found[0].n_aged, found[0].n_expected), (2, 3, 8.0));
        // (3 x 202 + 3 x 210 + 2 x 226)/8 = 211.
        assert!((found[0].mean_mm - 211.0).abs() < 1e-12);
        assert!((found[0].plain_mean_mm - 638.0 / 3.0).abs() < 1e-12);
        assert_eq!((found[1].mean_mm, found[1].se_mm), (230.0, None));
    }

    /// A thousand lakes of known truth, at most ten fish aged in each length group: the weighted mean is free of bias and its
    /// error right, the plain mean is neither.
    #[test]
    fn weighting_takes_the_bias_away_and_its_error_is_right() {
        let (mut inside, mut plain_bias, mut bias, mut lakes) = (0, 0.0, 0.0, 0);
        for lake in 0..1000u64 {
            let mut random = SplitMix64::stream(77, lake);
            let mut fish: Vec<(f64, u32)> = (0..400)
                .map(|_| {
                    let age = 1 + u32::from(random.next_unit() > 0.6);
                    let mean = if age == 1 { 150.0 } else { 205.0 };
                    (mean + 22.0 * random.next_normal(), age)
                })
                .collect();
            fish.retain(|(mm, _)| *mm > 80.0);
            let mut aged: BTreeMap<i64, usize> = BTreeMap::new();
            let sample: Vec<SampledFish> = fish
                .iter()
                .map(|(mm, age)| {
                    let count = aged.entry(groups().index_of(Millimetres(*mm))).or_default();
                    *count += 1;
                    if *count <= 10 {
                        SampledFish::aged(2, Millimetres(*mm), *age)
                    } else {
                        SampledFish::unaged(2, Millimetres(*mm))
                    }
                })
                .collect();
            let key = AgeLengthKey::new(&sample, groups(), EmptyGroups::Refuse).unwrap();
            let found = weighted_lengths(&key, &keyed(&key, &sample));
            let two = found.iter().find(|row| row.age == 2).unwrap();
            lakes += 1;
            bias += two.mean_mm - 205.0;
            plain_bias += two.plain_mean_mm - 205.0;
            let [low, high] = two.ci95_mm.unwrap();
            inside += usize::from(low <= 205.0 && 205.0 <= high);
        }
        let lakes = f64::from(lakes);
        assert!((bias / lakes).abs() < 0.5, "{}", bias / lakes);
        assert!((plain_bias / lakes).abs() > 2.0, "{}", plain_bias / lakes);
        let share = inside as f64 / lakes;
        assert!((0.92..=0.97).contains(&share), "{share}");
    }
}
