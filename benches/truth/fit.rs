//! Fits the model of the choice by conditional maximum likelihood, and measures it on styles left out.

use rayon::prelude::*;
use winterline::domain::progress::Progress;
use winterline::domain::reading::Structure;
use winterline::proposing::Prepared;
use winterline::proposing::model::Model;
use winterline::proposing::prepared::AxisReading;
use winterline::proposing::selection::{Chain, N_EVIDENCE, N_STEP, Option1d, Weights, steps_of};
use winterline::simulate::picture::Picture;
use winterline::simulate::truth::{Difficulty, Style};

use super::boost;
use super::networks::{Networks, Shared};
use super::score::{matched, request};
use super::sets::Plan;

/// One picture's candidates and which of them are annuli.
pub struct Lesson {
    pub style: Style,
    pub grade: Difficulty,
    pub options: Vec<Option1d>,
    pub chain: Chain,
    pub chosen: Vec<usize>,
    missed: usize,
    steps: [f64; N_STEP],
    places: Vec<f64>,
    truth: Vec<f64>,
    edge: f64,
    reading: AxisReading,
    edge_annulus: bool,
}

/// Models of one structure, each with its network: fitted to all styles, and to all but each.
pub struct Fitted {
    pub all: (Model, Shared),
    pub without: Vec<(Style, (Model, Shared))>,
}

impl Fitted {
    /// The model and the network that never saw a style.
    pub fn without(&self, style: Style) -> &(Model, Shared) {
        self.without.iter().find(|(left, _)| *left == style).map_or(&self.all, |(_, both)| both)
    }
}

/// The lessons of every picture, under each of the networks.
fn lessons(plan: &Plan, networks: &[Shared]) -> Vec<Vec<Lesson>> {
    let made = plan.each(|picture| {
        if !picture.truth.readable || picture.truth.regenerated {
            return None;
        }
        let request = request(picture, false);
        let axis = request.axis.as_ref()?;
        let mut prepared = Prepared::new(&request, &Progress::new()).ok()?;
        let mut under = Vec::new();
        for network in networks {
            prepared = prepared.with_network(network.clone());
            under.push(lesson(picture, prepared.read(axis, true)));
        }
        Some(under)
    });
    let mut by_network: Vec<Vec<Lesson>> = networks.iter().map(|_| Vec::new()).collect();
    for under in made.into_iter().flatten() {
        by_network.iter_mut().zip(under).for_each(|(all, lesson)| all.push(lesson));
    }
    by_network
}

fn lesson(picture: &Picture, reading: AxisReading) -> Lesson {
    let places: Vec<f64> =
        reading.candidates.iter().map(|c| reading.micrometres(c.place)).collect();
    let truth = picture.truth.annuli_um();
    let mut chosen: Vec<usize> =
        matched(&places, &truth, picture.truth.edge_um).iter().map(|p| p.0).collect();
    chosen.sort_unstable();
    Lesson {
        style: picture.truth.style,
        grade: picture.truth.difficulty,
        chain: Chain::new(&reading.options),
        options: reading.options.clone(),
        missed: truth.len() - chosen.len(),
        steps: steps_of(&reading.options, &chosen),
        chosen,
        places,
        truth,
        edge: picture.truth.edge_um,
        edge_annulus: picture.truth.edge_annulus,
        reading: reading.without_samples(),
    }
}

/// Fits the models of every structure of the plan, on training seeds.
pub fn fitted_models(plan: &Plan) -> Vec<(Structure, Fitted)> {
    plan.structures
        .iter()
        .map(|structure| {
            let networks = Networks::load(*structure, plan.networks.as_deref());
            let own = Plan { structures: vec![*structure], ..plan.training() };
            let lessons = lessons(&own, &networks.different);
            if plan.networks.is_some() {
                println!("without any network, on the same pictures:");
                fit_structure(*structure, &lessons[..1], &Networks::load(*structure, None));
                println!("with it:");
            }
            (*structure, fit_structure(*structure, &lessons, &networks))
        })
        .collect()
}

/// Probabilities said, and whether each was an annulus.
type Said = Vec<(f64, bool)>;

fn fit_structure(structure: Structure, lessons: &[Vec<Lesson>], networks: &Networks) -> Fitted {
    let under = |which: usize| lessons[which].iter().collect::<Vec<&Lesson>>();
    let of = &under(networks.all)[..];
    let found: usize = of.iter().map(|l| l.chosen.len()).sum();
    let missed: usize = of.iter().map(|l| l.missed).sum();
    let count: usize = of.iter().map(|l| l.options.len()).sum();
    println!(
        "{structure:?}: {} pictures, {:.1} candidates each, {:.3} of the annuli among them",
        of.len(),
        count as f64 / of.len() as f64,
        found as f64 / (found + missed).max(1) as f64
    );
    let mut parts: Vec<(Style, Weights, Said)> = Vec::new();
    let mut pooled: Vec<(&Lesson, Vec<f64>)> = Vec::new();
    for style in Style::of(structure) {
        let (left, rest): (Vec<&Lesson>, Vec<&Lesson>) =
            under(networks.without(*style)).into_iter().partition(|l| l.style == *style);
        let mut weights = fitted(&rest);
        let linear = f1(&left, &weights);
        boost::grow(&rest, &mut weights);
        println!(
            "  without {:20} F1 {:.3}, weights alone {linear:.3}  (fitted to {:.3})",
            style.word(),
            f1(&left, &weights),
            f1(&rest, &weights)
        );
        pooled.extend(left.iter().map(|l| (*l, picked(l, &weights))));
        let said = left.iter().flat_map(|l| said(l, &weights)).collect();
        parts.push((*style, weights, said));
    }
    by_grade(&pooled);
    let calibration = |but: Option<Style>| {
        let kept = parts.iter().filter(|p| Some(p.0) != but).flat_map(|p| p.2.iter().copied());
        calibration_of(&kept.collect::<Vec<_>>())
    };
    let model = |weights: Weights, part: &[&Lesson], but: Option<Style>| Model {
        margin: margin_fitted(part, &weights),
        calibration: calibration(but),
        weights,
    };
    let mut weights = fitted(of);
    boost::grow(of, &mut weights);
    println!("  all: F1 {:.3}, exact {:.3}", f1(of, &weights), exact(of, &weights));
    let without = parts
        .iter()
        .map(|(style, weights, _)| {
            let which = networks.without(*style);
            let rest: Vec<&Lesson> = lessons[which].iter().filter(|l| l.style != *style).collect();
            (
                *style,
                (model(weights.clone(), &rest, Some(*style)), networks.different[which].clone()),
            )
        })
        .collect();
    Fitted { all: (model(weights, of, None), networks.different[networks.all].clone()), without }
}

pub fn run(plan: &Plan) {
    for (structure, fitted) in fitted_models(plan) {
        println!("{structure:?} calibration {:.3?}", fitted.all.0.calibration);
        if let Some(folder) = &plan.write {
            written(structure, &fitted.all.0, folder);
        }
    }
}

/// Writes a model as the source file that holds it.
pub fn written(structure: Structure, model: &Model, folder: &str) {
    let name = if structure == Structure::Scale { "scale" } else { "otolith" };
    let path = std::path::Path::new(folder).join(format!("model_{name}.rs"));
    std::fs::write(path, printed(model)).expect("can be written");
}

/// What a model says of the candidates of a picture, those below one in thirty left out, and what they were.
fn said(lesson: &Lesson, weights: &Weights) -> Vec<(f64, bool)> {
    let gathered = lesson.reading.gathered(&lesson.chain.judge(weights).probability);
    let shown: Vec<(f64, f64)> = lesson
        .places
        .iter()
        .zip(&gathered)
        .filter(|(_, p)| **p > 0.03)
        .map(|(x, p)| (*x, *p))
        .collect();
    let places: Vec<f64> = shown.iter().map(|s| s.0).collect();
    let pairs = matched(&places, &lesson.truth, lesson.edge);
    let was = |i: usize| pairs.iter().any(|(k, _)| *k == i);
    shown.iter().enumerate().map(|(i, s)| (s.1, was(i))).collect()
}

/// Logistic regression on the log odds.
fn calibration_of(said: &[(f64, bool)]) -> [f64; 2] {
    let rows: Vec<(f64, f64)> = said
        .iter()
        .map(|(p, was)| {
            let p = p.clamp(1e-6, 1.0 - 1e-6);
            ((p / (1.0 - p)).ln(), f64::from(u8::from(*was)))
        })
        .collect();
    let mut w = [0.0, 1.0];
    for _ in 0..4000 {
        let mut g = [0.0; 2];
        for (x, y) in &rows {
            let miss = y - 1.0 / (1.0 + (-(w[0] + w[1] * x)).exp());
            g[0] += miss / rows.len().max(1) as f64;
            g[1] += miss * x / rows.len().max(1) as f64;
        }
        w[0] += 0.3 * g[0];
        w[1] += 0.1 * g[1];
    }
    w
}

fn picked(lesson: &Lesson, weights: &Weights) -> Vec<f64> {
    let gathered = lesson.reading.gathered(&lesson.chain.judge(weights).probability);
    lesson
        .places
        .iter()
        .zip(&gathered)
        .zip(&lesson.reading.candidates)
        .filter(|((_, p), candidate)| **p >= 0.5 && lesson.reading.is_scored(candidate))
        .map(|((x, _), _)| *x)
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

/// F1 and count exact of the styles left out, grade by grade.
fn by_grade(pooled: &[(&Lesson, Vec<f64>)]) {
    for grade in Difficulty::ALL.into_iter().map(Some).chain([None]) {
        let (mut hits, mut marks, mut exact, mut count) = (0, 0, 0, 0);
        for (lesson, picked) in pooled.iter().filter(|(l, _)| grade.is_none_or(|g| g == l.grade)) {
            hits += matched(picked, &lesson.truth, lesson.edge).len();
            marks += picked.len() + lesson.truth.len();
            exact += usize::from(picked.len() == lesson.truth.len());
            count += 1;
        }
        if count > 0 {
            println!(
                "  left out, {:9} F1 {:.3}, exact {:.3}, {count} pictures",
                grade.map_or("all", Difficulty::word),
                2.0 * hits as f64 / marks.max(1) as f64,
                exact as f64 / count as f64
            );
        }
    }
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

/// Logistic regression by gradient ascent on three numbers.
fn margin_fitted(lessons: &[&Lesson], weights: &Weights) -> [f64; 3] {
    let rows: Vec<([f64; 3], f64)> = lessons
        .iter()
        .map(|l| {
            let numbers = l.reading.margin_numbers(&l.chain.judge(weights).probability);
            (numbers, f64::from(u8::from(l.edge_annulus)))
        })
        .collect();
    let mut w = [-2.0, 0.0, 0.0];
    for _ in 0..3000 {
        let mut g = [0.0; 3];
        for (x, y) in &rows {
            let p = 1.0 / (1.0 + (-x.iter().zip(w).map(|(x, w)| x * w).sum::<f64>()).exp());
            g.iter_mut().zip(x).for_each(|(g, x)| *g += (y - p) * x / rows.len() as f64);
        }
        w.iter_mut().zip(g).for_each(|(w, g)| *w += 0.5 * (g - 0.001 * *w));
    }
    w
}

fn unpacked(x: &[f64]) -> Weights {
    let mut w = Weights { evidence: [0.0; N_EVIDENCE], step: [0.0; N_STEP], trees: Vec::new() };
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

fn printed(model: &Model) -> String {
    let list =
        |values: &[f64]| values.iter().map(|v| format!("{v:.4}")).collect::<Vec<_>>().join(", ");
    let cut = |cut: (usize, f64)| {
        let value = if cut.1.is_finite() { format!("{:.5}", cut.1) } else { "1e9".to_owned() };
        format!("({}, {value})", cut.0)
    };
    let trees: Vec<String> = model
        .weights
        .trees
        .iter()
        .map(|t| {
            let second = format!("{}, {}", cut(t.second[0]), cut(t.second[1]));
            format!("    grown({}, [{second}], [{}]),\n", cut(t.first), list(&t.values))
        })
        .collect();
    format!(
        "//! Written by the bench: see `model`.\n\nuse super::model::Model;\nuse super::selection::{{Cut, N_EVIDENCE, N_STEP, Tree, Weights}};\n\nconst EVIDENCE: [f64; N_EVIDENCE] = [{}];\nconst STEP: [f64; N_STEP] = [{}];\n\nconst fn grown(first: Cut, second: [Cut; 2], values: [f64; 4]) -> Tree {{\n    Tree {{ first, second, values }}\n}}\n\nconst TREES: [Tree; {}] = [\n{}];\n\n/// The fitted model.\npub fn model() -> Model {{\n    Model {{\n        weights: Weights {{ evidence: EVIDENCE, step: STEP, trees: TREES.to_vec() }},\n        calibration: [{}],\n        margin: [{}],\n    }}\n}}\n",
        list(&model.weights.evidence),
        list(&model.weights.step),
        trees.len(),
        trees.concat(),
        list(&model.calibration),
        list(&model.margin)
    )
}
