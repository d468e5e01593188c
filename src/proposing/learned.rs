//! The learned evidence: what the network makes of a strip, asked place by place.

use super::network::{Network, STRIDE};
use super::strip::Strip;

/// Numbers of learned evidence on one candidate.
pub const N_LEARNED: usize = 6;
/// Log odds below which a maximum is no candidate.
const LEAST: f32 = -3.5;

/// Log odds of an annulus along the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned {
    /// Samples of the fan between two values.
    step: f64,
    /// Values in one circulus.
    unit: f64,
    log_odds: Vec<f32>,
}

impl Learned {
    /// Asks the network. `unit`: samples of the strip in one circulus.
    pub fn of(strip: &Strip, network: &Network, unit: f64) -> Self {
        Self {
            step: strip.step * STRIDE as f64,
            unit: unit / STRIDE as f64,
            log_odds: network.log_odds(strip),
        }
    }

    /// Where the log odds are highest within a circulus, samples of the fan.
    pub fn peaks(&self) -> Vec<f64> {
        let reach = self.unit.round().max(1.0) as usize;
        (1..self.log_odds.len().saturating_sub(1))
            .filter(|i| {
                let here = self.log_odds[*i];
                here > LEAST && here >= self.highest(i.saturating_sub(reach), i + reach)
            })
            .map(|i| {
                let near = |k: usize| f64::from(self.log_odds[k]);
                let shift = super::signal::parabola_shift(near(i - 1), near(i), near(i + 1));
                (i as f64 + shift) * self.step
            })
            .collect()
    }

    fn highest(&self, from: usize, to: usize) -> f32 {
        let to = (to + 1).min(self.log_odds.len());
        let part = self.log_odds.get(from.min(to)..to).unwrap_or_default();
        part.iter().copied().fold(f32::NEG_INFINITY, f32::max)
    }

    /// Highest value from `from` to `to` circuli from a place.
    fn top(&self, place: f64, from: f64, to: f64) -> f64 {
        let at = |away: f64| (place / self.step + away * self.unit).round().max(0.0) as usize;
        f64::from(self.highest(at(from), at(to))).clamp(-8.0, 8.0)
    }

    /// The evidence at a place, samples of the fan: how high the log odds are there, how far they stand out, how much
    /// probability lies about it.
    pub fn evidence(&self, place: f64) -> [f64; N_LEARNED] {
        let here = self.top(place, -0.5, 0.5);
        let near = self.top(place, -1.1, 1.1);
        let beside = self.top(place, -4.5, -1.6).max(self.top(place, 1.6, 4.5));
        let top = self.top(place, -30.0, 30.0);
        let middle = place / self.step;
        let reach = (1.5 * self.unit).round();
        let from = (middle - reach).max(0.0) as usize;
        let to = ((middle + reach).max(0.0) as usize + 1).min(self.log_odds.len());
        let mass: f64 = self
            .log_odds
            .get(from.min(to)..to)
            .unwrap_or_default()
            .iter()
            .map(|z| 1.0 / (1.0 + f64::from(-z).exp()))
            .sum();
        [
            here * 0.6,
            (near - beside).clamp(-6.0, 6.0) * 0.4,
            (here - near).max(-4.0),
            (mass / self.unit).max(1e-3).ln() * 0.6,
            (near - top).max(-6.0) * 0.3,
            near.max(-1.0),
        ]
    }
}
