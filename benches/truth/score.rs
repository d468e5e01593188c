//! Precision, recall, counts, positions and reliability.

use std::time::Instant;

use winterline::domain::axis::Axis;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::progress::Progress;
use winterline::domain::reading::Structure;
use winterline::proposing::model::Model;
use winterline::proposing::{Prepared, Proposals, Request, propose};
use winterline::simulate::picture::Picture;
use winterline::simulate::truth::{Difficulty, PictureTruth, Style};

use super::export;
use super::fit::{Fitted, fitted_models, written};
use super::networks::Shared;
use super::sets::Plan;

/// What came of one picture.
pub struct Outcome {
    pub style: Style,
    pub difficulty: Difficulty,
    pub seed: u64,
    pub readable: bool,
    pub refused: bool,
    pub truth: usize,
    pub hits: usize,
    pub extra: usize,
    pub errors_um: Vec<f64>,
    /// Error of the margin as a share of the radius.
    pub edge_error: f64,
    /// Error of the focus as a share of the radius.
    pub focus_error: f64,
    /// Angle between the axis used and the true one, degrees.
    pub axis_error: f64,
    /// Probability and whether it was an annulus, for every candidate.
    pub judged: Vec<(f64, bool)>,
    pub edge_annulus: Option<(f64, bool)>,
    pub ms: f64,
}

/// Indices of matched (found, true) pairs: nearest first, one to one, within the tolerance.
pub fn matched(found: &[f64], truth: &[f64], edge: f64) -> Vec<(usize, usize)> {
    let tolerance = |j: usize| {
        let before = if j == 0 { truth[0] } else { truth[j] - truth[j - 1] };
        let after = truth.get(j + 1).map_or(f64::INFINITY, |next| next - truth[j]);
        (0.03 * edge).min(0.5 * before.min(after))
    };
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (i, f) in found.iter().enumerate() {
        for (j, t) in truth.iter().enumerate() {
            if (f - t).abs() <= tolerance(j) {
                pairs.push(((f - t).abs(), i, j));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut used_i, mut used_j, mut out) =
        (vec![false; found.len()], vec![false; truth.len()], Vec::new());
    for (_, i, j) in pairs {
        if !used_i[i] && !used_j[j] {
            used_i[i] = true;
            used_j[j] = true;
            out.push((i, j));
        }
    }
    out
}

pub fn request<'a>(picture: &'a Picture, suggest: bool) -> Request<'a> {
    let truth = &picture.truth;
    let [focus, end] = truth.axis_px;
    Request {
        raster: &picture.raster,
        calibration: Calibration::new(truth.um_per_px, truth.um_per_px, CalibrationSource::Stated)
            .expect("positive"),
        structure: truth.structure,
        light: (!suggest).then_some(truth.light),
        bounds: None,
        focus: (!suggest).then_some(focus),
        axis: if suggest { None } else { Axis::straight(focus, end).ok() },
    }
}

fn outcome(picture: &Picture, suggest: bool, fitted: &[(Structure, Fitted)]) -> Outcome {
    let truth: &PictureTruth = &picture.truth;
    let request = request(picture, suggest);
    let start = Instant::now();
    let model = fitted
        .iter()
        .find(|(structure, _)| *structure == truth.structure)
        .map(|(_, fitted)| fitted.without(truth.style));
    let got = proposed(&request, model);
    let ms = start.elapsed().as_secs_f64() * 1e3;
    let edge_um = match (&got.axis, got.edge) {
        (Some(axis), Some(edge)) => axis.micrometres_at(edge, &request.calibration).0,
        _ => f64::NAN,
    };
    // On another axis only the share of the radius can be compared.
    let scale = if suggest { truth.edge_um / edge_um } else { 1.0 };
    let found: Vec<f64> = got.annuli.iter().map(|a| a.radius.0 * scale).collect();
    let annuli = truth.annuli_um();
    let pairs = matched(&found, &annuli, truth.edge_um);
    let all: Vec<(f64, f64)> = got
        .annuli
        .iter()
        .chain(&got.checks)
        .chain(&got.alternatives)
        .map(|a| (a.radius.0 * scale, a.probability))
        .collect();
    let places: Vec<f64> = all.iter().map(|a| a.0).collect();
    let all_pairs = matched(&places, &annuli, truth.edge_um);
    let judged = all
        .iter()
        .enumerate()
        .map(|(i, a)| (a.1, all_pairs.iter().any(|(k, _)| *k == i)))
        .collect();
    let radius_px = truth.edge_um / truth.um_per_px;
    let (focus_error, axis_error) = got.axis.as_ref().map_or((f64::NAN, f64::NAN), |axis| {
        let [focus, end] = truth.axis_px;
        let (a, b) = (axis.end() - axis.focus(), end - focus);
        let turn = (a.atan2() - b.atan2()).to_degrees();
        (
            (axis.focus() - focus).hypot() / radius_px,
            ((turn + 540.0).rem_euclid(360.0) - 180.0).abs(),
        )
    });
    Outcome {
        style: truth.style,
        difficulty: truth.difficulty,
        seed: truth.seed,
        readable: truth.readable && !truth.regenerated,
        refused: got.refused.is_some(),
        truth: annuli.len(),
        hits: pairs.len(),
        extra: found.len() - pairs.len(),
        errors_um: pairs.iter().map(|(i, j)| (found[*i] - annuli[*j]).abs()).collect(),
        edge_error: (edge_um / truth.edge_um - 1.0).abs(),
        focus_error,
        axis_error,
        judged,
        edge_annulus: got.edge_annulus.map(|p| (p, truth.edge_annulus)),
        ms,
    }
}

/// By the program's own model, or by one under test.
fn proposed(request: &Request, model: Option<&(Model, Shared)>) -> Proposals {
    match (model, &request.axis) {
        (Some((model, network)), Some(axis)) => {
            let prepared = Prepared::new(request, &Progress::new())
                .expect("not stopped")
                .with_network(network.clone());
            prepared.judged_by(axis, &prepared.read(axis, true), model)
        }
        _ => propose(request, &Progress::new()).expect("not stopped"),
    }
}

pub fn run(plan: &Plan) {
    let fitted = if plan.leave_one_style_out { fitted_models(plan) } else { Vec::new() };
    if let Some(folder) = &plan.write {
        fitted.iter().for_each(|(structure, fitted)| written(*structure, &fitted.all.0, folder));
    }
    if let Some(folder) = &plan.export {
        std::fs::create_dir_all(folder).expect("folder can be made");
    }
    let scored = plan.each(|picture| {
        let row = plan.export.as_ref().map(|folder| export::row(picture, folder));
        (outcome(picture, plan.suggest, &fitted), row)
    });
    let (outcomes, rows): (Vec<Outcome>, Vec<Option<String>>) = scored.into_iter().unzip();
    if let Some(folder) = &plan.export {
        export::finish(folder, &rows.into_iter().flatten().collect::<Vec<_>>());
    }
    if plan.list {
        for o in outcomes.iter().filter(|o| o.readable) {
            println!(
                "{} {} {}: {} true, {} hit, {} extra{}, edge off {:.1} %, focus off {:.1} %, axis off {:.0}",
                o.style.word(),
                o.difficulty.word(),
                o.seed,
                o.truth,
                o.hits,
                o.extra,
                if o.refused { ", refused" } else { "" },
                100.0 * o.edge_error,
                100.0 * o.focus_error,
                o.axis_error
            );
        }
    }
    for structure in &plan.structures {
        let of: Vec<&Outcome> =
            outcomes.iter().filter(|o| o.style.structure() == *structure).collect();
        println!("\n{structure:?}{}", if plan.suggest { ", everything suggested" } else { "" });
        println!(
            "{:28} {:>4} {:>6} {:>6} {:>6} {:>6} {:>6} {:>6} {:>6} {:>6} {:>6} {:>6}",
            "",
            "n",
            "prec",
            "recall",
            "F1",
            "exact",
            "in 1",
            "med",
            "p90",
            "edge1%",
            "focus2",
            "refus"
        );
        for style in Style::of(*structure) {
            let part: Vec<&Outcome> = of.iter().copied().filter(|o| o.style == *style).collect();
            line(style.word(), &part);
        }
        for difficulty in Difficulty::ALL {
            let part: Vec<&Outcome> =
                of.iter().copied().filter(|o| o.difficulty == difficulty).collect();
            line(difficulty.word(), &part);
        }
        line("all", &of);
        reliability(&of);
    }
    let _ = Structure::Scale;
}

fn line(name: &str, part: &[&Outcome]) {
    let unreadable: Vec<&&Outcome> = part.iter().filter(|o| !o.readable).collect();
    let good: Vec<&&Outcome> = part.iter().filter(|o| o.readable).collect();
    if good.is_empty() && unreadable.is_empty() {
        return;
    }
    let sum = |f: fn(&Outcome) -> usize| good.iter().map(|o| f(o)).sum::<usize>() as f64;
    let (truth, hits, extra) = (sum(|o| o.truth), sum(|o| o.hits), sum(|o| o.extra));
    let precision = hits / (hits + extra).max(1.0);
    let recall = hits / truth.max(1.0);
    let f1 = 2.0 * precision * recall / (precision + recall).max(1e-9);
    let share = |f: &dyn Fn(&Outcome) -> bool| {
        good.iter().filter(|o| f(o)).count() as f64 / good.len().max(1) as f64
    };
    let off = |o: &Outcome| (o.hits + o.extra).abs_diff(o.truth);
    let mut errors: Vec<f64> = good.iter().flat_map(|o| o.errors_um.clone()).collect();
    errors.sort_by(f64::total_cmp);
    let quantile =
        |q: f64| errors.get((errors.len() as f64 * q) as usize).copied().unwrap_or(f64::NAN);
    let refused = unreadable.iter().filter(|o| o.refused).count();
    let ms = good.iter().map(|o| o.ms).sum::<f64>() / good.len().max(1) as f64;
    println!(
        "{name:28} {:4} {precision:6.3} {recall:6.3} {f1:6.3} {:6.2} {:6.2} {:6.1} {:6.1} {:6.2} {:6.2} {:6.3}  refused {refused}/{} {ms:.0} ms",
        good.len(),
        share(&|o| off(o) == 0),
        share(&|o| off(o) <= 1),
        quantile(0.5),
        quantile(0.9),
        share(&|o| o.edge_error < 0.01),
        share(&|o| o.focus_error < 0.02),
        share(&|o| o.refused),
        unreadable.len(),
    );
}

/// Candidates at 0.05 or above: ten bins of equal count, expected calibration error, and the Brier skill against the base rate.
fn reliability(part: &[&Outcome]) {
    let mut judged: Vec<(f64, bool)> =
        part.iter().filter(|o| o.readable).flat_map(|o| o.judged.clone()).collect();
    judged.retain(|j| j.0 >= 0.05);
    judged.sort_by(|a, b| a.0.total_cmp(&b.0));
    let n = judged.len();
    if n < 20 {
        return;
    }
    let base = judged.iter().filter(|j| j.1).count() as f64 / n as f64;
    let brier =
        judged.iter().map(|(p, y)| (p - f64::from(u8::from(*y))).powi(2)).sum::<f64>() / n as f64;
    let mut ece = 0.0;
    print!("reliability (said, was):");
    for bin in 0..10 {
        let part = &judged[bin * n / 10..(bin + 1) * n / 10];
        let said = part.iter().map(|j| j.0).sum::<f64>() / part.len() as f64;
        let was = part.iter().filter(|j| j.1).count() as f64 / part.len() as f64;
        ece += (said - was).abs() * part.len() as f64 / n as f64;
        print!(" {said:.2}/{was:.2}");
    }
    println!(
        "\nECE {ece:.4}, Brier skill {:.3}, {n} candidates",
        1.0 - brier / (base * (1.0 - base)).max(1e-9)
    );
    let edge: Vec<(f64, bool)> =
        part.iter().filter(|o| o.readable).filter_map(|o| o.edge_annulus).collect();
    if !edge.is_empty() {
        let rate = edge.iter().filter(|e| e.1).count() as f64 / edge.len() as f64;
        let brier = edge.iter().map(|(p, y)| (p - f64::from(u8::from(*y))).powi(2)).sum::<f64>()
            / edge.len() as f64;
        println!(
            "edge annulus: rate {rate:.3}, Brier skill {:.3}",
            1.0 - brier / (rate * (1.0 - rate)).max(1e-9)
        );
    }
}
