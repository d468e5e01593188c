//! Radial profiles around the focus, aligned along the rings: each ring runs straight across the fan.
//!
//! Rings roughly repeat the outline, so the rays are first scaled to it. What is left is followed by the local
//! direction of the ridges (structure tensor), and at last by matching each ray with the mean of those before it.

use std::f64::consts::PI;

use kurbo::Point;

use super::frame::Frame;
use super::plane::Plane;

/// What the fan should be like.
#[derive(Debug, Clone, Copy)]
pub struct FanPlan {
    /// Half the opening angle, radians.
    pub half_span: f64,
    /// Radial half window of the ridge direction, steps.
    pub window: usize,
    /// Distance of the differences that give the direction, steps.
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
    pub fn take(plane: &Plane, frame: &Frame, plan: FanPlan, margin: &dyn Fn(f64) -> f64) -> Self {
        let edge_steps = margin(0.0).max(4.0);
        let rays_each_side = ((plan.half_span * edge_steps / 3.0) as usize).clamp(24, 140);
        let gap = plan.half_span / rays_each_side as f64;
        let angles: Vec<f64> =
            (0..=2 * rays_each_side).map(|k| (k as f64 - rays_each_side as f64) * gap).collect();
        let nodes = (edge_steps * 1.06) as usize + 8;
        let ratios: Vec<f64> = angles.iter().map(|a| margin(*a) / edge_steps).collect();
        let slopes = Slopes::measure(plane, frame, &angles, &ratios, nodes, plan);
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
        let outward = |sign: isize| {
            let follower = Follower { plane, frame, plan, slopes: &slopes, fan: &fan, nodes };
            follower.follow(sign)
        };
        let (right, left) = rayon::join(|| outward(1), || outward(-1));
        for (ray, values, places, complete) in right.into_iter().chain(left) {
            let range = ray * samples..(ray + 1) * samples;
            fan.values[range.clone()].copy_from_slice(&values);
            fan.places[range].copy_from_slice(&places);
            fan.complete[ray] = complete;
        }
        fan
    }
}

/// Change of the rings' distance from the focus with the angle, on a grid of rays and places on them.
struct Slopes {
    /// Places on a ray.
    nodes: usize,
    /// Scale of each ray: its margin over the axis's.
    ratios: Vec<f64>,
    /// Relative to the scaled ray, in steps per step along the ring.
    rest: Vec<f32>,
}

impl Slopes {
    fn measure(
        plane: &Plane,
        frame: &Frame,
        angles: &[f64],
        ratios: &[f64],
        nodes: usize,
        plan: FanPlan,
    ) -> Self {
        use rayon::prelude::*;
        let gap = angles.get(1).copied().unwrap_or(1.0) - angles.first().copied().unwrap_or(0.0);
        let tensors: Vec<TensorRay> = (0..angles.len())
            .into_par_iter()
            .map(|k| {
                let before = ratios[k.saturating_sub(1)];
                let after = ratios[(k + 1).min(ratios.len() - 1)];
                let lean = ((after / before).ln() / (2.0 * gap)).clamp(-3.0, 3.0);
                tensor_ray(plane, frame, angles[k], ratios[k], lean, nodes, plan)
            })
            .collect();
        let across = |pick: fn(&TensorRay) -> &Vec<f32>| -> Vec<Vec<f32>> {
            let lines: Vec<Vec<f32>> =
                tensors.par_iter().map(|t| boxed(pick(t), plan.window)).collect();
            summed_over_rays(&lines, 3)
        };
        let (rr, rt) = (across(|t| &t.0), across(|t| &t.1));
        let mut all: Vec<f32> = rr.iter().flatten().copied().collect();
        let typical = if all.is_empty() {
            1.0
        } else {
            let middle = all.len() / 2;
            *all.select_nth_unstable_by(middle, f32::total_cmp).1
        };
        let rest = rr
            .iter()
            .zip(&rt)
            .flat_map(|(rr, rt)| {
                rr.iter()
                    .zip(rt)
                    .map(|(rr, rt)| (-rt / (rr + 0.3 * typical + 1e-9)).clamp(-0.7, 0.7))
            })
            .collect();
        Self { nodes, ratios: ratios.to_vec(), rest }
    }

    /// The rest slope on ray `k` at a place in steps of the frame.
    fn at(&self, k: usize, steps: f64) -> f64 {
        let place = (steps / self.ratios[k]).clamp(0.0, (self.nodes - 2) as f64);
        let index = place as usize;
        let base = k * self.nodes + index;
        let f = place - index as f64;
        f64::from(self.rest[base]) * (1.0 - f) + f64::from(self.rest[base + 1]) * f
    }
}

/// Sums of a ray: squared radial differences, and their products with the differences along the ring.
type TensorRay = (Vec<f32>, Vec<f32>);

/// Squared radial difference and its product with the difference along the scaled ring, at each node.
fn tensor_ray(
    plane: &Plane,
    frame: &Frame,
    angle: f64,
    ratio: f64,
    lean: f64,
    nodes: usize,
    plan: FanPlan,
) -> TensorRay {
    let turn = (angle.cos(), angle.sin());
    let norm = (1.0 + lean * lean).sqrt();
    (0..nodes)
        .map(|i| {
            let steps = i as f64 * ratio;
            let at = frame.place(turn, steps);
            let out = frame.direction(turn, steps);
            let d = frame.pixels(out) * plan.reach;
            let side = frame.pixels(kurbo::Vec2::new(-out.y, out.x)) * plan.reach;
            let difference = |v: kurbo::Vec2| {
                plane.at((at.x + v.x) as f32, (at.y + v.y) as f32)
                    - plane.at((at.x - v.x) as f32, (at.y - v.y) as f32)
            };
            let (radial, lateral) = (difference(d), difference(side));
            let along = (lateral + lean as f32 * radial) / norm as f32;
            // The root tames scratches and bubbles, whose gradients outshine those of the rings.
            let weight = 1.0 / (radial * radial + along * along + 1e-6).sqrt();
            (radial * radial * weight, radial * along * weight)
        })
        .unzip()
}

/// Follows the rings from ray to ray, outward from the axis on one side.
struct Follower<'a> {
    plane: &'a Plane<'a>,
    frame: &'a Frame,
    plan: FanPlan,
    slopes: &'a Slopes,
    fan: &'a Fan,
    nodes: usize,
}

type FollowedRay = (usize, Vec<f32>, Vec<f32>, bool);

impl Follower<'_> {
    fn follow(&self, sign: isize) -> Vec<FollowedRay> {
        let samples = self.fan.samples;
        let finer = self.plan.finer as f64;
        let mut places: Vec<f64> = (0..samples).map(|i| i as f64 / finer).collect();
        let mut done = Vec::new();
        let mut k = self.fan.middle;
        let first = self.sampled(k, &places);
        let mut template: Vec<f32> = first.clone();
        if sign > 0 {
            done.push((k, first, narrowed(&places), self.complete(k, &places)));
        }
        loop {
            let next = k as isize + sign;
            if next < 0 || next as usize >= self.fan.angles.len() {
                return done;
            }
            let next = next as usize;
            self.advance(&mut places, k, next);
            let raw = self.sampled(next, &places);
            let shift = self.mismatch(&template, &raw);
            for (place, by) in places.iter_mut().zip(&shift) {
                *place += f64::from(*by) / finer;
            }
            ordered(&mut places, 0.25 / finer);
            let values = self.sampled(next, &places);
            for (t, v) in template.iter_mut().zip(&values) {
                *t += (v - *t) * 0.12;
            }
            done.push((next, values, narrowed(&places), self.complete(next, &places)));
            k = next;
        }
    }

    /// Carries the rings from ray `k` to `next` by the slopes half-way.
    fn advance(&self, places: &mut [f64], k: usize, next: usize) {
        let turn = (self.fan.angles[next] - self.fan.angles[k]).abs();
        let sign = if next > k { 1.0 } else { -1.0 };
        let (from, to) = (self.slopes.ratios[k], self.slopes.ratios[next]);
        let lean = (to / from).ln() / turn;
        let norm = (1.0 + lean * lean).sqrt();
        for place in places.iter_mut() {
            let scaled = *place * to / from;
            let slope = sign * (self.slopes.at(k, *place) + self.slopes.at(next, scaled)) / 2.0;
            *place = scaled + slope * scaled * turn * norm;
        }
        ordered(places, 0.25 / self.plan.finer as f64);
    }

    fn sampled(&self, k: usize, places: &[f64]) -> Vec<f32> {
        let angle = self.fan.angles[k];
        let turn = (angle.cos(), angle.sin());
        places
            .iter()
            .map(|steps| {
                let at = self.frame.place(turn, *steps);
                self.plane.at(at.x as f32, at.y as f32)
            })
            .collect()
    }

    fn complete(&self, k: usize, places: &[f64]) -> bool {
        let angle = self.fan.angles[k];
        let index = (self.fan.edge as usize).min(places.len() - 1);
        let at: Point = self.frame.place((angle.cos(), angle.sin()), places[index]);
        self.plane.contains(at) && angle.abs() <= PI
    }

    /// How far each sample of `raw` has to move to match the template, in samples.
    fn mismatch(&self, template: &[f32], raw: &[f32]) -> Vec<f32> {
        let window = self.plan.window * self.plan.finer;
        let (t, v) = (detrended(template, window), detrended(raw, window));
        let n = self.nodes * self.plan.finer;
        let (mut up, mut down) = (vec![0.0f32; n], vec![0.0f32; n]);
        for i in 1..n - 1 {
            let slope = (v[i + 1] - v[i - 1]) * 0.25 + (t[i + 1] - t[i - 1]) * 0.25;
            up[i] = (t[i] - v[i]) * slope;
            down[i] = slope * slope;
        }
        let (up, down) = (boxed(&boxed(&up, window), window), boxed(&boxed(&down, window), window));
        let typical = down.iter().sum::<f32>() / n as f32;
        let limit = 0.4 * self.plan.finer as f32;
        up.iter()
            .zip(&down)
            .map(|(u, d)| (0.5 * u / (d + 0.5 * typical + 1e-9)).clamp(-limit, limit))
            .collect()
    }
}

fn narrowed(places: &[f64]) -> Vec<f32> {
    places.iter().map(|p| *p as f32).collect()
}

/// Keeps the places in order, at least `least` apart.
fn ordered(places: &mut [f64], least: f64) {
    let mut before = -least;
    for place in places.iter_mut() {
        *place = place.max(before + least);
        before = *place;
    }
}

/// Moving mean over `2 half + 1` values, narrower at the ends.
pub(super) fn boxed(values: &[f32], half: usize) -> Vec<f32> {
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

fn detrended(values: &[f32], half: usize) -> Vec<f32> {
    let trend = boxed(values, half);
    values.iter().zip(trend).map(|(v, t)| v - t).collect()
}

fn summed_over_rays(lines: &[Vec<f32>], half: usize) -> Vec<Vec<f32>> {
    (0..lines.len())
        .map(|k| {
            let range = k.saturating_sub(half)..(k + half + 1).min(lines.len());
            let share = 1.0 / range.len() as f32;
            let mut out = vec![0.0; lines[k].len()];
            for line in &lines[range] {
                for (o, v) in out.iter_mut().zip(line) {
                    *o += v * share;
                }
            }
            out
        })
        .collect()
}
