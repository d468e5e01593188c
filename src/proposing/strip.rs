//! What the learned evidence looks at: the fan as a small picture of rays by radius, drawn to a fixed number of samples
//! for each circulus (scales) or for the whole radius (otoliths), and freed from brightness and contrast.

use super::fan::Fan;

/// Length along the rings over which a line is averaged, and the angle, micrometres and radians. Rings are not aligned
/// perfectly, so that the length is about that on which they are straight.
const ARC_UM: f64 = 170.0;
const ARC: f64 = 0.09;
/// Lines on each side of the axis.
pub const LINES_EACH_SIDE: usize = 12;
/// Lines.
pub const LINES: usize = 2 * LINES_EACH_SIDE + 1;
/// Numbers at each place: fine and coarse brightness.
pub const CHANNELS: usize = 2;
/// Samples for one circulus.
pub const PER_CIRCULUS: f64 = 8.0;
/// Most samples on a line.
const LONGEST: usize = 2400;
/// Samples beyond the margin, all 0, so that the end can be told.
const TAIL: usize = 40;
/// Values lie within plus and minus this.
pub const LIMIT: f32 = 3.0;

/// The small picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// Samples of the fan in one sample of the strip.
    pub step: f64,
    /// Samples on each line.
    pub samples: usize,
    /// Values: channel by channel, line by line. Lines that leave the picture are 0.
    pub values: Vec<f32>,
    /// Lines that lie inside the picture.
    pub present: [bool; LINES],
}

impl Strip {
    /// The strip of a fan whose circuli are mostly `period` samples of the fan apart.
    pub fn of_scale(fan: &Fan, period: f64) -> Self {
        let step = (period / PER_CIRCULUS).max(fan.edge / LONGEST as f64).max(0.05);
        Self::of(fan, step, PER_CIRCULUS)
    }

    /// `unit`: samples of the strip in the finest structure that is told apart.
    fn of(fan: &Fan, step: f64, unit: f64) -> Self {
        let inside = ((fan.edge / step) as usize + 1).clamp(16, LONGEST);
        let samples = inside + TAIL;
        let mut strip = Self {
            step,
            samples,
            values: vec![0.0; CHANNELS * LINES * samples],
            present: [false; LINES],
        };
        let half = strip.values.len() / CHANNELS;
        for line in 0..LINES {
            let around = line_angle(line);
            let Some(raw) = strip.resampled(fan, around, inside) else { continue };
            strip.present[line] = true;
            let at = line * samples;
            strip.values[at..at + inside].copy_from_slice(&evened(&raw, unit));
            strip.values[half + at..half + at + inside].copy_from_slice(&shaded(&raw, unit));
        }
        strip
    }

    /// The mean of the rays about an angle, at the places of the strip.
    fn resampled(&self, fan: &Fan, around: f64, inside: usize) -> Option<Vec<f32>> {
        let gap = fan_gap(fan);
        let (mut sum, mut weights) = (vec![0.0f32; fan.samples], vec![1e-6f32; fan.samples]);
        let reach: Vec<f32> = (0..fan.samples)
            .map(|i| ARC.min(ARC_UM / (i as f64 * fan.step_um).max(1.0)).max(1.01 * gap) as f32)
            .collect();
        for ray in fan.rays_near(around, ARC.max(1.01 * gap)) {
            let away = (fan.angles[ray] - around).abs() as f32;
            let numbers = sum.iter_mut().zip(&mut weights).zip(&reach).zip(fan.ray(ray));
            for (((s, w), reach), v) in numbers {
                let weight = (reach - away).max(0.0);
                *s += weight * v;
                *w += weight;
            }
        }
        fan.rays_near(around, 1.01 * gap).next()?;
        // Means over the span of a sample, from the running sum between samples.
        let mut running = Vec::with_capacity(sum.len() + 1);
        let mut total = 0.0f64;
        running.push(0.0);
        for (v, w) in sum.iter().zip(&weights) {
            total += f64::from(v / w);
            running.push(total);
        }
        let until = |place: f64| {
            let place = place.clamp(0.0, fan.samples as f64);
            let low = (place as usize).min(fan.samples - 1);
            running[low] + (running[low + 1] - running[low]) * (place - low as f64)
        };
        let span = self.step.max(1.0);
        Some(
            (0..inside)
                .map(|i| {
                    let middle = i as f64 * self.step + 0.5;
                    let (from, to) = (middle - 0.5 * span, middle + 0.5 * span);
                    let (from, to) = (from.max(0.0), to.min(fan.samples as f64));
                    ((until(to) - until(from)) / (to - from).max(1e-6)) as f32
                })
                .collect(),
        )
    }
}

/// Angle of a line from the axis, radians: closer together near the axis.
fn line_angle(line: usize) -> f64 {
    let k = line as f64 - LINES_EACH_SIDE as f64;
    k * (0.016 + 0.0032 * k.abs())
}

fn fan_gap(fan: &Fan) -> f64 {
    fan.angles.windows(2).next().map_or(1.0, |pair| pair[1] - pair[0])
}

/// Moving mean over `2 half + 1` values, narrower at the ends.
fn boxed(values: &[f32], half: usize) -> Vec<f32> {
    let n = values.len();
    let mut sums = Vec::with_capacity(n + 1);
    let mut sum = 0.0f64;
    sums.push(0.0);
    for v in values {
        sum += f64::from(*v);
        sums.push(sum);
    }
    (0..n)
        .map(|i| {
            let (a, b) = (i.saturating_sub(half), (i + half + 1).min(n));
            ((sums[b] - sums[a]) / (b - a) as f64) as f32
        })
        .collect()
}

fn twice_boxed(values: &[f32], half: f64) -> Vec<f32> {
    let half = half.round() as usize;
    boxed(&boxed(values, half), half)
}

/// Fine structure at even contrast.
fn evened(raw: &[f32], unit: f64) -> Vec<f32> {
    let slow = twice_boxed(raw, 0.9 * unit);
    let rest: Vec<f32> = raw.iter().zip(&slow).map(|(v, s)| v - s).collect();
    scaled(&rest, 2.0 * unit)
}

/// Zones of light and dark without the fine structure.
fn shaded(raw: &[f32], unit: f64) -> Vec<f32> {
    let fine = twice_boxed(raw, 0.5 * unit);
    let slow = twice_boxed(raw, 6.0 * unit);
    let rest: Vec<f32> = fine.iter().zip(&slow).map(|(f, s)| f - s).collect();
    scaled(&rest, 12.0 * unit)
}

/// Values over their own spread nearby.
fn scaled(rest: &[f32], half: f64) -> Vec<f32> {
    let squares: Vec<f32> = rest.iter().map(|r| r * r).collect();
    let whole = squares.iter().sum::<f32>() / squares.len().max(1) as f32;
    let power = twice_boxed(&squares, half);
    rest.iter()
        .zip(&power)
        .map(|(r, p)| (r / (p + 0.1 * whole + 1e-9).sqrt()).clamp(-LIMIT, LIMIT))
        .collect()
}
