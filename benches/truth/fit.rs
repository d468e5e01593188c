//! Fits the weights of the choice by conditional maximum likelihood, and measures them on styles left out.

use rayon::prelude::*;
use winterline::domain::progress::Progress;
use winterline::domain::reading::Structure;
use winterline::proposing::Prepared;
use winterline::proposing::selection::{Chain, N_EVIDENCE, N_STEP, Option1d, Weights, steps_of};
use winterline::simulate::truth::Style;

use super::score::{matched, request};
use super::sets::Plan;

/// One picture's candidates and which of them are annuli.
struct Lesson {
    style: Style,
    options: Vec<Option1d>,
    chain: Chain,
    chosen: Vec<usize>,
    missed: usize,
    steps: [f64; N_STEP],
    places: Vec<f64>,
    truth: Vec<f64>,
    edge: f64,
}

pub fn run(plan: &Plan) {
    let lessons: Vec<Lesson> = plan
        .each(|picture| {
            if !picture.truth.readable || picture.truth.regenerated {
                return None;
            }
            let request = request(picture, false);
            let prepared = Prepared::new(&request, &Progress::new()).ok()?;
            let reading = prepared.read(request.axis.as_ref()?, true);
            let places: Vec<f64> =
                reading.candidates.iter().map(|c| reading.micrometres(c.place)).collect();
            let truth = picture.truth.annuli_um();
            let mut chosen: Vec<usize> =
                matched(&places, &truth, picture.truth.edge_um).iter().map(|p| p.0).collect();
            chosen.sort_unstable();
            let missed = truth.len() - chosen.len();
            let steps = steps_of(&reading.options, &chosen);
            Some(Lesson {
                style: picture.truth.style,
                chain: Chain::new(&reading.options),
                options: reading.options,
                chosen,
                missed,
                steps,
                places,
                truth,
                edge: picture.truth.edge_um,
            })
        })
        .into_iter()
        .flatten()
        .collect();
    for structure in &plan.structures {
        let of: Vec<&Lesson> =
            lessons.iter().filter(|l| l.style.structure() == *structure).collect();
        let found: usize = of.iter().map(|l| l.chosen.len()).sum();
        let missed: usize = of.iter().map(|l| l.missed).sum();
        let count: usize = of.iter().map(|l| l.options.len()).sum();
        println!(
            "{structure:?}: {} pictures, {:.1} candidates each, {:.3} of the annuli among them",
            of.len(),
            count as f64 / of.len() as f64,
            found as f64 / (found + missed).max(1) as f64
        );
        if plan.list {
            for style in Style::of(*structure) {
                let rest: Vec<&Lesson> = of.iter().copied().filter(|l| l.style != *style).collect();
                let left: Vec<&Lesson> = of.iter().copied().filter(|l| l.style == *style).collect();
                let weights = fitted(&rest);
                println!(
                    "  without {:20} F1 {:.3}  (fitted to {:.3})",
                    style.word(),
                    f1(&left, &weights),
                    f1(&rest, &weights)
                );
            }
        }
        let weights = fitted(&of);
        println!("  all: F1 {:.3}, exact {:.3}", f1(&of, &weights), exact(&of, &weights));
        println!("{}", printed(*structure, &weights));
    }
}

fn picked(lesson: &Lesson, weights: &Weights) -> Vec<f64> {
    let judged = lesson.chain.judge(weights);
    lesson
        .places
        .iter()
        .zip(&judged.probability)
        .filter(|(_, p)| **p >= 0.5)
        .map(|(x, _)| *x)
        .collect()
}

fn f1(lessons: &[&Lesson], weights: &Weights) -> f64 {
    let (mut hits, mut found, mut truth) = (0, 0, 0);
    for lesson in lessons {
        let picked = picked(lesson, weights);
        hits += matched(&picked, &lesson.truth, lesson.edge).len();
        found += picked.len();
        truth += lesson.truth.len();
    }
    2.0 * hits as f64 / (found + truth).max(1) as f64
}

fn exact(lessons: &[&Lesson], weights: &Weights) -> f64 {
    let same = lessons.iter().filter(|l| picked(l, weights).len() == l.truth.len()).count();
    same as f64 / lessons.len().max(1) as f64
}

/// Gradient ascent with a step of its own for each weight (Adam, Kingma & Ba 2015, from memory).
fn fitted(lessons: &[&Lesson]) -> Weights {
    const N: usize = N_EVIDENCE + N_STEP;
    let mut x = [0.0f64; N];
    let (mut m, mut v) = ([0.0f64; N], [0.0f64; N]);
    let total = lessons.iter().map(|l| l.truth.len() + 1).sum::<usize>() as f64;
    for round in 1..=110i32 {
        let weights = unpacked(&x);
        let parts: Vec<[f64; N]> = lessons.par_iter().map(|l| gradient(l, &weights)).collect();
        let mut g = [0.0; N];
        for part in &parts {
            g.iter_mut().zip(part).for_each(|(g, p)| *g += p);
        }
        let rate = if round < 80 { 0.12 } else { 0.03 };
        for i in 0..N {
            let slope = g[i] / total - 0.003 * x[i];
            m[i] = 0.9 * m[i] + 0.1 * slope;
            v[i] = 0.98 * v[i] + 0.02 * slope * slope;
            let (mm, vv) = (m[i] / (1.0 - 0.9f64.powi(round)), v[i] / (1.0 - 0.98f64.powi(round)));
            x[i] += rate * mm / (vv.sqrt() + 1e-6);
        }
    }
    unpacked(&x)
}

fn unpacked(x: &[f64]) -> Weights {
    let mut w = Weights { evidence: [0.0; N_EVIDENCE], step: [0.0; N_STEP] };
    w.evidence.copy_from_slice(&x[..N_EVIDENCE]);
    w.step.copy_from_slice(&x[N_EVIDENCE..]);
    w
}

fn gradient(lesson: &Lesson, weights: &Weights) -> [f64; N_EVIDENCE + N_STEP] {
    let judged = lesson.chain.judge(weights);
    let mut g = [0.0; N_EVIDENCE + N_STEP];
    for (i, option) in lesson.options.iter().enumerate() {
        let y = f64::from(u8::from(lesson.chosen.contains(&i)));
        for (g, e) in g.iter_mut().zip(option.evidence) {
            *g += (y - judged.probability[i]) * e;
        }
    }
    for k in 0..N_STEP {
        g[N_EVIDENCE + k] += lesson.steps[k] - judged.expected_steps[k];
    }
    g
}

fn printed(structure: Structure, weights: &Weights) -> String {
    let list =
        |values: &[f64]| values.iter().map(|v| format!("{v:.3}")).collect::<Vec<_>>().join(", ");
    format!(
        "{structure:?}\n    evidence: [{}],\n    step: [{}],",
        list(&weights.evidence),
        list(&weights.step)
    )
}
