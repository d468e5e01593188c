//! Peaks of a one-dimensional profile: where they are, how far they stand out, how wide they are.
//!
//! Definitions as in `scipy.signal.find_peaks`, `peak_prominences` and `peak_widths`, against which the values in
//! fixtures/published/24_smoothing_and_peaks.json were made.

/// A peak of a profile. Positions and widths are in samples, heights in the profile's own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// The sample; of a flat top the middle one, rounded down.
    pub index: usize,
    /// First and last sample of the flat top; both the index where it is not flat.
    pub top: (usize, usize),
    /// Position between samples: a parabola through the top and its neighbours; the middle of a flat top.
    pub position: f64,
    /// Value at the index.
    pub height: f64,
    /// Height above the higher of the two lowest points that part it from higher ground (or from the ends).
    pub prominence: f64,
    /// The lowest points on the left and on the right.
    pub bases: (usize, usize),
    /// Where the profile crosses half the prominence, left and right.
    pub crossings: (f64, f64),
}

impl Peak {
    /// Width at half prominence, samples.
    pub fn width(&self) -> f64 {
        self.crossings.1 - self.crossings.0
    }

    /// Samples in the flat top, 1 where it is not flat.
    pub fn top_samples(&self) -> usize {
        self.top.1 - self.top.0 + 1
    }
}

/// Which peaks to keep. The default keeps all.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PeakRules {
    /// Least prominence, in the profile's unit.
    pub min_prominence: f64,
    /// Least distance between kept peaks, samples; lower ones go first. Applied before the prominence.
    pub min_distance: usize,
}

/// The peaks that satisfy the rules, from left to right. The ends are never peaks.
pub fn find_peaks(values: &[f64], rules: PeakRules) -> Vec<Peak> {
    let tops = spread_out(values, flat_tops(values), rules.min_distance);
    tops.into_iter()
        .map(|top| measured(values, top))
        .filter(|peak| peak.prominence >= rules.min_prominence)
        .collect()
}

/// The dips that satisfy the rules: peaks of the negated profile, so their heights are negated too.
pub fn find_dips(values: &[f64], rules: PeakRules) -> Vec<Peak> {
    let negated: Vec<f64> = values.iter().map(|value| -value).collect();
    find_peaks(&negated, rules)
}

/// First and last sample of every top: a sample, or a run of equal ones, higher than both neighbours.
fn flat_tops(values: &[f64]) -> Vec<(usize, usize)> {
    let mut tops = Vec::new();
    let mut i = 1;
    while i + 1 < values.len() {
        let mut end = i;
        if values[i - 1] < values[i] {
            while end + 1 < values.len() && values[end + 1] == values[i] {
                end += 1;
            }
            if end + 1 < values.len() && values[end + 1] < values[i] {
                tops.push((i, end));
            }
        }
        i = end + 1;
    }
    tops
}

fn middle(top: (usize, usize)) -> usize {
    (top.0 + top.1) / 2
}

/// Drops lower tops until all neighbours are at least `distance` samples apart.
fn spread_out(values: &[f64], tops: Vec<(usize, usize)>, distance: usize) -> Vec<(usize, usize)> {
    if distance <= 1 {
        return tops;
    }
    let mut order: Vec<usize> = (0..tops.len()).collect();
    order.sort_by(|&a, &b| {
        let height = |k: usize| values[middle(tops[k])];
        height(b).total_cmp(&height(a)).then(b.cmp(&a))
    });
    let mut kept = vec![true; tops.len()];
    for chosen in order {
        if !kept[chosen] {
            continue;
        }
        let place = middle(tops[chosen]);
        let near = |k: usize| middle(tops[k]).abs_diff(place) < distance;
        for other in (0..chosen).rev().take_while(|&k| near(k)) {
            kept[other] = false;
        }
        for other in (chosen + 1..tops.len()).take_while(|&k| near(k)) {
            kept[other] = false;
        }
    }
    tops.into_iter().zip(kept).filter_map(|(top, kept)| kept.then_some(top)).collect()
}

fn measured(values: &[f64], top: (usize, usize)) -> Peak {
    let index = middle(top);
    let height = values[index];
    let left = base(values, index, (0..=index).rev());
    let right = base(values, index, index..values.len());
    let prominence = height - values[left].max(values[right]);
    let level = height - 0.5 * prominence;
    Peak {
        index,
        top,
        position: sub_sample(values, top),
        height,
        prominence,
        bases: (left, right),
        crossings: (
            left_crossing(values, index, left, level),
            right_crossing(values, index, right, level),
        ),
    }
}

/// The lowest sample on the way outwards, before higher ground; of equal ones the one nearest the peak.
fn base(values: &[f64], index: usize, way: impl Iterator<Item = usize>) -> usize {
    let height = values[index];
    let mut lowest = index;
    for i in way.take_while(|&i| values[i] <= height) {
        if values[i] < values[lowest] {
            lowest = i;
        }
    }
    lowest
}

fn left_crossing(values: &[f64], index: usize, base: usize, level: f64) -> f64 {
    let mut i = index;
    while i > base && values[i] > level {
        i -= 1;
    }
    let rise = values.get(i + 1).copied().unwrap_or(level) - values[i];
    if values[i] < level { i as f64 + (level - values[i]) / rise } else { i as f64 }
}

fn right_crossing(values: &[f64], index: usize, base: usize, level: f64) -> f64 {
    let mut i = index;
    while i < base && values[i] > level {
        i += 1;
    }
    if values[i] < level && i > 0 {
        i as f64 - (level - values[i]) / (values[i - 1] - values[i])
    } else {
        i as f64
    }
}

fn sub_sample(values: &[f64], top: (usize, usize)) -> f64 {
    if top.0 != top.1 {
        return (top.0 + top.1) as f64 / 2.0;
    }
    let (before, at, after) = (values[top.0 - 1], values[top.0], values[top.0 + 1]);
    top.0 as f64 + parabola_shift(before, at, after)
}

/// How far the top of the parabola through three equally spaced values lies from the middle one, in samples:
/// (y₋ - y₊) / (2 (y₋ - 2 y₀ + y₊)); 0 where the three lie on a line.
pub fn parabola_shift(before: f64, at: f64, after: f64) -> f64 {
    let bend = before - 2.0 * at + after;
    if bend == 0.0 { 0.0 } else { (before - after) / (2.0 * bend) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_top_counts_once_at_its_middle_and_a_shoulder_does_not() {
        let values = [0.0, 2.0, 2.0, 2.0, 2.0, 1.0, 1.0, 0.0, 3.0, 3.0];
        let peaks = find_peaks(&values, PeakRules::default());
        assert_eq!(peaks.len(), 1);
        assert_eq!((peaks[0].index, peaks[0].top, peaks[0].position), (2, (1, 4), 2.5));
        assert_eq!(peaks[0].top_samples(), 4);
        assert_eq!(peaks[0].prominence, 2.0);
    }

    #[test]
    fn the_parabola_finds_its_own_top() {
        let values: Vec<f64> = (0..9).map(|i| 5.0 - (i as f64 - 4.3).powi(2)).collect();
        let peak = find_peaks(&values, PeakRules::default())[0];
        assert!((peak.position - 4.3).abs() < 1e-12);
        assert_eq!(parabola_shift(1.0, 2.0, 3.0), 0.0);
    }

    #[test]
    fn short_flat_and_unordered_values_do_no_harm() {
        for values in [&[][..], &[1.0], &[1.0, 2.0], &[1.0; 5], &[f64::NAN; 6]] {
            assert!(find_peaks(values, PeakRules::default()).is_empty());
        }
        find_peaks(&[0.0, 1.0, f64::NAN, 5.0, 0.0, f64::INFINITY, 1.0], PeakRules::default());
    }

    #[test]
    fn lower_peaks_go_first() {
        let values = [0.0, 5.0, 0.0, 6.0, 0.0, 5.5, 0.0, 4.0, 0.0];
        let rules = PeakRules { min_distance: 3, ..PeakRules::default() };
        let kept: Vec<usize> = find_peaks(&values, rules).iter().map(|p| p.index).collect();
        assert_eq!(kept, [3, 7]);
    }
}
