//! One replicate: errors drawn, relation fitted, lengths calculated, means taken, curve refitted.

use crate::analysis::back_calculation::{
    Annulus, BackCalculationError, Capture, Formula, Intercept, Method, Pairs, fit_pairs,
};
use crate::analysis::growth::{Refit, Row};
use crate::analysis::numerics::splitmix::SplitMix64;
use crate::domain::units::Millimetres;

use super::inputs::{CurveRows, ErrorInputs, Source};
use super::perturbed::{On, Perturbed, SoundFish};

/// Everything a replicate is drawn from.
#[derive(Clone, Copy)]
pub(super) struct Material<'a> {
    pub(super) fish: &'a [SoundFish],
    pub(super) method: &'a Method,
    pub(super) errors: &'a ErrorInputs,
    pub(super) n_groups: usize,
    /// Oldest age of any reading.
    pub(super) oldest: usize,
    pub(super) rows: CurveRows,
}

/// Means and rows of one replicate.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawn {
    /// Mean length at age 1, 2 and so on, mm; not a number where no fish was drawn.
    pub(super) means_mm: Vec<f64>,
    /// Rows of the curve: age, length, weight.
    pub(super) rows: Vec<(f64, f64, f64)>,
}

impl Material<'_> {
    /// Lengths with the sources that are on, or why the relation cannot be fitted.
    pub(super) fn draw(
        &self,
        on: On,
        random: &mut SplitMix64,
    ) -> Result<Drawn, BackCalculationError> {
        let n = self.fish.len();
        let drawn = Perturbed::draw(self.fish, self.errors, self.n_groups, on, random);
        let resample = |random: &mut SplitMix64| {
            let mut weights = vec![0u32; n];
            for _ in 0..n {
                if let Some(weight) = weights.get_mut(random.next_below(n)) {
                    *weight += 1;
                }
            }
            weights
        };
        let sampled = on.has(Source::Sampling).then(|| resample(random));
        let related = match (on.has(Source::Relation), &sampled) {
            (false, _) => None,
            (true, Some(same)) => Some(same.clone()),
            (true, None) => Some(resample(random)),
        };
        let method = self.method_drawn(on, random);
        let pairs = self.pairs(&drawn, related.as_deref());
        let fitted = fit_pairs(&method, &pairs, drawn.used_um)?;
        Ok(self.lengths(&drawn, &*fitted.formula, sampled.as_deref()))
    }

    /// A given intercept carries its own error; a fitted one that of its fish.
    fn method_drawn(&self, on: On, random: &mut SplitMix64) -> Method {
        let sd = self.errors.intercept_mm.sd_or_none();
        match self.method {
            Method::FraserLee(
                Intercept::Given { length, source } | Intercept::Standard { length, source, .. },
            ) if on.has(Source::Relation) && sd > 0.0 => {
                let drawn = length.value() + sd * random.next_normal();
                Method::FraserLee(Intercept::Given {
                    length: Millimetres(drawn),
                    source: source.clone(),
                })
            }
            method => method.clone(),
        }
    }

    fn pairs(&self, drawn: &Perturbed, weights: Option<&[u32]>) -> Pairs<'static> {
        let n = self.fish.len();
        let mut columns = [Vec::with_capacity(n), Vec::with_capacity(n), Vec::with_capacity(n)];
        for (fish, (length, radius)) in drawn.lengths_mm.iter().zip(&drawn.radii_um).enumerate() {
            let times = weights.map_or(1, |weights| weights.get(fish).copied().unwrap_or(0));
            for _ in 0..times {
                columns[0].push(*length);
                columns[1].push(*radius);
                columns[2].push(drawn.age_of(fish) as f64);
            }
        }
        let [lengths, radii, ages] = columns;
        Pairs::bare(lengths, radii, ages)
    }

    fn lengths(&self, drawn: &Perturbed, formula: &dyn Formula, weights: Option<&[u32]>) -> Drawn {
        let (mut sums, mut counts) = (vec![0.0; self.oldest], vec![0.0; self.oldest]);
        let mut rows = Vec::with_capacity(self.fish.len());
        let mut lengths_mm = Vec::with_capacity(self.oldest);
        for (fish, one) in self.fish.iter().enumerate() {
            let times = weights.map_or(1, |weights| weights.get(fish).copied().unwrap_or(0));
            if times == 0 {
                continue;
            }
            let age = drawn.age_of(fish);
            let at = |column: &[f64]| column.get(fish).copied().unwrap_or(f64::NAN);
            let (length_mm, radius_um) = (at(&drawn.lengths_mm), at(&drawn.radii_um));
            let capture = Capture { length_mm, radius_um, age };
            if !lengths_of(formula, &capture, drawn.ratios_of(fish), &mut lengths_mm) {
                continue;
            }
            if drawn.edge_counted.get(fish) == Some(&true) {
                lengths_mm.push(capture.length_mm);
            }
            let weight = f64::from(times);
            for ((sum, count), length) in sums.iter_mut().zip(&mut counts).zip(&lengths_mm) {
                *sum += weight * length;
                *count += weight;
            }
            let whole = age as f64;
            match self.rows {
                CurveRows::AtCapture => {
                    rows.push((whole + one.part_of_year, capture.length_mm, weight));
                }
                CurveRows::LastAnnulus => {
                    rows.extend(lengths_mm.last().map(|length| (whole, *length, weight)));
                }
                CurveRows::AllAnnuli => rows.extend(
                    lengths_mm.iter().zip(1u32..).map(|(mm, age)| (f64::from(age), *mm, weight)),
                ),
            }
        }
        let means_mm = sums.iter().zip(&counts).map(|(sum, count)| sum / count).collect();
        Drawn { means_mm, rows }
    }
}

/// Fills in the lengths of a fish; `false` where the formula does not admit it.
fn lengths_of(
    formula: &dyn Formula,
    capture: &Capture,
    ratios: &[f64],
    lengths_mm: &mut Vec<f64>,
) -> bool {
    lengths_mm.clear();
    if formula.admit(capture).is_err() {
        return false;
    }
    for (ratio, number) in ratios.iter().zip(1..) {
        if *ratio == 1.0 {
            lengths_mm.push(capture.length_mm);
            continue;
        }
        match formula.length_mm(capture, Annulus { number, ratio: *ratio }) {
            Ok(length) if length.is_finite() => lengths_mm.push(length),
            _ => return false,
        }
    }
    true
}

/// The curve through the rows of a replicate.
pub(super) fn refitted(refit: Option<&Refit<'_>>, drawn: &Drawn) -> Option<Row> {
    refit?.to(&drawn.rows)
}
