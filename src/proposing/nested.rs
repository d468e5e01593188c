//! The core of an otolith as the place from which its zones look alike in every direction.
//!
//! Zones repeat the outline, rounder inside. For a supposed core the picture is read along rays whose steps are
//! shares of the way to the outline, so that zones lie at the same step on all of them; the core is where the rays
//! agree best. Needs no light and no idea of how many zones there are.

use std::f64::consts::TAU;

use kurbo::{Point, Vec2};

use super::outline::Outline;
use super::plane::Plane;

/// Rays round the core.
const RAYS: usize = 60;
/// Steps on a ray to the margin.
const STEPS: usize = 110;

/// A supposed core and how well the rays agree on it.
#[derive(Debug, Clone, Copy)]
pub struct Nested {
    /// Image pixels.
    pub at: Point,
    /// Share of the rays' contrast that they have in common, about 0 to 1.
    pub agreement: f64,
    /// How much rounder the innermost zones are: the exponent on the outline's shape.
    pub inner_power: f64,
}

/// The outline from its centroid, and the picture reduced to about [`STEPS`] pixels of radius.
pub struct NestedRings {
    small: Plane,
    factor: f64,
    border: Vec<Point>,
    /// Mean distance from the centroid to the border, image pixels.
    pub radius: f64,
    centroid: Point,
}

impl NestedRings {
    /// Reduces the picture. `None` where the outline is too small to hold rings.
    pub fn new(plane: &Plane, outline: &Outline) -> Option<Self> {
        let centroid = outline.centroid();
        let border = border_of(outline, centroid);
        let radius = border.iter().map(|p| (*p - centroid).hypot()).sum::<f64>()
            / border.len().max(1) as f64;
        if radius < 20.0 {
            return None;
        }
        let factor = ((radius / STEPS as f64).round() as usize).max(1);
        Some(Self {
            small: reduced(plane, factor),
            factor: factor as f64,
            border,
            radius,
            centroid,
        })
    }

    /// The best core: a grid round the centroid, then smaller and smaller steps.
    pub fn best(&self) -> Nested {
        let mut best = self.judged(self.centroid, 0.75);
        let reach = knob("NREACH", 0.3) * self.radius;
        let count = knob("NGRID", 6.0) as i32;
        let mut starts = Vec::new();
        for i in -count..=count {
            for j in -count..=count {
                let by = Vec2::new(f64::from(i), f64::from(j)) * (reach / f64::from(count));
                starts.push(self.judged(self.centroid + by, 0.75));
            }
        }
        starts.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
        for start in starts.iter().take(knob("NSTARTS", 4.0) as usize) {
            let climbed = self.climbed(*start, reach / f64::from(count) / 2.0);
            if climbed.agreement > best.agreement {
                best = climbed;
            }
        }
        best
    }

    fn climbed(&self, start: Nested, step: f64) -> Nested {
        let mut best = start;
        let (mut step, mut bend) = (step, 0.1);
        while step > 0.003 * self.radius {
            let before = best.agreement;
            for (x, y, p) in [
                (1.0, 0.0, 0.0),
                (-1.0, 0.0, 0.0),
                (0.0, 1.0, 0.0),
                (0.0, -1.0, 0.0),
                (0.0, 0.0, 1.0),
                (0.0, 0.0, -1.0),
            ] {
                let power = (best.inner_power + p * bend).clamp(0.3, 1.1);
                let tried = self.judged(best.at + Vec2::new(x, y) * step, power);
                if tried.agreement > best.agreement {
                    best = tried;
                }
            }
            if best.agreement <= before {
                (step, bend) = (0.6 * step, 0.6 * bend);
            }
        }
        best
    }

    /// How well the rays agree on a core.
    pub fn judged(&self, at: Point, inner_power: f64) -> Nested {
        let reach = self.reaches(at);
        let typical = reach.iter().sum::<f64>() / RAYS as f64;
        let mut sum = [0.0f32; STEPS];
        let mut square = [0.0f32; STEPS];
        for (k, reach) in reach.iter().enumerate() {
            let ratio = reach / typical;
            let inner = ratio.powf(inner_power);
            let direction = Vec2::from_angle(k as f64 * TAU / RAYS as f64) * typical;
            let mut ray = [0.0f32; STEPS];
            for (i, value) in ray.iter_mut().enumerate() {
                let share = (i as f64 + 1.0) / STEPS as f64;
                let p = at + direction * (share * (inner + (ratio - inner) * share));
                *value = self.sample(p);
            }
            let ray = detrended(&ray);
            let rms = (ray.iter().map(|v| v * v).sum::<f32>() / STEPS as f32).sqrt() + 1e-4;
            for i in 0..STEPS {
                let v = (ray[i] / rms).clamp(-2.5, 2.5);
                sum[i] += v;
                square[i] += v * v;
            }
        }
        let from = (knob("NFROM", 0.03) * STEPS as f64) as usize;
        let to = (knob("NTO", 0.93) * STEPS as f64) as usize;
        let (mut joint, mut own) = (0.0, 1e-6);
        for i in from..to {
            joint += sum[i] * sum[i] - square[i];
            own += square[i];
        }
        let agreement = f64::from(joint / own) / (RAYS as f64 - 1.0);
        Nested { at, agreement, inner_power }
    }

    fn sample(&self, p: Point) -> f32 {
        let x = (p.x + 0.5) / self.factor - 0.5;
        let y = (p.y + 0.5) / self.factor - 0.5;
        self.small.at(x as f32, y as f32)
    }

    /// Distance to the border on each ray.
    fn reaches(&self, at: Point) -> [f64; RAYS] {
        let mut reach = [0.0f64; RAYS];
        let n = self.border.len();
        let turns: Vec<(f64, f64)> = self
            .border
            .iter()
            .map(|p| {
                let v = *p - at;
                ((v.atan2() / TAU).rem_euclid(1.0) * RAYS as f64, v.hypot())
            })
            .collect();
        for i in 0..n {
            let (a, b) = (turns[i], turns[(i + 1) % n]);
            let mut turn = b.0 - a.0;
            if turn > RAYS as f64 / 2.0 {
                turn -= RAYS as f64;
            }
            if turn < -(RAYS as f64) / 2.0 {
                turn += RAYS as f64;
            }
            if turn <= 0.0 {
                continue;
            }
            let mut k = a.0.ceil();
            while k < a.0 + turn {
                let f = (k - a.0) / turn;
                let r = a.1 + (b.1 - a.1) * f;
                let slot = &mut reach[k as usize % RAYS];
                *slot = slot.max(r);
                k += 1.0;
            }
        }
        let known = reach.iter().filter(|r| **r > 0.0).count().max(1) as f64;
        let mean = reach.iter().sum::<f64>() / known;
        reach.iter_mut().for_each(|r| {
            if *r <= 0.0 {
                *r = mean;
            }
        });
        reach
    }
}

fn knob(name: &str, default: f64) -> f64 {
    if std::env::var("TUNE").is_err() {
        return default;
    }
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(default)
}

/// The border of the outline by direction from a place inside, smoothed.
fn border_of(outline: &Outline, from: Point) -> Vec<Point> {
    const POINTS: usize = 180;
    let far = outline.block_px * (outline.columns + outline.rows) as f64;
    let stride = outline.block_px / 4.0;
    let rough: Vec<f64> = (0..POINTS)
        .map(|k| {
            let direction = Vec2::from_angle(k as f64 * TAU / POINTS as f64);
            let (mut last, mut r) = (0.0, 0.0);
            while r < far {
                if outline.contains(from + direction * r) {
                    last = r;
                }
                r += stride;
            }
            last
        })
        .collect();
    (0..POINTS)
        .map(|k| {
            let near: f64 = [(POINTS - 2, 1.0), (POINTS - 1, 2.0), (0, 3.0), (1, 2.0), (2, 1.0)]
                .iter()
                .map(|(d, w)| w * rough[(k + d) % POINTS])
                .sum();
            from + Vec2::from_angle(k as f64 * TAU / POINTS as f64) * (near / 9.0)
        })
        .collect()
}

/// The picture in blocks of `factor`, from the corner of the part on; places on it are those of the scan over the factor.
fn reduced(plane: &Plane, factor: usize) -> Plane {
    let (left, top) = (plane.left.div_ceil(factor), plane.top.div_ceil(factor));
    let (x0, y0) = (left * factor - plane.left, top * factor - plane.top);
    let width = ((plane.width - x0) / factor).max(1);
    let height = ((plane.height - y0) / factor).max(1);
    let mut values = vec![0.0f32; width * height];
    let share = 1.0 / (factor * factor) as f32;
    for (row, line) in values.chunks_mut(width).enumerate() {
        for y in 0..factor {
            let start = (y0 + row * factor + y) * plane.width + x0;
            for (column, value) in line.iter_mut().enumerate() {
                let part = plane.values.get(start + column * factor..start + (column + 1) * factor);
                *value += part.unwrap_or_default().iter().sum::<f32>() * share;
            }
        }
    }
    Plane { left, top, width, height, values }
}

/// Less its mean over about a seventh of the radius.
fn detrended(ray: &[f32; STEPS]) -> [f32; STEPS] {
    let half = knob("NHALF", 8.0) as usize;
    let mut sums = [0.0f32; STEPS + 1];
    for i in 0..STEPS {
        sums[i + 1] = sums[i] + ray[i];
    }
    let mut out = [0.0; STEPS];
    for (i, o) in out.iter_mut().enumerate() {
        let (a, b) = (i.saturating_sub(half), (i + half + 1).min(STEPS));
        let (c, d) = (i.saturating_sub(1), (i + 2).min(STEPS));
        *o = (sums[d] - sums[c]) / (d - c) as f32 - (sums[b] - sums[a]) / (b - a) as f32;
    }
    out
}
