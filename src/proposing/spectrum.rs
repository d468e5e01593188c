//! Local circulus spacing by a bank of short wave packets, without telling circuli apart one by one.

use std::f64::consts::TAU;

use super::signal::{at, quantile, smoothed};

/// Spacing along a profile.
#[derive(Debug, Clone)]
pub struct Spectrum {
    /// Samples between the places at which it is measured.
    pub hop: usize,
    /// Spacings looked for, samples, in equal ratios.
    pub periods: Vec<f64>,
    /// Their natural logarithms.
    log_periods: Vec<f64>,
    /// Share of the local contrast in each spacing: place by place, all spacings of one place together.
    pub share: Vec<f64>,
}

impl Spectrum {
    /// Measures a profile for spacings from `shortest` to `longest`, samples.
    pub fn measure(profile: &[f64], shortest: f64, longest: f64, hop: usize) -> Self {
        let ratio: f64 = 1.105;
        let count = ((longest / shortest).ln() / ratio.ln()).ceil().max(1.0) as usize + 1;
        let periods: Vec<f64> = (0..count).map(|k| shortest * ratio.powi(k as i32)).collect();
        let levels = Levels::of(&evened(profile, longest), hop);
        let places = profile.len().div_ceil(hop);
        let mut share = vec![0.0; places * count];
        for (k, period) in periods.iter().enumerate() {
            let (values, fold, seen) = levels.fitting(*period);
            let packet = Packet::new(period / fold as f64);
            for place in 0..places {
                let amplitude = packet.amplitude(values, place * hop / fold) / seen;
                share[place * count + k] = f64::from(amplitude);
            }
        }
        let log_periods = periods.iter().map(|p| p.ln()).collect();
        Self { hop, periods, log_periods, share }
    }

    /// Number of places.
    pub fn places(&self) -> usize {
        self.share.len() / self.periods.len().max(1)
    }

    /// Shares at one place.
    pub fn row(&self, place: usize) -> &[f64] {
        let n = self.periods.len();
        &self.share[place * n..(place + 1) * n]
    }

    /// Adds another measurement of the same kind, weighted.
    pub fn add(&mut self, other: &Spectrum, weight: f64) {
        for (a, b) in self.share.iter_mut().zip(&other.share) {
            *a += weight * b;
        }
    }

    /// The likeliest course of the spacing (logarithm, index of period): strong, steady, near `usual` samples.
    pub fn track(&self, usual: f64) -> Vec<f64> {
        let n = self.periods.len();
        let places = self.places();
        let prior: Vec<f64> =
            self.periods.iter().map(|p| -0.5 * ((p / usual).ln() / 0.6).powi(2)).collect();
        let step_cost = 0.35;
        let mut score: Vec<f64> = Vec::with_capacity(n);
        let mut from: Vec<Vec<usize>> = Vec::with_capacity(places);
        for place in 0..places {
            // Slow bands of light and dark outshine fine circuli; the root of the period evens them out.
            let row: Vec<f64> = self
                .row(place)
                .iter()
                .zip(&self.periods)
                .map(|(s, p)| s / (p / usual).sqrt())
                .collect();
            let top = row.iter().copied().fold(1e-9, f64::max);
            let own: Vec<f64> =
                row.iter().zip(&prior).map(|(s, p)| (s / top) * 1.2 + 0.25 * p).collect();
            if place == 0 {
                score = own;
                from.push((0..n).collect());
                continue;
            }
            let (best, source) = spread_best(&score, step_cost);
            score = best.iter().zip(&own).map(|(b, o)| b + o).collect();
            from.push(source);
        }
        let mut path = vec![0usize; places];
        let mut k = (0..n).max_by(|a, b| score[*a].total_cmp(&score[*b])).unwrap_or(0);
        for place in (0..places).rev() {
            path[place] = k;
            k = from[place][k];
        }
        path.iter().enumerate().map(|(place, k)| self.refined(place, *k)).collect()
    }

    /// Natural logarithm of the spacing, samples, between the steps of the bank.
    fn refined(&self, place: usize, k: usize) -> f64 {
        let row = self.row(place);
        let step = (self.periods[1.min(self.periods.len() - 1)] / self.periods[0]).ln();
        let shift = if k > 0 && k + 1 < row.len() {
            super::signal::parabola_shift(row[k - 1], row[k], row[k + 1])
        } else {
            0.0
        };
        self.periods[k].ln() + shift * step
    }

    /// Mean logarithm of the spacing around `log_period`, weighted by share squared, and the share there.
    pub fn centroid(&self, place: usize, log_period: f64, reach: f64) -> (f64, f64) {
        let (mut sum, mut weights, mut top) = (0.0, 1e-12, 0.0f64);
        let first = self.log_periods.partition_point(|p| *p < log_period - reach);
        let rows = self.log_periods.iter().zip(self.row(place)).skip(first);
        for (p, s) in rows {
            let away = p - log_period;
            if away > reach {
                break;
            }
            let near = 1.0 - (away / reach).powi(2);
            let w = s * s * near;
            sum += w * away;
            weights += w;
            top = top.max(s * near);
        }
        (log_period + sum / weights, top)
    }
}

/// The best predecessor of each state when a step by one costs `cost`.
fn spread_best(score: &[f64], cost: f64) -> (Vec<f64>, Vec<usize>) {
    let n = score.len();
    let mut best = score.to_vec();
    let mut source: Vec<usize> = (0..n).collect();
    for k in 1..n {
        if best[k - 1] - cost > best[k] {
            best[k] = best[k - 1] - cost;
            source[k] = source[k - 1];
        }
    }
    for k in (0..n.saturating_sub(1)).rev() {
        if best[k + 1] - cost > best[k] {
            best[k] = best[k + 1] - cost;
            source[k] = source[k + 1];
        }
    }
    (best, source)
}

/// A profile freed from slow changes and brought to even contrast.
pub fn evened(profile: &[f64], longest: f64) -> Vec<f64> {
    let trend = smoothed(profile, 0.45 * longest);
    let rest: Vec<f64> = profile.iter().zip(&trend).map(|(v, t)| v - t).collect();
    let squares: Vec<f64> = rest.iter().map(|r| r * r).collect();
    let power = smoothed(&squares, 1.0 * longest);
    // So smooth that every fourth is enough for its middle.
    let some: Vec<f64> = power.iter().step_by(4).copied().collect();
    let floor = 0.15 * quantile(&some, 0.5) + 1e-9;
    rest.iter().zip(&power).map(|(r, p)| (r / (p + floor).sqrt()).clamp(-3.0, 3.0)).collect()
}

/// A profile at full, half and quarter resolution: long packets need no fine samples.
struct Levels {
    values: Vec<Vec<f32>>,
}

/// Samples in a period that are enough for a packet; fewer are not.
const SAMPLES_OF_PERIOD: f64 = 11.0;

impl Levels {
    /// As many as keep every `hop`-th sample a sample.
    fn of(profile: &[f64], hop: usize) -> Self {
        let mut values = vec![profile.iter().map(|v| *v as f32).collect::<Vec<f32>>()];
        for level in 1..3 {
            let Some(finer) =
                values.last().filter(|v| v.len() > 4 && hop.is_multiple_of(1 << level))
            else {
                break;
            };
            let last = finer.len() - 1;
            let halved = (0..finer.len().div_ceil(2)).map(|i| {
                let (a, b, c) = ((2 * i).saturating_sub(1), 2 * i, (2 * i + 1).min(last));
                (finer[a] + 2.0 * finer[b] + finer[c]) / 4.0
            });
            let halved = halved.collect();
            values.push(halved);
        }
        Self { values }
    }

    /// The coarsest samples that do for a period, how many times as coarse they are, and the share of a wave of that
    /// period that is left in them.
    fn fitting(&self, period: f64) -> (&[f32], usize, f32) {
        let (mut level, mut fold, mut seen) = (0, 1, 1.0);
        while level + 1 < self.values.len() && period / fold as f64 >= SAMPLES_OF_PERIOD {
            seen *= (0.5 * TAU * fold as f64 / period).cos().powi(2);
            (level, fold) = (level + 1, 2 * fold);
        }
        (self.values.get(level).map_or(&[], Vec::as_slice), fold, seen as f32)
    }
}

struct Packet {
    reach: usize,
    cos: Vec<f32>,
    sin: Vec<f32>,
}

impl Packet {
    fn new(period: f64) -> Self {
        let sigma = 0.85 * period;
        let reach = (2.5 * sigma).ceil() as usize;
        let window: Vec<f64> = (0..=2 * reach)
            .map(|k| (-0.5 * ((k as f64 - reach as f64) / sigma).powi(2)).exp())
            .collect();
        let sum: f64 = window.iter().sum();
        let turn = |k: usize| TAU * (k as f64 - reach as f64) / period;
        let mean = window.iter().enumerate().map(|(k, w)| w * turn(k).cos()).sum::<f64>() / sum;
        let cos = window
            .iter()
            .enumerate()
            .map(|(k, w)| (w * (turn(k).cos() - mean) / sum) as f32)
            .collect();
        let sin =
            window.iter().enumerate().map(|(k, w)| (w * turn(k).sin() / sum) as f32).collect();
        Self { reach, cos, sin }
    }

    fn amplitude(&self, values: &[f32], centre: usize) -> f32 {
        let first = self.reach.saturating_sub(centre);
        let start = (centre + first).saturating_sub(self.reach).min(values.len());
        let count = (values.len() - start).min(self.cos.len() - first);
        let part = &values[start..start + count];
        let (cos, sin) = (&self.cos[first..first + count], &self.sin[first..first + count]);
        let (re, im) = (summed(part, cos), summed(part, sin));
        2.0 * (re * re + im * im).sqrt()
    }
}

/// Sum of products, eight at a time.
fn summed(values: &[f32], weights: &[f32]) -> f32 {
    let mut lanes = [0.0f32; 8];
    let (a, b) = (values.chunks_exact(8), weights.chunks_exact(8));
    let rest: f32 = a.remainder().iter().zip(b.remainder()).map(|(v, w)| v * w).sum();
    for (a, b) in a.zip(b) {
        for ((lane, v), w) in lanes.iter_mut().zip(a).zip(b) {
            *lane += v * w;
        }
    }
    lanes.iter().sum::<f32>() + rest
}

/// A value measured every `hop` samples, at any sample.
pub fn between(values: &[f64], hop: usize, sample: f64) -> f64 {
    at(values, sample / hop as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_changing_spacing_is_followed() {
        let mut phase = 0.0f64;
        let profile: Vec<f64> = (0..1200)
            .map(|i| {
                let period = if i < 600 { 16.0 - 6.0 * i as f64 / 600.0 } else { 16.0 };
                phase += TAU / period;
                phase.sin() + 0.002 * i as f64
            })
            .collect();
        let track = Spectrum::measure(&profile, 5.0, 40.0, 4).track(13.0);
        let found = |sample: usize| track[sample / 4].exp();
        assert!((found(100) - 15.0).abs() < 0.5, "{}", found(100));
        assert!((found(500) - 11.0).abs() < 0.5, "{}", found(500));
        assert!((found(900) - 16.0).abs() < 0.5, "{}", found(900));
    }
}
