//! Strips of the learned evidence with their truth, for `truth/train.py`: each picture on its own axis and on some beside it.

use kurbo::{Affine, Point, Vec2};
use winterline::domain::axis::Axis;
use winterline::domain::progress::Progress;
use winterline::proposing::Prepared;
use winterline::proposing::prepared::Signal;
use winterline::proposing::signal::median;
use winterline::proposing::strip::{LIMIT, LINES, Strip};
use winterline::simulate::chance::Chance;
use winterline::simulate::picture::Picture;
use winterline::simulate::truth::{Difficulty, Style};

use super::score::request;
use super::sets::Plan;

/// Axes tried on each training picture: the true one, and others turned and shifted a little.
const AXES: usize = 3;

pub fn run(plan: &Plan, path: &str) {
    let axes = if plan.first_seed == 1_000_000 { AXES } else { 1 };
    let parts = plan.each(|picture| written(picture, axes));
    std::fs::write(path, parts.concat()).expect("can be written");
}

fn written(picture: &Picture, axes: usize) -> Vec<u8> {
    let truth = &picture.truth;
    if !truth.readable || truth.regenerated {
        return Vec::new();
    }
    let request = request(picture, false);
    let prepared = Prepared::new(&request, &Progress::new()).expect("not stopped");
    let mut chance = Chance::new(truth.seed, "axes");
    let mut out = Vec::new();
    for k in 0..axes {
        let [focus, end] = truth.axis_px;
        let (mut from, mut to) = (focus, end);
        if k > 0 {
            let shift = 0.012 * truth.edge_um / truth.um_per_px;
            from += Vec2::new(chance.normal() * shift, chance.normal() * shift) * 0.7;
            to = Affine::rotate_about(chance.between(-0.3, 0.3), focus) * end;
        }
        let Ok(axis) = Axis::straight(from, to) else { continue };
        let reading = prepared.read(&axis, k == 0);
        let strip = match &reading.signal {
            Signal::Scale(signal) => {
                &Strip::of_scale(&reading.fan, median(&signal.log_period).exp())
            }
            Signal::Otolith(_) => continue,
        };
        let per_sample = strip.step * reading.fan.step_um;
        let places = |um: &[f64]| places(picture, from, to, um, per_sample);
        let checks: Vec<f64> = truth.checks.iter().filter(|c| c.on_axis).map(|c| c.um).collect();
        append(
            &mut out,
            picture,
            strip,
            reading.fan.edge / strip.step,
            &places(&truth.annuli_um()),
            &places(&checks),
        );
    }
    out
}

/// Where rings cross another axis, samples of the strip.
fn places(picture: &Picture, from: Point, to: Point, um: &[f64], per_sample: f64) -> Vec<f64> {
    let along = (to - from).normalize();
    let um_per_px = picture.truth.um_per_px;
    let steps = (1.5 * (to - from).hypot()) as usize * 2;
    let rings: Vec<f64> =
        (0..steps).map(|i| picture.field.ring_um_at(from + along * (i as f64 * 0.5))).collect();
    um.iter()
        .filter_map(|um| {
            let at = (1..steps).rev().find(|i| rings[i - 1] <= *um && *um < rings[*i])?;
            let f = (um - rings[at - 1]) / (rings[at] - rings[at - 1]);
            Some((at as f64 - 1.0 + f) * 0.5 * um_per_px / per_sample)
        })
        .collect()
}

fn append(
    out: &mut Vec<u8>,
    picture: &Picture,
    strip: &Strip,
    edge: f64,
    annuli: &[f64],
    checks: &[f64],
) {
    let truth = &picture.truth;
    let style = Style::ALL.iter().position(|s| *s == truth.style).expect("is one of them");
    let grade =
        Difficulty::ALL.iter().position(|d| *d == truth.difficulty).expect("is one of them");
    let head = [
        style as f32,
        grade as f32,
        truth.seed as f32,
        LINES as f32,
        strip.samples as f32,
        edge as f32,
        annuli.len() as f32,
        checks.len() as f32,
    ];
    let lines = strip.present.iter().map(|p| f32::from(u8::from(*p)));
    let numbers = annuli.iter().chain(checks).map(|p| *p as f32);
    out.extend(head.into_iter().chain(lines).chain(numbers).flat_map(f32::to_le_bytes));
    out.extend(strip.values.iter().map(|v| (v * 127.0 / LIMIT).round() as i8 as u8));
}
