//! Small tools for one-dimensional signals sampled at equal steps.

/// Gaussian smoothing; the ends repeat their last value. `sigma` in samples.
pub fn smoothed(values: &[f64], sigma: f64) -> Vec<f64> {
    if sigma < 0.3 || values.len() < 2 {
        return values.to_vec();
    }
    let reach = (3.5 * sigma).ceil() as isize;
    let mut weights: Vec<f64> =
        (-reach..=reach).map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= sum);
    let last = values.len() as isize - 1;
    (0..values.len() as isize)
        .map(|i| {
            if i >= reach && i + reach <= last {
                let from = (i - reach) as usize;
                let part = &values[from..from + weights.len()];
                return part.iter().zip(&weights).map(|(v, w)| v * w).sum();
            }
            weights
                .iter()
                .enumerate()
                .map(|(k, w)| w * values[(i + k as isize - reach).clamp(0, last) as usize])
                .sum()
        })
        .collect()
}

/// Smoothing whose width follows the place: `sigma_at(i)` in samples.
pub fn smoothed_by(values: &[f64], sigma_at: impl Fn(usize) -> f64) -> Vec<f64> {
    let last = values.len() as isize - 1;
    (0..values.len())
        .map(|i| {
            let sigma = sigma_at(i).max(0.3);
            let reach = (3.0 * sigma).ceil() as isize;
            let (mut sum, mut weights) = (0.0, 0.0);
            for k in -reach..=reach {
                let w = (-0.5 * (k as f64 / sigma).powi(2)).exp();
                sum += w * values[(i as isize + k).clamp(0, last) as usize];
                weights += w;
            }
            sum / weights
        })
        .collect()
}

/// The value at a fractional index, linear; the ends repeat.
pub fn at(values: &[f64], index: f64) -> f64 {
    let Some(last) = values.len().checked_sub(1) else { return 0.0 };
    let index = index.clamp(0.0, last as f64);
    let low = index as usize;
    let high = (low + 1).min(last);
    values[low] + (values[high] - values[low]) * (index - low as f64)
}

/// Mean over `from..to` (fractional indices, rounded), clipped to the signal; `None` where nothing is left.
pub fn mean_over(values: &[f64], from: f64, to: f64) -> Option<f64> {
    let a = from.max(0.0).round() as usize;
    let b = (to.max(0.0).round() as usize).min(values.len());
    let part = values.get(a..b)?;
    if part.is_empty() { None } else { Some(part.iter().sum::<f64>() / part.len() as f64) }
}

/// Shift of the extremum of a parabola through three points, samples, within half a sample.
pub fn parabola_shift(before: f64, here: f64, after: f64) -> f64 {
    let bend = before - 2.0 * here + after;
    if bend.abs() < 1e-15 { 0.0 } else { ((before - after) / (2.0 * bend)).clamp(-0.5, 0.5) }
}

/// The median; 0 of nothing.
pub fn median(values: &[f64]) -> f64 {
    quantile(values, 0.5)
}

/// A quantile by the nearest rank; 0 of nothing.
pub fn quantile(values: &[f64], share: f64) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let mut sorted = values.to_vec();
    let rank = ((sorted.len() - 1) as f64 * share).round() as usize;
    *sorted.select_nth_unstable_by(rank, f64::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smoothing_keeps_a_constant_and_the_parabola_finds_its_top() {
        assert!(smoothed(&[3.0; 20], 2.0).iter().all(|v| (v - 3.0).abs() < 1e-12));
        assert!(smoothed_by(&[3.0; 20], |i| i as f64).iter().all(|v| (v - 3.0).abs() < 1e-12));
        let f = |x: f64| 5.0 - (x - 0.2).powi(2);
        assert!((parabola_shift(f(-1.0), f(0.0), f(1.0)) - 0.2).abs() < 1e-12);
        assert_eq!(quantile(&[3.0, 1.0, 2.0], 1.0), 3.0);
    }
}
