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
