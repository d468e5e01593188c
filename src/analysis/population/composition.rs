//! Age composition of the whole sample from an age-length key, with its error.

use crate::analysis::numerics::bootstrap::{PercentileInterval, percentile_interval, replicates};
use crate::analysis::numerics::splitmix::SplitMix64;
use crate::analysis::numerics::standard_deviation;
use crate::domain::progress::{Progress, Stopped};

use super::age_length_key::AgeLengthKey;

/// Fish of one age in the whole sample.
#[derive(Debug, Clone, PartialEq)]
pub struct CompositionRow {
    /// Age, years.
    pub age: u32,
    /// Fish of this age that were aged.
    pub n_aged: u64,
    /// Fish of this age expected in the sample, aged and unaged.
    pub n_expected: f64,
    /// Share of the sample.
    pub proportion: f64,
    /// Standard error of the share, divisor n(l).
    pub se: f64,
    /// Standard error of the share, divisor n(l) - 1.
    pub se_n_minus_1: f64,
    /// Standard error over share; `None` for a share of 0.
    pub cv: Option<f64>,
    /// Mean length at this age from expected numbers and middles of length groups, millimetres.
    pub mean_length_mm: Option<f64>,
}

/// Composition of a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct Composition {
    /// Fish in the sample.
    pub n: u64,
    /// A row for each age among the aged fish, in order.
    pub rows: Vec<CompositionRow>,
    /// Groups with one aged fish: in the n - 1 form they add nothing to the error within groups.
    pub n_groups_with_one_aged: usize,
}

/// The composition of the sample a key was made from.
///
/// p(a) = sum of λ(l) q(l, a), λ(l) = N(l)/N. Var p(a) = sum of λ² q (1 - q)/n(l) + λ (q - p)²/N (Kimura 1977, J. Fish.
/// Res. Board Can. 34:317-324; with n(l) - 1, Quinn & Deriso 1999, "Quantitative Fish Dynamics"; both from memory, the
/// first confirmed by simulation). Assumes fish for ageing were drawn at random within length groups. Mean length at age
/// uses expected numbers, since the mean of the aged fish alone is biased where equal numbers were aged per group
/// (Bettoli & Miranda 2001, from memory).
pub fn composition(key: &AgeLengthKey) -> Composition {
    let n = key.n_sampled() as f64;
    let shares: Vec<Vec<f64>> = key.rows.iter().map(|row| row.shares()).collect();
    let rows = key
        .ages
        .iter()
        .enumerate()
        .map(|(at, age)| {
            let groups = || {
                key.rows.iter().zip(&shares).filter_map(move |(row, shares)| {
                    shares.get(at).map(|q| (row, *q, row.sampled as f64 / n))
                })
            };
            let proportion: f64 = groups().map(|(_, q, weight)| weight * q).sum();
            let variance = |less: u64| -> f64 {
                groups()
                    .map(|(row, q, weight)| {
                        let divisor = row.aged().saturating_sub(less);
                        let within = if divisor == 0 {
                            0.0
                        } else {
                            weight * weight * q * (1.0 - q) / divisor as f64
                        };
                        within + weight * (q - proportion).powi(2) / n
                    })
                    .sum()
            };
            let se = variance(0).sqrt();
            let lengths: f64 =
                groups().map(|(row, q, weight)| weight * q * key.midpoint_mm(row)).sum();
            let own = key.rows.iter().filter(|row| !row.is_borrowed());
            CompositionRow {
                age: *age,
                n_aged: own.filter_map(|row| row.by_age.get(at)).sum(),
                n_expected: expected_number(key, &shares, at),
                proportion,
                se,
                se_n_minus_1: variance(1).sqrt(),
                cv: (proportion > 0.0).then(|| se / proportion),
                mean_length_mm: (proportion > 0.0).then(|| lengths / proportion),
            }
        })
        .collect();
    let n_groups_with_one_aged = key.rows.iter().filter(|row| row.aged() == 1).count();
    Composition { n: key.n_sampled(), rows, n_groups_with_one_aged }
}

fn expected_number(key: &AgeLengthKey, shares: &[Vec<f64>], at: usize) -> f64 {
    let rows = key.rows.iter().zip(shares);
    rows.filter_map(|(row, shares)| shares.get(at).map(|q| row.sampled as f64 * q)).sum()
}

/// Compositions of samples drawn anew.
#[derive(Debug, Clone, PartialEq)]
pub struct CompositionBootstrap {
    /// The seed.
    pub seed: u64,
    /// Expected numbers at each age of the key, one row for each replicate.
    pub numbers: Vec<Vec<f64>>,
    /// Error and percentile limits of the share of each age.
    pub shares: Vec<ShareError>,
}

/// Error of a share over replicates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShareError {
    /// Age, years.
    pub age: u32,
    /// Standard deviation over replicates; `None` for fewer than two.
    pub se: Option<f64>,
    /// Median and percentile limits.
    pub interval: Option<PercentileInterval>,
}

/// Draws the whole sample anew `count` times: first the lengths of all fish, then within each length group its aged
/// fish, so that both phases of the sampling are in the error. The same for any number of processors.
///
/// # Errors
/// [`Stopped`] when someone asked to stop.
pub fn bootstrap_composition(
    key: &AgeLengthKey,
    count: usize,
    seed: u64,
    progress: &Progress,
) -> Result<CompositionBootstrap, Stopped> {
    let drawn = replicates(count, seed, progress, |random| Some(numbers_anew(key, random)))?;
    let numbers: Vec<Vec<f64>> = drawn.into_iter().flatten().collect();
    let n = key.n_sampled() as f64;
    let shares = key
        .ages
        .iter()
        .enumerate()
        .map(|(at, age)| {
            let shares: Vec<f64> =
                numbers.iter().filter_map(|row| row.get(at)).map(|number| number / n).collect();
            ShareError {
                age: *age,
                se: standard_deviation(&shares),
                interval: percentile_interval(shares),
            }
        })
        .collect();
    Ok(CompositionBootstrap { seed, numbers, shares })
}

fn numbers_anew(key: &AgeLengthKey, random: &mut SplitMix64) -> Vec<f64> {
    let sizes: Vec<u64> = key.rows.iter().map(|row| row.sampled).collect();
    let sampled = draw_counts(&sizes, key.n_sampled(), random);
    // Groups that borrow share the redrawn fish of their neighbours, as they share the fish.
    let own: Vec<Option<Vec<u64>>> = key
        .rows
        .iter()
        .map(|row| (!row.is_borrowed()).then(|| draw_counts(&row.by_age, row.aged(), random)))
        .collect();
    let mut numbers = vec![0.0; key.ages.len()];
    for ((row, own_counts), n) in key.rows.iter().zip(&own).zip(sampled) {
        let by_age = match own_counts {
            Some(counts) => counts.clone(),
            None => pooled(key, &own, &row.borrowed_from),
        };
        let aged: u64 = by_age.iter().sum();
        for (number, count) in numbers.iter_mut().zip(by_age) {
            *number += n as f64 * count as f64 / aged as f64;
        }
    }
    numbers
}

fn pooled(key: &AgeLengthKey, own: &[Option<Vec<u64>>], from: &[i64]) -> Vec<u64> {
    let mut sum = vec![0; key.ages.len()];
    for (row, counts) in key.rows.iter().zip(own).filter(|(row, _)| from.contains(&row.first)) {
        debug_assert!(!row.is_borrowed());
        for (total, count) in sum.iter_mut().zip(counts.iter().flatten()) {
            *total += count;
        }
    }
    sum
}

/// `n` draws with replacement from cells of these sizes.
fn draw_counts(sizes: &[u64], n: u64, random: &mut SplitMix64) -> Vec<u64> {
    let ends: Vec<u64> = sizes
        .iter()
        .scan(0, |end, size| {
            *end += size;
            Some(*end)
        })
        .collect();
    let total = ends.last().copied().unwrap_or(0);
    let mut counts = vec![0; sizes.len()];
    for _ in 0..n {
        let at = random.next_below(usize::try_from(total).unwrap_or(usize::MAX)) as u64;
        if let Some(count) = counts.get_mut(ends.partition_point(|end| *end <= at)) {
            *count += 1;
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::population::age_length_key::EmptyGroups;
    use crate::analysis::population::length_groups::LengthGroups;
    use crate::analysis::population::sample::SampledFish;
    use crate::domain::survey::LengthUnit;
    use crate::domain::units::Millimetres;

    fn key(aged: &[(f64, u32)], unaged: &[(f64, u32)], empty: EmptyGroups) -> AgeLengthKey {
        let mut fish: Vec<SampledFish> =
            aged.iter().map(|(mm, age)| SampledFish::aged(2, Millimetres(*mm), *age)).collect();
        fish.extend(unaged.iter().map(|(mm, count)| SampledFish {
            count: *count,
            ..SampledFish::unaged(2, Millimetres(*mm))
        }));
        let groups = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
        AgeLengthKey::new(&fish, groups, empty).unwrap()
    }

    /// Where every fish was aged the error is the binomial one.
    #[test]
    fn a_sample_aged_whole_has_the_binomial_error() {
        let aged: Vec<(f64, u32)> =
            (0..60).map(|i| (200.0 + 2.5 * f64::from(i), 1 + (i * i) % 3)).collect();
        let found = composition(&key(&aged, &[], EmptyGroups::Refuse));
        for row in &found.rows {
            let p = row.n_aged as f64 / 60.0;
            assert!((row.proportion - p).abs() < 1e-12);
            assert!((row.n_expected - row.n_aged as f64).abs() < 1e-9);
            assert!((row.se - (p * (1.0 - p) / 60.0).sqrt()).abs() < 1e-12);
        }
    }

    #[test]
    fn the_bootstrap_agrees_with_the_formula() {
        let aged = [
            (210.0, 1),
            (211.0, 1),
            (212.0, 2),
            (213.0, 1),
            (240.0, 2),
            (241.0, 2),
            (242.0, 3),
            (243.0, 2),
        ];
        let key = key(&aged, &[(205.0, 40), (230.0, 60)], EmptyGroups::Refuse);
        let drawn = bootstrap_composition(&key, 4000, 5, &Progress::new()).unwrap();
        for (row, share) in composition(&key).rows.iter().zip(&drawn.shares) {
            let ratio = share.se.unwrap() / row.se;
            assert!((0.95..1.05).contains(&ratio), "age {}: {ratio}", row.age);
        }
        let again = bootstrap_composition(&key, 4000, 5, &Progress::new()).unwrap();
        assert_eq!(drawn, again);
    }

    #[test]
    fn borrowed_fish_are_counted_once() {
        let key = key(&[(210.0, 1), (260.0, 3)], &[(230.0, 10)], EmptyGroups::Borrow);
        let found = composition(&key);
        assert_eq!(found.rows.iter().map(|row| row.n_aged).sum::<u64>(), 2);
        let total: f64 = found.rows.iter().map(|row| row.n_expected).sum();
        assert!((total - 12.0).abs() < 1e-12);
        assert_eq!(found.n_groups_with_one_aged, 2);
        let drawn = bootstrap_composition(&key, 50, 1, &Progress::new()).unwrap();
        for numbers in &drawn.numbers {
            assert!((numbers.iter().sum::<f64>() - 12.0).abs() < 1e-9);
        }
    }
}
