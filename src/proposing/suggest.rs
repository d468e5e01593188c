//! Focus and axis where the reader has set none: the focus is where the rings bend around, the axis the longest
//! direction along which they are clear.

use std::f64::consts::{PI, TAU};

use kurbo::{Point, Vec2};
use rayon::prelude::*;

use crate::domain::axis::Axis;
use crate::domain::reading::Structure;

use super::focus::{FocusFit, Normal, fitted_focus, normals_round};
use super::outline::Outline;
use super::plane::Plane;

/// Local direction across the ridges, on a grid of blocks.
#[derive(Debug, Clone)]
pub struct Grain {
    block_px: usize,
    columns: usize,
    rows: usize,
    origin: Vec2,
    /// Twice-angle vector of the gradient: its length is coherence, 0 to 1.
    double: Vec<(f32, f32)>,
    /// Mean gradient energy.
    pub energy: Vec<f32>,
}

impl Grain {
    /// Measures the grain. `coarse` is the distance of the differences, pixels.
    pub fn measure(plane: &Plane, coarse: usize) -> Self {
        let block_px = (plane.width.min(plane.height) / 110).max(5);
        let (columns, rows) = (plane.width / block_px, plane.height / block_px);
        let mut sums = vec![[0.0f32; 3]; columns * rows];
        let stride = if coarse > 1 { 2 } else { 1 };
        let d = coarse.max(1);
        let first_of = |start: usize| d + start.saturating_sub(d).next_multiple_of(stride);
        let bands = sums.par_chunks_mut(columns.max(1)).enumerate().with_min_len(8);
        bands.for_each(|(row, line)| {
            let end = ((row + 1) * block_px).min(plane.height.saturating_sub(d));
            let [mut one, mut two, mut three] = [const { Vec::new() }; 3];
            for y in (first_of(row * block_px)..end).step_by(stride) {
                let here = plane.row(y, &mut one);
                let (upper, lower) = (plane.row(y - d, &mut two), plane.row(y + d, &mut three));
                for (column, sum) in line.iter_mut().enumerate() {
                    let from = first_of(column * block_px);
                    let to = ((column + 1) * block_px).min(plane.width.saturating_sub(d));
                    if from >= to {
                        continue;
                    }
                    let across = here[from + d..to + d].iter().zip(&here[from - d..to - d]);
                    let down = lower[from..to].iter().zip(&upper[from..to]);
                    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
                    for ((right, left), (below, above)) in across.zip(down).step_by(stride) {
                        let (gx, gy) = (right - left, below - above);
                        (xx, yy, xy) = (xx + gx * gx, yy + gy * gy, xy + gx * gy);
                    }
                    *sum = [sum[0] + xx, sum[1] + yy, sum[2] + xy];
                }
            }
        });
        let count = ((block_px / stride).max(1) as f32).powi(2);
        let energy: Vec<f32> = sums.iter().map(|s| (s[0] + s[1]) / count).collect();
        let double = (0..sums.len())
            .map(|i| {
                // A little from the neighbours steadies the direction.
                let (row, column) = (i / columns, i % columns);
                let (mut xx, mut yy, mut xy) = (0.0, 0.0, 1e-9f32);
                for r in row.saturating_sub(1)..(row + 2).min(rows) {
                    for c in column.saturating_sub(1)..(column + 2).min(columns) {
                        let w = if r == row && c == column { 1.0 } else { 0.4 };
                        let s = sums[r * columns + c];
                        xx += w * s[0];
                        yy += w * s[1];
                        xy += w * s[2];
                    }
                }
                let total = xx + yy + 1e-7;
                ((xx - yy) / total, 2.0 * xy / total)
            })
            .collect();
        let origin = Vec2::new(plane.left as f64 - 0.5, plane.top as f64 - 0.5);
        Self { block_px, columns, rows, origin, double, energy }
    }

    fn centre(&self, index: usize) -> Point {
        let side = self.block_px as f64;
        Point::new(
            self.origin.x + ((index % self.columns) as f64 + 0.5) * side,
            self.origin.y + ((index / self.columns) as f64 + 0.5) * side,
        )
    }

    fn index_of(&self, at: Point) -> Option<usize> {
        let x = ((at.x - self.origin.x) / self.block_px as f64).floor();
        let y = ((at.y - self.origin.y) / self.block_px as f64).floor();
        let fits = x >= 0.0 && y >= 0.0 && x < self.columns as f64 && y < self.rows as f64;
        fits.then(|| y as usize * self.columns + x as usize)
    }

    /// Coherence times agreement of the gradient with a direction: -1 to 1.
    pub fn agreement(&self, at: Point, direction: Vec2) -> Option<f64> {
        let index = self.index_of(at)?;
        let (c, s) = self.double[index];
        let angle = 2.0 * direction.atan2();
        Some(f64::from(c) * angle.cos() + f64::from(s) * angle.sin())
    }

    /// Blocks inside the outline with a clear direction: place, unit normal of the ridges, weight.
    fn normals(&self, outline: &Outline) -> Vec<Normal> {
        (0..self.double.len())
            .filter_map(|i| {
                let at = self.centre(i);
                let (c, s) = (f64::from(self.double[i].0), f64::from(self.double[i].1));
                let coherence = c.hypot(s);
                if coherence < 0.25 || !outline.contains(at) {
                    return None;
                }
                let angle = s.atan2(c) / 2.0;
                let across = Vec2::from_angle(angle);
                Some(Normal { at, across, weight: coherence * coherence })
            })
            .collect()
    }
}

/// A suggested focus and what speaks for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SuggestedFocus {
    /// Image pixels.
    pub at: Point,
    /// Share of the blocks round it that agree, 0 to 1.
    pub agreement: f64,
    /// How far the fits over a wider and a narrower part lie from each other, over the radius.
    pub unrest: f64,
    /// Standard error of the last fit, over the radius.
    pub error: f64,
    /// How far the lines round it run in one and the same direction, 0 to 1: rings run in all, a scanner's streaks
    /// in one.
    pub one_way: f64,
}

/// The focus of a scale: the point the circuli bend around, from wider to narrower parts of the scale.
pub fn suggest_focus(plane: &Plane, grain: &Grain, outline: &Outline) -> SuggestedFocus {
    let normals = grain.normals(outline);
    let radius =
        (outline.share() * (outline.columns * outline.rows) as f64 / PI).sqrt() * outline.block_px;
    let start = voted(&normals, outline, radius).unwrap_or_else(|| outline.centroid());
    let mut found =
        SuggestedFocus { at: start, agreement: 0.0, unrest: 1.0, error: 1.0, one_way: 0.0 };
    let bent = bent_around(&normals, start, radius);
    if outline.contains(bent) {
        found.at = bent;
    }
    let fit =
        FocusFit { reach: 0.4 * radius, core: 0.03 * radius, waves: 6, doubt: 0.2, streaks: 0.5 };
    if let Some(wide) = fitted_focus(&normals, found.at, fit)
        && outline.contains(wide.at)
    {
        let (agreement, error) = (wide.agreement, wide.error_px / radius);
        found = SuggestedFocus { at: wide.at, agreement, unrest: 0.5, error, ..found };
    }
    let fit = FocusFit { reach: 0.25 * radius, core: 0.01 * radius, ..fit };
    let side = ((0.015 * radius) as usize).max(3);
    let blocks = normals_round(plane, found.at, 1.2 * fit.reach, side, 1);
    found.one_way = one_way(&blocks);
    if let Some(near) = fitted_focus(&blocks, found.at, fit) {
        found.unrest = (near.at - found.at).hypot() / radius;
        // Few and broad circuli can lead the narrow fit astray; the wide one is never far off.
        if found.unrest < LIMIT_OF_NARROW_FIT && outline.contains(near.at) {
            found.at = near.at;
            found.agreement = near.agreement;
            found.error = near.error_px / radius;
        }
    }
    found
}

fn one_way(blocks: &[Normal]) -> f64 {
    let (mut sum, mut all) = (Vec2::ZERO, 1e-9);
    for block in blocks {
        sum += Vec2::from_angle(2.0 * block.across.atan2()) * block.weight;
        all += block.weight;
    }
    sum.hypot() / all
}

/// Farthest that the fit over the narrow part may lie from that over the wide one, over the radius.
const LIMIT_OF_NARROW_FIT: f64 = 0.05;

/// Where lines at right angles to the circuli meet, as if these were circles.
fn bent_around(normals: &[Normal], start: Point, radius: f64) -> Point {
    let mut focus = start;
    for round in 0..30 {
        let width = radius * (0.25 / (1.0 + 0.25 * f64::from(round))).max(0.02);
        if let Some(next) = refined(normals, focus, radius, width) {
            let moved = (next - focus).hypot();
            focus = next;
            if moved < 0.05 && round > 15 {
                break;
            }
        }
    }
    focus
}

/// Votes of the normals on a coarse grid.
fn voted(normals: &[Normal], outline: &Outline, radius: f64) -> Option<Point> {
    let cell = (radius / 24.0).max(2.0);
    let corner = outline.centre_of(0, 0);
    let across = (outline.columns as f64 * outline.block_px / cell) as usize + 2;
    let down = (outline.rows as f64 * outline.block_px / cell) as usize + 2;
    let mut votes = vec![0.0f64; across * down];
    for Normal { at, across: normal, weight } in normals {
        let steps = (0.9 * radius / cell) as i32;
        for k in -steps..=steps {
            if k == 0 {
                continue;
            }
            let p = *at + *normal * (f64::from(k) * cell);
            let (x, y) = ((p.x - corner.x) / cell, (p.y - corner.y) / cell);
            if x >= 0.0 && y >= 0.0 && x < across as f64 && y < down as f64 {
                votes[y as usize * across + x as usize] +=
                    weight / (1.0 + 0.15 * f64::from(k.abs()));
            }
        }
    }
    let spread = |i: usize| {
        let (x, y) = (i % across, i / across);
        let mut sum = 0.0;
        for yy in y.saturating_sub(1)..(y + 2).min(down) {
            for xx in x.saturating_sub(1)..(x + 2).min(across) {
                sum += votes[yy * across + xx];
            }
        }
        sum
    };
    let place = |i: usize| {
        Point::new(
            corner.x + ((i % across) as f64 + 0.5) * cell,
            corner.y + ((i / across) as f64 + 0.5) * cell,
        )
    };
    (0..votes.len())
        .filter(|i| outline.contains(place(*i)))
        .max_by(|a, b| spread(*a).total_cmp(&spread(*b)))
        .map(place)
}

/// Least squares of the distances to the normals, near blocks and agreeing ones first.
fn refined(normals: &[Normal], focus: Point, radius: f64, width: f64) -> Option<Point> {
    let (mut xx, mut yy, mut xy, mut bx, mut by) = (1e-9, 1e-9, 0.0, 0.0, 0.0);
    for Normal { at, across: normal, weight } in normals {
        let v = *at - focus;
        let distance = v.hypot();
        if distance > 0.8 * radius || distance < 0.01 * radius {
            continue;
        }
        let side = Vec2::new(-normal.y, normal.x);
        let off = side.dot(v);
        let near = 1.0 / (distance + 0.08 * radius).powi(2);
        let w = weight * near / (1.0 + (off / width).powi(2)).powi(2);
        let target = side.dot(at.to_vec2());
        xx += w * side.x * side.x;
        yy += w * side.y * side.y;
        xy += w * side.x * side.y;
        bx += w * side.x * target;
        by += w * side.y * target;
    }
    let det = xx * yy - xy * xy;
    if det.abs() < 1e-18 {
        return None;
    }
    let next = Point::new((bx * yy - by * xy) / det, (by * xx - bx * xy) / det);
    next.is_finite().then_some(next)
}

/// Directions in which rays are looked at.
const DIRECTIONS: usize = 120;

/// The axis by the structure's usual rule, to just beyond the margin: on a scale along the midline of the anterior
/// field, on an otolith the longest clear direction.
pub fn suggest_axis(
    grain: &Grain,
    outline: &Outline,
    focus: Point,
    structure: Structure,
) -> Option<Axis> {
    let rays: Vec<(f64, f64)> = (0..DIRECTIONS)
        .map(|k| ray_quality(grain, outline, focus, direction_of(k).atan2()))
        .collect();
    let longest = rays.iter().map(|r| r.0).fold(0.0, f64::max);
    if longest <= 0.0 {
        return None;
    }
    let anterior = (structure == Structure::Scale).then(|| anterior_direction(&rays)).flatten();
    let weight_of_length = if anterior.is_some() { 2.0 } else { 1.2 };
    let score = |k: usize| {
        let part = |j: usize| {
            let (length, clear) = rays[j % DIRECTIONS];
            (length / longest).powf(weight_of_length) * clear.max(0.02)
        };
        let sum = (0..=6).map(|d| part(k + d + DIRECTIONS - 3)).sum::<f64>();
        // Within the anterior field the clearest direction, and rather the middle than a corner.
        anterior.map_or(sum, |a| sum * (6.0 * (direction_of(k).dot(a) - 1.0)).exp())
    };
    let best = (0..DIRECTIONS).max_by(|a, b| score(*a).total_cmp(&score(*b)))?;
    Axis::straight(focus, focus + direction_of(best) * (rays[best].0 * 1.08 + 4.0)).ok()
}

fn direction_of(k: usize) -> Vec2 {
    Vec2::from_angle(k as f64 * TAU / DIRECTIONS as f64)
}

/// The middle of the anterior field of a scale: where the circuli are clear, away from the field without them, and
/// the side on which more of the scale lies.
fn anterior_direction(rays: &[(f64, f64)]) -> Option<Vec2> {
    let mean = |pick: fn(&(f64, f64)) -> f64| {
        rays.iter().map(pick).sum::<f64>() / rays.len().max(1) as f64
    };
    let (length, clear) = (mean(|r| r.0), mean(|r| r.1));
    let mut sum = Vec2::ZERO;
    for (k, ray) in rays.iter().enumerate() {
        sum += direction_of(k)
            * (3.0 * (ray.0 / length - 1.0) + (ray.1 / clear.max(0.02)).min(1.3) - 1.0);
    }
    (sum.hypot() > 1e-6).then(|| sum.normalize())
}

/// Length of a ray inside the outline, pixels, and the mean agreement of the ridges along it.
fn ray_quality(grain: &Grain, outline: &Outline, focus: Point, angle: f64) -> (f64, f64) {
    let direction = Vec2::from_angle(angle);
    let stride = outline.block_px;
    let (mut length, mut outside, mut sum, mut n) = (0.0, 0, 0.0, 0.0);
    for k in 1..4000 {
        let at = focus + direction * (f64::from(k) * stride);
        if outline.contains(at) {
            length = f64::from(k) * stride;
            outside = 0;
            if let Some(agreement) = grain.agreement(at, direction) {
                sum += agreement.max(0.0);
                n += 1.0;
            }
        } else {
            outside += 1;
            if outside > 3 {
                break;
            }
        }
    }
    (length, if n > 0.0 { sum / n } else { 0.0 })
}
