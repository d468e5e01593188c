//! Nonlinear least squares: Levenberg 1944, Marquardt 1963, with three safeguards that growth data ask for.
//!
//! 1. A rate may change by at most half its size in one step: a plain step can land where the curve is flat, and stay
//!    there (NIST BoxBOD from its first start shows it).
//! 2. Bounds are guards with an active set: a parameter that leaves through a bound stays on it and is reported.
//! 3. The sum of squares cannot tell positions closer than about the root of the machine precision, so the last
//!    digits come from plain Gauss-Newton steps, kept as long as they shrink.

use super::symmetric::{cholesky, solve_cholesky};

/// A sum of squares with its normal equations.
pub trait SumOfSquares {
    /// Number of free parameters.
    fn n_parameters(&self) -> usize;

    /// Fills JᵀWJ (row by row, both triangles) and JᵀW(y - f) at `at`; returns the weighted residual sum of squares,
    /// not finite outside the domain of the curve.
    fn normal_equations(&self, at: &[f64], jtj: &mut [f64], jtr: &mut [f64]) -> f64;
}

/// What keeps a step sensible.
#[derive(Debug, Clone, PartialEq)]
pub struct StepLimits {
    /// Least value of each parameter.
    pub lower: Vec<f64>,
    /// Greatest value of each parameter.
    pub upper: Vec<f64>,
    /// Parameters that are rates: they change by at most half their size in one step.
    pub is_rate: Vec<bool>,
}

impl StepLimits {
    /// No limits for `n` parameters.
    pub fn none(n: usize) -> Self {
        Self {
            lower: vec![f64::NEG_INFINITY; n],
            upper: vec![f64::INFINITY; n],
            is_rate: vec![false; n],
        }
    }
}

/// When to stop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stopping {
    /// Largest relative change of a parameter that counts as none.
    pub relative_step: f64,
    /// Most evaluations of the normal equations.
    pub max_evaluations: usize,
    /// Whether to seek the last digits.
    pub polish: bool,
}

impl Stopping {
    /// For a fit that is reported: to the last digits.
    pub const FINE: Self = Self { relative_step: 1e-10, max_evaluations: 500, polish: true };
    /// For one of many refits: far below the spread of a bootstrap.
    pub const QUICK: Self = Self { relative_step: 1e-6, max_evaluations: 100, polish: false };
}

/// Where the search ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Minimum {
    /// Parameters.
    pub at: Vec<f64>,
    /// Residual sum of squares.
    pub rss: f64,
    /// JᵀWJ there.
    pub jtj: Vec<f64>,
    /// The search ended because steps vanished, on a point where the gradient vanishes along the free directions.
    pub converged: bool,
    /// Parameters that ended on a bound.
    pub on_bound: Vec<bool>,
    /// Evaluations used.
    pub evaluations: usize,
}

struct State {
    at: Vec<f64>,
    jtj: Vec<f64>,
    jtr: Vec<f64>,
    rss: f64,
}

struct Search<'a, P: SumOfSquares> {
    problem: &'a P,
    limits: &'a StepLimits,
    n: usize,
    now: State,
    trial: State,
    factor: Vec<f64>,
    step: Vec<f64>,
    held: Vec<bool>,
    evaluations: usize,
}

/// Least sum of squares from `start`.
///
/// Source: Marquardt 1963, with the damping rule of Nielsen 1999 (from memory, arithmetic tested on the NIST sets).
pub fn minimise<P: SumOfSquares>(
    problem: &P,
    start: &[f64],
    limits: &StepLimits,
    stopping: Stopping,
) -> Minimum {
    let mut search = Search::new(problem, start, limits);
    let vanished = search.descend(stopping);
    if stopping.polish && vanished {
        search.polish();
    }
    search.finish(vanished)
}

impl<'a, P: SumOfSquares> Search<'a, P> {
    fn new(problem: &'a P, start: &[f64], limits: &'a StepLimits) -> Self {
        let n = problem.n_parameters();
        let empty = || State {
            at: vec![0.0; n],
            jtj: vec![0.0; n * n],
            jtr: vec![0.0; n],
            rss: f64::INFINITY,
        };
        let mut now = empty();
        for (i, value) in start.iter().enumerate().take(n) {
            now.at[i] = value.clamp(limits.lower[i], limits.upper[i]);
        }
        now.rss = problem.normal_equations(&now.at, &mut now.jtj, &mut now.jtr);
        Self {
            problem,
            limits,
            n,
            now,
            trial: empty(),
            factor: vec![0.0; n * n],
            step: vec![0.0; n],
            held: vec![false; n],
            evaluations: 1,
        }
    }

    /// True when it ended on vanishing steps.
    fn descend(&mut self, stopping: Stopping) -> bool {
        if !self.now.rss.is_finite() {
            return false;
        }
        let (mut damping, mut growth) = (1e-3, 2.0);
        while self.evaluations < stopping.max_evaluations {
            self.hold_bounds();
            if !self.solve(damping) {
                damping *= 10.0;
                if damping > 1e18 {
                    return false;
                }
                self.evaluations += 1;
                continue;
            }
            let (largest, predicted) = self.propose(damping);
            self.trial.rss = self.problem.normal_equations(
                &self.trial.at,
                &mut self.trial.jtj,
                &mut self.trial.jtr,
            );
            self.evaluations += 1;
            if self.trial.rss <= self.now.rss {
                let gain = (self.now.rss - self.trial.rss) / predicted.max(f64::MIN_POSITIVE);
                std::mem::swap(&mut self.now, &mut self.trial);
                damping *= (1.0 - (2.0 * gain - 1.0).powi(3)).clamp(1.0 / 9.0, 1.0);
                growth = 2.0;
            } else {
                damping *= growth;
                growth *= 2.0;
            }
            if largest <= stopping.relative_step || damping > 1e18 {
                return true;
            }
        }
        false
    }

    /// Parameters on a bound whose descent leads outward take no part in this step.
    fn hold_bounds(&mut self) {
        for i in 0..self.n {
            self.held[i] = (self.now.at[i] <= self.limits.lower[i] && self.now.jtr[i] <= 0.0)
                || (self.now.at[i] >= self.limits.upper[i] && self.now.jtr[i] >= 0.0);
        }
    }

    /// Solves the damped equations for the free parameters, scaled to a unit diagonal.
    fn solve(&mut self, damping: f64) -> bool {
        let n = self.n;
        let scale = |i: usize| self.now.jtj[i * n + i].max(1e-300).sqrt();
        for i in 0..n {
            for j in 0..=i {
                let value = if self.held[i] || self.held[j] {
                    f64::from(u8::from(i == j))
                } else if i == j {
                    1.0 + damping
                } else {
                    self.now.jtj[i * n + j] / (scale(i) * scale(j))
                };
                self.factor[i * n + j] = value;
            }
            self.step[i] = if self.held[i] { 0.0 } else { self.now.jtr[i] / scale(i) };
        }
        if !cholesky(&mut self.factor, n, 1e-15) {
            return false;
        }
        solve_cholesky(&self.factor, n, &mut self.step);
        for i in 0..n {
            self.step[i] /= self.now.jtj[i * n + i].max(1e-300).sqrt();
        }
        self.step.iter().all(|step| step.is_finite())
    }

    /// Writes the limited step to the trial point; returns the largest relative change and the predicted gain.
    fn propose(&mut self, damping: f64) -> (f64, f64) {
        let (mut largest, mut predicted) = (0.0_f64, 0.0);
        for i in 0..self.n {
            let at = self.now.at[i];
            let mut step = self.step[i];
            if self.limits.is_rate[i] && at != 0.0 {
                step = step.clamp(-0.5 * at.abs(), 0.5 * at.abs());
            }
            let to = (at + step).clamp(self.limits.lower[i], self.limits.upper[i]);
            self.trial.at[i] = to;
            let moved = to - at;
            largest = largest.max(moved.abs() / at.abs().max(to.abs()).max(1e-6));
            predicted += moved * (self.now.jtr[i] + damping * self.now.jtj[i * self.n + i] * moved);
        }
        (largest, predicted)
    }

    /// Plain Gauss-Newton steps, kept while they shrink.
    fn polish(&mut self) {
        let mut last = f64::INFINITY;
        for _ in 0..60 {
            self.hold_bounds();
            if !self.solve(0.0) {
                return;
            }
            let (largest, _) = self.propose(0.0);
            if largest >= last || largest > 1e-4 {
                return;
            }
            self.trial.rss = self.problem.normal_equations(
                &self.trial.at,
                &mut self.trial.jtj,
                &mut self.trial.jtr,
            );
            self.evaluations += 1;
            if self.trial.rss.is_nan() || self.trial.rss > self.now.rss * (1.0 + 1e-9) + 1e-300 {
                return;
            }
            std::mem::swap(&mut self.now, &mut self.trial);
            last = largest;
            if largest < 1e-15 {
                return;
            }
        }
    }

    fn finish(mut self, vanished: bool) -> Minimum {
        self.hold_bounds();
        let stationary = vanished && self.solve(0.0) && self.is_stationary();
        let on_bound = (0..self.n)
            .map(|i| {
                self.now.at[i] <= self.limits.lower[i] || self.now.at[i] >= self.limits.upper[i]
            })
            .collect();
        Minimum {
            at: self.now.at,
            rss: self.now.rss,
            jtj: self.now.jtj,
            converged: stationary,
            on_bound,
            evaluations: self.evaluations,
        }
    }

    /// The remaining Gauss-Newton step would change no parameter by more than one part in ten thousand, or would gain less than one part in
    /// 1e8 of the sum of squares (the relative offset of Bates & Watts 1988).
    fn is_stationary(&self) -> bool {
        // Where a parameter has no bearing on the sum of squares, the search has run into a flat region.
        let is_flat = (0..self.n).filter(|&i| !self.held[i]).any(|i| {
            let size = self.now.at[i].abs().max(1e-6);
            self.now.jtj[i * self.n + i] * size * size <= 1e-20 * self.now.rss
        });
        if is_flat && self.now.rss > 0.0 {
            return false;
        }
        let gain: f64 =
            (0..self.n).filter(|&i| !self.held[i]).map(|i| self.step[i] * self.now.jtr[i]).sum();
        let small_step =
            (0..self.n).all(|i| self.step[i].abs() <= 1e-4 * self.now.at[i].abs().max(1e-6));
        gain <= 1e-8 * self.now.rss || small_step
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y = a exp(-b x) through exact points.
    struct Decay(Vec<(f64, f64)>);

    impl SumOfSquares for Decay {
        fn n_parameters(&self) -> usize {
            2
        }

        fn normal_equations(&self, at: &[f64], jtj: &mut [f64], jtr: &mut [f64]) -> f64 {
            jtj.fill(0.0);
            jtr.fill(0.0);
            let mut rss = 0.0;
            for &(x, y) in &self.0 {
                let e = (-at[1] * x).exp();
                let (residual, gradient) = (y - at[0] * e, [e, -at[0] * x * e]);
                for i in 0..2 {
                    for j in 0..2 {
                        jtj[i * 2 + j] += gradient[i] * gradient[j];
                    }
                    jtr[i] += gradient[i] * residual;
                }
                rss += residual * residual;
            }
            rss
        }
    }

    fn exact() -> Decay {
        Decay((0..8).map(|i| (f64::from(i), 3.0 * (-0.4 * f64::from(i)).exp())).collect())
    }

    #[test]
    fn exact_data_are_recovered() {
        let found = minimise(&exact(), &[1.0, 1.0], &StepLimits::none(2), Stopping::FINE);
        assert!(found.converged);
        assert!((found.at[0] - 3.0).abs() < 1e-12 && (found.at[1] - 0.4).abs() < 1e-12);
    }

    #[test]
    fn a_bound_is_kept_and_reported() {
        let mut limits = StepLimits::none(2);
        limits.upper[1] = 0.3;
        let found = minimise(&exact(), &[1.0, 0.1], &limits, Stopping::FINE);
        assert_eq!(found.on_bound, [false, true]);
        assert_eq!(found.at[1], 0.3);
        // With b held, a is linear: its least-squares value has a closed form.
        let (top, bottom) = exact().0.iter().fold((0.0, 0.0), |(top, bottom), &(x, y)| {
            let e = (-0.3 * x).exp();
            (top + y * e, bottom + e * e)
        });
        assert!((found.at[0] - top / bottom).abs() < 1e-9);
        assert!(found.converged);
    }

    /// Far out the curve is flat: stopping there is not convergence.
    #[test]
    fn a_flat_region_is_not_a_minimum() {
        let far = Decay(vec![(50.0, 3.0), (60.0, 2.0), (70.0, 4.0)]);
        let found = minimise(&far, &[1.0, 5.0], &StepLimits::none(2), Stopping::FINE);
        assert!(!found.converged, "{found:?}");
    }

    #[test]
    fn nothing_converges_outside_the_domain() {
        let found = minimise(&exact(), &[f64::NAN, 1.0], &StepLimits::none(2), Stopping::FINE);
        assert!(!found.converged);
    }
}
