//! Small tools for one-dimensional signals sampled at equal steps.

/// A spread, in samples, that needs no finer samples: wider smoothing works on means of several.
const ENOUGH: f64 = 5.0;

/// Gaussian smoothing; the ends repeat their last value. `sigma` in samples.
pub fn smoothed(values: &[f64], sigma: f64) -> Vec<f64> {
    if sigma < 0.3 || values.len() < 2 {
        return values.to_vec();
    }
    let step = (sigma / ENOUGH) as usize;
    if step < 2 {
        return convolved(values, sigma);
    }
    // Means of `step` samples and the straight lines between them widen the spread themselves a little.
    let d = step as f64;
    let own = (d * d - 1.0) / 12.0 + d * d / 6.0;
    let reach = (3.5 * sigma / d).ceil() as usize + 1;
    let coarse = means_of(values, step, reach);
    let coarse = convolved(&coarse, (sigma * sigma - own).sqrt() / d);
    let at_middle = reach as f64 - (d - 1.0) / 2.0 / d;
    let (per_step, mut out) = (1.0 / d, Vec::with_capacity(values.len()));
    for i in 0..values.len() {
        let index = at_middle + i as f64 * per_step;
        let low = index as usize;
        let (a, b) = (coarse[low.min(coarse.len() - 1)], coarse[(low + 1).min(coarse.len() - 1)]);
        out.push(a + (b - a) * (index - low as f64));
    }
    out
}

/// Means of `step` values each, with `before` and as many after from the ends repeated.
fn means_of(values: &[f64], step: usize, before: usize) -> Vec<f64> {
    let (first, last) = (values.first().copied(), values.last().copied());
    let (first, last) = (first.unwrap_or(0.0), last.unwrap_or(0.0));
    let mut means = vec![first; before];
    for part in values.chunks(step) {
        let missing = (step - part.len()) as f64;
        means.push((part.iter().sum::<f64>() + missing * last) / step as f64);
    }
    means.extend(std::iter::repeat_n(last, before + 1));
    means
}

/// Gaussian smoothing weight by weight, which suits the machine better than value by value.
fn convolved(values: &[f64], sigma: f64) -> Vec<f64> {
    let reach = (3.5 * sigma).ceil() as usize;
    let mut weights: Vec<f64> = (0..=2 * reach)
        .map(|k| (-0.5 * ((k as f64 - reach as f64) / sigma).powi(2)).exp())
        .collect();
    let sum: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= sum);
    let mut wide = Vec::with_capacity(values.len() + 2 * reach);
    wide.extend(std::iter::repeat_n(values.first().copied().unwrap_or(0.0), reach));
    wide.extend_from_slice(values);
    wide.extend(std::iter::repeat_n(values.last().copied().unwrap_or(0.0), reach));
    let mut out = vec![0.0; values.len()];
    let block = 256;
    for (b, out) in out.chunks_mut(block).enumerate() {
        for (k, w) in weights.iter().enumerate() {
            let part = &wide[b * block + k..];
            for (o, v) in out.iter_mut().zip(part) {
                *o += w * v;
            }
        }
    }
    out
}

/// Smoothing whose width follows the place: `sigma_at(i)` in samples.
pub fn smoothed_by(values: &[f64], sigma_at: impl Fn(usize) -> f64) -> Vec<f64> {
    let last = values.len() as isize - 1;
    (0..values.len())
        .map(|i| {
            let sigma = sigma_at(i).max(0.3);
            let reach = (3.0 * sigma).ceil() as isize;
            // Each weight of a Gaussian is the one before times a factor that itself shrinks evenly.
            let first = (-0.5 / (sigma * sigma)).exp();
            let (mut w, mut factor, shrinking) = (1.0, first, first * first);
            let centre = values[i];
            let (mut sum, mut weights) = (centre, 1.0);
            for k in 1..=reach {
                w *= factor;
                factor *= shrinking;
                let before = values[(i as isize - k).max(0) as usize];
                let after = values[(i as isize + k).min(last) as usize];
                sum += w * (before + after);
                weights += 2.0 * w;
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
    fn wide_smoothing_on_means_equals_that_on_samples() {
        let wave = |i: usize| (i as f64 * 0.021).sin() + ((i * 7919 % 13) as f64 - 6.0) / 6.0;
        let values: Vec<f64> = (0..900).map(wave).collect();
        for sigma in [10.0, 17.0, 36.0] {
            let (quick, plain) = (smoothed(&values, sigma), convolved(&values, sigma));
            for (i, (a, b)) in quick.iter().zip(&plain).enumerate() {
                assert!((a - b).abs() < 0.02, "{i} of {sigma}: {a} {b}");
            }
        }
    }

    #[test]
    fn smoothing_keeps_a_constant_and_the_parabola_finds_its_top() {
        assert!(smoothed(&[3.0; 20], 2.0).iter().all(|v| (v - 3.0).abs() < 1e-12));
        assert!(smoothed(&[3.0; 90], 25.0).iter().all(|v| (v - 3.0).abs() < 1e-12));
        assert!(smoothed_by(&[3.0; 20], |i| i as f64).iter().all(|v| (v - 3.0).abs() < 1e-12));
        let f = |x: f64| 5.0 - (x - 0.2).powi(2);
        assert!((parabola_shift(f(-1.0), f(0.0), f(1.0)) - 0.2).abs() < 1e-12);
        assert_eq!(quantile(&[3.0, 1.0, 2.0], 1.0), 3.0);
    }
}
