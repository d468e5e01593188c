//! The reading card as PNG: the same picture, marks, words and scale bar as the SVG, drawn pixel by pixel.

use std::sync::Arc;

use kurbo::{PathEl, Point, Rect, Vec2};

use crate::domain::axis::Axis;
use crate::domain::reading::MarkKind;
use crate::domain::units::Pixels;
use crate::imaging::encode::{EncodeError, colour_png_bytes};

use super::session_card::Card;

/// A line of words as a picture.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lettered {
    /// Width, pixels.
    pub width: usize,
    /// Height, pixels.
    pub height: usize,
    /// How far each pixel is covered, 0 to 255, row by row.
    pub coverage: Vec<u8>,
}

/// Draws a line of words, letters so many pixels high: whoever has fonts lends them.
pub type LetterFn = Arc<dyn Fn(&str, f32) -> Lettered + Send + Sync>;

type Colour = [u8; 3];

const BLACK: Colour = [0, 0, 0];
const WHITE: Colour = [255, 255, 255];
const AXIS: Colour = [208, 240, 208];
const MARGIN: Colour = [238, 238, 232];
const ANNULUS: Colour = [255, 190, 77];
const CHECK: Colour = [240, 160, 230];

/// A colour picture with the scan's coordinates laid over it.
struct Canvas {
    width: usize,
    height: usize,
    values: Vec<u8>,
    /// Scan point at the top left corner of the picture.
    origin: Point,
    /// Pixels of the picture per pixel of the scan.
    scale: f64,
}

impl Card<'_> {
    /// The card as PNG.
    ///
    /// # Errors
    /// Where the picture cannot be encoded.
    pub fn png(&self, lettering: &LetterFn) -> Result<Vec<u8>, EncodeError> {
        let area = self.impression.bounds.unwrap_or_else(|| self.raster.area());
        let (width, high, grey, covered) = self.grey(area);
        let scale = width as f64 / covered.width();
        // A hundredth of the longer side is the unit of all lines and letters, as in the SVG.
        let unit = width.max(high) as f64 / 1000.0;
        let band = (110.0 * unit).ceil() as usize;
        let origin = Point::new(covered.x0, covered.y0 - band as f64 / scale);
        let height = high + band;
        let mut values = vec![255; width * band * 3];
        values.extend(grey.iter().flat_map(|value| [*value; 3]));
        let mut canvas = Canvas { width, height, values, origin, scale };
        for (line, words) in self.words().iter().enumerate() {
            let at = (8.0 * unit, (10.0 + 31.0 * line as f64) * unit);
            canvas.words(&lettering(words, (24.0 * unit) as f32), at, BLACK);
        }
        if let Some(axis) = &self.impression.axis {
            self.marks_on(&mut canvas, axis, unit, lettering);
        }
        self.bar_on(&mut canvas, area, unit, lettering);
        colour_png_bytes(width, height, &canvas.values)
    }

    fn marks_on(&self, canvas: &mut Canvas, axis: &Axis, unit: f64, lettering: &LetterFn) {
        canvas.line(axis.vertices(), 1.6 * unit, AXIS, None);
        if let Some(edge) = self.impression.edge {
            let (at, along) = (axis.point_at(edge), axis.direction_at(edge));
            let across = Vec2::new(-along.y, along.x) * (22.0 * unit / canvas.scale);
            canvas.rimmed(&[at - across, at + across], unit, MARGIN, None);
        }
        let (mut annuli, mut checks) = (0, 0);
        for mark in &self.impression.marks {
            let (name, colour, dash) = match mark.kind {
                MarkKind::Check => {
                    checks += 1;
                    (format!("c{checks}"), CHECK, Some((2.0 * unit, 7.0 * unit)))
                }
                MarkKind::Annulus => {
                    annuli += 1;
                    (annuli.to_string(), ANNULUS, None)
                }
            };
            let ring = self.rings.iter().find(|(at, _)| (at.0 - mark.position.0).abs() < 0.1);
            let lines = match ring {
                Some((_, ring)) => pieces(ring, 0.25 / canvas.scale),
                None => vec![arc(axis, mark.position)],
            };
            for line in lines {
                canvas.rimmed(&line, unit, colour, dash);
            }
            let at = canvas.place(axis.point_at(mark.position));
            let lettered = lettering(&name, (22.0 * unit) as f32);
            let at = (at.x + 5.0 * unit, at.y - 5.0 * unit - lettered.height as f64 * 0.8);
            canvas.plate(&lettered, at, unit, colour);
        }
    }

    fn bar_on(&self, canvas: &mut Canvas, area: Rect, unit: f64, lettering: &LetterFn) {
        let Some((length_px, name)) = self.bar(area) else { return };
        let wide = length_px * canvas.scale;
        let bottom = canvas.height as f64;
        let lettered = lettering(&name, (22.0 * unit) as f32);
        let (x, y) = (24.0 * unit, bottom - 26.0 * unit);
        let ground = Rect::new(
            x - 12.0 * unit,
            y - 14.0 * unit - lettered.height as f64,
            x + wide + 12.0 * unit,
            y + 18.0 * unit,
        );
        canvas.fill(ground, BLACK, 170);
        canvas.fill(Rect::new(x, y, x + wide, y + 6.0 * unit), WHITE, 255);
        let left = x + (wide - lettered.width as f64) / 2.0;
        canvas.words(&lettered, (left, y - 8.0 * unit - lettered.height as f64), WHITE);
    }
}

impl Canvas {
    /// Where a point of the scan lies on the picture.
    fn place(&self, at: Point) -> Point {
        ((at - self.origin) * self.scale).to_point()
    }

    fn blend(&mut self, x: usize, y: usize, colour: Colour, share: u8) {
        let start = (y * self.width + x) * 3;
        let Some(pixel) = self.values.get_mut(start..start + 3) else { return };
        for (value, new) in pixel.iter_mut().zip(colour) {
            let mixed =
                u32::from(*value) * u32::from(255 - share) + u32::from(new) * u32::from(share);
            *value = u8::try_from((mixed + 127) / 255).unwrap_or(u8::MAX);
        }
    }

    fn fill(&mut self, rect: Rect, colour: Colour, share: u8) {
        let (columns, rows) = self.cover(rect);
        for y in rows {
            for x in columns.clone() {
                self.blend(x, y, colour, share);
            }
        }
    }

    /// Columns and rows of a part of the picture.
    fn cover(&self, rect: Rect) -> (std::ops::Range<usize>, std::ops::Range<usize>) {
        let clamp = |value: f64, most: usize| (value.max(0.0) as usize).min(most);
        let columns = clamp(rect.x0, self.width)..clamp(rect.x1.ceil(), self.width);
        (columns, clamp(rect.y0, self.height)..clamp(rect.y1.ceil(), self.height))
    }

    fn words(&mut self, lettered: &Lettered, at: (f64, f64), colour: Colour) {
        let (left, top) = (at.0.round().max(0.0) as usize, at.1.round().max(0.0) as usize);
        for (index, share) in lettered.coverage.iter().enumerate().filter(|(_, share)| **share > 0)
        {
            let (x, y) = (left + index % lettered.width, top + index / lettered.width);
            if x < self.width && y < self.height {
                self.blend(x, y, colour, *share);
            }
        }
    }

    /// Words on a dark plate, so that they read on any picture.
    fn plate(&mut self, lettered: &Lettered, at: (f64, f64), unit: f64, colour: Colour) {
        let (wide, high) = (lettered.width as f64, lettered.height as f64);
        let room = 3.0 * unit;
        let plate = Rect::new(at.0 - room, at.1, at.0 + wide + room, at.1 + high);
        self.fill(plate, BLACK, 150);
        self.words(lettered, at, colour);
    }

    fn rimmed(&mut self, points: &[Point], unit: f64, colour: Colour, dash: Option<(f64, f64)>) {
        self.line(points, 4.6 * unit, BLACK, dash);
        self.line(points, 2.4 * unit, colour, dash);
    }

    /// A line through points of the scan, so many pixels of the picture wide, drawn in dashes where wanted.
    fn line(&mut self, points: &[Point], width_px: f64, colour: Colour, dash: Option<(f64, f64)>) {
        let half = (width_px / 2.0).max(0.6);
        let mut done_px = 0.0;
        for pair in points.windows(2) {
            let [a, b] = pair else { continue };
            let (a, b) = (self.place(*a), self.place(*b));
            let along = b - a;
            let length = along.hypot();
            if length <= 0.0 {
                continue;
            }
            let reach = half + 1.0;
            let (columns, rows) = self.cover(Rect::from_points(a, b).inflate(reach, reach));
            for y in rows {
                for x in columns.clone() {
                    let at = Point::new(x as f64 + 0.5, y as f64 + 0.5);
                    let share = ((at - a).dot(along) / (length * length)).clamp(0.0, 1.0);
                    let away = (at - (a + along * share)).hypot();
                    let is_gap = dash.is_some_and(|(on, whole)| {
                        (done_px + share * length).rem_euclid(whole) > on.max(1.0)
                    });
                    let cover = (half + 0.5 - away).clamp(0.0, 1.0);
                    if cover > 0.0 && !is_gap {
                        self.blend(x, y, colour, (cover * 255.0) as u8);
                    }
                }
            }
            done_px += length;
        }
    }
}

/// A path as lines of points, to `tolerance` pixels of the scan.
fn pieces(path: &kurbo::BezPath, tolerance: f64) -> Vec<Vec<Point>> {
    let mut lines: Vec<Vec<Point>> = Vec::new();
    kurbo::flatten(path.iter(), tolerance.max(1e-3), |element| match element {
        PathEl::MoveTo(to) => lines.push(vec![to]),
        PathEl::LineTo(to) => lines.last_mut().into_iter().for_each(|line| line.push(to)),
        PathEl::ClosePath => {
            if let Some(line) = lines.last_mut()
                && let Some(first) = line.first().copied()
            {
                line.push(first);
            }
        }
        PathEl::QuadTo(..) | PathEl::CurveTo(..) => {}
    });
    lines
}

/// A part of the circle about the focus, for a mark whose ring was not traced.
fn arc(axis: &Axis, at: Pixels) -> Vec<Point> {
    let (focus, radius) = (axis.focus(), axis.point_at(at) - axis.focus());
    let turned = |step: i32| {
        let (sin, cos) = (f64::from(step) * 0.0275).sin_cos();
        focus + Vec2::new(radius.x * cos - radius.y * sin, radius.x * sin + radius.y * cos)
    };
    (-8..=8).map(turned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn canvas() -> Canvas {
        Canvas {
            width: 40,
            height: 20,
            values: vec![100; 40 * 20 * 3],
            origin: Point::ZERO,
            scale: 2.0,
        }
    }

    fn at(canvas: &Canvas, x: usize, y: usize) -> [u8; 3] {
        let start = (y * canvas.width + x) * 3;
        [canvas.values[start], canvas.values[start + 1], canvas.values[start + 2]]
    }

    #[test]
    fn a_line_lies_where_the_scan_s_points_say() {
        let mut canvas = canvas();
        canvas.line(&[Point::new(2.0, 5.0), Point::new(15.0, 5.0)], 3.0, ANNULUS, None);
        assert_eq!(at(&canvas, 16, 10), ANNULUS);
        assert_eq!(at(&canvas, 16, 14), [100; 3]);
        assert_eq!(at(&canvas, 36, 10), [100; 3]);
    }

    #[test]
    fn words_beyond_the_border_are_cut_off() {
        let mut canvas = canvas();
        let block = Lettered { width: 10, height: 4, coverage: vec![255; 40] };
        canvas.words(&block, (35.0, 18.0), BLACK);
        assert_eq!(at(&canvas, 39, 19), BLACK);
        assert_eq!(at(&canvas, 34, 19), [100; 3]);
    }
}
