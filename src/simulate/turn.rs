//! Directions round the focus as a number that needs no trigonometry.
//!
//! A turn runs from 0 to 4, one for each quadrant, from the axis over the second direction; it grows with the
//! angle, and tables indexed by it are filled once with exact angles.

use std::f64::consts::{FRAC_PI_2, TAU};

/// Entries of a table over all turns.
pub const TURNS: usize = 4096;

/// The turn of direction (`u`, `v`), in [0, 4); 0 at the focus itself.
pub fn turn_of(u: f64, v: f64) -> f64 {
    let sum = u.abs() + v.abs();
    if sum <= 0.0 {
        return 0.0;
    }
    let turn = match (u >= 0.0, v >= 0.0) {
        (true, true) => v / sum,
        (false, true) => 1.0 - u / sum,
        (false, false) => 2.0 - v / sum,
        (true, false) => 3.0 + u / sum,
    };
    if turn >= 4.0 { 0.0 } else { turn }
}

/// The angle of a turn, radians, in [0, 2π).
pub fn angle_of(turn: f64) -> f64 {
    let quadrant = turn.floor();
    let f = turn - quadrant;
    quadrant * FRAC_PI_2 + libm::atan2(f, 1.0 - f)
}

/// The turn of an angle, radians.
pub fn turn_of_angle(angle: f64) -> f64 {
    turn_of(libm::cos(angle), libm::sin(angle))
}

/// An angle brought into [-π, π).
pub fn wrapped(angle: f64) -> f64 {
    let shifted = angle + TAU / 2.0;
    shifted - TAU * (shifted / TAU).floor() - TAU / 2.0
}

/// A quantity that depends on direction only, read by linear interpolation.
#[derive(Debug, Clone)]
pub struct TurnTable {
    /// One value more than [`TURNS`]: the last repeats the first.
    values: Vec<f32>,
}

impl TurnTable {
    /// Fills the table from a function of the angle from the axis, radians in [0, 2π).
    pub fn new(of_angle: impl Fn(f64) -> f64) -> Self {
        let mut values: Vec<f32> =
            (0..TURNS).map(|i| of_angle(angle_of(i as f64 * 4.0 / TURNS as f64)) as f32).collect();
        values.extend(values.first().copied());
        Self { values }
    }

    /// The value at a turn.
    pub fn at(&self, turn: f64) -> f64 {
        let place = turn * (TURNS as f64 / 4.0);
        let index = place as usize;
        match self.values.get(index..index + 2) {
            Some([a, b]) => {
                f64::from(*a) + (f64::from(*b) - f64::from(*a)) * (place - index as f64)
            }
            _ => self.values.first().copied().map_or(0.0, f64::from),
        }
    }
}

/// The angle of (`x`, `y`), radians, to 2e-4: arithmetic only, so that it is alike everywhere and quick.
pub fn rough_angle(y: f32, x: f32) -> f32 {
    let (ax, ay) = (x.abs(), y.abs());
    let small = ax.min(ay) / ax.max(ay).max(1e-20);
    let s = small * small;
    // Minimax polynomial for atan on [0, 1].
    let mut angle = ((-0.046_496_47 * s + 0.159_314_22) * s - 0.327_622_76) * s * small + small;
    if ay > ax {
        angle = std::f32::consts::FRAC_PI_2 - angle;
    }
    if x < 0.0 {
        angle = std::f32::consts::PI - angle;
    }
    if y < 0.0 { -angle } else { angle }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_and_angles_agree() {
        for step in 0..720 {
            let angle = f64::from(step) * TAU / 720.0;
            let turn = turn_of_angle(angle);
            assert!((wrapped(angle_of(turn) - angle)).abs() < 1e-9, "{angle}");
            let (y, x) = (libm::sin(angle) * 3.0, libm::cos(angle) * 3.0);
            let rough = f64::from(rough_angle(y as f32, x as f32));
            assert!(wrapped(rough - angle).abs() < 3e-4, "{angle} {rough}");
        }
    }

    #[test]
    fn a_table_is_exact_at_its_entries_and_close_between() {
        let table = TurnTable::new(|angle| 2.0 + libm::cos(angle));
        assert_eq!(table.at(0.0), 3.0);
        let angle = 1.234;
        assert!((table.at(turn_of_angle(angle)) - 2.0 - libm::cos(angle)).abs() < 1e-5);
    }
}
