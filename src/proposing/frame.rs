//! Polar coordinates round the focus, with the axis as their first ray. Distances in micrometres, so that
//! unequal pixels do no harm; a bent axis is turned as a whole.

use kurbo::{Point, Vec2};

use crate::domain::axis::Axis;
use crate::domain::calibration::Calibration;
use crate::domain::units::Micrometres;

/// The axis as a curve in micrometres from the focus, at equal steps, prolonged straight beyond its end.
#[derive(Debug, Clone)]
pub struct Frame {
    /// Focus, image pixels.
    pub focus: Point,
    /// Micrometres in x and y for one pixel.
    per_px: Vec2,
    /// Distance between the places of the curve, micrometres: one mean pixel.
    pub step_um: f64,
    /// Places of the curve, micrometres from the focus.
    curve: Vec<Vec2>,
    is_straight: bool,
}

impl Frame {
    /// The frame of an axis, long enough for `reach_um`.
    pub fn new(axis: &Axis, calibration: &Calibration, reach_um: f64) -> Self {
        let per_px = Vec2::new(calibration.x_um_per_px(), calibration.y_um_per_px());
        let step_um = calibration.mean_um_per_px();
        let focus = axis.focus();
        let count = (reach_um / step_um).ceil().clamp(2.0, 100_000.0) as usize + 2;
        let straight = axis.vertices().len() == 2;
        let along = axis.end() - focus;
        let along = Vec2::new(along.x * per_px.x, along.y * per_px.y);
        let unit = along / along.hypot().max(1e-12);
        let curve = (0..count)
            .map(|i| {
                let um = i as f64 * step_um;
                if straight {
                    return unit * um;
                }
                let at = axis.point_at(axis.pixels_at(Micrometres(um), calibration)) - focus;
                Vec2::new(at.x * per_px.x, at.y * per_px.y)
            })
            .collect();
        Self { focus, per_px, step_um, curve, is_straight: straight }
    }

    /// True where the axis has no bend, so that one direction holds on the whole of it.
    pub fn is_straight(&self) -> bool {
        self.is_straight
    }

    /// How far the curve reaches, steps.
    pub fn reach(&self) -> f64 {
        (self.curve.len() - 2) as f64
    }

    /// The place `steps` along the axis turned by the angle whose cosine and sine are given, image pixels.
    #[inline]
    pub fn place(&self, (cos, sin): (f64, f64), steps: f64) -> Point {
        let last = self.curve.len() - 2;
        let index = (steps.max(0.0) as usize).min(last);
        let (a, b) = (self.curve[index], self.curve[index + 1]);
        let v = a + (b - a) * (steps - index as f64);
        Point::new(
            self.focus.x + (v.x * cos - v.y * sin) / self.per_px.x,
            self.focus.y + (v.x * sin + v.y * cos) / self.per_px.y,
        )
    }

    /// [`Frame::place`] of many places on one turned axis, into `x` and `y`, which are as long.
    pub fn fill_places(&self, turn: (f64, f64), steps: &[f32], x: &mut [f32], y: &mut [f32]) {
        if self.is_straight {
            let from = self.place(turn, 0.0);
            let by = self.place(turn, 1.0) - from;
            let (from_x, from_y, by_x, by_y) =
                (from.x as f32, from.y as f32, by.x as f32, by.y as f32);
            for ((steps, x), y) in steps.iter().zip(x).zip(y) {
                *x = from_x + by_x * steps;
                *y = from_y + by_y * steps;
            }
            return;
        }
        for ((steps, x), y) in steps.iter().zip(x).zip(y) {
            let at = self.place(turn, f64::from(*steps));
            (*x, *y) = (at.x as f32, at.y as f32);
        }
    }

    /// Unit direction outward at a place, in micrometres.
    pub fn direction(&self, (cos, sin): (f64, f64), steps: f64) -> Vec2 {
        let last = self.curve.len() - 2;
        let index = (steps.max(0.0) as usize).min(last);
        let d = (self.curve[index + 1] - self.curve[index]) / self.step_um;
        Vec2::new(d.x * cos - d.y * sin, d.x * sin + d.y * cos)
    }

    /// Turns a direction in micrometres of one step's length into pixels.
    pub fn pixels(&self, direction: Vec2) -> Vec2 {
        Vec2::new(
            direction.x * self.step_um / self.per_px.x,
            direction.y * self.step_um / self.per_px.y,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::calibration::CalibrationSource;

    #[test]
    fn the_unturned_frame_is_the_axis_itself() {
        let scale = Calibration::new(2.0, 8.0, CalibrationSource::Stated).unwrap();
        let axis =
            Axis::new([Point::new(5.0, 5.0), Point::new(25.0, 10.0), Point::new(60.0, 10.0)])
                .unwrap();
        let frame = Frame::new(&axis, &scale, 300.0);
        for steps in [0.0, 3.5, 11.0, 24.25, 50.0] {
            let um = Micrometres(steps * frame.step_um);
            let wanted = axis.point_at(axis.pixels_at(um, &scale));
            assert!((frame.place((1.0, 0.0), steps) - wanted).hypot() < 0.3, "{steps}");
        }
    }
}
