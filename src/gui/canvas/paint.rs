//! Painting: lines of marks, tags, curves, ruler. Decides nothing and knows nothing of the survey.

use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};

use crate::gui::theme::{CurveColours, Line, Look, RIM, stroke};

use super::layout::AlongTransform;

/// A line over a picture, on a dark rim so that it shows on black and on white.
pub fn line_on_picture(painter: &Painter, points: &[Pos2], look: Look, is_selected: bool) {
    let front = stroke(look.on_picture(), is_selected, look.line());
    let rim = Stroke::new(front.width + 2.0, RIM);
    styled(painter, points, rim, look.line());
    styled(painter, points, front, look.line());
}

/// A line over the plain ground of a curve.
pub fn line_on_ground(
    painter: &Painter,
    points: &[Pos2],
    look: Look,
    is_selected: bool,
    is_dark: bool,
) {
    styled(painter, points, stroke(look.on_ground(is_dark), is_selected, look.line()), look.line());
}

fn styled(painter: &Painter, points: &[Pos2], stroke: Stroke, line: Line) {
    match line {
        Line::Solid => _ = painter.add(Shape::line(points.to_vec(), stroke)),
        Line::Dashed => painter.extend(Shape::dashed_line(points, stroke, 9.0, 5.0)),
        Line::Thin => painter.extend(Shape::dashed_line(points, stroke, 4.0, 5.0)),
        Line::Dotted => {
            painter.extend(Shape::dotted_line(points, stroke.color, 6.0, stroke.width * 0.85));
        }
    }
}

/// A number or word on a small plate, so that it reads on any picture.
pub fn tag(painter: &Painter, at: Pos2, text: &str, look: Look, is_selected: bool) {
    let colour = look.on_picture();
    let galley =
        painter.layout_no_wrap(text.to_owned(), FontId::proportional(12.0), Color32::BLACK);
    let plate = Rect::from_center_size(at, galley.size() + vec2(8.0, 3.0));
    let (fill, ink) = if is_selected {
        (colour, Color32::BLACK)
    } else {
        (Color32::from_rgb(22, 24, 27), colour)
    };
    painter.rect(plate, 3.0, fill, Stroke::new(1.0, colour), egui::StrokeKind::Inside);
    painter.galley_with_override_text_color(plate.center() - galley.size() / 2.0, galley, ink);
}

/// The focus: a ring with a cross in it.
pub fn focus(painter: &Painter, at: Pos2, is_selected: bool) {
    let radius = if is_selected { 9.0 } else { 7.0 };
    for (extra, colour) in [(2.0, RIM), (0.0, Look::Axis.on_picture())] {
        let line = Stroke::new(1.8 + extra, colour);
        painter.circle_stroke(at, radius, line);
        painter.line_segment([at - vec2(radius + 4.0, 0.0), at + vec2(radius + 4.0, 0.0)], line);
        painter.line_segment([at - vec2(0.0, radius + 4.0), at + vec2(0.0, radius + 4.0)], line);
    }
}

/// The handle at the outer end of the axis: a square.
pub fn axis_handle(painter: &Painter, at: Pos2, is_selected: bool) {
    let half = if is_selected { 7.0 } else { 5.5 };
    let square = Rect::from_center_size(at, vec2(half, half) * 2.0);
    painter.rect(
        square,
        2.0,
        Look::Axis.on_picture(),
        Stroke::new(1.5, RIM),
        egui::StrokeKind::Outside,
    );
}

/// A bend of the axis: a small disc.
pub fn bend(painter: &Painter, at: Pos2, is_selected: bool) {
    let radius = if is_selected { 7.0 } else { 5.0 };
    painter.circle(at, radius, Look::Axis.on_picture(), Stroke::new(1.5, RIM));
}

/// The axis: a thin line from the focus to its end.
pub fn axis(painter: &Painter, points: &[Pos2]) {
    painter.add(Shape::line(points.to_vec(), Stroke::new(2.6, RIM)));
    painter.add(Shape::line(points.to_vec(), Stroke::new(1.1, Look::Axis.on_picture())));
}

/// A curve's values: `values[i]` belongs to the place `i * step_px` along the axis.
#[derive(Debug, Clone, Copy)]
pub struct Curve<'a> {
    /// Values; those that are not numbers leave a gap.
    pub values: &'a [f64],
    /// Distance between values, pixels of the scan.
    pub step_px: f64,
}

impl Curve<'_> {
    /// Least and greatest value in the stretch shown, with a little room; `None` without any.
    pub fn range(&self, along: &AlongTransform, left: f32, right: f32) -> Option<(f64, f64)> {
        let [from, to] =
            [left, right].map(|x| (along.along_from_x(x).0 / self.step_px).max(0.0) as usize);
        let seen =
            self.values.iter().take(to.saturating_add(1)).skip(from).filter(|v| v.is_finite());
        let (low, high) = seen.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(*value), high.max(*value))
        });
        (low <= high).then(|| {
            let room = ((high - low) * 0.08).max(high.abs() * 1e-6 + 1e-9);
            (low - room, high + room)
        })
    }

    /// The curve as lines on screen, one point for each screen point of width (the mean of what falls on it).
    pub fn lines(&self, rect: Rect, along: &AlongTransform, range: (f64, f64)) -> Vec<Vec<Pos2>> {
        let (low, high) = range;
        let y = |value: f64| {
            let share = (value - low) / (high - low);
            rect.bottom() - share as f32 * rect.height()
        };
        let mut lines = vec![Vec::new()];
        let mut column = rect.left().ceil();
        while column <= rect.right() {
            match (self.mean_on(column, along), lines.last_mut()) {
                (Some(value), Some(line)) => line.push(pos2(column, y(value))),
                (None, Some(line)) if !line.is_empty() => lines.push(Vec::new()),
                _ => {}
            }
            column += 1.0;
        }
        lines.retain(|line| line.len() > 1);
        lines
    }

    fn mean_on(&self, column: f32, along: &AlongTransform) -> Option<f64> {
        let place = |x: f32| along.along_from_x(x).0 / self.step_px;
        let (from, to) = (place(column - 0.5), place(column + 0.5));
        if to - from <= 1.0 {
            return self.between(place(column));
        }
        let (first, last) = (from.ceil().max(0.0) as usize, to.floor().max(0.0) as usize);
        let values = self.values.get(first..=last.min(self.values.len().saturating_sub(1)))?;
        let (sum, n) =
            values.iter().filter(|v| v.is_finite()).fold((0.0, 0), |(s, n), v| (s + v, n + 1));
        (n > 0).then(|| sum / f64::from(n))
    }

    fn between(&self, place: f64) -> Option<f64> {
        if place < 0.0 {
            return None;
        }
        let index = place.floor() as usize;
        let a = *self.values.get(index)?;
        let b = self.values.get(index + 1).copied().unwrap_or(a);
        let value = a + (b - a) * place.fract();
        value.is_finite().then_some(value)
    }
}

/// Paints a curve panel: ground, title and curve.
pub fn curve(
    painter: &Painter,
    rect: Rect,
    title: &str,
    curve: Curve<'_>,
    along: &AlongTransform,
    colours: CurveColours,
) -> Option<(f64, f64)> {
    painter.rect_filled(rect, 0.0, colours.ground);
    let range = curve.range(along, rect.left(), rect.right());
    if let Some(range) = range {
        for line in curve.lines(rect.shrink2(vec2(0.0, 3.0)), along, range) {
            painter.add(Shape::line(line, Stroke::new(1.5, colours.curve)));
        }
    }
    let font = FontId::proportional(12.0);
    painter.text(rect.left_top() + vec2(6.0, 3.0), Align2::LEFT_TOP, title, font, colours.text);
    range
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::units::Pixels;

    fn along() -> AlongTransform {
        AlongTransform::new(0.0, 100.0, Pixels(0.0), Pixels(1000.0))
    }

    #[test]
    fn a_curve_has_one_point_a_column_and_keeps_gaps() {
        let mut values: Vec<f64> = (0..1000).map(f64::from).collect();
        values[400..500].fill(f64::NAN);
        let curve = Curve { values: &values, step_px: 1.0 };
        let rect = Rect::from_min_max(pos2(0.0, 0.0), pos2(100.0, 50.0));
        let range = curve.range(&along(), 0.0, 100.0).unwrap();
        let lines = curve.lines(rect, &along(), range);
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().all(|line| line.windows(2).all(|pair| pair[0].y > pair[1].y)));
        assert!(range.0 < 0.0 && range.1 > 999.0);
    }

    #[test]
    fn a_curve_without_numbers_is_no_curve() {
        let curve = Curve { values: &[f64::NAN, f64::NAN], step_px: 1.0 };
        assert_eq!(curve.range(&along(), 0.0, 100.0), None);
    }
}
