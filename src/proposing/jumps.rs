//! How the spacing of circuli jumps: the mean of the gaps after a place over the mean of those before it.

/// Weighted mean; `None` of nothing.
pub(super) fn weighted(values: impl Iterator<Item = (f64, f64)>) -> Option<f64> {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (v, w) in values {
        sum += v * w;
        weights += w;
    }
    if weights > 0.0 { Some(sum / weights) } else { None }
}

/// Weights of the gaps on each side, nearest first: a middling window, a short one, a wide one.
pub(super) const NEAR: [f64; 4] = [1.0, 0.85, 0.6, 0.35];
pub(super) const SHORT: [f64; 2] = [1.0, 0.4];
pub(super) const WIDE: [f64; 7] = [1.0, 1.0, 1.0, 0.9, 0.8, 0.6, 0.4];

/// Mean logarithm of the spacing after gap `g` (itself included) minus before it.
pub(super) fn jump(log_gaps: &[f64], g: usize, weights: &[f64]) -> Option<f64> {
    let after = weighted(
        weights.iter().enumerate().filter_map(|(k, w)| Some((*log_gaps.get(g + k)?, *w))),
    )?;
    let before = weighted(
        weights
            .iter()
            .enumerate()
            .filter_map(|(k, w)| Some((*log_gaps.get(g.checked_sub(k + 1)?)?, *w))),
    )?;
    Some(after - before)
}

/// Jump of the gaps of one sector at gap `g`; `None` where too few are seen.
pub(super) fn sector_step(gaps: &[Option<f64>], g: usize) -> Option<f64> {
    let side = |places: &[Option<usize>]| {
        weighted(
            places
                .iter()
                .zip(NEAR)
                .filter_map(|(k, w)| Some((gaps.get((*k)?).copied().flatten()?, w))),
        )
    };
    let after = side(&[Some(g), Some(g + 1), Some(g + 2)])?;
    let before = side(&[g.checked_sub(1), g.checked_sub(2), g.checked_sub(3)])?;
    Some((after - before).clamp(-1.0, 1.0))
}

/// Scores of circuli of their own, with the place of each.
#[derive(Debug, Clone, Default)]
pub(super) struct Narrow {
    pub middles: Vec<f64>,
    pub near: Vec<f64>,
    pub short: Vec<f64>,
}

impl Narrow {
    pub fn of(circuli: &[f64]) -> Self {
        let gaps: Vec<f64> = circuli.windows(2).map(|p| (p[1] - p[0]).max(1e-6).ln()).collect();
        let scored = |weights: &[f64]| {
            (0..gaps.len()).map(|g| jump(&gaps, g, weights).unwrap_or(0.0)).collect()
        };
        Self {
            middles: circuli.windows(2).map(|p| (p[0] + p[1]) / 2.0).collect(),
            near: scored(&NEAR),
            short: scored(&SHORT),
        }
    }
}
