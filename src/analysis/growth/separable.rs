//! The von Bertalanffy curve refitted through its rate alone: L = A + B exp(-K t) is linear in A and B, so that a search
//! over K with the best A and B at each step needs one exponential for each age (variable projection: Golub & Pereyra
//! 1973; the step of Gauss-Newton on what the linear part leaves, from memory). The minimum is that of the general
//! search; where this one does not settle quickly, the general one is used.

use super::cells::{Cells, ErrorModel};
use super::curve::{Curve, Row};
use super::fit::Fit;

/// Largest relative change of the rate that counts as none, as for other refits.
const SETTLED: f64 = 1e-6;

/// Most steps before the general search takes over.
const MOST_STEPS: usize = 12;

/// The parameters through `cells` from the rate of `fit`. `None` where this search does not apply or does not settle, or
/// where it leaves the guards.
pub(super) fn separable(fit: &Fit, cells: &Cells) -> Option<Row> {
    let applies = fit.curve == Curve::VonBertalanffy
        && fit.error == ErrorModel::Additive
        && fit.fixed.iter().all(Option::is_none);
    if !applies {
        return None;
    }
    let mut k = fit.row()[1];
    for _ in 0..MOST_STEPS {
        let found = pass(cells, k)?;
        let to = k + found.step.clamp(-0.5 * k, 0.5 * k);
        if (to - k).abs() <= SETTLED * k {
            return inside(fit, found.a, found.b, k);
        }
        k = to;
    }
    None
}

/// Best A and B at one rate, and the step of the rate from there.
struct Pass {
    a: f64,
    b: f64,
    step: f64,
}

fn pass(cells: &Cells, k: f64) -> Option<Pass> {
    let (mut n, mut e1, mut y1, mut ee, mut ey) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let (mut te, mut tee, mut tey, mut ttee) = (0.0, 0.0, 0.0, 0.0);
    let rows = cells.ages.iter().zip(&cells.weights).zip(&cells.means);
    for ((&t, &w), &y) in rows.filter(|((_, w), _)| **w > 0.0) {
        let e = (-k * t).exp();
        let (we, wte) = (w * e, w * t * e);
        n += w;
        e1 += we;
        y1 += w * y;
        ee += we * e;
        ey += we * y;
        te += wte;
        tee += wte * e;
        tey += wte * y;
        ttee += wte * t * e;
    }
    let spread = ee - e1 * e1 / n;
    // Where the exponential hardly bends over these ages, sums lose their digits.
    if spread.is_nan() || spread <= 1e-8 * ee {
        return None;
    }
    let b = (ey - e1 * y1 / n) / spread;
    let a = (y1 - b * e1) / n;
    // The derivative to K is d = -B t e; what the constant and the exponential explain of it drops out.
    let slope = -b * (tey - a * te - b * tee);
    let along_e = tee - te * e1 / n;
    let left = b * b * (ttee - te * te / n - along_e * along_e / spread);
    let step = slope / left;
    (left > 0.0 && step.is_finite()).then_some(Pass { a, b, step })
}

fn inside(fit: &Fit, a: f64, b: f64, k: f64) -> Option<Row> {
    let t0 = (-b / a).ln() / k;
    let row = [a, k, t0, 0.0, 0.0];
    let is_inside = (0..3).all(|i| fit.guards.lower[i] < row[i] && row[i] < fit.guards.upper[i]);
    is_inside.then_some(row)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::growth::objective::Objective;
    use crate::analysis::growth::{FitSettings, Observation, fit};
    use crate::analysis::numerics::least_squares::{Stopping, minimise};
    use crate::analysis::numerics::splitmix::SplitMix64;

    #[test]
    fn it_ends_where_the_general_search_ends() {
        let mut compared = 0;
        for seed in 0..60 {
            let mut random = SplitMix64::stream(seed, 3);
            let rows: Vec<Observation> = (0..80)
                .map(|fish| {
                    let age = 0.3 + 9.0 * random.next_unit();
                    let length = 480.0 * (1.0 - (-0.28 * (age + 0.4)).exp());
                    Observation::single(age, length * (1.0 + 0.07 * random.next_normal()), fish)
                })
                .collect();
            let first = fit(Curve::VonBertalanffy, &rows, &FitSettings::default()).unwrap();
            // Another sample of the same ages.
            let mut cells = first.sample.cells.clone();
            cells.means.iter_mut().for_each(|mean| *mean *= 1.0 + 0.05 * random.next_normal());
            let objective = Objective::single(first.curve, first.error, &cells, &first.fixed);
            let limits = objective.limits(&first.guards);
            let start = objective.free_of(&first.row());
            let end = minimise(&objective, &start, &limits, Stopping::FINE);
            if let Some(row) = separable(&first, &cells) {
                for (a, b) in row.iter().zip(&end.at) {
                    assert!(
                        (a - b).abs() < 2e-4 * b.abs().max(0.1),
                        "{seed}: {row:?} {:?}",
                        end.at
                    );
                }
                compared += 1;
            }
        }
        assert!(compared > 50, "{compared}");
    }
}
