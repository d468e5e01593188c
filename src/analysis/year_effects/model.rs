//! The equations of the fixed and the mixed model, and what is reported from them.

use crate::analysis::numerics::distribution::{f_upper, t_quantile};
use crate::analysis::numerics::symmetric::{cholesky, inverse, log_determinant, solve_cholesky};

use super::design::Design;
use super::{FishEffect, Scale, YearEffectsError};

/// The effect of one year; effects sum to zero over the years present.
#[derive(Debug, Clone, PartialEq)]
pub struct YearEffect {
    /// Calendar year.
    pub year: i32,
    /// Increments in that year.
    pub n: usize,
    /// Increments by age, in the order of [`YearEffects::ages`].
    pub n_by_age: Vec<usize>,
    /// Effect, on the scale analysed.
    pub effect: f64,
    /// Its standard error.
    pub se: f64,
    /// 95 % limits by Student's t.
    pub ci95: [f64; 2],
    /// Effect in percent of an average year; `None` on the raw scale.
    pub percent: Option<f64>,
    /// Fewer than 5 increments, or increments of one age only (common practice, no source).
    pub is_thin: bool,
}

impl YearEffect {
    /// The interval lies wholly below zero: a poor year.
    pub fn is_poor(&self) -> bool {
        self.ci95[1] < 0.0
    }

    /// The interval lies wholly above zero: a good year.
    pub fn is_good(&self) -> bool {
        self.ci95[0] > 0.0
    }
}

/// Mean of a year with equal weight per age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearAdjustedMean {
    /// Calendar year.
    pub year: i32,
    /// Mean, on the scale analysed.
    pub mean: f64,
    /// Its standard error.
    pub se: f64,
}

/// A finished analysis of growth years.
#[derive(Debug, Clone, PartialEq)]
pub struct YearEffects {
    /// Scale analysed.
    pub scale: Scale,
    /// Whether fish had an effect of their own.
    pub fish_effect: FishEffect,
    /// Increments.
    pub n: usize,
    /// Fish.
    pub n_fish: usize,
    /// Ages present.
    pub ages: Vec<u32>,
    /// Rank of the columns: ages + years - 1.
    pub rank: usize,
    /// Degrees of freedom of the limits and tests. Fixed: n - rank. Mixed: n - fish - (rank - 1), at least 1, the count within
    /// fish (Pinheiro & Bates 2000, from memory).
    pub df_residual: usize,
    /// Residual standard deviation.
    pub residual_sd: f64,
    /// Standard deviation among fish; `None` in the fixed model.
    pub fish_sd: Option<f64>,
    /// Effects by year.
    pub years: Vec<YearEffect>,
    /// Means by year.
    pub adjusted_means: Vec<YearAdjustedMean>,
    /// Mean of the first age in the first year.
    pub intercept: f64,
    /// Effects of the later ages against the first, in order.
    pub age_effects: Vec<f64>,
    /// F for no difference among years given age, its degrees of freedom and probability.
    pub f_year: Option<(f64, [usize; 2], f64)>,
    /// F for no difference among ages given year.
    pub f_age: Option<(f64, [usize; 2], f64)>,
}

/// Coefficients, the inverse of X'V⁻¹X, and the residual quadratic form.
struct Solution {
    b: Vec<f64>,
    inverse: Vec<f64>,
    rss: f64,
}

/// Coefficients for a given ratio of variances, and -2 times the restricted log-likelihood without constants.
struct Weighted {
    xx: Vec<f64>,
    xy: Vec<f64>,
    yy: f64,
    log_det_v: f64,
}

fn weighted(design: &Design, ratio: f64) -> Weighted {
    let (mut xx, mut xy, mut yy) = (design.xx.clone(), design.xy.clone(), design.yy);
    let mut log_det_v = 0.0;
    if ratio > 0.0 {
        for class in &design.classes {
            let grown = 1.0 + ratio * class.n_increments;
            let c = ratio / grown;
            xx.iter_mut().zip(&class.ss).for_each(|(x, s)| *x -= c * s);
            xy.iter_mut().zip(&class.sy).for_each(|(x, s)| *x -= c * s);
            yy -= c * class.yy;
            log_det_v += class.n_fish * grown.ln();
        }
    }
    Weighted { xx, xy, yy, log_det_v }
}

/// -2 restricted log-likelihood, up to a constant; `None` when singular.
fn criterion(design: &Design, ratio: f64) -> Option<f64> {
    let p = design.p();
    let Weighted { mut xx, xy, yy, log_det_v } = weighted(design, ratio);
    if !cholesky(&mut xx, p, 1e-12) {
        return None;
    }
    let mut b = xy.clone();
    solve_cholesky(&xx, p, &mut b);
    let rss = yy - dot(&b, &xy);
    let df = (design.n - p) as f64;
    (rss > 0.0).then(|| df * (rss / df).ln() + log_det_v + log_determinant(&xx, p))
}

/// The ratio of the fish variance to the residual variance that maximises the restricted likelihood, by a scan and a
/// golden section over share = ratio/(1 + ratio).
fn best_ratio(design: &Design) -> Option<f64> {
    let at = |share: f64| criterion(design, share / (1.0 - share)).unwrap_or(f64::INFINITY);
    const STEPS: usize = 60;
    let share = |step: usize| step as f64 / STEPS as f64 * 0.9999;
    let best = (0..=STEPS).min_by(|a, b| at(share(*a)).total_cmp(&at(share(*b))))?;
    let (mut low, mut high) = (share(best.saturating_sub(1)), share((best + 1).min(STEPS)));
    let golden = (5f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_a, mut at_b) = (at(a), at(b));
    for _ in 0..70 {
        if at_a <= at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - golden * (high - low);
            at_a = at(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + golden * (high - low);
            at_b = at(b);
        }
    }
    let share = 0.5 * (low + high);
    // At the edge the likelihood may be highest without any difference among fish.
    let share = if at(0.0) <= at(share) { 0.0 } else { share };
    at(share).is_finite().then_some(share / (1.0 - share))
}

fn solve_at(design: &Design, ratio: f64) -> Option<Solution> {
    let p = design.p();
    let sums = weighted(design, ratio);
    let inverse = inverse(&sums.xx, p)?;
    let mut factor = sums.xx.clone();
    if !cholesky(&mut factor, p, 1e-12) {
        return None;
    }
    let mut b = sums.xy.clone();
    solve_cholesky(&factor, p, &mut b);
    let rss = sums.yy - dot(&b, &sums.xy);
    (rss > 0.0).then_some(Solution { b, inverse, rss })
}

pub(super) fn solve(
    design: &Design,
    scale: Scale,
    fish_effect: FishEffect,
) -> Result<YearEffects, YearEffectsError> {
    let ratio = match fish_effect {
        FishEffect::None => 0.0,
        FishEffect::Random => best_ratio(design).ok_or(YearEffectsError::Singular)?,
    };
    let solution = solve_at(design, ratio).ok_or(YearEffectsError::Singular)?;
    let p = design.p();
    let variance = solution.rss / (design.n - p) as f64;
    let df = match fish_effect {
        FishEffect::None => design.n - p,
        FishEffect::Random => design.n.saturating_sub(design.n_fish + p - 1).max(1),
    };
    let report = Reporting { design, solution: &solution, variance, df, scale };
    let ages = design.ages.len();
    Ok(YearEffects {
        scale,
        fish_effect,
        n: design.n,
        n_fish: design.n_fish,
        ages: design.ages.clone(),
        rank: p,
        df_residual: df,
        residual_sd: variance.sqrt(),
        fish_sd: (fish_effect == FishEffect::Random).then(|| (ratio * variance).sqrt()),
        years: report.effects().ok_or(YearEffectsError::Singular)?,
        adjusted_means: report.adjusted_means(),
        intercept: solution.b[0] + design.centre,
        age_effects: solution.b[1..ages].to_vec(),
        f_year: report.wald_f(ages..p),
        f_age: report.wald_f(1..ages),
    })
}

struct Reporting<'a> {
    design: &'a Design,
    solution: &'a Solution,
    variance: f64,
    df: usize,
    scale: Scale,
}

impl Reporting<'_> {
    fn contrast(&self, weights: &[f64]) -> (f64, f64) {
        let p = self.design.p();
        let mut sum = 0.0;
        for i in (0..p).filter(|i| weights[*i] != 0.0) {
            sum += weights[i] * dot(&self.solution.inverse[i * p..(i + 1) * p], weights);
        }
        (dot(weights, &self.solution.b), (self.variance * sum).sqrt())
    }

    /// Effects e = C b with C = I - 11'/Y.
    fn effects(&self) -> Option<Vec<YearEffect>> {
        let (design, t) = (self.design, t_quantile(0.975, self.df as f64)?);
        let (n_ages, n_years) = (design.ages.len(), design.years.len());
        let effects =
            design.years.iter().zip(&design.counts).enumerate().map(|(index, (year, counts))| {
                let mut weights = vec![0.0; design.p()];
                weights[n_ages..].fill(-1.0 / n_years as f64);
                if index > 0 {
                    weights[n_ages - 1 + index] += 1.0;
                }
                let (effect, se) = self.contrast(&weights);
                let n: usize = counts.iter().sum();
                YearEffect {
                    year: *year,
                    n,
                    n_by_age: counts.clone(),
                    effect,
                    se,
                    ci95: [effect - t * se, effect + t * se],
                    percent: (self.scale == Scale::Log).then(|| 100.0 * effect.exp_m1()),
                    is_thin: n < 5 || counts.iter().filter(|count| **count > 0).count() < 2,
                }
            });
        Some(effects.collect())
    }

    fn adjusted_means(&self) -> Vec<YearAdjustedMean> {
        let design = self.design;
        let n_ages = design.ages.len();
        design
            .years
            .iter()
            .enumerate()
            .map(|(index, year)| {
                let mut weights = vec![0.0; design.p()];
                weights[0] = 1.0;
                weights[1..n_ages].fill(1.0 / n_ages as f64);
                if index > 0 {
                    weights[n_ages - 1 + index] = 1.0;
                }
                let (mean, se) = self.contrast(&weights);
                YearAdjustedMean { year: *year, mean: mean + design.centre, se }
            })
            .collect()
    }

    /// F that the coefficients of a range of columns are all 0: b'(C⁻¹)b/(q s²). In the fixed model it equals the F of the
    /// extra sum of squares.
    fn wald_f(&self, columns: std::ops::Range<usize>) -> Option<(f64, [usize; 2], f64)> {
        let (p, q) = (self.design.p(), columns.len());
        if q == 0 {
            return None;
        }
        let mut block: Vec<f64> = Vec::with_capacity(q * q);
        for i in columns.clone() {
            block.extend(columns.clone().map(|j| self.solution.inverse[i * p + j]));
        }
        let b: Vec<f64> = columns.map(|i| self.solution.b[i]).collect();
        if !cholesky(&mut block, q, 1e-14) {
            return None;
        }
        let mut solved = b.clone();
        solve_cholesky(&block, q, &mut solved);
        let f = dot(&b, &solved) / (q as f64 * self.variance);
        Some((f, [q, self.df], f_upper(f, q as f64, self.df as f64)?))
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
