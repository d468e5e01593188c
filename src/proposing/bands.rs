//! Sectors of the fan as single profiles: the mean along the rings, steady against dirt.

use super::fan::Fan;
use super::signal::smoothed;

/// The mean of the rays within `half` of `around`, radians, weighted to the middle; values far from their
/// neighbours along the ring count little. Far out, where the sector would grow wide, only rays within about
/// `arc_um` of its middle count, since fine rings are never aligned perfectly. Empty where no ray is inside.
pub fn averaged(fan: &Fan, around: f64, half: f64, arc_um: f64) -> Vec<f64> {
    let rays: Vec<(usize, f32)> =
        fan.rays_near(around, half).map(|k| (k, (fan.angles[k] - around) as f32)).collect();
    if rays.is_empty() {
        return Vec::new();
    }
    let mut out = Vec::with_capacity(fan.samples);
    let mut work = Columns::new(rays.len());
    for from in (0..fan.samples).step_by(COLUMNS) {
        let count = COLUMNS.min(fan.samples - from);
        for (i, per_spread) in work.per_spread.iter_mut().enumerate() {
            let radius_um = ((from + i) as f64 * fan.step_um).max(1.0);
            let sigma = (0.6 * half).min(0.6 * arc_um / radius_um).max(1e-4);
            *per_spread = (1.0 / sigma) as f32;
        }
        work.weigh(fan, &rays, from, count);
        out.extend(work.steadied(fan, &rays, from, count).iter().map(|v| f64::from(*v)));
    }
    out
}

/// Samples of the sector that are worked on at once.
const COLUMNS: usize = 64;

/// Samples of a sector side by side: each column runs along a ring.
struct Columns {
    per_spread: [f32; COLUMNS],
    mean: [f32; COLUMNS],
    total: [f32; COLUMNS],
    counted: [f32; COLUMNS],
    /// Ray by ray.
    weights: Vec<[f32; COLUMNS]>,
}

impl Columns {
    fn new(rays: usize) -> Self {
        let none = [0.0; COLUMNS];
        Self { per_spread: none, mean: none, total: none, counted: none, weights: vec![none; rays] }
    }

    /// Weights of all values, and their plain means.
    fn weigh(&mut self, fan: &Fan, rays: &[(usize, f32)], from: usize, count: usize) {
        let (mut sum, mut total, mut counted) =
            ([0.0f32; COLUMNS], [1e-12f32; COLUMNS], [0.0f32; COLUMNS]);
        for ((k, away), weights) in rays.iter().zip(&mut self.weights) {
            let values = &fan.ray(*k)[from..from + count];
            for (w, per_spread) in weights.iter_mut().zip(&self.per_spread) {
                let z = away * per_spread;
                let square = z * z;
                *w = if square <= 2.2 * 2.2 { falling(0.5 * square) } else { 0.0 };
            }
            for (((sum, w), total), v) in
                sum.iter_mut().zip(weights.iter()).zip(&mut total).zip(values)
            {
                *sum += w * v;
                *total += w;
            }
            for (counted, w) in counted.iter_mut().zip(weights.iter()) {
                *counted += if *w > 0.0 { 1.0 } else { 0.0 };
            }
        }
        for ((mean, sum), total) in self.mean.iter_mut().zip(sum).zip(total) {
            *mean = sum / total;
        }
        (self.total, self.counted) = (total, counted);
    }

    /// The means with values far from the plain mean counted less.
    fn steadied(&self, fan: &Fan, rays: &[(usize, f32)], from: usize, count: usize) -> Vec<f32> {
        let mut away = [0.0f32; COLUMNS];
        for ((k, _), weights) in rays.iter().zip(&self.weights) {
            let values = &fan.ray(*k)[from..from + count];
            for (((away, w), v), mean) in away.iter_mut().zip(weights).zip(values).zip(&self.mean) {
                *away += w * (v - mean).abs();
            }
        }
        for (away, total) in away.iter_mut().zip(&self.total) {
            *away = 1.0 / (2.0 * *away / total + 1e-4);
        }
        let (mut sum, mut total) = ([0.0f32; COLUMNS], [1e-12f32; COLUMNS]);
        for ((k, _), weights) in rays.iter().zip(&self.weights) {
            let values = &fan.ray(*k)[from..from + count];
            for ((((sum, total), w), v), (mean, unit)) in sum
                .iter_mut()
                .zip(&mut total)
                .zip(weights)
                .zip(values)
                .zip(self.mean.iter().zip(&away))
            {
                let z = (v - mean) * unit;
                let share = w / (1.0 + z * z);
                *sum += share * v;
                *total += share;
            }
        }
        (0..count)
            .map(|i| if self.counted[i] < 5.0 { self.mean[i] } else { sum[i] / total[i] })
            .collect()
    }
}

/// `exp(-u)` for `u` from 0 to 3, within 0.0002.
#[inline(always)]
fn falling(u: f32) -> f32 {
    let x = u * -0.125;
    let root = 1.0 + x * (1.0 + x * (0.5 + x * (1.0 / 6.0 + x * (1.0 / 24.0))));
    let square = root * root;
    let fourth = square * square;
    fourth * fourth
}

/// How much the rings of a sector are stretched against the axis, at each sample: distance between rings on
/// the sector over distance on the axis, smoothed over `half` samples.
pub fn stretch(fan: &Fan, around: f64, half_angle: f64, half: usize) -> Vec<f64> {
    // Differences of sums are sums of differences.
    let mut sum = vec![0.0f64; fan.samples];
    let mut rays = 0.0;
    for k in fan.rays_near(around, half_angle) {
        let places = fan.ray_places(k);
        let scale =
            fan.edge / f64::from(places[(fan.edge as usize).min(places.len() - 1)]).max(1.0);
        rays += 1.0;
        for (s, place) in sum.iter_mut().zip(places) {
            *s += f64::from(*place) * scale;
        }
    }
    if rays == 0.0 {
        return vec![1.0; fan.samples];
    }
    (0..sum.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(half), (i + half).min(sum.len() - 1));
            ((sum[b] - sum[a]) / ((b - a).max(1) as f64 * rays)).max(1e-3)
        })
        .collect()
}

/// Share of the rays' contrast that runs along the rings, near each sample, 0 to 1: variance of the mean over the
/// rays within `half_angle` against the mean variance, over `half` samples on both sides, chance agreement taken off.
pub fn agreement(fan: &Fan, half_angle: f64, half: usize) -> Vec<f64> {
    let rays: Vec<Vec<f64>> = fan
        .rays_near(0.0, half_angle)
        .step_by(2)
        .map(|k| {
            let values: Vec<f64> = fan.ray(k).iter().map(|v| f64::from(*v)).collect();
            let trend = smoothed(&values, half as f64 / 2.0);
            values.iter().zip(trend).map(|(v, t)| v - t).collect()
        })
        .collect();
    let count = rays.len() as f64;
    if rays.len() < 3 {
        return vec![0.0; fan.samples];
    }
    let (mut joint, mut own) = (vec![0.0; fan.samples], vec![0.0; fan.samples]);
    for ray in &rays {
        for ((joint, own), v) in joint.iter_mut().zip(&mut own).zip(ray) {
            *joint += v;
            *own += v * v;
        }
    }
    joint.iter_mut().for_each(|sum| *sum = (*sum / count).powi(2));
    own.iter_mut().for_each(|sum| *sum /= count);
    let (joint, own) = (smoothed(&joint, half as f64), smoothed(&own, half as f64));
    joint
        .iter()
        .zip(&own)
        .map(|(j, o)| ((j / (o + 1e-9) - 1.0 / count) / (1.0 - 1.0 / count)).clamp(0.0, 1.0))
        .collect()
}
