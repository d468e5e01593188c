//! Outlines of scales: six families, each seen from its focus, and each fish a little different.

use std::f64::consts::TAU;

use super::chance::{Chance, rise};
use super::oval::Oval;
use super::truth::Style;
use super::turn::{TurnTable, wrapped};

/// The margin of a scale, by angle from the anterior midline.
#[derive(Debug, Clone)]
pub(super) struct ScaleOutline {
    oval: Oval,
    lobes: Vec<(f64, f64, f64)>,
    /// Directions of the radii (grooves) of the anterior fan, in order; empty where there are none.
    pub radii: Vec<f64>,
    /// Depth of the scallops between radii, over the radius.
    scallop: f64,
    anterior_lobes: f64,
}

impl ScaleOutline {
    /// An outline of a style.
    pub fn draw(style: Style, chance: &mut Chance) -> Self {
        let (half_width, focus, power, blunt) = match style {
            Style::PerchScale => {
                (chance.between(0.92, 1.12), chance.between(-0.42, -0.2), 2.7, 0.75)
            }
            Style::SunfishScale => {
                (chance.between(1.0, 1.2), chance.between(-0.36, -0.12), 3.4, 0.85)
            }
            Style::CiscoScale => {
                (chance.between(0.88, 1.04), chance.between(-0.08, 0.14), 2.9, 0.25)
            }
            Style::ShadScale => (chance.between(0.9, 1.05), chance.between(-0.15, 0.05), 2.2, 0.1),
            Style::PikeScale => (chance.between(0.72, 0.86), chance.between(-0.25, 0.0), 2.4, 0.0),
            _ => (chance.between(0.68, 0.82), chance.between(-0.22, 0.02), 2.15, 0.0),
        };
        let half_width = half_width * chance.factor(0.03);
        let power = power * chance.factor(0.05);
        let lobes = (0..5)
            .map(|_| {
                let count = f64::from(chance.whole(2, 7));
                (count, chance.between(0.0, TAU), 0.035 / count * chance.between(0.3, 1.4))
            })
            .collect();
        let (count, fan) = match style {
            Style::PerchScale => (chance.whole(5, 9), chance.between(0.5, 0.68)),
            Style::SunfishScale => (chance.whole(8, 14), chance.between(0.6, 0.8)),
            _ => (0, 0.0),
        };
        let spread = 2.0 * fan / f64::from(count.max(2) - 1);
        let radii = (0..count)
            .map(|i| f64::from(i) * spread - fan + spread * chance.between(-0.18, 0.18))
            .collect();
        Self {
            // The anterior half is squarer than the rounded posterior.
            oval: Oval::new(half_width, (focus, 0.0), power + 2.2 * blunt, power),
            lobes,
            radii,
            scallop: if count == 0 { 0.0 } else { chance.between(0.018, 0.034) },
            anterior_lobes: if style == Style::PikeScale {
                chance.between(0.02, 0.045)
            } else {
                0.0
            },
        }
    }

    /// The direction nearest to `angle` that lies as far as it can be from the radii beside it.
    pub fn beside_radii(&self, angle: f64) -> f64 {
        let next = self.radii.partition_point(|radius| *radius <= angle);
        match (next.checked_sub(1).and_then(|i| self.radii.get(i)), self.radii.get(next)) {
            (Some(a), Some(b)) => angle.clamp(a + 0.4 * (b - a), b - 0.4 * (b - a)),
            _ => angle,
        }
    }

    /// Distance from focus to margin at an angle from the anterior midline, in half lengths.
    fn reach(&self, angle: f64) -> f64 {
        let uneven: f64 = self
            .lobes
            .iter()
            .map(|(count, start, height)| height * libm::sin(count * angle + start))
            .sum();
        let pike = self.anterior_lobes
            * rise(1.2, 0.5, angle.abs())
            * (libm::cos(3.0 * angle * std::f64::consts::PI / 1.1) - 0.4);
        self.oval.reach(angle) * (1.0 + uneven + pike)
    }

    /// Bulge between two radii: 0 at a radius, 1 half-way; 0 outside the fan.
    fn bulge(&self, angle: f64) -> f64 {
        let next = self.radii.partition_point(|radius| *radius <= angle);
        match (next.checked_sub(1).and_then(|i| self.radii.get(i)), self.radii.get(next)) {
            (Some(a), Some(b)) => {
                let t = (angle - a) / (b - a);
                (4.0 * t * (1.0 - t)).max(0.0).sqrt()
            }
            _ => 0.75,
        }
    }

    /// The margin over its distance along an axis that lies `axis` radians from the anterior midline, by angle
    /// from that axis.
    pub fn margin(&self, axis: f64) -> TurnTable {
        let shape = |angle: f64| {
            let angle = wrapped(angle + axis);
            let fan = rise(1.6, 0.9, angle.abs());
            self.reach(angle) * (1.0 + self.scallop * fan * (self.bulge(angle) - 0.6))
        };
        let along = shape(0.0);
        TurnTable::new(|angle| shape(angle) / along)
    }
}
