//! The 95 % interval of a growth index where one fish brings lengths at several ages.
//!
//! Lengths of one fish at neighbouring annuli are not independent, so the fish is the unit: the index is a sum over fish
//! of u = sum over its ages of (length - mean at that age)/(ages x fish at that age), and its variance the sum of u² times
//! n/(n - 1) (the linearised variance of a ratio estimate with clusters; Cochran 1977, from memory), with Student's t
//! on n - 1 fish.

use std::collections::BTreeMap;

use crate::analysis::numerics::distribution::t_quantile;

/// The interval about `centre` from (age, mm) pairs, one list for each fish, over the ages in `used`; `None` for fewer
/// than two fish or without ages.
pub fn index_interval(centre_mm: f64, fish: &[Vec<(u32, f64)>], used: &[u32]) -> Option<[f64; 2]> {
    let mut sums: BTreeMap<u32, (f64, f64)> = BTreeMap::new();
    for (age, length_mm) in fish.iter().flatten().filter(|(age, _)| used.contains(age)) {
        let entry = sums.entry(*age).or_insert((0.0, 0.0));
        *entry = (entry.0 + length_mm, entry.1 + 1.0);
    }
    let n_ages = sums.len() as f64;
    let shares: Vec<f64> = fish
        .iter()
        .filter(|one| one.iter().any(|(age, _)| sums.contains_key(age)))
        .map(|one| {
            let share = |(age, length_mm): &(u32, f64)| {
                sums.get(age).map(|(sum, n)| (length_mm - sum / n) / (n * n_ages))
            };
            one.iter().filter_map(share).sum()
        })
        .collect();
    let n = shares.len() as f64;
    if n < 2.0 {
        return None;
    }
    let variance = shares.iter().map(|share| share * share).sum::<f64>() * n / (n - 1.0);
    let half = t_quantile(0.975, n - 1.0)? * variance.sqrt();
    Some([centre_mm - half, centre_mm + half])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_one_age_it_is_the_t_interval_of_the_mean() {
        let lengths = [250.0, 254.0, 262.0, 246.0];
        let fish: Vec<Vec<(u32, f64)>> = lengths.iter().map(|length| vec![(2, *length)]).collect();
        let [low, high] = index_interval(12.0, &fish, &[2]).unwrap();
        // SD 6.83130, t on 3 degrees of freedom 3.182446, root of 4 fish.
        assert!(
            (high - 12.0 - 10.870).abs() < 0.001 && (12.0 - low - 10.870).abs() < 0.001,
            "{low} {high}"
        );
    }

    #[test]
    fn ages_of_one_fish_are_not_counted_as_news() {
        let fish: Vec<Vec<(u32, f64)>> =
            [-5.0, 0.0, 2.0, 3.0].iter().map(|d| vec![(1, 100.0 + d), (2, 200.0 + d)]).collect();
        let one = index_interval(0.0, &fish, &[1]).unwrap();
        let both = index_interval(0.0, &fish, &[1, 2]).unwrap();
        assert!((one[1] - both[1]).abs() < 1e-9);
        assert!(index_interval(0.0, &fish[..1], &[1]).is_none());
    }
}
