//! Trees grown on what the weights leave unexplained: gradient boosting of the choice's own log-linear model.

use rayon::prelude::*;
use winterline::proposing::selection::{Cut, N_EVIDENCE, Tree, Weights};

use super::fit::Lesson;

const ROUNDS: usize = 40;
const RATE: f64 = 0.25;
/// Penalty on large values, in units of a candidate's weight.
const PENALTY: f64 = 6.0;
const CUTS: usize = 20;

/// One candidate: its evidence, and slope and curvature of the likelihood there.
struct Row<'a> {
    evidence: &'a [f64; N_EVIDENCE],
    slope: f64,
    bend: f64,
}

/// Adds trees to the weights.
pub fn grow(lessons: &[&Lesson], weights: &mut Weights) {
    let cuts = cuts(lessons);
    for _ in 0..ROUNDS {
        let judged: Vec<Vec<f64>> =
            lessons.par_iter().map(|l| l.chain.judge(weights).probability).collect();
        let rows: Vec<Row> = lessons
            .iter()
            .zip(&judged)
            .flat_map(|(lesson, p)| {
                lesson.options.iter().enumerate().zip(p).map(|((i, option), p)| {
                    let y = f64::from(u8::from(lesson.chosen.contains(&i)));
                    Row {
                        evidence: &option.evidence,
                        slope: y - p,
                        bend: (p * (1.0 - p)).max(0.01),
                    }
                })
            })
            .collect();
        weights.trees.push(tree(&rows, &cuts));
    }
}

/// Places of the cuts of each number: its quantiles.
fn cuts(lessons: &[&Lesson]) -> Vec<Vec<f64>> {
    (0..N_EVIDENCE)
        .map(|k| {
            let mut values: Vec<f64> =
                lessons.iter().flat_map(|l| l.options.iter().map(|o| o.evidence[k])).collect();
            values.sort_by(f64::total_cmp);
            let mut cuts: Vec<f64> =
                (1..CUTS).filter_map(|q| values.get(q * values.len() / CUTS).copied()).collect();
            cuts.dedup();
            cuts
        })
        .collect()
}

fn tree(rows: &[Row], cuts: &[Vec<f64>]) -> Tree {
    let all: Vec<&Row> = rows.iter().collect();
    // The first question is the best of a few that are each followed by their best second questions.
    let mut firsts: Vec<(f64, Cut)> = ranked(&all, cuts);
    firsts.truncate(6);
    let grown: Vec<(f64, Tree)> = firsts
        .into_par_iter()
        .map(|(_, first)| {
            let (high, low): (Vec<&Row>, Vec<&Row>) =
                rows.iter().partition(|r| r.evidence[first.0] > first.1);
            let mut gain = 0.0;
            let mut second = [(0, f64::INFINITY); 2];
            let mut values = [0.0; 4];
            for (side, part) in [low, high].iter().enumerate() {
                if let Some((own, cut)) = ranked(part, cuts).into_iter().next() {
                    second[side] = cut;
                    gain += own;
                }
                let (h, l): (Vec<&Row>, Vec<&Row>) =
                    part.iter().partition(|r| r.evidence[second[side].0] > second[side].1);
                values[2 * side] = RATE * value(&l);
                values[2 * side + 1] = RATE * value(&h);
            }
            (gain, Tree { first, second, values })
        })
        .collect();
    grown.into_iter().max_by(|a, b| a.0.total_cmp(&b.0)).expect("evidence is not all alike").1
}

fn sums(rows: &[&Row]) -> (f64, f64) {
    rows.iter().fold((0.0, 0.0), |s, r| (s.0 + r.slope, s.1 + r.bend))
}

fn value(rows: &[&Row]) -> f64 {
    let (slope, bend) = sums(rows);
    (slope / (bend + PENALTY)).clamp(-2.0, 2.0)
}

fn gain((slope, bend): (f64, f64)) -> f64 {
    slope * slope / (bend + PENALTY)
}

/// The best cut of each number, best first.
fn ranked(rows: &[&Row], cuts: &[Vec<f64>]) -> Vec<(f64, Cut)> {
    let mut best: Vec<(f64, Cut)> = cuts
        .iter()
        .enumerate()
        .filter_map(|(k, cuts)| {
            let mut bins = vec![(0.0, 0.0); cuts.len() + 1];
            for row in rows {
                let bin = cuts.partition_point(|c| *c < row.evidence[k]);
                bins[bin].0 += row.slope;
                bins[bin].1 += row.bend;
            }
            let total = bins.iter().fold((0.0, 0.0), |s, b| (s.0 + b.0, s.1 + b.1));
            let mut low = (0.0, 0.0);
            (0..cuts.len())
                .map(|c| {
                    low = (low.0 + bins[c].0, low.1 + bins[c].1);
                    (gain(low) + gain((total.0 - low.0, total.1 - low.1)), (k, cuts[c]))
                })
                .max_by(|a, b| a.0.total_cmp(&b.0))
        })
        .collect();
    best.sort_by(|a, b| b.0.total_cmp(&a.0));
    best
}
