//! A picture with its truth, from a spec.

use kurbo::{Point, Vec2};

use crate::domain::reading::Structure;
use crate::imaging::raster::{Raster, Samples};

use super::canvas::Canvas;
use super::chance::Chance;
use super::nuisance::spoil;
use super::otolith;
use super::otolith_outline::OtolithOutline;
use super::ring_field::{FieldShape, RingField};
use super::scale;
use super::scale_outline::ScaleOutline;
use super::spec::{Depth, Frame, LARGEST_SIDE_PX, PictureSpec, SpecError};
use super::truth::{AnnulusTruth, CheckTruth, Difficulty, PictureTruth};
use super::turn::TurnTable;

/// A picture and all that is known about it.
#[derive(Debug, Clone)]
pub struct Picture {
    /// The grey values.
    pub raster: Raster,
    /// What is on it.
    pub truth: PictureTruth,
    /// The shape of its rings in every direction.
    pub field: RingField,
    /// Scales: circuli along the axis, µm from the focus, in order. Empty for otoliths.
    pub circuli_um: Vec<f64>,
}

/// Where things lie before anything is painted.
pub(super) struct Layout {
    pub outer: TurnTable,
    /// Angle of the axis in the picture, radians, from x towards y.
    pub axis_angle: f64,
    /// Angle from the structure's own main direction to the axis.
    pub axis_from_anterior: f64,
    pub inner_power: f64,
    pub wave_um: f64,
}

/// What comes to be known while painting.
pub(super) struct Drawn {
    pub field: RingField,
    pub width: usize,
    pub height: usize,
    pub annuli: Vec<AnnulusTruth>,
    pub checks: Vec<CheckTruth>,
    pub circuli_um: Vec<f64>,
}

/// Outline of whichever structure it is.
enum Outline {
    Scale(ScaleOutline),
    Otolith(OtolithOutline),
}

/// Draws a picture, nuisances and all.
///
/// # Errors
/// [`SpecError`] when the spec cannot be drawn.
pub fn draw(spec: &PictureSpec) -> Result<Picture, SpecError> {
    let (mut drawn, mut canvas) = paint(spec)?;
    let mut chance = Chance::new(spec.seed, "nuisance");
    let empty = spec.difficulty == Difficulty::Hopeless && chance.happens(0.3);
    if empty {
        let bare = canvas.at(1, 1);
        canvas.repaint(|_, _, _| bare);
    }
    let field = &drawn.field;
    let margin: Vec<(f64, f64)> = (0..4)
        .map(|_| field.ring_point(spec.growth.edge_um, chance.between(0.7, 5.6)))
        .map(|point| (point.x, point.y))
        .collect();
    let margin = if empty { Vec::new() } else { margin };
    let focus = field.focus();
    spoil(&mut canvas, spec.style, spec.difficulty, &margin, (focus.x, focus.y), &mut chance);
    drawn.annuli.sort_by(|a, b| a.um.total_cmp(&b.um));
    finished(spec, drawn, &canvas)
}

/// Draws a picture without dirt, blur, uneven light or noise: only what the fish made and the light shows.
///
/// # Errors
/// [`SpecError`] when the spec cannot be drawn.
pub fn draw_clean(spec: &PictureSpec) -> Result<Picture, SpecError> {
    let (drawn, canvas) = paint(spec)?;
    finished(spec, drawn, &canvas)
}

/// Width and height of the structure's bounding box, µm.
///
/// # Errors
/// [`SpecError`] when the spec cannot be drawn.
pub fn extent_um(spec: &PictureSpec) -> Result<(f64, f64), SpecError> {
    spec.check()?;
    let (layout, _) = lay_out(spec);
    let [x0, y0, x1, y1] = field_of(spec, &layout).bounds_px();
    Ok(((x1 - x0) * spec.um_per_px, (y1 - y0) * spec.um_per_px))
}

fn lay_out(spec: &PictureSpec) -> (Layout, Outline) {
    let mut chance = Chance::new(spec.seed, "outline");
    if spec.style.structure() == Structure::Scale {
        let (layout, outline) = scale::lay_out(spec, &mut chance);
        (layout, Outline::Scale(outline))
    } else {
        let (layout, outline) = otolith::lay_out(spec, &mut chance);
        (layout, Outline::Otolith(outline))
    }
}

fn field_of(spec: &PictureSpec, layout: &Layout) -> RingField {
    let shape = FieldShape {
        focus: Point::ZERO,
        axis_angle: layout.axis_angle,
        um_per_px: spec.um_per_px,
        edge_um: spec.growth.edge_um,
        outer: layout.outer.clone(),
        inner_power: layout.inner_power,
        wave_um: layout.wave_um,
    };
    RingField::new(shape, &mut Chance::new(spec.seed, "field"))
}

fn paint(spec: &PictureSpec) -> Result<(Drawn, Canvas), SpecError> {
    spec.check()?;
    let (layout, outline) = lay_out(spec);
    let field = field_of(spec, &layout);
    let [x0, y0, x1, y1] = field.bounds_px();
    let (width, height) = match spec.frame {
        Frame::Margin(margin_px) => {
            let both = 2.0 * margin_px.max(12) as f64;
            ((x1 - x0 + both).ceil(), (y1 - y0 + both).ceil())
        }
        Frame::Size(width, height) => (width as f64, height as f64),
    };
    let largest = LARGEST_SIDE_PX as f64;
    if !(width >= 32.0 && height >= 32.0 && width <= largest && height <= largest) {
        return Err(SpecError::BadSize { width: width as usize, height: height as usize });
    }
    let shift = Vec2::new(0.5 * (width - 1.0 - x0 - x1), 0.5 * (height - 1.0 - y0 - y1));
    let mut drawn = Drawn {
        field: field.moved(shift),
        width: width as usize,
        height: height as usize,
        annuli: Vec::new(),
        checks: Vec::new(),
        circuli_um: Vec::new(),
    };
    let mut chance = Chance::new(spec.seed, "structure");
    let canvas = match &outline {
        Outline::Scale(outline) => scale::draw(spec, &layout, outline, &mut drawn, &mut chance),
        Outline::Otolith(outline) => otolith::draw(spec, outline, &mut drawn, &mut chance),
    };
    Ok((drawn, canvas))
}

fn finished(spec: &PictureSpec, drawn: Drawn, canvas: &Canvas) -> Result<Picture, SpecError> {
    let (width, height) = (drawn.width, drawn.height);
    let truth = PictureTruth {
        structure: spec.style.structure(),
        style: spec.style,
        difficulty: spec.difficulty,
        seed: spec.seed,
        light: spec.style.light(),
        um_per_px: spec.um_per_px,
        focus_px: drawn.field.focus(),
        axis_px: axis(spec, &drawn.field, width, height)?,
        edge_um: spec.growth.edge_um,
        annuli: drawn.annuli,
        checks: drawn.checks,
        edge_annulus: spec.growth.edge_annulus,
        regenerated: spec.regenerated_um.is_some() && spec.style.structure() == Structure::Scale,
        readable: spec.difficulty != Difficulty::Hopeless,
    };
    let samples = match spec.depth {
        Depth::Eight => {
            Samples::Eight(canvas.values.iter().map(|v| stored(*v, 255.0) as u8).collect())
        }
        Depth::Sixteen => {
            Samples::Sixteen(canvas.values.iter().map(|v| stored(*v, 65535.0) as u16).collect())
        }
    };
    let raster =
        Raster::new(width, height, samples).map_err(|_| SpecError::BadSize { width, height })?;
    Ok(Picture { raster, truth, field: drawn.field, circuli_um: drawn.circuli_um })
}

fn stored(value: f32, white: f32) -> f32 {
    (value.clamp(0.0, 1.0) * white + 0.5).floor()
}

/// From the focus to beyond the margin, inside the picture.
fn axis(
    spec: &PictureSpec,
    field: &RingField,
    width: usize,
    height: usize,
) -> Result<[Point; 2], SpecError> {
    let along = field.axis_direction();
    let edge_px = spec.growth.edge_um / spec.um_per_px;
    let inside = |point: Point| {
        point.x >= 0.0
            && point.y >= 0.0
            && point.x <= width as f64 - 1.0
            && point.y <= height as f64 - 1.0
    };
    // As far beyond the margin as the picture allows, up to 40 pixels.
    (1..=40)
        .rev()
        .map(|beyond| field.focus() + along * (edge_px + f64::from(beyond)))
        .find(|end| inside(*end) && inside(field.focus()))
        .map(|end| [field.focus(), end])
        .ok_or(SpecError::AxisOutside { width, height })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::growth::GrowthRecord;
    use crate::simulate::spec::draw_spec;
    use crate::simulate::truth::Style;

    /// FNV-1a, 64 bits (Fowler, Noll & Vo), over size and samples.
    fn mark_of(raster: &Raster) -> u64 {
        let step = |hash: u64, value: u64| (hash ^ value).wrapping_mul(0x0100_0000_01b3);
        let start =
            step(step(0xcbf2_9ce4_8422_2325, raster.width() as u64), raster.height() as u64);
        match raster.samples() {
            Samples::Eight(values) => {
                values.iter().fold(start, |hash, v| step(hash, u64::from(*v)))
            }
            Samples::Sixteen(values) => {
                values.iter().fold(start, |hash, v| step(hash, u64::from(*v)))
            }
        }
    }

    fn small(style: Style, depth: Depth) -> PictureSpec {
        let growth = GrowthRecord::new(vec![420.0, 700.0, 900.0], 960.0, false);
        let spec = PictureSpec::new(style, Difficulty::Hard, 20, 7.0, growth);
        PictureSpec { depth, ..spec }
    }

    #[test]
    fn a_seed_gives_the_same_picture_on_every_machine() {
        // Recorded from this program; a difference on another system means the drawing depends on the system.
        let recorded: [(Style, Depth, u64); 4] = [
            (Style::PerchScale, Depth::Eight, 0x9fac_90cc_0d97_e4e2),
            (Style::CiscoScale, Depth::Sixteen, 0x6d5e_680c_9ded_f458),
            (Style::SectionReflected, Depth::Eight, 0xbd93_6726_6c91_ebb1),
            (Style::WholeTransmitted, Depth::Sixteen, 0x3e2d_1037_c69b_93b4),
        ];
        for (style, depth, mark) in recorded {
            let picture = draw(&small(style, depth)).unwrap();
            assert_eq!(mark_of(&picture.raster), mark, "{style:?}");
        }
        let other =
            draw(&PictureSpec { seed: 21, ..small(Style::PerchScale, Depth::Eight) }).unwrap();
        assert_ne!(mark_of(&other.raster), recorded[0].2);
    }

    #[test]
    fn truth_holds_together() {
        for seed in 0..50_u64 {
            let structure = if seed % 2 == 0 { Structure::Scale } else { Structure::Otolith };
            let difficulty = Difficulty::ALL[(seed / 2 % 4) as usize];
            let mut spec = draw_spec(structure, difficulty, None, seed);
            // A quarter of the pixels: the truth does not depend on how fine they are.
            spec.um_per_px *= 4.0;
            let picture = draw(&spec).unwrap();
            let truth = &picture.truth;
            assert!(picture.raster.contains(truth.focus_px), "seed {seed}");
            assert!(
                truth.axis_px.iter().all(|point| picture.raster.contains(*point)),
                "seed {seed}"
            );
            let beyond_um = (truth.axis_px[1] - truth.axis_px[0]).hypot() * truth.um_per_px;
            assert!(beyond_um > truth.edge_um, "seed {seed}");
            let mut before = 0.0;
            for annulus in &truth.annuli {
                assert!(before < annulus.um && annulus.um < truth.edge_um, "seed {seed}");
                assert!(before < annulus.inner_um && annulus.inner_um < annulus.um, "seed {seed}");
                assert!((0.0..=1.0).contains(&annulus.strength), "seed {seed}");
                let on_axis = truth.axis_point(annulus.um);
                assert!(
                    (picture.field.ring_um_at(on_axis) - annulus.um).abs() < 1e-6,
                    "seed {seed}"
                );
                before = annulus.um;
            }
            assert!(truth.checks.iter().all(|check| check.um < truth.edge_um), "seed {seed}");
            assert_eq!(truth.readable, difficulty != Difficulty::Hopeless);
        }
    }

    #[test]
    fn spacing_measured_on_the_picture_agrees_with_the_circuli_laid() {
        let growth = GrowthRecord::new(vec![900.0, 1500.0], 1900.0, false);
        let spec = PictureSpec::new(Style::CiscoScale, Difficulty::Easy, 4, 2.0, growth);
        let picture = draw_clean(&spec).unwrap();
        let truth = &picture.truth;
        let profile: Vec<f64> =
            (0..1900).map(|um| picture.raster.bilinear(truth.axis_point(f64::from(um)))).collect();
        // A flatbed shows a crest as the darkest place within half a spacing.
        let dark: Vec<f64> = (9..1890)
            .filter(|&i| {
                (i - 9..=i + 9)
                    .all(|j| profile[j] > profile[i] || (j >= i && profile[j] >= profile[i]))
            })
            .map(|i| i as f64)
            .collect();
        let laid: Vec<f64> =
            picture.circuli_um.iter().copied().filter(|um| (100.0..1850.0).contains(um)).collect();
        let found = laid.iter().filter(|um| dark.iter().any(|d| (d - **um).abs() < 6.0)).count();
        assert!(found * 10 >= laid.len() * 8, "{found} of {}", laid.len());
        // The density of lines in summer and just before the winter, measured and laid.
        for (low, high) in [(300.0, 600.0), (760.0, 890.0), (1000.0, 1250.0)] {
            let count =
                |lines: &[f64]| lines.iter().filter(|um| (low..high).contains(*um)).count() as f64;
            let (seen, stated) = (count(&dark), count(&laid));
            assert!(
                (seen - stated).abs() <= 0.25 * stated + 1.0,
                "{seen} seen, {stated} laid in {low} to {high}"
            );
        }
    }

    #[test]
    fn the_winter_zone_is_dark_in_reflected_light_and_bright_in_transmitted() {
        for (style, winter_is_dark) in [
            (Style::SectionReflected, true),
            (Style::BrokenBurnt, true),
            (Style::WholeReflected, true),
            (Style::SectionTransmitted, false),
            (Style::WholeTransmitted, false),
        ] {
            let growth = GrowthRecord::new(vec![500.0, 850.0, 1100.0], 1250.0, false);
            let spec = PictureSpec::new(style, Difficulty::Easy, 8, 2.0, growth);
            let picture = draw_clean(&spec).unwrap();
            let mean = |angle: f64, from: f64, to: f64| {
                let places = (0..40).map(|i| from + (to - from) * f64::from(i) / 40.0);
                places
                    .map(|um| picture.raster.bilinear(picture.field.ring_point(um, angle)))
                    .sum::<f64>()
            };
            let darker = |annulus: &AnnulusTruth, angle: f64| {
                let width = annulus.um - annulus.inner_um;
                let winter = mean(angle, annulus.um - 0.6 * width, annulus.um - 0.2 * width);
                winter < mean(angle, annulus.um + 0.2 * width, annulus.um + 0.6 * width)
            };
            for annulus in &picture.truth.annuli {
                assert_eq!(darker(annulus, 0.0), winter_is_dark, "{style:?} {}", annulus.um);
                // The ring is where the field says, all round; texture may hide it in a few directions.
                let angles = (0..63).map(|i| f64::from(i) * 0.1);
                let agreeing =
                    angles.filter(|angle| darker(annulus, *angle) == winter_is_dark).count();
                assert!(agreeing >= 54, "{style:?} {}: {agreeing} of 63", annulus.um);
            }
        }
    }

    #[test]
    fn a_size_that_cuts_the_axis_is_refused_and_one_that_fits_is_kept() {
        let spec =
            PictureSpec { frame: Frame::Size(64, 64), ..small(Style::TroutScale, Depth::Eight) };
        assert!(matches!(draw(&spec), Err(SpecError::AxisOutside { .. })));
        let spec = PictureSpec { frame: Frame::Size(500, 460), ..spec };
        let picture = draw(&spec).unwrap();
        assert_eq!((picture.raster.width(), picture.raster.height()), (500, 460));
    }
}
