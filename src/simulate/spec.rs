//! What picture to draw: stated in full, or drawn at random from sensible ranges.

use crate::domain::reading::Structure;

use super::chance::Chance;
use super::growth::{GrowthRecord, draw_growth};
use super::picture::extent_um;
use super::truth::{Difficulty, Style};

/// Largest side of a picture, pixels.
pub const LARGEST_SIDE_PX: usize = 12_000;

/// Largest distance from focus to margin, µm.
pub const LARGEST_EDGE_UM: f64 = 100_000.0;

/// How the picture is cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Frame {
    /// As large as the structure, and this many pixels of background on each side.
    Margin(usize),
    /// Width and height in pixels, the structure in the middle. Axis and focus must fit.
    Size(usize, usize),
}

/// Depth of the samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Depth {
    /// 8 bits a pixel.
    #[default]
    Eight,
    /// 16 bits a pixel.
    Sixteen,
}

/// A picture to be drawn. Equal specs give equal pictures, on every machine.
#[derive(Debug, Clone, PartialEq)]
pub struct PictureSpec {
    /// Kind of picture; settles structure and light.
    pub style: Style,
    /// Grades the nuisances: dirt, blur, weak rings, checks.
    pub difficulty: Difficulty,
    /// Seed of everything that is not stated here.
    pub seed: u64,
    /// Micrometres per pixel, alike in x and y.
    pub um_per_px: f64,
    /// How the picture is cut.
    pub frame: Frame,
    /// Depth of the samples.
    pub depth: Depth,
    /// The growth to draw: annulus radii and edge along the axis.
    pub growth: GrowthRecord,
    /// Radius of a lost and regrown centre along the axis, µm. Scales only; otoliths do not regrow.
    pub regenerated_um: Option<f64>,
}

/// Why a picture cannot be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SpecError {
    /// A pixel size, edge, fraction or regrown centre that is not a positive finite number.
    #[error("{what} of {found} cannot be drawn: give a positive number")]
    NotPositive {
        /// Which number.
        what: &'static str,
        /// The number found.
        found: f64,
    },
    /// A structure larger than any fish's.
    #[error(
        "an edge of {found} µm cannot be drawn: no scale or otolith is wider than 100000 µm (100 mm)"
    )]
    TooLarge {
        /// The margin, µm.
        found: f64,
    },
    /// Annulus radii that do not increase from the focus to inside the margin.
    #[error(
        "annulus {number} lies at {found} µm, after {before} µm and before a margin at {edge} µm: radii must increase and stay inside the margin"
    )]
    OutOfOrder {
        /// Number of the annulus, from 1.
        number: usize,
        /// Its radius, µm.
        found: f64,
        /// The radius before it, µm.
        before: f64,
        /// The margin, µm.
        edge: f64,
    },
    /// A picture with a side of no or too many pixels.
    #[error(
        "a picture of {width} x {height} pixels cannot be drawn: keep each side from 32 to 12000, or change the pixel size"
    )]
    BadSize {
        /// Width, pixels.
        width: usize,
        /// Height, pixels.
        height: usize,
    },
    /// A stated picture size that leaves out the axis.
    #[error(
        "a picture of {width} x {height} pixels does not hold the whole axis: make it larger or the pixels coarser"
    )]
    AxisOutside {
        /// Width, pixels.
        width: usize,
        /// Height, pixels.
        height: usize,
    },
}

impl PictureSpec {
    /// A spec with the growth stated and everything else at its default: 8 bits, a margin of 60 pixels.
    pub fn new(
        style: Style,
        difficulty: Difficulty,
        seed: u64,
        um_per_px: f64,
        growth: GrowthRecord,
    ) -> Self {
        Self {
            style,
            difficulty,
            seed,
            um_per_px,
            frame: Frame::Margin(60),
            depth: Depth::Eight,
            growth,
            regenerated_um: None,
        }
    }

    /// Checks the numbers.
    ///
    /// # Errors
    /// [`SpecError`] for sizes that are not positive and radii out of order.
    pub fn check(&self) -> Result<(), SpecError> {
        for (what, found) in [("a pixel size", self.um_per_px), ("an edge", self.growth.edge_um)] {
            if !(found.is_finite() && found > 0.0) {
                return Err(SpecError::NotPositive { what, found });
            }
        }
        let edge = self.growth.edge_um;
        if edge > LARGEST_EDGE_UM {
            return Err(SpecError::TooLarge { found: edge });
        }
        if let Some(found) = self.growth.plus_fraction
            && !(found.is_finite() && found > 0.0)
        {
            return Err(SpecError::NotPositive { what: "a plus growth fraction", found });
        }
        let mut before = 0.0;
        for (index, &found) in self.growth.annuli_um.iter().enumerate() {
            if !(found > before && found < edge) {
                return Err(SpecError::OutOfOrder { number: index + 1, found, before, edge });
            }
            before = found;
        }
        match self.regenerated_um {
            Some(found) if !(found.is_finite() && found > 0.0) => {
                Err(SpecError::NotPositive { what: "a regrown centre", found })
            }
            _ => Ok(()),
        }
    }
}

/// A random picture of a structure: growth, pixel size, depth and oddities from sensible ranges. `style` as
/// stated, or drawn among those of the structure.
///
/// Structures that are not drawn (spines, fin rays and others) give an otolith.
pub fn draw_spec(
    structure: Structure,
    difficulty: Difficulty,
    style: Option<Style>,
    seed: u64,
) -> PictureSpec {
    let mut chance = Chance::new(seed, "spec");
    let styles =
        Style::of(if structure == Structure::Scale { structure } else { Structure::Otolith });
    let last = styles.len().saturating_sub(1) as u32;
    let drawn = styles.get(chance.whole(0, last) as usize).copied().unwrap_or(Style::PerchScale);
    let style = style.unwrap_or(drawn);
    let growth = draw_growth(style, difficulty, &mut Chance::new(seed, "growth"));
    let regrown =
        style.structure() == Structure::Scale && chance.happens(0.04 * difficulty.grade());
    let first_um = growth.annuli_um.first().copied().unwrap_or(growth.edge_um);
    let regenerated_um = regrown.then(|| {
        let reach = chance.between(0.7, 1.6) * first_um;
        reach.clamp(0.1 * growth.edge_um, 0.6 * growth.edge_um)
    });
    let mut spec = PictureSpec {
        frame: Frame::Margin(chance.whole(25, 110) as usize),
        depth: if chance.happens(0.3) { Depth::Sixteen } else { Depth::Eight },
        regenerated_um,
        ..PictureSpec::new(style, difficulty, seed, 5.0, growth)
    };
    spec.um_per_px = draw_pixel_size(&spec, &mut chance);
    spec
}

/// Scanner resolutions in use, and microscope cameras between them, so that the picture has 0.5 to 2 megapixels.
fn draw_pixel_size(spec: &PictureSpec, chance: &mut Chance) -> f64 {
    let wanted_px = 1e6 * chance.between(0.55, 1.6);
    let (width_um, height_um) =
        extent_um(spec).unwrap_or((2.0 * spec.growth.edge_um, 2.0 * spec.growth.edge_um));
    let free = (width_um * height_um / wanted_px).sqrt();
    if spec.style.structure() != Structure::Scale {
        return free;
    }
    let coarsest = match spec.difficulty {
        Difficulty::Easy => 4.3,
        Difficulty::Medium => 5.3,
        _ => 6.4,
    };
    // Finer than a microscope camera sees anything.
    let free = free.max(1.6);
    let scanner = [2400.0, 3200.0, 4800.0, 6400.0]
        .map(|dpi| 25_400.0 / dpi)
        .into_iter()
        .filter(|um| *um <= coarsest)
        .min_by(|a, b| (a / free - 1.0).abs().total_cmp(&(b / free - 1.0).abs()));
    match scanner {
        Some(um) if chance.happens(0.7) && um < 1.5 * free && um > 0.8 * free => um,
        _ => free.min(coarsest),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drawn_specs_pass_their_own_check() {
        for seed in 0..60 {
            for structure in [Structure::Scale, Structure::Otolith] {
                for difficulty in Difficulty::ALL {
                    let spec = draw_spec(structure, difficulty, None, seed);
                    assert_eq!(spec.check(), Ok(()), "seed {seed}");
                    assert_eq!(spec.style.structure(), structure);
                }
            }
        }
    }

    #[test]
    fn radii_out_of_order_are_refused() {
        let growth = GrowthRecord::new(vec![500.0, 400.0], 900.0, false);
        let spec = PictureSpec::new(Style::PerchScale, Difficulty::Easy, 1, 5.0, growth);
        assert!(matches!(spec.check(), Err(SpecError::OutOfOrder { number: 2, .. })));
        let spec = PictureSpec { um_per_px: f64::NAN, ..spec };
        assert!(matches!(spec.check(), Err(SpecError::NotPositive { .. })));
        let growth = GrowthRecord::new(Vec::new(), 2e5, false);
        let spec = PictureSpec { um_per_px: 50.0, growth, ..spec };
        assert_eq!(spec.check(), Err(SpecError::TooLarge { found: 2e5 }));
    }
}
