//! A scale impression: circuli laid, surface shaped, light thrown on it.

use super::canvas::Canvas;
use super::chance::{Chance, rise};
use super::circuli::{Fall, PhaseTable, SpacingLaw, Winter, lay_circuli};
use super::picture::{Drawn, Layout};
use super::relief::{Illumination, lit};
use super::scale_outline::ScaleOutline;
use super::scale_surface::{Ridge, ScaleSurface, SectorCheck, SurfaceLook, SurfaceSizes, Winters};
use super::spec::PictureSpec;
use super::truth::{AnnulusTruth, CheckTruth, Difficulty, Style};
use super::turn::{TurnTable, wrapped};

/// Outline and axis of a scale.
pub(super) fn lay_out(spec: &PictureSpec, chance: &mut Chance) -> (Layout, ScaleOutline) {
    let outline = ScaleOutline::draw(spec.style, chance);
    // The axis is set within the anterior field, beside a radius rather than on it, where the circuli are whole.
    let axis = outline.beside_radii(chance.between(-0.3, 0.3));
    let tilt = chance.between(-0.436, 0.436);
    let layout = Layout {
        outer: outline.margin(axis),
        axis_angle: -std::f64::consts::FRAC_PI_2 + tilt + axis,
        axis_from_anterior: axis,
        inner_power: chance.between(0.55, 0.8),
        wave_um: chance.between(5.0, 14.0) * (1.0 + 0.4 * spec.difficulty.grade()),
    };
    (layout, outline)
}

/// Paints the scale and says what is on it.
pub(super) fn draw(
    spec: &PictureSpec,
    layout: &Layout,
    outline: &ScaleOutline,
    drawn: &mut Drawn,
    chance: &mut Chance,
) -> Canvas {
    let seasons = spec.growth.seasons();
    let law = draw_law(spec, chance);
    let winters = draw_winters(spec, chance);
    let strengths: Vec<f64> = winters.iter().map(|winter| winter.strength).collect();
    let (all_round, sectors) = draw_checks(spec, &law, chance);
    let first_um = chance.between(1.2, 2.4) * law.summer_um;
    let laid = lay_circuli(&seasons, &winters, &all_round, &law, first_um, chance);
    drawn.annuli = annuli_truth(spec, &laid.inner_um, &winters);
    drawn.checks =
        all_round.iter().map(|um| CheckTruth { um: *um, all_round: true, on_axis: true }).collect();
    drawn.checks.extend(sectors.iter().map(|check| CheckTruth {
        um: check.um,
        all_round: false,
        on_axis: check.sector.at(0.0) > 0.5,
    }));
    drawn.checks.sort_by(|a, b| a.um.total_cmp(&b.um));
    drawn.circuli_um.clone_from(&laid.at_um);
    let sizes = SurfaceSizes {
        edge_um: spec.growth.edge_um,
        um_per_px: spec.um_per_px,
        summer_um: law.summer_um,
        regenerated_um: spec.regenerated_um.unwrap_or(0.0),
        axis_angle: layout.axis_from_anterior,
    };
    let phases = PhaseTable::new(&laid.at_um, spec.growth.edge_um);
    let surface = ScaleSurface::new(
        &drawn.field,
        Winters { seasons: &seasons, strengths: &strengths, checks: sectors },
        phases,
        draw_look(spec, chance),
        sizes,
        &outline.radii,
        chance,
    );
    let (heights, tone) = surface.painted(drawn.width, drawn.height, chance);
    lit(&heights, &tone, spec.um_per_px, draw_light(spec.style, chance))
}

fn draw_law(spec: &PictureSpec, chance: &mut Chance) -> SpacingLaw {
    let grade = spec.difficulty.grade();
    let (low_um, high_um, fall) = match spec.style {
        Style::PerchScale => (30.0, 44.0, Fall::Ramp),
        Style::TroutScale => (28.0, 38.0, Fall::Curve),
        Style::SunfishScale => (36.0, 52.0, Fall::Step),
        Style::CiscoScale => (26.0, 36.0, Fall::Ramp),
        Style::ShadScale => (30.0, 46.0, Fall::Step),
        _ => (36.0, 54.0, Fall::Curve),
    };
    // How spacing falls differs from water to water more than from species to species.
    let fall = if chance.happens(0.35) {
        [Fall::Ramp, Fall::Step, Fall::Curve]
            .get(chance.whole(0, 2) as usize)
            .copied()
            .unwrap_or(fall)
    } else {
        fall
    };
    // Small scales have closer circuli: a dozen fit even on the smallest.
    let summer_um = chance.between(low_um, high_um).min(spec.growth.edge_um / 9.0);
    SpacingLaw {
        summer_um,
        winter_ratio: chance.between(0.50, 0.60 + 0.04 * grade) + 0.01 * grade,
        onset: chance.between(0.55, 0.75),
        fall,
        jitter: 0.022 + 0.009 * grade,
    }
}

fn draw_winters(spec: &PictureSpec, chance: &mut Chance) -> Vec<Winter> {
    let grade = spec.difficulty.grade();
    let lost_um = spec.regenerated_um.unwrap_or(0.0);
    let mut winters: Vec<Winter> = spec
        .growth
        .annuli_um
        .iter()
        .enumerate()
        .map(|(index, um)| {
            let mut strength = 1.0 - 0.12 * grade * chance.unit();
            if index == 0 && grade > 0.0 && chance.happens(0.04 + 0.06 * grade) {
                strength *= chance.between(0.4, 0.8);
            }
            let split = chance.happens(0.03 * grade);
            Winter { strength: if *um < lost_um { 0.0 } else { strength }, split }
        })
        .collect();
    if spec.growth.edge_annulus {
        winters.push(Winter { strength: 1.0, split: false });
    }
    winters
}

fn annuli_truth(spec: &PictureSpec, inner_um: &[f64], winters: &[Winter]) -> Vec<AnnulusTruth> {
    let rows = spec.growth.annuli_um.iter().zip(inner_um).zip(winters);
    rows.map(|((um, inner_um), winter)| AnnulusTruth {
        um: *um,
        inner_um: *inner_um,
        strength: winter.strength,
        split: winter.split,
    })
    .collect()
}

/// Checks all round and checks in a sector, each well away from the annuli.
fn draw_checks(
    spec: &PictureSpec,
    law: &SpacingLaw,
    chance: &mut Chance,
) -> (Vec<f64>, Vec<SectorCheck>) {
    let count = match spec.difficulty {
        Difficulty::Easy => 0,
        Difficulty::Medium => chance.whole(0, 1),
        _ => chance.whole(0, 3),
    };
    let (mut all_round, mut sectors) = (Vec::new(), Vec::new());
    let edge_um = spec.growth.edge_um;
    let clear_um = 4.5 * law.summer_um;
    for _ in 0..count {
        let um = chance.between(0.12, 0.95) * edge_um;
        let middle = chance.between(-1.6, 1.6);
        let half = chance.between(0.25, 0.8);
        let width_um = 1.5 * law.summer_um;
        let round = chance.happens(0.3);
        let near = spec.growth.annuli_um.iter().any(|annulus| (annulus - um).abs() < clear_um);
        if near || um < 5.0 * law.summer_um || um > edge_um - 2.0 * law.summer_um {
            continue;
        }
        if round {
            all_round.push(um);
        } else {
            let sector =
                TurnTable::new(|angle| rise(half * 1.4, half * 0.8, wrapped(angle - middle).abs()));
            sectors.push(SectorCheck { um, sector, width_um });
        }
    }
    all_round.sort_by(f64::total_cmp);
    (all_round, sectors)
}

fn draw_look(spec: &PictureSpec, chance: &mut Chance) -> SurfaceLook {
    let grade = spec.difficulty.grade();
    let (ridge, relief_um, posterior, ctenii, crowding_tone) = match spec.style {
        Style::PerchScale => (Ridge::Shelf, 9.0, 0.08, true, 0.10),
        Style::TroutScale => (Ridge::Rounded, 8.0, 0.75, false, 0.16),
        Style::SunfishScale => (Ridge::Flat, 11.0, 0.05, true, 0.05),
        Style::CiscoScale => (Ridge::Rounded, 7.0, 0.25, false, 0.14),
        Style::ShadScale => (Ridge::Wave, 8.0, 0.3, false, 0.0),
        _ => (Ridge::Sharp, 11.0, 0.5, false, 0.06),
    };
    let ridge = if chance.happens(0.3) {
        [Ridge::Rounded, Ridge::Sharp, Ridge::Shelf, Ridge::Flat, Ridge::Wave]
            .get(chance.whole(0, 4) as usize)
            .copied()
            .unwrap_or(ridge)
    } else {
        ridge
    };
    SurfaceLook {
        ridge,
        relief_um: relief_um * chance.factor(0.15) as f32,
        cut_over: chance.between(0.10, 0.26) / (1.0 + 0.35 * grade),
        posterior: posterior * chance.factor(0.3),
        ctenii,
        breaks: ((0.03 + 0.075 * grade + chance.between(0.0, 0.06))
            * if spec.style == Style::PikeScale { 0.45 } else { 1.0 }) as f32,
        crowding_tone: crowding_tone * chance.factor(0.3) as f32,
        uneven: (0.15 + 0.22 * grade * chance.unit()) as f32,
        branching: chance.between(5.0, 12.0) * (1.0 + 0.3 * grade),
        grain_um: (0.8 + 0.6 * grade) as f32,
        crooked: (0.12 + 0.10 * grade) as f32,
    }
}

fn draw_light(style: Style, chance: &mut Chance) -> Illumination {
    let from = chance.between(0.0, std::f64::consts::TAU);
    match style {
        Style::PerchScale => Illumination::Oblique { from },
        Style::TroutScale => Illumination::BrightField,
        Style::SunfishScale => Illumination::Print,
        Style::CiscoScale => Illumination::Flatbed { from },
        Style::ShadScale => Illumination::PhaseContrast,
        _ => Illumination::DarkField,
    }
}
