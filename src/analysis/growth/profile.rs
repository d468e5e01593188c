//! Profile-t intervals: the values at which the best sum of squares, that parameter held, has risen by s² t²
//! (Bates & Watts 1988, from memory). They follow the curvature that Wald intervals ignore.

use crate::analysis::numerics::distribution::t_quantile;
use crate::analysis::numerics::least_squares::{Stopping, minimise};

use super::curve::Row;
use super::fit::Fit;
use super::objective::Objective;
use super::starts::starts;

/// Lower and upper 95 % limit of the parameter at `index`; a side is `None` where the sum of squares never rises enough
/// before the guard, so that the data set no limit there. `None` altogether for fixed parameters and for fits that do
/// not identify theirs.
pub fn profile_interval(fit: &Fit, index: usize) -> Option<[Option<f64>; 2]> {
    let parameter = fit.parameters.get(index)?;
    let (se, sd) = (parameter.se?, fit.residual_sd.filter(|sd| *sd > 0.0)?);
    let target = t_quantile(0.975, fit.df as f64)?;
    let search = Search { fit, index, sd, target };
    Some([search.limit(parameter.estimate, -se), search.limit(parameter.estimate, se)])
}

struct Search<'a> {
    fit: &'a Fit,
    index: usize,
    sd: f64,
    target: f64,
}

impl Search<'_> {
    fn limit(&self, estimate: f64, step: f64) -> Option<f64> {
        let (low, high) = (self.fit.guards.lower[self.index], self.fit.guards.upper[self.index]);
        let mut warm = self.fit.row();
        let (mut inside, mut inside_gap) = (estimate, -self.target);
        let mut reach = self.target;
        for _ in 0..30 {
            let outside = (estimate + reach * step).clamp(low, high);
            let (gap, row) = self.gap(outside, &warm)?;
            if gap >= 0.0 {
                return self.root((inside, inside_gap), (outside, gap), warm);
            }
            if outside <= low || outside >= high {
                return None;
            }
            (inside, inside_gap, warm) = (outside, gap, row);
            reach *= 1.4;
        }
        None
    }

    /// Root of the gap between two points: the secant of Illinois (Dowell & Jarratt 1971, from memory), which keeps
    /// the root enclosed. Every refit starts from the last point inside, where the other parameters are known to be good.
    fn root(&self, mut inside: (f64, f64), mut outside: (f64, f64), mut warm: Row) -> Option<f64> {
        for step in 0..100 {
            let width = outside.0 - inside.0;
            // Now and then halve, in case the rise is far from straight.
            let middle = if step % 8 == 7 {
                inside.0 + 0.5 * width
            } else {
                outside.0 - outside.1 * width / (outside.1 - inside.1)
            };
            let (gap, row) = self.gap(middle, &warm)?;
            if gap.abs() < 1e-10 || width.abs() < 1e-13 * middle.abs() {
                return Some(middle);
            }
            if gap >= 0.0 {
                outside = (middle, gap);
                inside.1 *= 0.5;
            } else {
                (inside, warm) = ((middle, gap), row);
                outside.1 *= 0.5;
            }
        }
        Some(0.5 * (inside.0 + outside.0))
    }

    /// Root of the scaled rise of the sum of squares, less its target, with the other parameters refitted from `warm`, from
    /// the estimate and from the grid where those do not settle.
    fn gap(&self, value: f64, warm: &Row) -> Option<(f64, Row)> {
        let fit = self.fit;
        let mut fixed = fit.fixed;
        fixed[self.index] = Some(value);
        let objective = Objective::single(fit.curve, fit.error, &fit.sample.cells, &fixed);
        let limits = objective.limits(&fit.guards);
        let refit =
            |row: &Row| minimise(&objective, &objective.free_of(row), &limits, Stopping::FINE);
        let mut best = refit(warm);
        if !best.converged || best.on_bound.contains(&true) {
            let (grid, _) = starts(fit.curve, fit.error, &fit.sample, &fixed);
            for row in std::iter::once(&fit.row()).chain(&grid) {
                let end = refit(row);
                if end.rss < best.rss || best.rss.is_nan() {
                    best = end;
                }
            }
        }
        let rise = (best.rss - fit.rss).max(0.0).sqrt() / self.sd - self.target;
        // Outside the domain the rise has no bound; the search for the root needs a number.
        (!best.rss.is_nan()).then(|| (rise.min(1e3), objective.row_of(&best.at)))
    }
}
