//! Outlines of otoliths: transverse sections with a sulcus, and whole otoliths with a rostrum and lobes.

use std::f64::consts::{PI, TAU};

use super::chance::{Chance, rise};
use super::oval::Oval;
use super::truth::Style;
use super::turn::{TurnTable, wrapped};

/// The margin of an otolith, by angle from its long axis (a section's ventral tip, a whole otolith's rostrum).
#[derive(Debug, Clone)]
pub(super) struct OtolithOutline {
    oval: Oval,
    uneven: Vec<(f64, f64, f64)>,
    /// Direction of the sulcus, for sections.
    pub sulcus: Option<f64>,
    notch: (f64, f64),
    rostrum: f64,
    lobes: (f64, f64, f64),
    /// A usual direction to measure in.
    pub axis: f64,
}

impl OtolithOutline {
    /// An outline of a style.
    pub fn draw(style: Style, chance: &mut Chance) -> Self {
        let section = is_section(style);
        let uneven = (0..5)
            .map(|_| {
                let count = f64::from(chance.whole(2, 9));
                (count, chance.between(0.0, TAU), 0.05 / count * chance.between(0.3, 1.3))
            })
            .collect();
        let side = chance.sign();
        let sulcus = side * chance.between(0.46, 0.56) * PI;
        let axis = if section {
            match chance.whole(0, 2) {
                0 => sulcus - side * chance.between(0.35, 0.7),
                1 => chance.between(-0.25, 0.25),
                _ => PI + chance.between(-0.3, 0.3),
            }
        } else {
            PI * f64::from(chance.whole(0, 1)) + chance.between(-0.4, 0.4)
        };
        let half_width =
            if section { chance.between(0.42, 0.62) } else { chance.between(0.58, 0.76) };
        let core = if section {
            (chance.between(-0.12, 0.12), side * chance.between(-0.04, 0.10))
        } else {
            (chance.between(-0.16, 0.06), chance.between(-0.06, 0.06))
        };
        let power = if section { chance.between(1.8, 2.3) } else { chance.between(2.0, 2.3) };
        Self {
            oval: Oval::new(half_width, (core.0, core.1 * half_width), power, power),
            uneven,
            sulcus: section.then_some(sulcus),
            notch: (chance.between(0.10, 0.26), chance.between(0.13, 0.22)),
            rostrum: if section { 0.0 } else { chance.between(0.0, 0.16) },
            lobes: (
                f64::from(chance.whole(11, 23)),
                chance.between(0.0, TAU),
                if section { chance.between(0.0, 0.008) } else { chance.between(0.004, 0.02) },
            ),
            axis,
        }
    }

    fn reach(&self, angle: f64) -> f64 {
        let uneven: f64 = self
            .uneven
            .iter()
            .map(|(count, start, height)| height * libm::sin(count * angle + start))
            .sum();
        let (count, start, height) = self.lobes;
        // Lobes of uneven size, strongest on one side.
        let side =
            0.55 + 0.45 * libm::sin(angle + start) + 0.25 * libm::sin(3.0 * angle + 2.0 * start);
        let lobe = height
            * side
            * (libm::sin(count * angle + start + 1.9 * libm::sin(2.0 * angle))
                + 0.5 * libm::sin((0.6 * count).floor() * angle + 2.0 * start));
        // Rostrum and the notch beside it.
        let tip = self.rostrum
            * (rise(0.5, 0.0, wrapped(angle + 0.15).abs())
                - 0.9 * rise(0.3, 0.0, wrapped(angle - 0.5).abs()));
        let notch = self.sulcus.map_or(0.0, |sulcus| {
            let d = wrapped(angle - sulcus) / self.notch.1;
            self.notch.0 * libm::exp(-d * d)
        });
        self.oval.reach(angle) * (1.0 + uneven + lobe + tip) * (1.0 - notch)
    }

    /// The margin over its distance along the axis, by angle from the axis.
    pub fn margin(&self) -> TurnTable {
        let along = self.reach(self.axis);
        TurnTable::new(|angle| self.reach(angle + self.axis) / along)
    }

    /// Direction of the sulcus from the axis.
    pub fn sulcus_from_axis(&self) -> Option<f64> {
        self.sulcus.map(|sulcus| wrapped(sulcus - self.axis))
    }
}

/// True for cut or broken surfaces.
pub(super) fn is_section(style: Style) -> bool {
    matches!(style, Style::SectionReflected | Style::SectionTransmitted | Style::BrokenBurnt)
}
