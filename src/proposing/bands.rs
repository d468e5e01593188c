//! Sectors of the fan as single profiles: the mean along the rings, steady against dirt.

use super::fan::Fan;
use super::signal::smoothed;

/// The mean of the rays within `half` of `around`, radians, weighted to the middle; values far from their
/// neighbours along the ring count little. Empty where no ray is inside the picture.
pub fn averaged(fan: &Fan, around: f64, half: f64) -> Vec<f64> {
    let rays: Vec<(usize, f64)> = fan
        .rays_near(around, half)
        .map(|k| (k, (-0.5 * ((fan.angles[k] - around) / (0.6 * half)).powi(2)).exp()))
        .collect();
    if rays.is_empty() {
        return Vec::new();
    }
    let total: f64 = rays.iter().map(|r| r.1).sum();
    let n = fan.samples;
    let mut mean = vec![0.0f64; n];
    for (k, w) in &rays {
        let w = w / total;
        for (m, v) in mean.iter_mut().zip(fan.ray(*k)) {
            *m += w * f64::from(*v);
        }
    }
    if rays.len() < 5 {
        return mean;
    }
    let mut away = vec![0.0f64; n];
    for (k, w) in &rays {
        let w = w / total;
        for ((a, v), m) in away.iter_mut().zip(fan.ray(*k)).zip(&mean) {
            *a += w * (f64::from(*v) - m).abs();
        }
    }
    let (mut sum, mut weights) = (vec![0.0f64; n], vec![1e-12f64; n]);
    for (k, w) in &rays {
        for (i, v) in fan.ray(*k).iter().enumerate() {
            let z = (f64::from(*v) - mean[i]) / (2.0 * away[i] + 1e-4);
            let share = w / (1.0 + z * z);
            sum[i] += share * f64::from(*v);
            weights[i] += share;
        }
    }
    sum.iter().zip(&weights).map(|(s, w)| s / w).collect()
}

/// How much the rings of a sector are stretched against the axis, at each sample: distance between rings on
/// the sector over distance on the axis, smoothed over `half` samples.
pub fn stretch(fan: &Fan, around: f64, half_angle: f64, half: usize) -> Vec<f64> {
    let mut sum = vec![0.0f64; fan.samples];
    let mut rays = 0.0;
    for k in fan.rays_near(around, half_angle) {
        let places = fan.ray_places(k);
        let scale =
            fan.edge / f64::from(places[(fan.edge as usize).min(places.len() - 1)]).max(1.0);
        rays += 1.0;
        for (i, s) in sum.iter_mut().enumerate() {
            let (a, b) = (i.saturating_sub(half), (i + half).min(places.len() - 1));
            *s += f64::from(places[b] - places[a]) / (b - a).max(1) as f64 * scale;
        }
    }
    if rays == 0.0 {
        return vec![1.0; fan.samples];
    }
    sum.iter().map(|s| (s / rays).max(1e-3)).collect()
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
    for i in 0..fan.samples {
        let mean = rays.iter().map(|r| r[i]).sum::<f64>() / count;
        joint[i] = mean * mean;
        own[i] = rays.iter().map(|r| r[i] * r[i]).sum::<f64>() / count;
    }
    let (joint, own) = (smoothed(&joint, half as f64), smoothed(&own, half as f64));
    joint
        .iter()
        .zip(&own)
        .map(|(j, o)| ((j / (o + 1e-9) - 1.0 / count) / (1.0 - 1.0 / count)).clamp(0.0, 1.0))
        .collect()
}
