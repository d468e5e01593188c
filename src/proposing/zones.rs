//! Candidates on an otolith: translucent zones, each with its distal edge, at whatever width they have.

use rayon::prelude::*;

use super::bands::averaged;
use super::crowding::Candidate;
use super::fan::Fan;
use super::selection::N_EVIDENCE;
use super::signal::{at, mean_over, median, quantile, smoothed};

/// Half the width of the sector that stands for the axis, radians.
const AXIS_HALF: f64 = 0.22;
/// Half the width of a witness sector, radians.
const SECTOR_HALF: f64 = 0.09;
/// Sectors on each side.
const SECTORS: i32 = 5;

/// What was read off an otolith along the axis.
#[derive(Debug, Clone)]
pub struct ZoneSignal {
    /// Mean profile round the axis.
    pub profile: Vec<f64>,
    /// Candidates in order.
    pub candidates: Vec<Candidate>,
    /// Noise of the mean profile, in its own unit.
    pub noise: f64,
    /// Spread of the zones' brightness along the axis.
    pub amplitude: f64,
    /// How translucent the last part before the margin is, in spreads of the zones' brightness.
    pub margin_look: f64,
}

/// A maximum of translucency and how far it stands out.
#[derive(Debug, Clone, Copy)]
struct Top {
    at: usize,
    prominence: f64,
    /// Lowest place towards the focus and towards the margin before a comparable maximum.
    left: usize,
    right: usize,
}

/// Reads an otolith's fan. `polarity` is +1 where translucent zones are bright, -1 where they are dark.
pub fn read_otolith(fan: &Fan, polarity: f64) -> ZoneSignal {
    let end = (fan.edge.round() as usize).clamp(8, fan.samples);
    let cut = |mut values: Vec<f64>| {
        values.truncate(end);
        values
    };
    let profile = averaged(fan, 0.0, AXIS_HALF, f64::INFINITY);
    let toward: Vec<f64> = cut(profile.clone()).iter().map(|v| polarity * v).collect();
    if toward.len() < 8 {
        return ZoneSignal {
            profile,
            candidates: Vec::new(),
            noise: 1.0,
            amplitude: 0.0,
            margin_look: 0.0,
        };
    }
    let noise = noise_of(fan, end);
    let smooth = smoothed(&toward, 1.6);
    let slow = smoothed(&toward, fan.edge / 7.0);
    let rest: Vec<f64> = smooth.iter().zip(&slow).map(|(a, b)| a - b).collect();
    let squares: Vec<f64> = rest.iter().map(|r| r * r).collect();
    let amplitude = median(&rest.iter().map(|r| r.abs()).collect::<Vec<_>>()) * 1.48 + 1e-4;
    let local: Vec<f64> = smoothed(&squares, fan.edge / 10.0)
        .iter()
        .map(|s| (s + 0.05 * amplitude * amplitude).sqrt())
        .collect();
    let sectors: Vec<(f64, Vec<f64>)> = (-SECTORS..=SECTORS)
        .into_par_iter()
        .filter_map(|s| {
            let around = f64::from(s) * 2.0 * SECTOR_HALF;
            let values: Vec<f64> = cut(averaged(fan, around, SECTOR_HALF, f64::INFINITY))
                .iter()
                .map(|v| polarity * v)
                .collect();
            (values.len() == end)
                .then(|| ((-0.5 * (around / 0.5f64).powi(2)).exp(), smoothed(&values, 1.2)))
        })
        .collect();
    let tops = tops_of(&smooth, (1.5 * noise).max(0.05 * amplitude));
    let context = Context {
        fan,
        smooth: &smooth,
        slow: &slow,
        local: &local,
        sectors: &sectors,
        tops: &tops,
        noise,
        amplitude,
    };
    let candidates = (0..tops.len()).filter_map(|i| context.candidate(i)).collect();
    let n = smooth.len() as f64;
    let margin = mean_over(&smooth, 0.985 * n, 0.995 * n).unwrap_or(0.0);
    let before = mean_over(&smooth, 0.8 * n, 0.98 * n).unwrap_or(margin);
    let margin_look = ((margin - before) / amplitude).clamp(-3.0, 3.0);
    ZoneSignal { profile, candidates, noise, amplitude, margin_look }
}

/// Noise of the mean profile from the difference between its two sides, slow changes left out.
fn noise_of(fan: &Fan, end: usize) -> f64 {
    let side = |around: f64| averaged(fan, around, AXIS_HALF / 2.0, f64::INFINITY);
    let (a, b) = (side(-AXIS_HALF / 2.0), side(AXIS_HALF / 2.0));
    if a.len() < end || b.len() < end {
        return 1e-3;
    }
    let gap: Vec<f64> = a[..end].iter().zip(&b[..end]).map(|(x, y)| (x - y) / 2.0).collect();
    let gap = smoothed(&gap, 1.6);
    let slow = smoothed(&gap, 12.0);
    let rest: Vec<f64> = gap.iter().zip(&slow).map(|(g, s)| (g - s).abs()).collect();
    median(&rest) * 1.48 + 2e-4
}

/// Maxima with at least `least` prominence, each with the lowest places beside it.
fn tops_of(values: &[f64], least: f64) -> Vec<Top> {
    let rules = crate::imaging::peaks::PeakRules { min_prominence: least, min_distance: 1 };
    let peaks = crate::imaging::peaks::find_peaks(values, rules);
    let lowest = |range: std::ops::Range<usize>| {
        range.min_by(|a, b| values[*a].total_cmp(&values[*b])).unwrap_or(0)
    };
    (0..peaks.len())
        .map(|i| {
            let own = peaks[i].prominence;
            let before = (0..i)
                .rev()
                .find(|j| peaks[*j].prominence > 0.45 * own)
                .map_or(0, |j| peaks[j].index);
            let after = (i + 1..peaks.len())
                .find(|j| peaks[*j].prominence > 0.45 * own)
                .map_or(values.len() - 1, |j| peaks[j].index);
            Top {
                at: peaks[i].index,
                prominence: own,
                left: lowest(before..peaks[i].index + 1),
                right: lowest(peaks[i].index..after + 1),
            }
        })
        .collect()
}

struct Context<'a> {
    fan: &'a Fan,
    smooth: &'a [f64],
    slow: &'a [f64],
    local: &'a [f64],
    sectors: &'a [(f64, Vec<f64>)],
    tops: &'a [Top],
    noise: f64,
    amplitude: f64,
}

impl Context<'_> {
    /// Where the profile falls through half-way from `from` to `to`, nearest to the steepest place between.
    fn border(&self, from: usize, to: usize) -> f64 {
        let (low, high) = (from.min(to), from.max(to));
        let level = (self.smooth[from] + self.smooth[to]) / 2.0;
        let sigma = ((high - low) as f64 / 6.0).clamp(0.8, 6.0);
        let pad = (3.0 * sigma) as usize + 2;
        let (a, b) = (low.saturating_sub(pad), (high + pad + 1).min(self.smooth.len()));
        let part = smoothed(&self.smooth[a..b], sigma);
        let steep = |i: usize| -> f64 {
            if i <= a || i + 1 >= b { 0.0 } else { (part[i + 1 - a] - part[i - 1 - a]).abs() }
        };
        let mut best = (0.0, (from + to) as f64 / 2.0);
        for i in low..=high {
            // The level decides between several steep places; the slope where exactly.
            let off = (self.smooth[i] - level).abs()
                / (self.smooth[from] - self.smooth[to]).abs().max(1e-9);
            let worth = steep(i) * (1.2 - off).max(0.05);
            if worth > best.0 {
                let shift = super::signal::parabola_shift(
                    steep(i.saturating_sub(1)),
                    steep(i),
                    steep(i + 1),
                );
                best = (worth, i as f64 + shift);
            }
        }
        best.1
    }

    /// Contrast of the zone against both neighbours in one profile, the best within a small shift.
    fn contrast(&self, values: &[f64], top: &Top) -> f64 {
        let (l, c, r) = (top.left as f64, top.at as f64, top.right as f64);
        let half = (0.12 * (r - l)).max(0.8);
        let shift = (0.12 * (r - l)).min(6.0);
        (-2..=2)
            .map(|k| {
                let s = f64::from(k) * shift / 2.0;
                let mean = |m: f64| {
                    mean_over(values, m + s - half, m + s + half + 1.0)
                        .unwrap_or_else(|| at(values, m + s))
                };
                mean(c) - 0.5 * (mean(l) + mean(r))
            })
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn candidate(&self, i: usize) -> Option<Candidate> {
        let top = self.tops[i];
        let edge = self.fan.edge;
        if (top.at as f64) < 0.03 * edge || top.right <= top.at {
            return None;
        }
        let place = self.border(top.at, top.right);
        let inner = if top.left < top.at { self.border(top.at, top.left) } else { top.at as f64 };
        let local = self.local[top.at];
        let peak = self.smooth[top.at];
        let left = peak - self.smooth[top.left];
        let right = peak - self.smooth[top.right];
        let rivals = |j: Option<usize>| {
            j.and_then(|j| self.tops.get(j)).map_or(top.prominence, |t| t.prominence)
        };
        let rival = rivals(i.checked_sub(1)).max(rivals(Some(i + 1)));
        let own = self.contrast(self.smooth, &top).max(1e-6);
        let shares: Vec<(f64, f64)> = self
            .sectors
            .iter()
            .map(|(w, values)| ((self.contrast(values, &top) / own).clamp(-1.0, 2.0), *w))
            .collect();
        let total: f64 = shares.iter().map(|s| s.1).sum::<f64>().max(1e-9);
        let mean = shares.iter().map(|(c, w)| c * w).sum::<f64>() / total;
        let spread =
            (shares.iter().map(|(c, w)| (c - mean).powi(2) * w).sum::<f64>() / total).sqrt();
        let continuity =
            shares.iter().map(|(c, w)| f64::from(u8::from(*c > 0.35)) * w).sum::<f64>() / total;
        let width = (place - inner).max(1.0);
        let gap = (top.right as f64 - top.left as f64).max(1.0);
        let log_local = (top.prominence / local).max(1e-3).ln();
        let mut evidence = [0.0; N_EVIDENCE];
        evidence[0] = 1.0;
        evidence[1] = (top.prominence / self.amplitude).max(1e-3).ln();
        evidence[2] = log_local;
        evidence[3] = (left / local).min(4.0);
        evidence[4] = (right / local).min(4.0);
        evidence[5] = (width / gap).clamp(0.0, 1.0) * 2.0 - 0.8;
        evidence[6] = continuity * 2.0 - 1.0;
        evidence[7] = (mean / (spread + 0.1)).clamp(-2.0, 6.0) * 0.3;
        evidence[8] = mean;
        evidence[9] = (top.prominence / rival.max(1e-6)).max(1e-2).ln();
        evidence[10] = (top.prominence / self.noise).max(1.0).ln() - 2.5;
        evidence[11] = (peak - self.slow[top.at]) / local;
        evidence[12] = (log_local + 1.0).min(0.0);
        evidence[13] = (left.min(right) / local).min(1.5);
        evidence[14] = (top.prominence / (peak.abs() + 0.03)).max(1e-3).ln().clamp(-5.0, 0.0) + 2.0;
        evidence[15] = (gap / edge).ln() + 2.5;
        let prominences: Vec<f64> = self.tops.iter().map(|t| t.prominence).collect();
        evidence[16] =
            (top.prominence / quantile(&prominences, 0.8).max(1e-6)).ln().clamp(-4.0, 2.0);
        evidence[17] = place / edge * 2.0 - 1.0;
        evidence[18] = (left.max(1e-4) / right.max(1e-4)).ln().clamp(-2.0, 2.0);
        let gaps: Vec<f64> =
            self.tops.windows(2).map(|pair| (pair[1].at - pair[0].at) as f64).collect();
        let beside = [i.checked_sub(1), Some(i)].into_iter().flatten();
        let nearest = beside.filter_map(|j| gaps.get(j).copied()).fold(f64::INFINITY, f64::min);
        evidence[19] = (nearest.min(edge) / median(&gaps).max(1.0)).max(0.1).ln().clamp(-2.0, 2.0);
        evidence[20] = (self.amplitude / self.noise).max(1.0).ln() - 2.5;
        evidence[21] = (gap / 12.0).ln();
        Some(Candidate {
            place,
            inner,
            evidence,
            seen: (top.prominence / (1.5 * local)).clamp(0.0, 1.0),
            continuity,
        })
    }
}
