//! Circuli on a radial profile: where they lie, their spacing, and the crowding score.

use super::signal::{parabola_shift, smoothed_by};

/// Spacing of neighbouring circuli: `position[i + 1] - position[i]`, in the positions' own unit.
pub fn spacing(positions: &[f64]) -> Vec<f64> {
    positions.windows(2).map(|pair| pair[1] - pair[0]).collect()
}

/// Centred spacing at each circulus but the first and last: half the distance between its two neighbours.
pub fn centred_spacing(positions: &[f64]) -> Vec<f64> {
    positions.windows(3).map(|three| (three[2] - three[0]) / 2.0).collect()
}

/// The crowding score at circuli `half_window`, `half_window + 1`, ...: the natural logarithm of the mean of the
/// next `half_window` spacings over the mean of the previous ones. High where crowded circuli end.
///
/// Empty where there are not enough circuli: the score is blind within `half_window` circuli of either end.
pub fn crowding_score(positions: &[f64], half_window: usize) -> Vec<f64> {
    let h = half_window.max(1);
    let spacing = spacing(positions);
    if spacing.len() < 2 * h {
        return Vec::new();
    }
    let mean = |part: &[f64]| part.iter().sum::<f64>() / h as f64;
    spacing.windows(2 * h).map(|part| (mean(&part[h..]) / mean(&part[..h])).ln()).collect()
}

/// Circuli of a profile whose local spacing is known roughly: `period_at(sample)`, in samples.
///
/// Peaks of the profile smoothed to a fraction of the spacing; of all peaks the sequence with the best height
/// and the most even gaps; a gap of about two spacings gets the circulus that was not seen.
pub fn located(profile: &[f64], period_at: &dyn Fn(f64) -> f64, from: f64, to: f64) -> Vec<f64> {
    // Crowded circuli must outlast the smoothing even where their spacing is not known yet.
    let periods: Vec<f64> = (from.max(1.0) as usize..to.max(1.0) as usize)
        .step_by(8)
        .map(|i| period_at(i as f64))
        .collect();
    let usual = super::signal::median(&periods);
    let smooth = smoothed_by(profile, |i| 0.13 * period_at(i as f64).min(0.8 * usual));
    let mut tops: Vec<(f64, f64)> = Vec::new();
    let last = smooth.len().saturating_sub(1);
    for i in (from.max(1.0) as usize)..(to as usize).min(last) {
        let (a, b, c) = (smooth[i - 1], smooth[i], smooth[i + 1]);
        if b > a && b >= c {
            tops.push((i as f64 + parabola_shift(a, b, c), prominence_near(&smooth, i, period_at)));
        }
    }
    filled_in(&best_sequence(&tops, period_at), period_at)
}

/// Height above the mean of the lowest points within three quarters of a spacing on both sides.
fn prominence_near(values: &[f64], i: usize, period_at: &dyn Fn(f64) -> f64) -> f64 {
    let reach = (0.75 * period_at(i as f64)).ceil().max(1.0) as usize;
    let low =
        |range: std::ops::Range<usize>| values[range].iter().copied().fold(f64::MAX, f64::min);
    let left = low(i.saturating_sub(reach)..i + 1);
    let right = low(i..(i + reach + 1).min(values.len()));
    values[i] - 0.5 * (left + right)
}

/// Peaks kept by dynamic programming.
fn best_sequence(tops: &[(f64, f64)], period_at: &dyn Fn(f64) -> f64) -> Vec<f64> {
    if tops.is_empty() {
        return Vec::new();
    }
    let typical = super::signal::median(&tops.iter().map(|t| t.1).collect::<Vec<_>>()).max(1e-9);
    let worth = |i: usize| (tops[i].1 / typical).min(1.5) - 0.15;
    let sides: Vec<(f64, f64)> =
        tops.iter().map(|t| (usual_before(t.0, period_at), usual_after(t.0, period_at))).collect();
    let mut best: Vec<(f64, Option<usize>)> = Vec::with_capacity(tops.len());
    for i in 0..tops.len() {
        let own = worth(i);
        let mut top = (own, None);
        for j in (i.saturating_sub(10)..i).rev() {
            let gap = tops[i].0 - tops[j].0;
            let (low, high) = (sides[j].0.min(sides[i].1), sides[j].0.max(sides[i].1));
            let off = if gap > high {
                (gap / high).ln()
            } else if gap < low {
                (gap / low).ln()
            } else {
                0.0
            };
            let off = if off > 0.4 { 0.4 + 1.3 * (off - 0.4) } else { off };
            // A gap too narrow is doubted less than one too wide: crowding comes at once, over a few circuli.
            let value = best[j].0 + own - if off > 0.0 { 2.6 } else { 0.7 } * off * off;
            if value > top.0 {
                top = (value, Some(j));
            }
            if gap * gap > 16.0 * low * high {
                break;
            }
        }
        best.push(top);
    }
    let mut at = (0..tops.len()).max_by(|a, b| best[*a].0.total_cmp(&best[*b].0));
    let mut chosen = Vec::new();
    while let Some(i) = at {
        chosen.push(tops[i].0);
        at = best[i].1;
    }
    chosen.reverse();
    chosen
}

/// The usual spacing just before a gap that begins at `from`.
fn usual_before(from: f64, period_at: &dyn Fn(f64) -> f64) -> f64 {
    let before = period_at(from);
    before.min(period_at(from - 0.7 * before)).max(0.7 * before)
}

/// The usual spacing just after a gap that ends at `to`.
fn usual_after(to: f64, period_at: &dyn Fn(f64) -> f64) -> f64 {
    let after = period_at(to);
    after.max(period_at(to + 0.7 * after)).min(1.4 * after)
}

/// Adds circuli in gaps that hold a whole number of spacings.
fn filled_in(positions: &[f64], period_at: &dyn Fn(f64) -> f64) -> Vec<f64> {
    let mut out: Vec<f64> = Vec::with_capacity(positions.len());
    for &position in positions {
        if let Some(&before) = out.last() {
            let gap = position - before;
            // Beside a winter the spacing jumps: the wider side decides, or the gap that marks it would be filled.
            let usual = usual_before(before, period_at).max(usual_after(position, period_at));
            let parts = (gap / usual).round().clamp(1.0, 6.0);
            if gap / usual > 1.65 {
                for k in 1..parts as usize {
                    out.push(before + gap * k as f64 / parts);
                }
            }
        }
        out.push(position);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ridges_are_found_and_a_missing_one_is_filled_in() {
        let profile: Vec<f64> = (0..400)
            .map(|i| {
                let x = i as f64 / 10.0;
                if (x - 20.0).abs() < 0.5 { -1.0 } else { (std::f64::consts::TAU * x).cos() }
            })
            .collect();
        let found = located(&profile, &|_| 10.0, 0.0, 400.0);
        assert_eq!(found.len(), 39);
        for (i, at) in found.iter().enumerate() {
            assert!((at - 10.0 * (i + 1) as f64).abs() < 1.0, "{at}");
        }
    }

    #[test]
    fn the_score_is_zero_on_even_spacing_and_blind_at_the_ends() {
        let even: Vec<f64> = (0..12).map(f64::from).collect();
        assert_eq!(crowding_score(&even, 4).len(), 4);
        assert!(crowding_score(&even, 4).iter().all(|s| s.abs() < 1e-12));
        assert!(crowding_score(&even, 6).is_empty());
    }
}
