//! Which curve the data prefer: AICc differences and weights (Burnham & Anderson 2002, from memory).

use super::fit::Fit;

/// One curve in the ranking.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The curve's command-line word.
    pub curve: &'static str,
    /// AICc.
    pub aicc: f64,
    /// Difference from the best.
    pub delta: f64,
    /// Akaike weight.
    pub weight: f64,
}

/// Ranks fits of the same response, best first. Fits that did not converge, have no AICc, or use another error model
/// or another number of rows than the first usable one are left out: their criteria do not compare.
pub fn rank_curves(fits: &[Fit]) -> Vec<Ranked> {
    let usable = |fit: &&Fit| fit.converged && fit.aicc.is_some();
    let Some(first) = fits.iter().find(usable) else {
        return Vec::new();
    };
    let mut ranked: Vec<Ranked> = fits
        .iter()
        .filter(usable)
        .filter(|fit| fit.error == first.error && fit.n == first.n)
        .filter_map(|fit| {
            let aicc = fit.aicc?;
            Some(Ranked { curve: fit.curve.word(), aicc, delta: 0.0, weight: 0.0 })
        })
        .collect();
    ranked.sort_by(|a, b| a.aicc.total_cmp(&b.aicc));
    let best = ranked.first().map_or(0.0, |first| first.aicc);
    let total: f64 = ranked.iter().map(|entry| (-0.5 * (entry.aicc - best)).exp()).sum();
    for entry in &mut ranked {
        entry.delta = entry.aicc - best;
        entry.weight = (-0.5 * entry.delta).exp() / total;
    }
    ranked
}
