//! An otolith: zones, texture, sulcus, and the light that makes one zone dark.

use super::canvas::Canvas;
use super::chance::{Chance, Grain, ease, rise};
use super::otolith_outline::{OtolithOutline, is_section};
use super::picture::{Drawn, Layout};
use super::ring_field::Place;
use super::spec::PictureSpec;
use super::truth::{AnnulusTruth, CheckTruth, Difficulty, Style};
use super::turn::{TurnTable, wrapped};
use super::zones::{FalseZone, OpacityTable, ZoneLook, zone_inner_um};

/// Outline and axis of an otolith.
pub(super) fn lay_out(spec: &PictureSpec, chance: &mut Chance) -> (Layout, OtolithOutline) {
    let outline = OtolithOutline::draw(spec.style, chance);
    let tilt = chance.between(-0.436, 0.436);
    let layout = Layout {
        outer: outline.margin(),
        axis_angle: outline.axis + tilt,
        axis_from_anterior: outline.axis,
        inner_power: chance.between(0.62, 0.85),
        wave_um: chance.between(3.0, 9.0) * (1.0 + 0.4 * spec.difficulty.grade()),
    };
    (layout, outline)
}

/// Paints the otolith and says what is on it.
pub(super) fn draw(
    spec: &PictureSpec,
    outline: &OtolithOutline,
    drawn: &mut Drawn,
    chance: &mut Chance,
) -> Canvas {
    let seasons = spec.growth.seasons();
    let looks = draw_zones(spec, chance);
    let (all_round, sectors) = draw_checks(spec, chance);
    drawn.annuli = seasons
        .iter()
        .zip(&looks)
        .take(spec.growth.annuli_um.len())
        .map(|(season, look)| AnnulusTruth {
            um: season.end_um,
            inner_um: zone_inner_um(season, look),
            strength: look.strength,
            split: look.split,
        })
        .collect();
    drawn.checks = all_round
        .iter()
        .map(|check| CheckTruth { um: check.um, all_round: true, on_axis: true })
        .collect();
    drawn.checks.extend(sectors.iter().map(|(check, sector)| CheckTruth {
        um: check.um,
        all_round: false,
        on_axis: sector.at(0.0) > 0.5,
    }));
    drawn.checks.sort_by(|a, b| a.um.total_cmp(&b.um));
    let body = Body {
        style: spec.style,
        edge_um: spec.growth.edge_um,
        um_per_px: spec.um_per_px,
        opacity: OpacityTable::new(&seasons, &looks, &all_round, spec.growth.edge_um),
        sectors,
        sulcus: outline
            .sulcus_from_axis()
            .map(|sulcus| TurnTable::new(|angle| wrapped(angle - sulcus))),
        look: draw_look(spec, chance),
        grain: [chance.grain(), chance.grain(), chance.grain(), chance.grain()],
    };
    let field = &drawn.field;
    Canvas::painted(drawn.width, drawn.height, |x, y| {
        body.brightness(field.place(x as f64, y as f64), x as f32, y as f32)
    })
}

fn draw_zones(spec: &PictureSpec, chance: &mut Chance) -> Vec<ZoneLook> {
    let grade = spec.difficulty.grade();
    let usual_part = chance.between(0.2, 0.34);
    let fade = chance.between(0.0, 0.012) * (1.0 + grade);
    (0..=spec.growth.annuli_um.len())
        .map(|index| {
            let mut strength =
                chance.between(0.78, 1.0) - 0.13 * grade * chance.unit() - fade * index as f64;
            if index == 0 && grade > 0.0 && chance.happens(0.06 + 0.1 * grade) {
                strength *= chance.between(0.15, 0.7);
            }
            // Translucent zones take a growing part of the season as the fish ages.
            let part = usual_part * chance.factor(0.15) * (1.0 + 0.04 * index as f64).min(1.6);
            ZoneLook {
                strength: strength.max(0.12),
                part: part.min(0.55),
                split: chance.happens(0.02 + 0.05 * grade),
                summer: chance.between(0.78, 1.0),
            }
        })
        .collect()
}

fn draw_checks(
    spec: &PictureSpec,
    chance: &mut Chance,
) -> (Vec<FalseZone>, Vec<(FalseZone, TurnTable)>) {
    let count = match spec.difficulty {
        Difficulty::Easy => 0,
        Difficulty::Medium => chance.whole(0, 1),
        _ => chance.whole(1, 4),
    };
    let (mut all_round, mut sectors) = (Vec::new(), Vec::new());
    for _ in 0..count {
        let mut start_um = 0.0;
        let seasons = spec.growth.seasons();
        // Most checks lie in the wide first seasons.
        let number = (chance.unit() * chance.unit() * seasons.len() as f64) as usize;
        if let Some(season) = seasons.get(number) {
            start_um = season.start_um + chance.between(0.25, 0.65) * season.full_um;
        }
        let width_um =
            seasons.get(number).map_or(10.0, |season| 0.045 * season.full_um).clamp(4.0, 26.0);
        let check = FalseZone { um: start_um, width_um, strength: chance.between(0.25, 0.5) };
        let middle = chance.between(-2.0, 2.0);
        let half = chance.between(0.25, 0.9);
        let round = chance.happens(0.4);
        if start_um > 0.93 * spec.growth.edge_um || start_um < 30.0 {
            continue;
        }
        if round {
            all_round.push(check);
        } else {
            let sector =
                TurnTable::new(|angle| rise(half * 1.4, half * 0.7, wrapped(angle - middle).abs()));
            sectors.push((check, sector));
        }
    }
    (all_round, sectors)
}

/// Strengths of the textures.
#[derive(Debug, Clone, Copy)]
struct BodyLook {
    contrast: f32,
    striae: f32,
    laminae: f32,
    /// Strength of faint bands within a season.
    bands: f32,
    washed: f32,
    core_um: f64,
}

fn draw_look(spec: &PictureSpec, chance: &mut Chance) -> BodyLook {
    let grade = spec.difficulty.grade();
    let base = match spec.style {
        Style::SectionReflected => 0.62,
        Style::SectionTransmitted => 0.52,
        Style::BrokenBurnt => 0.58,
        Style::WholeReflected => 0.5,
        _ => 0.42,
    };
    BodyLook {
        contrast: (base * (1.0 - 0.17 * grade) * chance.factor(0.1)) as f32,
        striae: (0.09 + 0.04 * grade) as f32 * chance.factor(0.3) as f32,
        laminae: (0.06 + 0.03 * grade) as f32 * chance.factor(0.3) as f32,
        bands: (0.09 + 0.08 * grade) as f32 * chance.factor(0.3) as f32,
        washed: (0.3 + 0.2 * grade) as f32,
        core_um: chance.between(18.0, 60.0).min(0.08 * spec.growth.edge_um),
    }
}

struct Body {
    style: Style,
    edge_um: f64,
    um_per_px: f64,
    opacity: OpacityTable,
    sectors: Vec<(FalseZone, TurnTable)>,
    sulcus: Option<TurnTable>,
    look: BodyLook,
    grain: [Grain; 4],
}

impl Body {
    fn brightness(&self, place: Place, x: f32, y: f32) -> f32 {
        let soft_um = 2.0 * self.um_per_px;
        let inside = rise(self.edge_um + soft_um, self.edge_um - soft_um, place.ring_um) as f32;
        let background = self.background(x, y, place);
        if inside <= 0.0 {
            return background;
        }
        let opacity = self.textured_opacity(place, x, y);
        let body = self.lit(opacity, place, x, y);
        background + (body - background) * inside
    }

    /// Opacity with all the textures in it, about 0 to 1.
    fn textured_opacity(&self, place: Place, x: f32, y: f32) -> f32 {
        let [striae, laminae, cloud, _] = self.grain;
        let turn = place.turn as f32;
        let ring = place.ring_um as f32;
        let mut opacity = self.opacity.at(place.ring_um);
        for (check, sector) in &self.sectors {
            let d = (place.ring_um - check.um) / check.width_um;
            opacity -= (check.strength * (1.0 - d * d).max(0.0) * sector.at(place.turn)) as f32;
        }
        let around = turn * 0.25;
        // Zones fade in and out round the otolith; never quite on the axis, where readers choose to measure.
        let off_axis = ease(turn.min(4.0 - turn) / 0.35);
        let patch = (2.0 * cloud.ringed(around, 9, ring / 420.0)
            + cloud.ringed(around, 21, ring / 190.0))
            / 3.0;
        let washed = self.look.washed * (0.25 + 0.75 * off_axis) * ease((patch - 0.35) / 0.4);
        opacity += (0.62 - opacity) * washed;
        opacity += self.bands(around, ring);
        let stria = striae.ringed(around, 340, ring / 240.0)
            + striae.ringed(around, 96, ring / 430.0)
            - 1.0;
        opacity += self.look.striae * stria * ease(ring / 160.0);
        let layer_um = (6.5_f32).max(2.4 * self.um_per_px as f32);
        let layer = laminae.ringed(around, 23, ring / layer_um)
            + laminae.ringed(around, 11, ring / (3.7 * layer_um))
            - 1.0;
        opacity += self.look.laminae * layer;
        let spot = rise(self.look.core_um, 0.4 * self.look.core_um, place.away_um) as f32;
        opacity += 0.25 * spot + 0.08 * (cloud.cloudy(x / 37.0, y / 37.0) - 0.5);
        opacity
    }

    /// Bands within a season: feeding and spawning leave faint zones that come and go round the otolith.
    fn bands(&self, around: f32, ring: f32) -> f32 {
        let [_, laminae, cloud, _] = self.grain;
        let band_um = (0.035 * self.edge_um as f32).clamp(9.0, 60.0);
        let band = laminae.ringed(around, 5, ring / band_um + 300.0)
            + laminae.ringed(around, 4, ring / (2.3 * band_um) + 500.0)
            - 1.0;
        let where_seen = 0.4 + 1.2 * cloud.ringed(around, 7, ring / (6.0 * band_um) + 90.0);
        self.look.bands * band * where_seen * (1.2 - 0.7 * ring / self.edge_um as f32)
    }

    fn lit(&self, opacity: f32, place: Place, x: f32, y: f32) -> f32 {
        let part = (place.ring_um / self.edge_um) as f32;
        let k = self.look.contrast;
        let sulcus = self.sulcus_shade(place);
        match self.style {
            Style::SectionReflected => 0.12 + k * opacity + 0.10 * (1.0 - part) - 0.28 * sulcus,
            Style::SectionTransmitted => {
                let through = 0.88 - k * opacity - 0.12 * (1.0 - part) * (1.0 - part);
                (through - 0.25 * sulcus) * (1.0 - 0.35 * ease((part - 0.985) / 0.015))
            }
            Style::BrokenBurnt => {
                let [.., char_grain] = self.grain;
                let charred = 0.10 * char_grain.cloudy(x / 120.0, y / 120.0) + 0.10 * part;
                let facets = char_grain.smooth(x / 9.0, y / 5.0)
                    - char_grain.smooth((x + 2.0) / 9.0, (y + 2.0) / 5.0);
                0.22 + k * opacity - charred + 0.22 * facets - 0.22 * sulcus
            }
            Style::WholeReflected => {
                let thick = 1.0 - part * part;
                let zones = k * (0.35 + 0.65 * ease(part * 1.6)) * (opacity - 0.5);
                0.36 + zones + 0.26 * thick + 0.06 * ease((part - 0.96) / 0.04)
            }
            _ => {
                let thick = 1.0 - part * part;
                let zones = k * (0.45 + 0.55 * ease(part * 1.5)) * (0.5 - opacity);
                0.60 + zones - 0.34 * thick - 0.12 * ease((part - 0.97) / 0.03)
            }
        }
    }

    /// The sulcus groove: a dark wedge that widens outwards.
    fn sulcus_shade(&self, place: Place) -> f32 {
        let Some(table) = &self.sulcus else { return 0.0 };
        let away = table.at(place.turn).abs();
        if away > 0.6 {
            return 0.0;
        }
        let part = place.ring_um / self.edge_um;
        let across_um = away * place.away_um;
        let half_um = 4.0 + 0.035 * self.edge_um * part * part;
        let line = (1.0 - across_um / (2.0 * half_um)).max(0.0);
        (line * rise(0.15, 0.6, part)) as f32
    }

    fn background(&self, x: f32, y: f32, place: Place) -> f32 {
        let [.., cloud, grain] = self.grain;
        let haze = cloud.cloudy(x / 240.0, y / 240.0);
        let beyond = ((place.ring_um - self.edge_um) / self.edge_um).max(0.0) as f32;
        match self.style {
            Style::SectionReflected => 0.055 + 0.04 * haze + 0.05 / (1.0 + 14.0 * beyond),
            Style::SectionTransmitted => 0.90 + 0.05 * (haze - 0.5),
            Style::BrokenBurnt => {
                0.20 + 0.09 * haze + 0.06 * (grain.smooth(x / 6.0, y / 6.0) - 0.5)
            }
            Style::WholeReflected => 0.04 + 0.03 * haze + 0.07 / (1.0 + 18.0 * beyond),
            _ => 0.86 + 0.06 * (haze - 0.5),
        }
    }
}

/// True where the surface was ground or broken: it carries grinding marks or facets.
pub(super) fn is_ground(style: Style) -> bool {
    is_section(style) && style != Style::BrokenBurnt
}
