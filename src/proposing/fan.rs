//! Radial profiles around the focus, aligned along the rings: each ring runs straight across the fan.
//!
//! Rings roughly repeat the outline, so the rays are first scaled to it. What is left is followed by the local
//! direction of the ridges (structure tensor), and at last by matching each ray with the mean of those before it.

use std::f64::consts::PI;

use kurbo::{Point, Vec2};
use rayon::prelude::*;

use super::frame::Frame;
use super::plane::{Plane, Sampler};

/// Rays from one that is matched with those before it to the next; rays between lie between their neighbours.
const STRIDE: usize = 2;
/// Rays on each side over which the direction of the ridges is pooled.
const POOLED: usize = 3;
/// Samples that are moved together where a ray is matched: far fewer than the window it is matched over.
const BLOCK: usize = 4;

/// What the fan should be like.
#[derive(Debug, Clone, Copy)]
pub struct FanPlan {
    /// Half the opening angle, radians.
    pub half_span: f64,
    /// Radial half window of the ridge direction, steps.
    pub window: usize,
    /// Distance of the differences that give the direction, steps; a whole number.
    pub reach: f64,
    /// Samples in a step.
    pub finer: usize,
}

/// The aligned fan. Sample `i` of every ray lies on the ring that crosses the axis `i * step_um` from the focus.
#[derive(Debug, Clone)]
pub struct Fan {
    /// Angle of each ray from the axis, radians.
    pub angles: Vec<f64>,
    /// Index of the axis itself among the rays.
    pub middle: usize,
    /// Radial distance between samples, micrometres.
    pub step_um: f64,
    /// Samples on each ray.
    pub samples: usize,
    /// Sample that lies on the margin (fractional).
    pub edge: f64,
    /// Values, ray by ray.
    pub values: Vec<f32>,
    /// Where each sample lies on its ray, in steps of the frame.
    pub places: Vec<f32>,
    /// True where a ray lies wholly inside the picture up to the margin.
    pub complete: Vec<bool>,
}

impl Fan {
    /// A fan of the same measures without its samples, to keep many readings at hand.
    pub fn empty_like(other: &Self) -> Self {
        Self {
            angles: Vec::new(),
            middle: 0,
            step_um: other.step_um,
            samples: 0,
            edge: other.edge,
            values: Vec::new(),
            places: Vec::new(),
            complete: Vec::new(),
        }
    }

    /// The samples of one ray.
    pub fn ray(&self, ray: usize) -> &[f32] {
        &self.values[ray * self.samples..(ray + 1) * self.samples]
    }

    /// Where the samples of one ray lie, in steps of the frame.
    pub fn ray_places(&self, ray: usize) -> &[f32] {
        &self.places[ray * self.samples..(ray + 1) * self.samples]
    }

    /// Rays within `angle` of `around`, radians, that lie inside the picture.
    pub fn rays_near(&self, around: f64, angle: f64) -> impl Iterator<Item = usize> + '_ {
        (0..self.angles.len())
            .filter(move |k| (self.angles[*k] - around).abs() <= angle && self.complete[*k])
    }

    /// Takes the fan. `margin` gives the margin on each ray, in steps of the frame, for an angle from the axis.
    /// `coarse` is the same plane reduced by the plan's reach.
    pub fn take(
        plane: &Plane,
        coarse: &Plane,
        frame: &Frame,
        plan: FanPlan,
        margin: &dyn Fn(f64) -> f64,
    ) -> Self {
        let edge_steps = margin(0.0).max(4.0);
        let rays_each_side = ((plan.half_span * edge_steps / 3.0) as usize).clamp(24, 140);
        let gap = plan.half_span / rays_each_side as f64;
        let angles: Vec<f64> =
            (0..=2 * rays_each_side).map(|k| (k as f64 - rays_each_side as f64) * gap).collect();
        // Whole blocks of samples.
        let nodes = ((edge_steps * 1.06) as usize + 8).next_multiple_of(BLOCK);
        let ratios: Vec<f64> = angles.iter().map(|a| margin(*a) / edge_steps).collect();
        let samples = nodes * plan.finer;
        let mut fan = Self {
            middle: rays_each_side,
            step_um: frame.step_um / plan.finer as f64,
            samples,
            edge: edge_steps * plan.finer as f64,
            values: vec![0.0; angles.len() * samples],
            places: vec![0.0; angles.len() * samples],
            complete: vec![true; angles.len()],
            angles,
        };
        let (Some(sampler), Some(coarse)) = (plane.sampler(), coarse.sampler()) else {
            return fan;
        };
        let slopes = Slopes::measure(coarse, frame, &fan.angles, &ratios, nodes, plan);
        let of_left = rays_each_side * samples;
        let (left_values, right_values) = fan.values.split_at_mut(of_left);
        let (left_places, right_places) = fan.places.split_at_mut(of_left);
        let (left_complete, right_complete) = fan.complete.split_at_mut(rays_each_side);
        let follower = Follower {
            plane,
            sampler,
            frame,
            plan,
            slopes: &slopes,
            angles: &fan.angles,
            middle: rays_each_side,
            samples,
            edge: fan.edge,
        };
        rayon::join(
            || follower.follow(1, Side::of(right_values, right_places, right_complete, samples)),
            || follower.follow(-1, Side::of(left_values, left_places, left_complete, samples)),
        );
        fan
    }
}

/// Change of the rings' distance from the focus with the angle, on a grid of rays and places on them.
struct Slopes {
    /// Places on a ray.
    nodes: usize,
    /// Scale of each ray: its margin over the axis's.
    ratios: Vec<f64>,
    /// Squared radial differences, ray by ray, evened along the ray.
    rr: Vec<f32>,
    /// Their products with the differences along the ring.
    rt: Vec<f32>,
    /// The middle of all squared differences.
    typical: f32,
}

impl Slopes {
    fn measure(
        sampler: Sampler,
        frame: &Frame,
        angles: &[f64],
        ratios: &[f64],
        nodes: usize,
        plan: FanPlan,
    ) -> Self {
        let gap = angles.get(1).copied().unwrap_or(1.0) - angles.first().copied().unwrap_or(0.0);
        let (mut rr, mut rt) = (vec![0.0; angles.len() * nodes], vec![0.0; angles.len() * nodes]);
        let rays = rr.par_chunks_mut(nodes).zip(rt.par_chunks_mut(nodes)).enumerate();
        rays.with_min_len(8).for_each_init(TensorScratch::default, |scratch, (k, (rr, rt))| {
            let before = ratios[k.saturating_sub(1)];
            let after = ratios[(k + 1).min(ratios.len() - 1)];
            let lean = ((after / before).ln() / (2.0 * gap)).clamp(-3.0, 3.0);
            scratch.tensor_ray(sampler, frame, (angles[k], ratios[k], lean), plan, nodes);
            scratch.box_into(plan.window, rr, rt);
        });
        let mut slopes = Self { nodes, ratios: ratios.to_vec(), rr, rt, typical: 1.0 };
        // The middle of a part of them is that of all.
        let mut line = vec![0.0; nodes];
        let mut some: Vec<f32> = Vec::with_capacity(angles.len() / 4 * nodes / 4 + nodes);
        for k in (0..angles.len()).step_by(6) {
            slopes.pooled(&slopes.rr, k, &mut line);
            some.extend(line.iter().step_by(3));
        }
        let middle = some.len() / 2;
        if middle > 0 {
            slopes.typical = *some.select_nth_unstable_by(middle, f32::total_cmp).1;
        }
        slopes
    }

    /// Mean over the rays next to ray `k`.
    fn pooled(&self, lines: &[f32], k: usize, into: &mut [f32]) {
        let range = k.saturating_sub(POOLED)..(k + POOLED + 1).min(self.ratios.len());
        let share = 1.0 / range.len() as f32;
        into.fill(0.0);
        for k in range {
            let line = &lines[k * self.nodes..(k + 1) * self.nodes];
            for (sum, value) in into.iter_mut().zip(line) {
                *sum += value * share;
            }
        }
    }

    /// Slopes on ray `k` relative to the scaled ray, in steps per step along the ring. `work` is as long.
    fn rest(&self, k: usize, work: &mut [f32], into: &mut [f32]) {
        self.pooled(&self.rr, k, work);
        self.pooled(&self.rt, k, into);
        let held_back = 0.3 * self.typical + 1e-9;
        for (rt, rr) in into.iter_mut().zip(work) {
            *rt = (-*rt / (*rr + held_back)).clamp(-0.7, 0.7);
        }
    }
}

/// Room for the work on one ray.
#[derive(Default)]
struct TensorScratch {
    steps: Vec<f32>,
    x: Vec<f32>,
    y: Vec<f32>,
    tensors: Vec<[f64; 2]>,
}

impl TensorScratch {
    /// Squared radial difference and its product with the difference along the scaled ring, at each node.
    fn tensor_ray(
        &mut self,
        sampler: Sampler,
        frame: &Frame,
        (angle, ratio, lean): (f64, f64, f64),
        plan: FanPlan,
        nodes: usize,
    ) {
        let turn = (angle.cos(), angle.sin());
        let norm = 1.0 / (1.0 + lean * lean).sqrt() as f32;
        let lean = lean as f32;
        let factor = plan.reach.round().max(1.0) as f32;
        self.steps.clear();
        self.steps.extend((0..nodes).map(|i| (i as f64 * ratio) as f32));
        self.x.resize(nodes, 0.0);
        self.y.resize(nodes, 0.0);
        frame.fill_places(turn, &self.steps, &mut self.x, &mut self.y);
        for v in self.x.iter_mut().chain(&mut self.y) {
            *v = (*v + 0.5) / factor - 0.5;
        }
        let directions = |steps: f64| {
            let out = frame.direction(turn, steps);
            let (d, side) = (frame.pixels(out), frame.pixels(Vec2::new(-out.y, out.x)));
            [d.x as f32, d.y as f32, side.x as f32, side.y as f32]
        };
        let mut direction = directions(0.0);
        self.tensors.clear();
        self.tensors.extend(self.x.iter().zip(&self.y).zip(&self.steps).map(|((x, y), steps)| {
            if !frame.is_straight() {
                direction = directions(f64::from(*steps));
            }
            let (gx, gy) = sampler.differences(*x, *y);
            let radial = gx * direction[0] + gy * direction[1];
            let lateral = gx * direction[2] + gy * direction[3];
            let along = (lateral + lean * radial) * norm;
            // The root tames scratches and bubbles, whose gradients outshine those of the rings.
            let weight = 1.0 / (radial * radial + along * along + 1e-6).sqrt();
            [f64::from(radial * radial * weight), f64::from(radial * along * weight)]
        }));
    }

    /// Moving means of both over `2 half + 1` nodes.
    fn box_into(&mut self, half: usize, rr: &mut [f32], rt: &mut [f32]) {
        running(&mut self.tensors);
        means_around(&self.tensors, half, |i, [a, b]| (rr[i], rt[i]) = (a, b));
    }
}

/// Turns pairs of values into their sums up to each, with a first of nothing.
fn running(pairs: &mut Vec<[f64; 2]>) {
    let mut sum = [0.0; 2];
    for pair in pairs.iter_mut() {
        let before = sum;
        sum = [sum[0] + pair[0], sum[1] + pair[1]];
        *pair = before;
    }
    pairs.push(sum);
}

/// Hands over the means of pairs over `2 half + 1` places, narrower at the ends, from their running sums.
#[inline(always)]
fn means_around(sums: &[[f64; 2]], half: usize, mut found: impl FnMut(usize, [f32; 2])) {
    let n = sums.len().saturating_sub(1);
    let inner = half..n.saturating_sub(half).max(half);
    let mut at_end = |i: usize| {
        let (a, b) = (i.saturating_sub(half), (i + half + 1).min(n));
        let share = 1.0 / (b - a) as f64;
        let (from, to) = (sums[a], sums[b]);
        found(i, [((to[0] - from[0]) * share) as f32, ((to[1] - from[1]) * share) as f32]);
    };
    (0..inner.start.min(n)).for_each(&mut at_end);
    (inner.end.min(n)..n).filter(|i| *i >= half).for_each(&mut at_end);
    let share = 1.0 / (2 * half + 1) as f64;
    for (i, (from, to)) in sums.iter().zip(sums.iter().skip(2 * half + 1)).enumerate() {
        let mean = [((to[0] - from[0]) * share) as f32, ((to[1] - from[1]) * share) as f32];
        found(i + half, mean);
    }
}

/// The rays of one side of the fan, to be filled.
struct Side<'a> {
    values: Vec<&'a mut [f32]>,
    places: Vec<&'a mut [f32]>,
    complete: &'a mut [bool],
}

impl<'a> Side<'a> {
    fn of(
        values: &'a mut [f32],
        places: &'a mut [f32],
        complete: &'a mut [bool],
        samples: usize,
    ) -> Self {
        Self {
            values: values.chunks_mut(samples).collect(),
            places: places.chunks_mut(samples).collect(),
            complete,
        }
    }
}

/// Follows the rings from ray to ray, outward from the axis on one side.
struct Follower<'a> {
    plane: &'a Plane<'a>,
    sampler: Sampler<'a>,
    frame: &'a Frame,
    plan: FanPlan,
    slopes: &'a Slopes,
    angles: &'a [f64],
    middle: usize,
    samples: usize,
    edge: f64,
}

impl Follower<'_> {
    /// Fills the rays of a side: from the middle on to the right (`sign` 1), or those left of it (-1).
    fn follow(&self, sign: isize, mut side: Side) {
        let nodes = self.slopes.nodes;
        let finer = self.plan.finer as f32;
        let mut work = Work::new(self.samples);
        let mut places: Vec<f32> = (0..self.samples).map(|i| i as f32 / finer).collect();
        let mut before = places.clone();
        let mut template = vec![0.0; self.samples];
        let mut raw = vec![0.0; self.samples];
        let (mut pooled, mut rest_here, mut rest_next) =
            (vec![0.0; nodes], vec![0.0; nodes], vec![0.0; nodes]);
        let mut k = self.middle;
        self.sample(k, &places, &mut work, &mut template);
        if sign > 0 {
            side.values[0].copy_from_slice(&template);
            side.places[0].copy_from_slice(&places);
            side.complete[0] = self.complete(k, &places);
        }
        self.slopes.rest(k, &mut pooled, &mut rest_here);
        loop {
            let left = if sign > 0 { self.angles.len() - 1 - k } else { k };
            let stride = STRIDE.min(left);
            if stride == 0 {
                return;
            }
            let ray = |by: usize| if sign > 0 { k + by } else { k - by };
            let next = ray(stride);
            before.copy_from_slice(&places);
            self.slopes.rest(next, &mut pooled, &mut rest_next);
            for (here, next) in rest_here.iter_mut().zip(&rest_next) {
                *here = (*here + next) / 2.0;
            }
            self.advance(&mut places, &rest_here, k, next);
            self.sample(next, &places, &mut work, &mut raw);
            work.shift(&template, &raw, self.plan.window * self.plan.finer);
            work.move_by_shift(&mut places, self.plan.finer, stride);
            ordered(&mut places, 0.25 / finer);
            for by in 1..=stride {
                let at = ray(by);
                let index = if sign > 0 { at - self.middle } else { at };
                let (values, kept) = (&mut *side.values[index], &mut *side.places[index]);
                self.between(&before, &places, (k, at, next), by as f32 / stride as f32, kept);
                self.sample(at, kept, &mut work, values);
                for (t, v) in template.iter_mut().zip(values.iter()) {
                    *t += (v - *t) * 0.12;
                }
                side.complete[index] = self.complete(at, kept);
            }
            std::mem::swap(&mut rest_here, &mut rest_next);
            k = next;
        }
    }

    /// Carries the rings from ray `k` to `next` by the slopes half-way.
    fn advance(&self, places: &mut [f32], slopes: &[f32], k: usize, next: usize) {
        let turn = (self.angles[next] - self.angles[k]).abs();
        let sign = if next > k { 1.0 } else { -1.0 };
        let (from, to) = (self.slopes.ratios[k], self.slopes.ratios[next]);
        let lean = (to / from).ln() / turn;
        let by = (sign * turn * (1.0 + lean * lean).sqrt()) as f32;
        let (scale, per_ratio) = ((to / from) as f32, (1.0 / from) as f32);
        let last = (self.slopes.nodes - 2) as f32;
        for place in places.iter_mut() {
            let at = (*place * per_ratio).max(0.0).min(last);
            let index = at as usize;
            let Some([a, b]) = slopes.get(index..index + 2) else { continue };
            let slope = a + (b - a) * (at - index as f32);
            *place *= scale * (1.0 + slope * by);
        }
    }

    /// Places on a ray from those on two rays beside it, each scaled to its margin.
    fn between(
        &self,
        before: &[f32],
        after: &[f32],
        (from, at, to): (usize, usize, usize),
        share: f32,
        into: &mut [f32],
    ) {
        if at == to {
            into.copy_from_slice(after);
            return;
        }
        let ratio = |k: usize| self.slopes.ratios[k] as f32;
        let (a, b) = ((1.0 - share) * ratio(at) / ratio(from), share * ratio(at) / ratio(to));
        for ((into, before), after) in into.iter_mut().zip(before).zip(after) {
            *into = a * before + b * after;
        }
    }

    fn sample(&self, k: usize, places: &[f32], work: &mut Work, into: &mut [f32]) {
        let angle = self.angles[k];
        self.frame.fill_places((angle.cos(), angle.sin()), places, &mut work.x, &mut work.y);
        for ((into, x), y) in into.iter_mut().zip(&work.x).zip(&work.y) {
            *into = self.sampler.at(*x, *y);
        }
    }

    fn complete(&self, k: usize, places: &[f32]) -> bool {
        let angle = self.angles[k];
        let index = (self.edge as usize).min(places.len() - 1);
        let steps = f64::from(places[index]);
        let at: Point = self.frame.place((angle.cos(), angle.sin()), steps);
        self.plane.contains(at) && angle.abs() <= PI
    }
}

/// Room for the work on a ray that is followed.
struct Work {
    x: Vec<f32>,
    y: Vec<f32>,
    /// Difference and sum of two rays, then their running sums.
    sums: Vec<[f64; 2]>,
    off: Vec<f32>,
    both: Vec<f32>,
    /// Of blocks: how far they lie off, times the slope; and the squared slope.
    blocks: Vec<[f64; 2]>,
    boxed: Vec<[f64; 2]>,
}

impl Work {
    fn new(samples: usize) -> Self {
        Self {
            x: vec![0.0; samples],
            y: vec![0.0; samples],
            sums: Vec::with_capacity(samples + 1),
            off: vec![0.0; samples],
            both: vec![0.0; samples],
            blocks: Vec::with_capacity(samples / BLOCK + 1),
            boxed: Vec::with_capacity(samples / BLOCK + 1),
        }
    }

    /// How far each block of `raw` lies off the template, and how well that is seen.
    fn shift(&mut self, template: &[f32], raw: &[f32], window: usize) {
        let n = raw.len();
        self.sums.clear();
        self.sums
            .extend(template.iter().zip(raw).map(|(t, v)| [f64::from(t - v), f64::from(t + v)]));
        running(&mut self.sums);
        means_around(&self.sums, window, |i, [off, both]| {
            self.off[i] = template[i] - raw[i] - off;
            self.both[i] = template[i] + raw[i] - both;
        });
        self.blocks.clear();
        for start in (0..n).step_by(BLOCK) {
            let (mut up, mut down) = (0.0f32, 0.0f32);
            for i in start.max(1)..(start + BLOCK).min(n - 1) {
                let slope = (self.both[i + 1] - self.both[i - 1]) * 0.25;
                up += self.off[i] * slope;
                down += slope * slope;
            }
            self.blocks.push([f64::from(up), f64::from(down)]);
        }
        let half = ((2 * window + 1) as f64 / BLOCK as f64 / 2.0 - 0.5).round() as usize;
        for _ in 0..2 {
            self.boxed.clear();
            self.boxed.resize(self.blocks.len(), [0.0; 2]);
            running(&mut self.blocks);
            means_around(&self.blocks, half, |j, [up, down]| {
                self.boxed[j] = [f64::from(up), f64::from(down)];
            });
            std::mem::swap(&mut self.blocks, &mut self.boxed);
        }
    }

    /// Moves the places of a ray, `stride` rays from the one before, to where they match the template.
    fn move_by_shift(&mut self, places: &mut [f32], finer: usize, stride: usize) {
        let count = self.blocks.len().max(1) as f64;
        let typical = self.blocks.iter().map(|b| b[1]).sum::<f64>() / count;
        // Half of what is seen for one ray, and as much for each of several.
        let share = stride as f64 / (stride + 1) as f64;
        let limit = 0.4 * stride as f64;
        let steps = |block: [f64; 2]| {
            let seen = share * block[0] / (block[1] + 0.5 * typical + 1e-9);
            (seen / finer as f64).clamp(-limit, limit) as f32
        };
        let of = |j: usize| self.blocks.get(j).map_or(0.0, |block| steps(*block));
        let (mut before, mut here) = (of(0), of(0));
        let last = self.blocks.len().saturating_sub(1);
        for (j, part) in places.chunks_mut(BLOCK).enumerate() {
            let after = of((j + 1).min(last));
            for (i, place) in part.iter_mut().enumerate() {
                let from_middle = (i as f32 + 0.5) / BLOCK as f32 - 0.5;
                let beside = if from_middle < 0.0 { before } else { after };
                *place += here + (beside - here) * from_middle.abs();
            }
            (before, here) = (here, after);
        }
    }
}

/// Keeps the places in order, at least `least` apart.
fn ordered(places: &mut [f32], least: f32) {
    let starts_well = places.first().is_none_or(|place| *place >= 0.0);
    if starts_well && places.windows(2).all(|pair| pair[1] - pair[0] >= least) {
        return;
    }
    let mut before = -least;
    for place in places.iter_mut() {
        *place = place.max(before + least);
        before = *place;
    }
}
