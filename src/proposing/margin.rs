//! Where the structure ends: roughly from its outline on every ray, then to the pixel along the axis.

use super::frame::Frame;
use super::outline::Outline;
use super::plane::Plane;

/// Rays on each side of the axis over which the margin is pooled, and the angle between them, radians.
const WIDE: (i32, f64) = (6, 0.008);
/// The same for the last look.
const NARROW: (i32, f64) = (4, 0.003);

/// The margin by angle from the axis, radians; distances in steps of the frame.
#[derive(Debug, Clone)]
pub struct Margin {
    gap: f64,
    half: usize,
    steps: Vec<f64>,
    /// True where the margin on the axis was seen, and not only assumed.
    pub is_seen: bool,
}

impl Margin {
    /// Finds the margin. `axis_steps` is the length of the axis: the margin is never taken to lie beyond it.
    pub fn find(
        plane: &Plane,
        frame: &Frame,
        outline: Option<&Outline>,
        half_span: f64,
        axis_steps: Option<f64>,
    ) -> Self {
        let gap: f64 = 0.03;
        let half = (half_span / gap).ceil() as usize + 2;
        let angles = (0..=2 * half).map(|i| (i as f64 - half as f64) * gap);
        let rough: Vec<Option<f64>> =
            angles.map(|a| outline.and_then(|o| last_inside(plane, frame, o, a))).collect();
        let fallback = axis_steps.unwrap_or(0.0).max(8.0);
        let seen: Vec<f64> = rough.iter().flatten().copied().collect();
        let typical = if seen.is_empty() { fallback } else { super::signal::median(&seen) };
        let filled: Vec<f64> = rough.iter().map(|r| r.unwrap_or(typical)).collect();
        let steady: Vec<f64> = (0..filled.len())
            .map(|i| {
                let range = i.saturating_sub(2)..(i + 3).min(filled.len());
                super::signal::median(&filled[range])
            })
            .collect();
        let mut margin = Self {
            gap,
            half,
            steps: super::signal::smoothed(&steady, 1.5),
            is_seen: !seen.is_empty(),
        };
        if margin.is_seen
            && let Some(outline) = outline
        {
            margin.refine(plane, frame, 2.5 * outline.block_px + 6.0, WIDE);
            // Between the lobes of a margin the place on the axis itself counts.
            margin.refine(plane, frame, 0.035 * margin.at(0.0) + 2.0, NARROW);
        }
        if let Some(limit) = axis_steps
            && margin.at(0.0) < 0.87 * limit
        {
            // An axis is drawn to the margin or a little beyond it: an outline that ends well before missed a part.
            margin.scale(0.935 * limit / margin.at(0.0));
            margin.refine(plane, frame, 0.06 * limit, WIDE);
        }
        if let Some(limit) = axis_steps
            && (margin.at(0.0) > limit || !margin.is_seen)
        {
            margin.scale(limit / margin.at(0.0));
        }
        margin
    }

    /// Steps to the margin at an angle.
    pub fn at(&self, angle: f64) -> f64 {
        super::signal::at(&self.steps, angle / self.gap + self.half as f64)
    }

    fn scale(&mut self, by: f64) {
        self.steps.iter_mut().for_each(|s| *s *= by);
    }

    /// Moves the margin to the sharpest change of brightness and texture within `reach` steps of where it is,
    /// pooled over the rays next to the axis.
    fn refine(&mut self, plane: &Plane, frame: &Frame, reach: f64, (rays, gap): (i32, f64)) {
        let reach = reach.ceil() as usize;
        let wide = reach + 10;
        let count = 2 * wide + 1;
        let mut sums = vec![[0.0f64; 2]; count + 1];
        let mut n_rays = 0.0;
        let middle = self.at(0.0);
        for k in -rays..=rays {
            let angle = f64::from(k) * gap;
            let turn = (angle.cos(), angle.sin());
            let base = self.at(angle) - wide as f64;
            n_rays += 1.0;
            let mut running = [0.0; 2];
            for (i, sum) in sums.iter_mut().enumerate().skip(1) {
                let at = frame.place(turn, base + (i - 1) as f64);
                let v = f64::from(plane.at(at.x as f32, at.y as f32));
                running[0] += v;
                running[1] += v * v;
                sum[0] += running[0];
                sum[1] += running[1];
            }
        }
        let spread = |a: usize, b: usize| {
            let n = (b - a) as f64 * n_rays;
            let mean = (sums[b][0] - sums[a][0]) / n;
            let var = (sums[b][1] - sums[a][1]) / n - mean * mean;
            n * (var.max(0.0) + 2e-5).ln()
        };
        let mut best = (f64::INFINITY, wide);
        for cut in wide - reach..=wide + reach {
            let cost = spread(0, cut) + spread(cut, count);
            if cost < best.0 {
                best = (cost, cut);
            }
        }
        let moved = best.1 as f64 - 0.5 - wide as f64;
        if middle + moved > 4.0 {
            self.scale((middle + moved) / middle);
        }
    }
}

/// Width of the step at the margin as a share of the radius: small where the picture is in focus.
pub fn edge_width(fan: &super::fan::Fan) -> f64 {
    let profile = super::bands::averaged(fan, 0.0, 0.1, f64::INFINITY);
    let edge = fan.edge;
    let mean =
        |a: f64, b: f64| super::signal::mean_over(&profile, a * edge, b * edge).unwrap_or(0.0);
    let step = (mean(0.93, 0.98) - mean(1.02, 1.05)).abs();
    let smooth = super::signal::smoothed(&profile, 1.0);
    let (from, to) =
        ((0.93 * edge) as usize, ((1.05 * edge) as usize).min(smooth.len().saturating_sub(1)));
    let steepest =
        (from + 1..to).map(|i| (smooth[i + 1] - smooth[i - 1]).abs() / 2.0).fold(1e-9, f64::max);
    step / steepest / edge
}

/// Distance of the last place inside the outline on a ray, steps; `None` where the ray leaves the picture first
/// or starts outside.
fn last_inside(plane: &Plane, frame: &Frame, outline: &Outline, angle: f64) -> Option<f64> {
    let turn = (angle.cos(), angle.sin());
    let stride = (outline.block_px / 2.0).max(1.0);
    let limit = frame.reach();
    let (mut steps, mut last, mut outside) = (0.0, None, 0.0);
    while steps < limit && outside < 6.0 * stride {
        let at = frame.place(turn, steps);
        if !plane.contains(at) {
            return if outside > 0.0 { last } else { None };
        }
        if outline.contains(at) {
            last = Some(steps + stride / 2.0);
            outside = 0.0;
        } else {
            outside += stride;
        }
        steps += stride;
    }
    last.filter(|l| *l > 4.0 * stride)
}
