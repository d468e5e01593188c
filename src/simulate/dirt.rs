//! Things that lie on a picture and are no part of the fish: specks, hairs, scratches, bubbles, prints.

use std::f64::consts::{PI, TAU};

use super::canvas::Canvas;
use super::chance::{Chance, ease};

/// Dark irregular specks.
pub(super) fn specks(canvas: &mut Canvas, count: u32, largest_px: f64, chance: &mut Chance) {
    for _ in 0..count {
        let (x, y) = anywhere(canvas, chance);
        let size = 0.8 + largest_px * chance.unit() * chance.unit() * chance.unit();
        let grain = chance.grain();
        let dark = chance.between(0.25, 0.9) as f32;
        canvas.touch(x, y, size * 1.8, |dx, dy, before| {
            let s = size as f32;
            let ragged = grain.cloudy(dx / (0.6 * s) + 9.0, dy / (0.6 * s) + 9.0);
            let away = (dx * dx + dy * dy).sqrt() / s + 0.9 * (ragged - 0.5);
            before * (1.0 - dark * (1.0 - ease((away - 0.6) / 0.5)))
        });
    }
}

/// A stroke of soft width along a bent line: `gain` above 0 brightens, below darkens.
fn stroke(
    canvas: &mut Canvas,
    from: (f64, f64),
    heading: f64,
    length_px: f64,
    bend: f64,
    half_px: f64,
    gain: f32,
) {
    let steps = (length_px / (half_px.max(0.5) * 0.7)).ceil().min(6000.0) as u32;
    let step_px = length_px / f64::from(steps.max(1));
    let (mut x, mut y, mut angle) = (from.0, from.1, heading);
    let share = gain * (step_px / (2.0 * half_px)).min(1.0) as f32;
    for step in 0..steps {
        let along = f64::from(step) / f64::from(steps);
        let ends = ease((along.min(1.0 - along) * 8.0) as f32);
        let reach = half_px as f32;
        canvas.touch(x, y, half_px + 1.0, |dx, dy, before| {
            let away = (dx * dx + dy * dy).sqrt();
            let cover = ends * (1.0 - ease((away - reach + 0.5) / 1.2));
            if share > 0.0 {
                before + share * cover * (1.0 - before)
            } else {
                before * (1.0 + share * cover)
            }
        });
        x += step_px * libm::cos(angle);
        y += step_px * libm::sin(angle);
        angle += bend * step_px;
    }
}

/// Scratches: long, thin, nearly straight, bright or dark.
pub(super) fn scratches(canvas: &mut Canvas, count: u32, strength: f64, chance: &mut Chance) {
    let lay = chance.between(0.0, PI);
    for _ in 0..count {
        let from = anywhere(canvas, chance);
        let heading = if chance.happens(0.6) {
            lay + 0.12 * chance.normal()
        } else {
            chance.between(0.0, TAU)
        };
        let length = chance.between(0.08, 0.7) * canvas.width as f64;
        let bend = 0.0006 * chance.normal();
        let gain = chance.sign() * strength * chance.between(0.3, 1.0);
        stroke(canvas, from, heading, length, bend, chance.between(0.4, 1.0), gain as f32);
    }
}

/// Hairs and fibres: dark, curled.
pub(super) fn hairs(canvas: &mut Canvas, count: u32, chance: &mut Chance) {
    for _ in 0..count {
        let from = anywhere(canvas, chance);
        let length = chance.between(80.0, 420.0);
        let bend = chance.between(0.002, 0.012) * chance.sign();
        stroke(
            canvas,
            from,
            chance.between(0.0, TAU),
            length,
            bend,
            chance.between(1.0, 2.2),
            -0.7,
        );
    }
}

/// Cracks from the margin inwards: dark, jagged.
pub(super) fn cracks(
    canvas: &mut Canvas,
    from: &[(f64, f64)],
    towards: (f64, f64),
    chance: &mut Chance,
) {
    for start in from {
        let (mut x, mut y) = *start;
        let (tx, ty) = (towards.0 - x, towards.1 - y);
        let mut heading = libm::atan2(ty, tx) + chance.between(-0.3, 0.3);
        let whole_px = (tx * tx + ty * ty).sqrt() * chance.between(0.3, 0.9);
        let mut gone_px = 0.0;
        while gone_px < whole_px {
            let piece_px = chance.between(8.0, 40.0);
            stroke_piece(canvas, (x, y), heading, piece_px);
            x += piece_px * libm::cos(heading);
            y += piece_px * libm::sin(heading);
            heading += 0.35 * chance.normal();
            gone_px += piece_px;
        }
    }
}

fn stroke_piece(canvas: &mut Canvas, from: (f64, f64), heading: f64, length_px: f64) {
    for step in 0..length_px.ceil() as u32 {
        let (x, y) = (
            from.0 + f64::from(step) * libm::cos(heading),
            from.1 + f64::from(step) * libm::sin(heading),
        );
        canvas.touch(x, y, 1.8, |dx, dy, before| {
            let away = (dx * dx + dy * dy).sqrt();
            before * (1.0 - 0.45 * (1.0 - ease(away / 1.6)))
        });
    }
}

/// Air bubbles under the cover: a dark rim, a bright centre.
pub(super) fn bubbles(canvas: &mut Canvas, count: u32, largest_px: f64, chance: &mut Chance) {
    for _ in 0..count {
        let (x, y) = anywhere(canvas, chance);
        let size = 3.0 + largest_px * chance.unit() * chance.unit();
        let r = size as f32;
        canvas.touch(x, y, size + 3.0, |dx, dy, before| {
            let away = (dx * dx + dy * dy).sqrt();
            let rim = (1.0 - ((away - r + 0.12 * r + 1.0) / (0.12 * r + 1.3)).abs()).max(0.0);
            let glint = (1.0
                - ((dx + 0.3 * r) * (dx + 0.3 * r) + (dy + 0.3 * r) * (dy + 0.3 * r))
                    / (0.05 * r * r + 1.0))
                .max(0.0);
            let inner = if away < r { before + 0.10 * (0.8 - before) } else { before };
            inner * (1.0 - 0.7 * rim) + 0.3 * glint * (1.0 - inner)
        });
    }
}

/// A finger's grease: faint curved ridges in an oval patch.
pub(super) fn print(canvas: &mut Canvas, strength: f32, chance: &mut Chance) {
    let (cx, cy) = anywhere(canvas, chance);
    let reach = chance.between(0.16, 0.32) * canvas.width as f64;
    let (ox, oy) = (chance.between(-0.6, 0.6) * reach, chance.between(0.5, 1.2) * reach);
    let spacing = chance.between(16.0, 30.0) as f32;
    let grain = chance.grain();
    canvas.touch(cx, cy, reach, |dx, dy, before| {
        let (px, py) = (dx - ox as f32, (dy - oy as f32) * 0.8);
        let away = (px * px + py * py).sqrt() / spacing + 1.6 * grain.cloudy(dx / 90.0, dy / 90.0);
        let wave = (away - away.floor() - 0.5).abs() * 4.0 - 1.0;
        let oval = 1.0 - ease(((dx * dx * 1.4 + dy * dy).sqrt() / reach as f32 - 0.55) / 0.4);
        let patchy = ease(grain.smooth(dx / 26.0 + 70.0, dy / 26.0) * 1.6 - 0.3);
        before * (1.0 + strength * wave * oval * patchy) + 0.4 * strength * oval * (0.6 - before)
    });
}

fn anywhere(canvas: &Canvas, chance: &mut Chance) -> (f64, f64) {
    (chance.unit() * canvas.width as f64, chance.unit() * canvas.height as f64)
}
