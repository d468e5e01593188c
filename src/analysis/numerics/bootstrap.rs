//! Resampling with a recorded seed: the same result for any number of threads.

use rayon::prelude::*;

use crate::domain::progress::{Progress, Stopped};

use super::splitmix::SplitMix64;

/// Runs `replicate` once per index with that index's own random stream, on all cores, in order. `None` marks a
/// replicate that failed.
///
/// # Errors
/// [`Stopped`] when someone asked to stop.
pub fn replicates<T, F>(
    count: usize,
    seed: u64,
    progress: &Progress,
    replicate: F,
) -> Result<Vec<Option<T>>, Stopped>
where
    T: Send,
    F: Fn(&mut SplitMix64) -> Option<T> + Sync,
{
    progress.set_total(count);
    (0..count)
        .into_par_iter()
        .map(|index| {
            progress.checkpoint()?;
            let out = replicate(&mut SplitMix64::stream(seed, index as u64));
            progress.step();
            Ok(out)
        })
        .collect()
}

/// The value below which a share `p` (0 to 1) of the sorted values lies, by linear interpolation between order
/// statistics (position (n - 1) p; Hyndman & Fan 1996, type 7, from memory). `None` without values.
pub fn percentile(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let position = p.clamp(0.0, 1.0) * last as f64;
    let below = position.floor() as usize;
    let low = *sorted.get(below)?;
    let high = *sorted.get((below + 1).min(last))?;
    Some(low + (position - below as f64) * (high - low))
}

/// Median and 95 % percentile limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PercentileInterval {
    /// Median.
    pub median: f64,
    /// 2.5 and 97.5 percentiles.
    pub ci95: [f64; 2],
}

/// Median and limits of unsorted values; `None` without finite values.
pub fn percentile_interval(values: impl IntoIterator<Item = f64>) -> Option<PercentileInterval> {
    let mut sorted: Vec<f64> = values.into_iter().filter(|value| value.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    Some(PercentileInterval {
        median: percentile(&sorted, 0.5)?,
        ci95: [percentile(&sorted, 0.025)?, percentile(&sorted, 0.975)?],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_interpolate() {
        let values = [1.0, 2.0, 3.0, 4.0];
        assert_eq!(percentile(&values, 0.5), Some(2.5));
        assert_eq!(percentile(&values, 1.0), Some(4.0));
        assert_eq!(percentile(&[], 0.5), None);
    }

    #[test]
    fn order_and_values_do_not_depend_on_threads() {
        let run = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| replicates(500, 11, &Progress::new(), |r| Some(r.next_u64())).unwrap())
        };
        assert_eq!(run(1), run(4));
    }

    #[test]
    fn a_stop_ends_it() {
        let progress = Progress::new();
        progress.stop();
        assert!(replicates(10, 1, &progress, |_| Some(0)).is_err());
    }
}
