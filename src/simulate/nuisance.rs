//! What the world does to a picture: dirt, optics, uneven light, noise, blocks.

use rayon::prelude::*;

use super::canvas::Canvas;
use super::chance::{Chance, Grain, ease};
use super::dirt;
use super::truth::{Difficulty, Style};

use crate::domain::reading::Structure;

/// Lays all nuisances of a difficulty over a picture. `margin` are places on the margin, `focus` the focus, pixels.
pub(super) fn spoil(
    canvas: &mut Canvas,
    style: Style,
    difficulty: Difficulty,
    margin: &[(f64, f64)],
    focus: (f64, f64),
    chance: &mut Chance,
) {
    let grade = difficulty.grade();
    soil(canvas, style, grade, margin, focus, chance);
    let sigma = chance.between(0.4, 0.7) + grade * chance.between(0.02, 0.27);
    canvas.blur(sigma);
    if difficulty == Difficulty::Hopeless {
        canvas.blur(chance.between(11.0, 24.0));
    } else if grade > 0.0 && chance.happens(0.35 * grade) {
        part_defocus(canvas, 1.0 + grade * chance.between(0.3, 0.8), chance);
    }
    uneven_light(canvas, grade, chance);
    // Scales carry their marks in lines that outlast noise; the zones of an otolith are drawn more faintly already.
    let noise = if style.structure() == Structure::Scale { 0.010 } else { 0.0065 };
    let sigma = (0.005 + noise * grade) * chance.factor(0.3);
    record(canvas, style, sigma as f32, grade, chance);
    if chance.happens(0.12 + 0.12 * grade) {
        blocks(canvas, chance.between(0.008, 0.014 + 0.012 * grade) as f32);
    }
}

fn soil(
    canvas: &mut Canvas,
    style: Style,
    grade: f64,
    margin: &[(f64, f64)],
    focus: (f64, f64),
    chance: &mut Chance,
) {
    let megapixels = (canvas.width * canvas.height) as f64 / 1e6;
    let some = |mean: f64, chance: &mut Chance| {
        (mean * megapixels * chance.between(0.4, 1.6) + 0.3) as u32
    };
    let count = some(8.0 + 30.0 * grade, chance);
    dirt::specks(canvas, count, 4.0 + 5.0 * grade, chance);
    let count = some(1.5 + 7.0 * grade, chance);
    dirt::scratches(canvas, count, 0.14 + 0.08 * grade, chance);
    if style.structure() == Structure::Scale {
        let count = chance.whole(0, grade as u32 + u32::from(grade > 0.0));
        dirt::hairs(canvas, count, chance);
    } else {
        if super::otolith::is_ground(style) {
            let count = some(25.0 + 35.0 * grade, chance);
            dirt::scratches(canvas, count, 0.05, chance);
        }
        let count = chance.whole(0, 1 + grade as u32).min(margin.len() as u32) as usize;
        dirt::cracks(canvas, margin.get(..count).unwrap_or_default(), focus, chance);
    }
    let count = some(0.4 + 2.2 * grade, chance);
    dirt::bubbles(canvas, count, 10.0 + 12.0 * grade, chance);
    if chance.happens(0.1 + 0.2 * grade) {
        dirt::print(canvas, (0.03 + 0.035 * grade) as f32, chance);
    }
}

/// A side of the picture that is out of focus.
fn part_defocus(canvas: &mut Canvas, sigma_px: f64, chance: &mut Chance) {
    let mut soft = canvas.clone();
    soft.blur(sigma_px);
    let angle = chance.between(0.0, std::f64::consts::TAU);
    let (dx, dy) = (libm::cos(angle) as f32, libm::sin(angle) as f32);
    let (w, h) = (canvas.width as f32, canvas.height as f32);
    canvas.repaint(|x, y, before| {
        let along = ((x as f32 / w - 0.5) * dx + (y as f32 / h - 0.5) * dy) + 0.5;
        before + (soft.at(x as isize, y as isize) - before) * ease((along - 0.3) / 0.5)
    });
}

/// A lamp to one side, darker corners.
fn uneven_light(canvas: &mut Canvas, grade: f64, chance: &mut Chance) {
    let lean = chance.between(0.02, 0.10 + 0.14 * grade) as f32;
    let corners = chance.between(0.0, 0.12 + 0.12 * grade) as f32;
    let angle = chance.between(0.0, std::f64::consts::TAU);
    let (dx, dy) = (libm::cos(angle) as f32, libm::sin(angle) as f32);
    let (w, h) = (canvas.width as f32, canvas.height as f32);
    let stains = chance.grain();
    let stained = (0.03 + 0.04 * grade) as f32;
    canvas.repaint(|x, y, before| {
        let (u, v) = (2.0 * x as f32 / w - 1.0, 2.0 * y as f32 / h - 1.0);
        let stain = stains.cloudy(x as f32 / 230.0, y as f32 / 230.0) - 0.5;
        before
            * (1.0 + lean * (u * dx + v * dy) + stained * stain)
            * (1.0 - corners * 0.5 * (u * u + v * v))
    });
}

/// How a recorder adds its noise, by style: shot noise, film grain, scanner streaks.
fn record(canvas: &mut Canvas, style: Style, sigma: f32, grade: f64, chance: &mut Chance) {
    let grain = chance.grain();
    let streaks: Grain = chance.grain();
    match style {
        Style::SunfishScale | Style::BrokenBurnt => {
            // Film grain: coarser than a pixel, strongest in the mid greys.
            let sigma = sigma * 1.7;
            canvas.repaint(|x, y, before| {
                let clump = grain.smooth(x as f32 / 1.7, y as f32 / 1.7) - 0.5;
                let fine = grain.speckle(x as i32, y as i32);
                before
                    + sigma
                        * (4.0 * clump + 0.6 * fine)
                        * (0.4 + 2.4 * before * (1.0 - before).max(0.0))
            });
        }
        Style::CiscoScale | Style::WholeTransmitted => {
            // A scanner's sensor: each column a little off, plus plain noise.
            let streak = sigma * (0.3 + 0.2 * grade as f32);
            canvas.repaint(|x, y, before| {
                before
                    + sigma * grain.speckle(x as i32, y as i32)
                    + streak * streaks.speckle(x as i32, 0)
            });
        }
        Style::TroutScale => canvas.add_noise(grain, sigma),
        // Shot noise: grows with the root of the light.
        _ => canvas.repaint(|x, y, before| {
            before
                + sigma * (0.25 + 1.1 * before.max(0.0).sqrt()) * grain.speckle(x as i32, y as i32)
        }),
    }
}

/// Blocks of 8 x 8 with their finest patterns coarsely rounded, as lossy storage leaves them.
fn blocks(canvas: &mut Canvas, step: f32) {
    let mut basis = [[0.0_f32; 8]; 8];
    for (k, row) in basis.iter_mut().enumerate() {
        for (n, cell) in row.iter_mut().enumerate() {
            let scale = if k == 0 { 0.125_f64.sqrt() } else { 0.5 };
            *cell = (scale * libm::cos(std::f64::consts::PI * (n as f64 + 0.5) * k as f64 / 8.0))
                as f32;
        }
    }
    let width = canvas.width;
    let whole = width / 8;
    canvas.values.par_chunks_mut(width * 8).for_each(|band| {
        if band.len() < width * 8 {
            return;
        }
        for block in 0..whole {
            let mut values = [[0.0_f32; 8]; 8];
            for (r, row) in values.iter_mut().enumerate() {
                let start = r * width + block * 8;
                for (cell, from) in
                    row.iter_mut().zip(band.get(start..start + 8).unwrap_or_default())
                {
                    *cell = *from;
                }
            }
            rounded(&mut values, &basis, step);
            for (r, row) in values.iter().enumerate() {
                let start = r * width + block * 8;
                for (cell, to) in row.iter().zip(band.get_mut(start..start + 8).unwrap_or_default())
                {
                    *to = *cell;
                }
            }
        }
    });
}

fn rounded(values: &mut [[f32; 8]; 8], basis: &[[f32; 8]; 8], step: f32) {
    let spectrum = turned(&turned(values, basis), basis);
    let mut kept = spectrum;
    for (u, row) in kept.iter_mut().enumerate() {
        for (v, cell) in row.iter_mut().enumerate() {
            let size = step * (1.0 + 0.6 * (u + v) as f32);
            *cell = (*cell / size).round() * size;
        }
    }
    let mut back = [[0.0_f32; 8]; 8];
    for (k, row) in basis.iter().enumerate() {
        back.iter_mut().enumerate().for_each(|(n, to)| {
            if let Some(cell) = to.get_mut(k) {
                *cell = basis.get(k).and_then(|b| b.get(n)).copied().unwrap_or(0.0);
            }
        });
        debug_assert_eq!(row.len(), 8);
    }
    *values = turned(&turned(&kept, &back), &back);
}

/// Applies `basis` along rows and swaps rows with columns; twice gives both directions in the old order.
fn turned(values: &[[f32; 8]; 8], basis: &[[f32; 8]; 8]) -> [[f32; 8]; 8] {
    let mut out = [[0.0_f32; 8]; 8];
    for (to_row, weights) in out.iter_mut().zip(basis) {
        for (to, row) in to_row.iter_mut().zip(values) {
            *to = weights.iter().zip(row).map(|(w, v)| w * v).sum();
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_with_a_tiny_step_change_nothing() {
        let mut canvas = Canvas::painted(24, 16, |x, y| ((x * 7 + y * 13) % 17) as f32 / 17.0);
        let before = canvas.clone();
        blocks(&mut canvas, 1e-6);
        let worst = canvas
            .values
            .iter()
            .zip(&before.values)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f32::max);
        assert!(worst < 1e-4, "{worst}");
        blocks(&mut canvas, 0.5);
        assert_ne!(canvas.values, before.values);
    }
}
