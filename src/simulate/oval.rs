//! The plain oval under an outline: a superellipse seen from a point inside it.

use std::f64::consts::TAU;

use super::turn::wrapped;

/// Directions at which the oval is solved; between them a smooth curve.
const DIRECTIONS: usize = 720;

/// Distance to the margin by direction, for |x|^p + |y / half width|^p = 1.
#[derive(Debug, Clone)]
pub(super) struct Oval {
    reaches: Vec<f64>,
}

impl Oval {
    /// The oval seen from `from` (x along the half length of 1), with one power ahead of the middle and one behind.
    pub fn new(half_width: f64, from: (f64, f64), ahead: f64, behind: f64) -> Self {
        let solved = |angle: f64| {
            let (sin, cos) = (libm::sin(angle), libm::cos(angle));
            let inside = |r: f64| {
                let (x, y) = (from.0 + r * cos, from.1 + r * sin);
                let power = if x > 0.0 { ahead } else { behind };
                libm::pow(x.abs(), power) + libm::pow((y / half_width).abs(), power) < 1.0
            };
            let (mut low, mut high) = (0.0, 3.0);
            for _ in 0..26 {
                let middle = 0.5 * (low + high);
                if inside(middle) {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            low
        };
        Self {
            reaches: (0..DIRECTIONS).map(|i| solved(i as f64 * TAU / DIRECTIONS as f64)).collect(),
        }
    }

    /// Distance to the margin in a direction, radians.
    pub fn reach(&self, angle: f64) -> f64 {
        let place = (wrapped(angle) + TAU) / TAU * DIRECTIONS as f64;
        let index = place as usize;
        let t = place - index as f64;
        let at = |i: usize| self.reaches.get(i % DIRECTIONS).copied().unwrap_or(1.0);
        let (a, b, c, d) = (at(index + DIRECTIONS - 1), at(index), at(index + 1), at(index + 2));
        // Cubic convolution with a = -1/2 (Keys 1981).
        b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ellipse_is_met_where_its_equation_says() {
        let oval = Oval::new(0.6, (0.2, -0.05), 2.0, 2.0);
        for step in 0..500 {
            let angle = f64::from(step) * 0.0131;
            let r = oval.reach(angle);
            let (x, y) = (0.2 + r * libm::cos(angle), -0.05 + r * libm::sin(angle));
            assert!((x * x + y * y / 0.36 - 1.0).abs() < 1e-5, "{angle}");
        }
    }
}
