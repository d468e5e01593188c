//! Branching circuli: pairs of places, at the one a circulus begins, at the other it ends.

use kurbo::Point;

use super::canvas::Canvas;
use super::chance::{Chance, ease};
use super::ring_field::RingField;
use super::turn::rough_angle;

/// Shifts of phase over the picture from `per_mm2` pairs a square millimetre.
pub(super) fn branches(
    field: &RingField,
    (width, height): (usize, usize),
    (edge_um, spacing_um): (f64, f64),
    per_mm2: f64,
    chance: &mut Chance,
) -> Canvas {
    let mut canvas = Canvas { width, height, values: vec![0.0; width * height] };
    let size_mm = edge_um / 1000.0;
    let wanted = (per_mm2 * 3.0 * size_mm * size_mm).min(220.0) as usize;
    for _ in 0..wanted {
        let ring_um = edge_um * chance.unit().sqrt() * 0.98;
        let angle = chance.between(0.0, std::f64::consts::TAU);
        let half_um = spacing_um * chance.between(0.9, 3.2);
        let flip = chance.sign() as f32;
        let turn = half_um / ring_um.max(half_um * 2.0);
        let a = field.ring_point(ring_um, angle - turn);
        let b = field.ring_point(ring_um, angle + turn);
        bend(&mut canvas, field, a, b, flip);
    }
    canvas
}

/// Adds one pair, unless it would reach the axis.
fn bend(canvas: &mut Canvas, field: &RingField, a: Point, b: Point, flip: f32) {
    let middle = a.midpoint(b);
    let across = b - a;
    let half_px = 0.5 * (across.x * across.x + across.y * across.y).sqrt();
    let reach_px = 4.5 * half_px;
    let from_focus = middle - field.focus();
    let off_axis = from_focus.cross(field.axis_direction()).abs();
    let ahead = from_focus.dot(field.axis_direction()) > -reach_px;
    if (off_axis < reach_px + 2.0 && ahead) || half_px < 0.5 {
        return;
    }
    let (ax, ay) = ((a.x - middle.x) as f32, (a.y - middle.y) as f32);
    let half = half_px as f32;
    canvas.touch(middle.x, middle.y, reach_px, |dx, dy, before| {
        let away = (dx * dx + dy * dy).sqrt() / half;
        let fade = 1.0 - ease((away - 1.6) / 2.6);
        if fade <= 0.0 {
            return before;
        }
        // The angle under which the pair is seen: once round one of its places adds a whole circulus.
        let (px, py, qx, qy) = (dx - ax, dy - ay, dx + ax, dy + ay);
        let angle = rough_angle(py * qx - px * qy, px * qx + py * qy);
        before + flip * fade * angle / std::f32::consts::TAU
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::ring_field::FieldShape;
    use crate::simulate::turn::TurnTable;

    #[test]
    fn pairs_shift_circuli_but_never_on_the_axis() {
        let shape = FieldShape {
            focus: Point::new(200.0, 200.0),
            axis_angle: 0.4,
            um_per_px: 5.0,
            edge_um: 900.0,
            outer: TurnTable::new(|_| 1.0),
            inner_power: 1.0,
            wave_um: 0.0,
        };
        let field = RingField::new(shape, &mut Chance::new(1, "field"));
        let shifts =
            branches(&field, (401, 401), (900.0, 36.0), 12.0, &mut Chance::new(2, "pairs"));
        let shifted = shifts.values.iter().filter(|v| v.abs() > 0.1).count();
        assert!(shifted > 500, "{shifted}");
        for step in 0..180 {
            let at = field.focus() + field.axis_direction() * f64::from(step);
            assert_eq!(shifts.at(at.x.round() as isize, at.y.round() as isize), 0.0);
        }
    }
}
