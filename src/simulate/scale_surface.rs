//! The surface of a pressed scale: ridges, grooves, teeth and grain as heights, and how dark each place is.

use rayon::prelude::*;

use super::branching::branches;
use super::canvas::Canvas;
use super::chance::{Chance, Grain, ease, rise};
use super::circuli::PhaseTable;
use super::growth::Season;
use super::ring_field::{Place, RingField};
use super::turn::{TurnTable, rough_angle, turn_of_angle, wrapped};

/// Cross-section of a circulus.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Ridge {
    /// As wide as the furrow between ridges.
    Rounded,
    /// Narrow crest, broad furrow.
    Sharp,
    /// Gentle towards the focus, steep outwards.
    Shelf,
    /// Flat top, steep flanks.
    Flat,
    /// Neither ridge nor furrow: an even wave.
    Wave,
}

impl Ridge {
    /// Height, 0 to 1, at a distance of `d` spacings from the crest, -0.5 to 0.5.
    fn height(self, d: f32) -> f32 {
        let round = 1.0 - 4.0 * d * d;
        match self {
            Self::Rounded => round * round,
            Self::Sharp => round * round * round * round * round,
            Self::Wave => round.max(0.0) * (1.5 - 0.5 * round),
            Self::Shelf if d < 0.0 => {
                let t = (2.0 * d + 1.0).max(0.0);
                t * t.sqrt()
            }
            Self::Shelf => 1.0 - ease(d / 0.22),
            Self::Flat => 1.0 - ease((d.abs() - 0.07) / 0.22),
        }
    }
}

/// What differs from scale to scale besides rings and outline.
#[derive(Debug, Clone)]
pub(super) struct SurfaceLook {
    pub ridge: Ridge,
    /// Height of a ridge, µm.
    pub relief_um: f32,
    /// Part of a season's circuli that end before the annulus in the lateral fields.
    pub cut_over: f64,
    /// Height of circuli in the posterior field, 1 = as elsewhere.
    pub posterior: f64,
    /// True with rows of teeth in the posterior field.
    pub ctenii: bool,
    /// How often circuli are broken, 0 to 1.
    pub breaks: f32,
    /// How much darker crowded circuli make the place.
    pub crowding_tone: f32,
    /// Unevenness of pressing, 0 to 1.
    pub uneven: f32,
    /// Number of places where circuli branch, per square millimetre.
    pub branching: f64,
    /// Height of fine grain of the surface, µm.
    pub grain_um: f32,
    /// How far circuli stray from the rings off the axis, in spacings.
    pub crooked: f32,
}

/// A check in a sector.
#[derive(Debug, Clone)]
pub(super) struct SectorCheck {
    pub um: f64,
    /// 1 inside its sector, 0 outside.
    pub sector: TurnTable,
    pub width_um: f64,
}

/// What the years left: seasons, winters, checks.
pub(super) struct Winters<'a> {
    pub seasons: &'a [Season],
    /// How plain each annulus is.
    pub strengths: &'a [f64],
    pub checks: Vec<SectorCheck>,
}

/// All that shapes the surface.
pub(super) struct ScaleSurface<'a> {
    pub field: &'a RingField,
    pub winters: Winters<'a>,
    pub phases: PhaseTable,
    pub look: SurfaceLook,
    pub edge_um: f64,
    pub um_per_px: f64,
    pub summer_um: f64,
    pub regenerated_um: f64,
    /// Angle from the anterior midline to the axis.
    pub axis_angle: f64,
    tables: Tables,
    grain: [Grain; 4],
}

/// Quantities by direction from the axis.
struct Tables {
    lateral: TurnTable,
    posterior: TurnTable,
    /// Angle to the nearest radius, radians; large where there is none.
    groove: TurnTable,
    /// Where that radius begins, over the edge.
    groove_start: TurnTable,
}

impl<'a> ScaleSurface<'a> {
    pub fn new(
        field: &'a RingField,
        winters: Winters<'a>,
        phases: PhaseTable,
        look: SurfaceLook,
        sizes: SurfaceSizes,
        radii: &[f64],
        chance: &mut Chance,
    ) -> Self {
        let starts: Vec<f64> = radii.iter().map(|_| chance.between(0.08, 0.45)).collect();
        let axis = sizes.axis_angle;
        let nearest = |angle: f64| {
            let angle = wrapped(angle + axis);
            radii
                .iter()
                .enumerate()
                .min_by(|a, b| (a.1 - angle).abs().total_cmp(&(b.1 - angle).abs()))
                .map(|(index, radius)| (index, (radius - angle).abs()))
        };
        let tables = Tables {
            lateral: TurnTable::new(|angle| {
                let a = wrapped(angle + axis).abs();
                rise(0.55, 1.2, a) * rise(2.5, 1.7, a) - rise(0.55, 1.2, axis.abs())
            }),
            posterior: TurnTable::new(|angle| rise(1.75, 2.25, wrapped(angle + axis).abs())),
            groove: TurnTable::new(|angle| nearest(angle).map_or(9.0, |(_, away)| away)),
            groove_start: TurnTable::new(|angle| {
                nearest(angle).and_then(|(index, _)| starts.get(index).copied()).unwrap_or(9.0)
            }),
        };
        Self {
            field,
            winters,
            phases,
            look,
            edge_um: sizes.edge_um,
            um_per_px: sizes.um_per_px,
            summer_um: sizes.summer_um,
            regenerated_um: sizes.regenerated_um,
            axis_angle: axis,
            tables,
            grain: [chance.grain(), chance.grain(), chance.grain(), chance.grain()],
        }
    }

    /// Heights (pixels) and tone of the whole picture.
    pub fn painted(&self, width: usize, height: usize, chance: &mut Chance) -> (Canvas, Canvas) {
        let sizes_um = (self.edge_um, self.summer_um);
        let branches = branches(self.field, (width, height), sizes_um, self.look.branching, chance);
        let mut both = vec![(0.0_f32, 0.0_f32); width * height];
        both.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
            for (x, cell) in row.iter_mut().enumerate() {
                let place = self.field.place(x as f64, y as f64);
                let bent = branches.values.get(y * width + x).copied().unwrap_or(0.0);
                *cell = self.height_and_tone(place, bent, x as f32, y as f32);
            }
        });
        let heights = both.iter().map(|pair| pair.0).collect();
        let tone = both.iter().map(|pair| pair.1).collect();
        (Canvas { width, height, values: heights }, Canvas { width, height, values: tone })
    }

    fn height_and_tone(&self, place: Place, bent: f32, x: f32, y: f32) -> (f32, f32) {
        let px = self.um_per_px as f32;
        let [_, _, grain, cloud] = self.grain;
        let (gx, gy) = (x * px, y * px);
        let posterior = self.posterior(place, gx, gy);
        let reach_um = self.edge_um + self.tooth_um(place, posterior);
        let inside = rise(reach_um + 5.0, reach_um - 9.0, place.ring_um) as f32;
        let fine = (grain.smooth(gx / 11.0, gy / 11.0) - 0.5) * self.look.grain_um;
        if inside <= 0.0 {
            return (0.35 * fine / px, 0.0);
        }
        let pressing = 1.0 - self.look.uneven * cloud.cloudy(gx / 900.0, gy / 900.0);
        // Circuli are a little crooked everywhere but on the axis, where they are measured.
        let off_axis = place.turn.min(4.0 - place.turn) as f32;
        let crooked = grain.smooth(gx / 75.0 + 13.0, gy / 75.0)
            + 1.5 * cloud.smooth(gx / 190.0, gy / 190.0)
            - 1.25;
        let bent = bent + self.look.crooked * crooked * ease(off_axis / 0.12);
        let (ridge, tone) = self.circulus(place, bent, posterior as f32);
        let groove = self.groove(place, gx, gy);
        let mut um = ridge * self.look.relief_um * (1.0 - 0.85 * groove)
            - 1.2 * self.look.relief_um * groove;
        um += self.coarse(place, posterior as f32, gx, gy) + fine;
        let height = (um * pressing * inside - 4.0 * inside) / px;
        (height, (tone * pressing + 0.07 * groove) * inside + 0.05 * inside)
    }

    /// 1 in the posterior field, 0 elsewhere, with a ragged border.
    fn posterior(&self, place: Place, gx: f32, gy: f32) -> f64 {
        let opposite = 2.0 - (place.turn - 2.0).abs();
        if opposite < 0.7 {
            return 0.0;
        }
        let [.., cloud] = self.grain;
        let ragged = f64::from(cloud.cloudy(gx / 210.0 + 31.0, gy / 210.0) - 0.5);
        self.tables.posterior.at((place.turn + 0.5 * ragged).clamp(0.0, 3.999))
    }

    /// Height of the ridge, 0 to 1, and how dark crowding makes the place.
    fn circulus(&self, place: Place, bent: f32, posterior: f32) -> (f32, f32) {
        let number = self.winters.seasons.partition_point(|season| season.end_um <= place.ring_um);
        let Some(season) = self.winters.seasons.get(number).or(self.winters.seasons.last()) else {
            return (0.0, 0.0);
        };
        let lateral = self.tables.lateral.at(place.turn).max(0.0);
        let cut = self.look.cut_over * lateral;
        let mut eff_um = season.start_um + (place.ring_um - season.start_um) * (1.0 - cut);
        let mut check_tone = 0.0;
        for check in &self.winters.checks {
            let d = (place.ring_um - check.um) / check.width_um;
            if d.abs() < 2.0 {
                let bell =
                    (1.0 - 0.25 * d * d) * (1.0 - 0.25 * d * d) * check.sector.at(place.turn);
                eff_um += 0.8 * check.width_um * bell * 0.55;
                check_tone += 0.10 * bell as f32;
            }
        }
        let (phase, spacing_um) = self.phases.at(eff_um);
        let phase = phase + bent;
        let crest = (phase + 0.5).floor();
        let stretch = place.away_um / place.ring_um.max(1.0) / (1.0 - cut);
        let spacing_px = f64::from(spacing_um) * stretch / self.um_per_px;
        let resolved = rise(1.3, 2.8, spacing_px) as f32;
        let (winter, gap) = self.winter_nearness(place.ring_um, number);
        let mut amount = self.whole(place, crest, winter) * resolved;
        amount *= 1.0 - posterior * (1.0 - self.look.posterior as f32);
        amount *= 1.0 - (lateral as f32) * gap * 0.8;
        let begun = ease((phase + 0.6) / 0.3)
            * rise(self.regenerated_um, self.regenerated_um * 1.03 + 12.0, place.ring_um) as f32;
        let crowded = (self.summer_um as f32 / spacing_um.max(1.0) - 1.0).clamp(-0.3, 1.2);
        let tone = self.look.crowding_tone * crowded * begun * (1.0 - 0.7 * posterior) + check_tone;
        (self.look.ridge.height(phase - crest) * amount * begun, tone)
    }

    /// How much of a circulus is there: breaks and swellings along it, many near a winter.
    fn whole(&self, place: Place, crest: f32, winter: f32) -> f32 {
        let [breaks, swell, ..] = self.grain;
        let part = place.turn as f32 * 0.25;
        let row = crest as i32;
        let cells = 5 + row.max(0);
        let gone = self.look.breaks * (0.12 + 1.1 * winter);
        let from = breaks.at(row, -7);
        let fading = 0.04 + 0.9 * self.look.breaks;
        let there = ease((breaks.around(part + from, cells, row) - gone * 0.75) / fading);
        there * (0.8 + 0.3 * swell.around(part + from, 3 + cells / 3, row))
    }

    /// How near the winter is (0 to 1), and how near its very line.
    fn winter_nearness(&self, ring_um: f64, number: usize) -> (f32, f32) {
        let nearest = |index: Option<usize>| {
            let index = index?;
            let season = self.winters.seasons.get(index).filter(|season| season.complete)?;
            Some((
                (ring_um - season.end_um).abs(),
                self.winters.strengths.get(index).copied().unwrap_or(1.0),
            ))
        };
        let mut best = (0.0_f64, 0.0_f64);
        for (away_um, strength) in
            [nearest(number.checked_sub(1)), nearest(Some(number))].into_iter().flatten()
        {
            best.0 =
                best.0.max(strength * rise(2.6 * self.summer_um, 0.4 * self.summer_um, away_um));
            best.1 =
                best.1.max(strength * rise(0.5 * self.summer_um, 0.1 * self.summer_um, away_um));
        }
        (best.0 as f32, best.1 as f32)
    }

    fn groove(&self, place: Place, gx: f32, gy: f32) -> f32 {
        let [.., grain, cloud] = self.grain;
        // Radii run a little crooked, all of them together where the scale was bent in pressing.
        let free = (1.0 - place.ring_um / self.edge_um).max(0.0);
        let lean = f64::from(cloud.along(place.ring_um as f32 / 600.0, 5) - 0.5) * 0.05 * free;
        let away = self.tables.groove.at((place.turn + lean + 4.0) % 4.0);
        if away > 0.5 {
            return 0.0;
        }
        let start = self.tables.groove_start.at(place.turn) * self.edge_um;
        let stray_um = f64::from(grain.smooth(gx / 160.0 + 50.0, gy / 160.0) - 0.5) * 16.0;
        let d = (away * place.away_um + stray_um) / 11.0;
        let depth = (1.0 - 0.25 * d * d).max(0.0);
        (depth * depth * rise(start, start * 1.1 + 20.0, place.ring_um)) as f32
    }

    /// Grain of the centre and of the posterior field, µm.
    fn coarse(&self, place: Place, posterior: f32, gx: f32, gy: f32) -> f32 {
        let [.., grain, cloud] = self.grain;
        let mut um = 0.0;
        if posterior > 0.0 {
            let bumps =
                grain.pebbles(gx / 34.0, gy / 34.0) * (0.4 + cloud.smooth(gx / 70.0, gy / 70.0));
            let size = if self.look.ctenii { 0.9 } else { 0.3 };
            um += posterior * size * self.look.relief_um * bumps;
            if self.look.ctenii {
                um += self.ctenius(place, posterior);
            }
        }
        if place.ring_um < self.regenerated_um {
            um += self.look.relief_um
                * (0.9 * grain.pebbles(gx / 52.0, gy / 44.0) * cloud.smooth(gx / 90.0, gy / 90.0));
        }
        um
    }

    /// Rows of old teeth in the posterior field, µm.
    fn ctenius(&self, place: Place, posterior: f32) -> f32 {
        let depth = (self.edge_um - place.ring_um) / 95.0;
        if !(0.0..7.0).contains(&depth) {
            return 0.0;
        }
        let row = depth.floor();
        let across = self.tooth_place(place) + 0.5 * row;
        let (u, v) = ((across - across.floor() - 0.5) as f32, (depth - row - 0.5) as f32);
        let tooth = (1.0 - 7.0 * u * u - 3.6 * v * v).max(0.0);
        posterior * tooth * self.look.relief_um * (2.6 - 0.3 * row as f32)
    }

    /// Teeth beyond the margin, µm.
    fn tooth_um(&self, place: Place, posterior: f64) -> f64 {
        if !self.look.ctenii || posterior <= 0.0 || place.ring_um < self.edge_um {
            return 0.0;
        }
        let across = self.tooth_place(place);
        let u = (across - across.floor() - 0.5).abs();
        posterior * 110.0 * (1.0 - 3.0 * u).max(0.0)
    }

    /// Number of the tooth in the direction of a place.
    fn tooth_place(&self, place: Place) -> f64 {
        let quadrant = place.turn.floor();
        let f = (place.turn - quadrant) as f32;
        let angle = quadrant * std::f64::consts::FRAC_PI_2 + f64::from(rough_angle(f, 1.0 - f));
        let reach_um = self.field.margin_at(turn_of_angle(std::f64::consts::PI - self.axis_angle))
            * self.edge_um;
        angle * (reach_um / 85.0).max(4.0)
    }
}

/// Sizes of a surface, µm unless named otherwise.
#[derive(Debug, Clone, Copy)]
pub(super) struct SurfaceSizes {
    pub edge_um: f64,
    pub um_per_px: f64,
    pub summer_um: f64,
    pub regenerated_um: f64,
    pub axis_angle: f64,
}
