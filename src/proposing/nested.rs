//! The core of an otolith as the place from which its zones look alike in every direction.
//!
//! Zones repeat the outline, rounder inside. For a supposed core the picture is read along rays whose steps are
//! shares of the way to the outline, so that zones lie at the same step on all of them; the core is where the rays
//! agree best. Needs no light and no idea of how many zones there are.

use std::f64::consts::TAU;

use kurbo::{Point, Vec2};
use rayon::prelude::*;

use super::outline::Outline;
use super::plane::Plane;

/// Rays round the core.
const RAYS: usize = 60;
/// Steps on a ray to the margin.
const STEPS: usize = 110;

/// Steps that are compared: those next to the margin show the background where the outline is a little off.
const LAST_STEP: usize = 102;
/// Half the width of the mean that is taken off a ray, steps.
const TREND: usize = 6;
/// How far from the centroid the core is looked for, over the radius.
const REACH: f64 = 0.3;
/// Places of the grid on each side of the centroid.
const GRID: i32 = 6;
/// Places of the grid from which the search goes on.
const STARTS: usize = 4;
/// Exponent on the outline's shape before it is fitted.
const USUAL_POWER: f64 = 0.75;

/// Steps of the search: right, down, and the shape of the inner zones.
const MOVES: [(f64, f64, f64); 6] = [
    (1.0, 0.0, 0.0),
    (-1.0, 0.0, 0.0),
    (0.0, 1.0, 0.0),
    (0.0, -1.0, 0.0),
    (0.0, 0.0, 1.0),
    (0.0, 0.0, -1.0),
];

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

/// The outline from its centroid, and the picture reduced to about as many pixels of radius as a ray has steps.
#[derive(Debug, Clone)]
pub struct NestedRings {
    small: Plane<'static>,
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
        let mut best = self.judged(self.centroid, USUAL_POWER);
        let reach = REACH * self.radius;
        let side = 2 * GRID + 1;
        let mut starts: Vec<Nested> = (0..side * side)
            .into_par_iter()
            .map(|place| {
                let (i, j) = (place / side - GRID, place % side - GRID);
                let by = Vec2::new(f64::from(i), f64::from(j)) * (reach / f64::from(GRID));
                self.judged(self.centroid + by, USUAL_POWER)
            })
            .collect();
        starts.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
        starts.truncate(STARTS);
        let climbed: Vec<Nested> = starts
            .par_iter()
            .map(|start| self.climbed(*start, reach / f64::from(GRID) / 2.0))
            .collect();
        for climbed in climbed {
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
            for (x, y, p) in MOVES {
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

    /// Width of the step from structure to background as a share of the radius, in the middle of all directions in
    /// which there is a step: small where the picture is in focus. `None` where there is hardly any step.
    pub fn edge_softness(&self, plane: &Plane) -> Option<f64> {
        let sigma = (0.005 * self.radius).max(1.0);
        let widths: Vec<f64> = self
            .border
            .iter()
            .step_by(2)
            .filter_map(|place| step_width(plane, self.centroid, *place, sigma))
            .collect();
        (widths.len() >= 10).then(|| super::signal::median(&widths) / self.radius)
    }

    /// How well the rays agree on a core that is known, with the shape of the inner zones fitted.
    pub fn agreement_at(&self, at: Point) -> f64 {
        [0.45, 0.6, 0.75, 0.9, 1.0]
            .iter()
            .map(|power| self.judged(at, *power).agreement)
            .fold(f64::MIN, f64::max)
    }

    /// How well the rays agree on a core.
    pub fn judged(&self, at: Point, inner_power: f64) -> Nested {
        let none = Nested { at, agreement: 0.0, inner_power };
        let Some(sampler) = self.small.sampler() else { return none };
        let reach = self.reaches(at);
        let typical = reach.iter().sum::<f64>() / RAYS as f64;
        let place = |v: f64| ((v + 0.5) / self.factor - 0.5) as f32;
        let (from_x, from_y) = (place(at.x), place(at.y));
        let mut sum = [0.0f32; STEPS];
        let mut square = [0.0f32; STEPS];
        for (k, reach) in reach.iter().enumerate() {
            let ratio = reach / typical;
            let inner = ratio.powf(inner_power);
            let direction =
                Vec2::from_angle(k as f64 * TAU / RAYS as f64) * (typical / self.factor);
            let (by_x, by_y) = (direction.x as f32, direction.y as f32);
            let (inner, more) = (inner as f32, (ratio - inner) as f32);
            let mut ray = [0.0f32; STEPS];
            for (i, value) in ray.iter_mut().enumerate() {
                let share = (i as f32 + 1.0) * (1.0 / STEPS as f32);
                let by = share * (inner + more * share);
                *value = sampler.at(from_x + by_x * by, from_y + by_y * by);
            }
            let ray = detrended(&ray);
            let rms = (ray.iter().map(|v| v * v).sum::<f32>() / STEPS as f32).sqrt() + 1e-4;
            let per_rms = 1.0 / rms;
            for ((sum, square), v) in sum.iter_mut().zip(&mut square).zip(&ray) {
                let v = (v * per_rms).clamp(-2.5, 2.5);
                *sum += v;
                *square += v * v;
            }
        }
        let (mut joint, mut own) = (0.0, 1e-6);
        for i in 0..LAST_STEP {
            joint += sum[i] * sum[i] - square[i];
            own += square[i];
        }
        let agreement = f64::from(joint / own) / (RAYS as f64 - 1.0);
        Nested { at, agreement, inner_power }
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

/// Width of the step across the border along the ray from `middle` through `place`, pixels: its height over its
/// steepest slope.
fn step_width(plane: &Plane, middle: Point, place: Point, sigma: f64) -> Option<f64> {
    let v = place - middle;
    let (length, unit) = (v.hypot(), v / v.hypot().max(1e-9));
    let reach = (0.16 * length) as usize;
    let ray: Vec<f64> = (0..=2 * reach)
        .map(|i| {
            let p = place + unit * (i as f64 - reach as f64);
            f64::from(plane.at(p.x as f32, p.y as f32))
        })
        .collect();
    let quarter = reach / 2;
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len().max(1) as f64;
    let height = (mean(ray.get(..quarter)?) - mean(ray.get(ray.len() - quarter..)?)).abs();
    if !plane.contains(place + unit * reach as f64) || height < LEAST_STEP {
        return None;
    }
    let smooth = super::signal::smoothed(&ray, sigma);
    let steepest = smooth.windows(3).map(|w| (w[2] - w[0]).abs() / 2.0).fold(1e-6, f64::max);
    Some(height / steepest)
}

/// Least height of a step whose width says something, in units of white.
const LEAST_STEP: f64 = 0.08;

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
pub(super) fn reduced(plane: &Plane, factor: usize) -> Plane<'static> {
    let (left, top) = (plane.left.div_ceil(factor), plane.top.div_ceil(factor));
    let (x0, y0) = (left * factor - plane.left, top * factor - plane.top);
    let width = ((plane.width - x0) / factor).max(1);
    let height = ((plane.height - y0) / factor).max(1);
    let mut values = vec![0.0f32; width * height];
    let share = 1.0 / (factor * factor) as f32;
    let mut full = Vec::new();
    for (row, line) in values.chunks_mut(width).enumerate() {
        for y in 0..factor {
            let from = y0 + row * factor + y;
            if from >= plane.height {
                break;
            }
            plane.copy_row(from, &mut full);
            for (column, value) in line.iter_mut().enumerate() {
                let part = full.get(x0 + column * factor..x0 + (column + 1) * factor);
                *value += part.unwrap_or_default().iter().sum::<f32>() * share;
            }
        }
    }
    Plane::from_values(left, top, width, values)
}

/// Less its mean over about a seventh of the radius.
fn detrended(ray: &[f32; STEPS]) -> [f32; STEPS] {
    let mut sums = [0.0f32; STEPS + 1];
    let mut sum = 0.0;
    for (kept, v) in sums.iter_mut().skip(1).zip(ray) {
        sum += v;
        *kept = sum;
    }
    let mean = |from: usize, to: usize| (sums[to] - sums[from]) / (to - from) as f32;
    let mut out = [0.0; STEPS];
    for (i, o) in out.iter_mut().enumerate() {
        *o = if (TREND..STEPS - TREND).contains(&i) {
            (sums[i + 2] - sums[i - 1]) * (1.0 / 3.0)
                - (sums[i + TREND + 1] - sums[i - TREND]) * (1.0 / (2 * TREND + 1) as f32)
        } else {
            mean(i.saturating_sub(1), (i + 2).min(STEPS))
                - mean(i.saturating_sub(TREND), (i + TREND + 1).min(STEPS))
        };
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::raster::{Raster, Samples};

    /// Ellipses round a core that lies off the middle: the shape of the border, seen from the core, at every size.
    fn zones(core: Point) -> Plane<'static> {
        let shade = |x: f64, y: f64| {
            // The largest `s` with (p - core)/s + core still inside the ellipse round (200, 160).
            let v = Point::new(x, y) - core;
            let (ax, ay) = ((core.x - 200.0) / 150.0, (core.y - 160.0) / 100.0);
            let (bx, by) = (v.x / 150.0, v.y / 100.0);
            let (a, b, c) = (bx * bx + by * by, ax * bx + ay * by, ax * ax + ay * ay - 1.0);
            let share = a / (-b + (b * b - a * c).max(0.0).sqrt()).max(1e-9);
            if share > 1.0 { 10 } else { (130.0 + 60.0 * (40.0 * share.sqrt()).sin()) as u8 }
        };
        let values = (0..400 * 320).map(|i| shade((i % 400) as f64, (i / 400) as f64)).collect();
        Plane::new(&Raster::new(400, 320, Samples::Eight(values)).unwrap(), None).into_owned()
    }

    #[test]
    fn the_core_is_found_where_the_zones_shrink_to_and_not_in_the_middle() {
        for core in [Point::new(180.0, 170.0), Point::new(225.0, 160.0), Point::new(200.0, 145.0)] {
            let plane = zones(core);
            let outline = Outline::find(&plane, None).unwrap();
            let rings = NestedRings::new(&plane, &outline).unwrap();
            let found = rings.best();
            assert!((found.at - core).hypot() < 2.5, "{:?} for {core:?}", found.at);
            assert!(found.agreement > 0.6, "{}", found.agreement);
            assert!(rings.judged(core + Vec2::new(30.0, 0.0), USUAL_POWER).agreement < 0.5);
        }
    }

    #[test]
    fn noise_has_no_core() {
        let mut state = 7u64;
        let values = (0..300 * 300)
            .map(|i| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                let r = ((i % 300) as f64 - 150.0).hypot((i / 300) as f64 - 150.0);
                if r < 110.0 { 90 + (state >> 58) as u8 } else { 10 }
            })
            .collect();
        let raster = Raster::new(300, 300, Samples::Eight(values)).unwrap();
        let plane = Plane::new(&raster, None);
        let outline = Outline::find(&plane, None).unwrap();
        // The best of many places is above nothing even in noise; zones reach more than twice as much (above).
        let best = NestedRings::new(&plane, &outline).unwrap().best().agreement;
        assert!(best < 0.25, "{best}");
    }
}
