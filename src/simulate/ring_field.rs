//! The shape of the rings: for every place of the picture the distance along the axis of the ring through it.

use kurbo::{Point, Vec2};

use super::chance::Chance;
use super::turn::{TurnTable, turn_of, turn_of_angle};

/// Entries of a table over distance.
const STEPS: usize = 512;

/// Rings round a focus. Along the axis the field is the plain distance from the focus, exactly; elsewhere rings
/// follow the outline, rounder near the focus, with a slight waviness.
#[derive(Debug, Clone)]
pub struct RingField {
    focus: Point,
    /// Unit vector of the axis, image pixels.
    along: Vec2,
    um_per_px: f64,
    edge_um: f64,
    inner: TurnTable,
    outer: TurnTable,
    waves: Vec<Wave>,
}

/// One term of the waviness: a factor over direction, 0 on the axis, times a factor over distance, µm.
#[derive(Debug, Clone)]
struct Wave {
    round: TurnTable,
    outward: Vec<f32>,
}

/// A place seen from the focus.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    /// Distance along the axis of the ring through it, µm.
    pub ring_um: f64,
    /// Direction from the axis, see [`super::turn`].
    pub turn: f64,
    /// Straight distance from the focus, µm.
    pub away_um: f64,
}

/// What a field is made from.
pub(super) struct FieldShape {
    /// Focus, image pixels.
    pub focus: Point,
    /// Angle of the axis in the picture, radians, from x towards y.
    pub axis_angle: f64,
    /// Micrometres per pixel.
    pub um_per_px: f64,
    /// Focus to margin along the axis, µm.
    pub edge_um: f64,
    /// Shape of the margin: distance over that along the axis, by angle from the axis.
    pub outer: TurnTable,
    /// How much of the margin's shape the innermost rings have: the exponent on it.
    pub inner_power: f64,
    /// Height of the waves, µm.
    pub wave_um: f64,
}

impl RingField {
    pub(super) fn new(shape: FieldShape, chance: &mut Chance) -> Self {
        let outer = shape.outer;
        let inner = TurnTable::new(|angle| {
            libm::pow(outer.at(turn_of_angle(angle)).max(0.05), shape.inner_power)
        });
        let waves = (0..4).map(|_| Wave::draw(shape.wave_um, shape.edge_um, chance)).collect();
        Self {
            focus: shape.focus,
            along: Vec2::new(libm::cos(shape.axis_angle), libm::sin(shape.axis_angle)),
            um_per_px: shape.um_per_px,
            edge_um: shape.edge_um,
            inner,
            outer,
            waves,
        }
    }

    /// The same rings with the focus moved by `shift` pixels.
    pub(super) fn moved(mut self, shift: Vec2) -> Self {
        self.focus += shift;
        self
    }

    /// Focus, image pixels.
    pub fn focus(&self) -> Point {
        self.focus
    }

    /// Unit vector of the axis, image pixels.
    pub fn axis_direction(&self) -> Vec2 {
        self.along
    }

    /// Distance along the axis of the ring through a place, µm.
    pub fn ring_um_at(&self, at: Point) -> f64 {
        self.place(at.x, at.y).ring_um
    }

    /// Where the ring that meets the axis at `ring_um` lies in the direction `angle` from the axis (radians,
    /// growing from x towards y), image pixels.
    pub fn ring_point(&self, ring_um: f64, angle: f64) -> Point {
        let away_px = self.away_um(ring_um, turn_of_angle(angle)) / self.um_per_px;
        let (sin, cos) = (libm::sin(angle), libm::cos(angle));
        let across = Vec2::new(-self.along.y, self.along.x);
        self.focus + (self.along * cos + across * sin) * away_px
    }

    /// Straight distance from the focus of a ring in a direction, µm.
    pub(super) fn away_um(&self, ring_um: f64, turn: f64) -> f64 {
        // The waves move a ring by far less than their own length, so this settles quickly.
        let mut smooth_um = ring_um;
        for _ in 0..12 {
            smooth_um = ring_um - self.wave_um(smooth_um, turn);
        }
        let (inner, outer) = (self.inner.at(turn), self.outer.at(turn));
        smooth_um * (inner + (outer - inner) * smooth_um / self.edge_um)
    }

    pub(super) fn place(&self, x: f64, y: f64) -> Place {
        let (dx, dy) = (x - self.focus.x, y - self.focus.y);
        let u = (dx * self.along.x + dy * self.along.y) * self.um_per_px;
        let v = (dy * self.along.x - dx * self.along.y) * self.um_per_px;
        let away_um = (u * u + v * v).sqrt();
        let turn = turn_of(u, v);
        let (inner, outer) = (self.inner.at(turn), self.outer.at(turn));
        // Solves away = ring × (inner + (outer - inner) × ring / edge) for the ring.
        let bend = (outer - inner) / self.edge_um;
        let root = (inner * inner + 4.0 * bend * away_um).max(0.04 * inner * inner).sqrt();
        let smooth_um = 2.0 * away_um / (inner + root);
        Place { ring_um: smooth_um + self.wave_um(smooth_um, turn), turn, away_um }
    }

    /// The outline's margin over the distance along the axis, at a turn.
    pub(super) fn margin_at(&self, turn: f64) -> f64 {
        self.outer.at(turn)
    }

    /// Smallest box round the margin, image pixels: x0, y0, x1, y1.
    pub(super) fn bounds_px(&self) -> [f64; 4] {
        let mut bounds = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
        for step in 0..360 {
            let point =
                self.ring_point(self.edge_um, f64::from(step) * std::f64::consts::PI / 180.0);
            bounds = [
                bounds[0].min(point.x),
                bounds[1].min(point.y),
                bounds[2].max(point.x),
                bounds[3].max(point.y),
            ];
        }
        bounds
    }

    fn wave_um(&self, ring_um: f64, turn: f64) -> f64 {
        let place =
            ((ring_um / self.edge_um) * (STEPS as f64 / 1.5)).clamp(0.0, (STEPS - 2) as f64);
        let index = place as usize;
        let f = place - index as f64;
        let mut sum = 0.0;
        for wave in &self.waves {
            if let Some([a, b]) = wave.outward.get(index..index + 2) {
                let outward = f64::from(*a) + (f64::from(*b) - f64::from(*a)) * f;
                sum += wave.round.at(turn) * outward;
            }
        }
        sum
    }
}

impl Wave {
    fn draw(height_um: f64, edge_um: f64, chance: &mut Chance) -> Self {
        let lobes = f64::from(chance.whole(2, 9));
        let start = chance.between(0.0, std::f64::consts::TAU);
        // At most two crests from focus to margin, so that the field never turns back on itself.
        let crests = chance.between(0.4, 2.0);
        let outset = chance.between(0.0, std::f64::consts::TAU);
        let height = height_um.min(edge_um * 0.02) * chance.between(0.4, 1.0);
        let round = TurnTable::new(|angle| libm::sin(lobes * angle + start) - libm::sin(start));
        let outward = (0..STEPS)
            .map(|step| {
                let part = step as f64 * 1.5 / STEPS as f64;
                let grown = (part * 2.0).min(1.0);
                let wave = libm::sin(std::f64::consts::TAU * crests * part + outset);
                (height * grown * wave * 0.5) as f32
            })
            .collect();
        Self { round, outward }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn field() -> RingField {
        let shape = FieldShape {
            focus: Point::new(300.0, 420.0),
            axis_angle: -1.3,
            um_per_px: 4.0,
            edge_um: 1600.0,
            outer: TurnTable::new(|angle| 0.8 + 0.2 * libm::cos(angle)),
            inner_power: 0.6,
            wave_um: 14.0,
        };
        RingField::new(shape, &mut Chance::new(5, "field"))
    }

    #[test]
    fn the_axis_measures_true() {
        let field = field();
        for um in [10.0, 200.0, 777.7, 1599.0] {
            let at = field.focus() + field.axis_direction() * (um / 4.0);
            assert!((field.ring_um_at(at) - um).abs() < 1e-6, "{um}");
        }
    }

    #[test]
    fn a_ring_is_found_again_where_it_is_said_to_lie() {
        let field = field();
        for step in 0..90 {
            let angle = f64::from(step) * 0.07;
            for um in [150.0, 700.0, 1580.0] {
                let at = field.ring_point(um, angle);
                assert!((field.ring_um_at(at) - um).abs() < 0.05, "{um} at {angle}");
            }
        }
    }
}
