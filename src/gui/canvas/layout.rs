//! Where things fall on screen. The only file that turns image pixels into screen points and back.

use egui::{Pos2, Rect, pos2};
use kurbo::{Point, Vec2};

use crate::domain::axis::Axis;
use crate::domain::units::Pixels;

/// Between the scan's pixels and the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanTransform {
    rect: Rect,
    centre: Point,
    zoom: f64,
    /// Sine and cosine of the turn from the scan to the screen, clockwise as seen.
    turn: (f64, f64),
}

impl ScanTransform {
    /// A view into `rect` with the image point `centre` in its middle, `zoom` screen points per image pixel.
    pub fn new(rect: Rect, centre: Point, zoom: f64) -> Self {
        Self { rect, centre, zoom, turn: (0.0, 1.0) }
    }

    /// The same view turned clockwise by `angle`, radians.
    pub fn turned(self, angle: f64) -> Self {
        Self { turn: angle.sin_cos(), ..self }
    }

    /// Where on screen the view is.
    pub fn rect(&self) -> Rect {
        self.rect
    }

    /// Screen points per image pixel.
    pub fn zoom(&self) -> f64 {
        self.zoom
    }

    /// The screen position of an image point.
    pub fn screen_from_image(&self, at: Point) -> Pos2 {
        let offset = self.screen_from_image_vector(at - self.centre);
        self.rect.center() + egui::vec2(offset.x as f32, offset.y as f32)
    }

    /// The image point at a screen position.
    pub fn image_from_screen(&self, at: Pos2) -> Point {
        let offset = at - self.rect.center();
        self.centre + self.image_from_screen_vector(offset)
    }

    /// A displacement on the scan, image pixels, as one on the screen, points.
    pub fn screen_from_image_vector(&self, by: Vec2) -> Vec2 {
        let (sin, cos) = self.turn;
        Vec2::new(by.x * cos - by.y * sin, by.x * sin + by.y * cos) * self.zoom
    }

    /// A displacement on the screen as one on the scan.
    pub fn image_from_screen_vector(&self, by: egui::Vec2) -> Vec2 {
        let (x, y) = (f64::from(by.x) / self.zoom, f64::from(by.y) / self.zoom);
        let (sin, cos) = self.turn;
        Vec2::new(x * cos + y * sin, y * cos - x * sin)
    }

    /// The part of the picture in view, image pixels: the smallest upright box around it.
    pub fn visible(&self) -> kurbo::Rect {
        let corners = [
            self.rect.left_top(),
            self.rect.right_top(),
            self.rect.right_bottom(),
            self.rect.left_bottom(),
        ]
        .map(|corner| self.image_from_screen(corner));
        let [first, ..] = corners;
        corners
            .iter()
            .fold(kurbo::Rect::from_points(first, first), |all, corner| all.union_pt(*corner))
    }
}

/// How far to turn a scan, radians clockwise, so that its axis points up on the screen.
pub fn turn_to_axis_up(axis: &Axis) -> f64 {
    let along = axis.end() - axis.focus();
    -std::f64::consts::FRAC_PI_2 - along.atan2()
}

/// Between places along the axis and the horizontal screen scale that strip and curves share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlongTransform {
    left: f32,
    width: f32,
    from_px: f64,
    to_px: f64,
}

impl AlongTransform {
    /// The stretch from `from` to `to` laid over the screen from `left` to `right`.
    pub fn new(left: f32, right: f32, from: Pixels, to: Pixels) -> Self {
        Self {
            left,
            width: (right - left).max(1.0),
            from_px: from.0,
            to_px: to.0.max(from.0 + 1e-6),
        }
    }

    /// The screen x of a place along the axis.
    pub fn x_from_along(&self, at: Pixels) -> f32 {
        let share = (at.0 - self.from_px) / (self.to_px - self.from_px);
        self.left + share as f32 * self.width
    }

    /// The place along the axis at a screen x.
    pub fn along_from_x(&self, x: f32) -> Pixels {
        let share = f64::from((x - self.left) / self.width);
        Pixels(self.from_px + share * (self.to_px - self.from_px))
    }

    /// Pixels of the scan per screen point.
    pub fn px_per_point(&self) -> f64 {
        (self.to_px - self.from_px) / f64::from(self.width)
    }
}

/// Half the angle of the arc drawn for a mark whose ring has not been traced, radians.
const ARC_HALF_ANGLE: f64 = 0.22;

/// The arc of a mark at `at` along the axis, as screen points: a part of the circle about the focus.
pub fn arc(axis: &Axis, at: Pixels, transform: &ScanTransform) -> Vec<Pos2> {
    let (focus, on_axis) = (axis.focus(), axis.point_at(at));
    let radius = on_axis - focus;
    let steps = 16;
    (0..=steps)
        .map(|i| {
            let turn = ARC_HALF_ANGLE * (2.0 * f64::from(i) / f64::from(steps) - 1.0);
            let (sin, cos) = turn.sin_cos();
            let turned =
                Vec2::new(radius.x * cos - radius.y * sin, radius.x * sin + radius.y * cos);
            transform.screen_from_image(focus + turned)
        })
        .collect()
}

/// A short line across the axis at `at`, `half` screen points to each side.
pub fn tick(axis: &Axis, at: Pixels, half: f32, transform: &ScanTransform) -> [Pos2; 2] {
    let middle = transform.screen_from_image(axis.point_at(at));
    let along = transform.screen_from_image_vector(axis.direction_at(at));
    let across = egui::vec2(-along.y as f32, along.x as f32).normalized() * half;
    [middle - across, middle + across]
}

/// How far beyond its end, in screen points, the handle of the axis is drawn, so that the margin stays free.
const AXIS_HANDLE_GAP: f64 = 20.0;

/// Where the handle for the outer end of the axis is drawn, image pixels.
pub fn axis_handle(axis: &Axis, transform: &ScanTransform) -> Point {
    axis.end() + axis.direction_at(axis.length_px()) * (AXIS_HANDLE_GAP / transform.zoom())
}

/// Where the axis would end if its handle were at `to`.
pub fn axis_end_for_handle(axis: &Axis, to: Point, transform: &ScanTransform) -> Point {
    let vertices = axis.vertices();
    let before = vertices.len().checked_sub(2).and_then(|i| vertices.get(i)).copied();
    let before = before.unwrap_or_else(|| axis.focus());
    let away = to - before;
    let length = away.hypot();
    let gap = AXIS_HANDLE_GAP / transform.zoom();
    if length <= gap { to } else { before + away * ((length - gap) / length) }
}

/// Places for the ruler: round distances about `spacing` screen points apart, from `from` to `to` (any unit).
pub fn round_steps(from: f64, to: f64, at_most: usize) -> Vec<f64> {
    let width = to - from;
    if !(width.is_finite() && width > 0.0) || at_most == 0 {
        return Vec::new();
    }
    let raw = width / at_most as f64;
    let magnitude = 10_f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * magnitude)
        .find(|step| *step >= raw)
        .unwrap_or(raw);
    let first = (from / step).ceil() as i64;
    let last = (to / step).floor() as i64;
    (first..=last).map(|i| i as f64 * step).collect()
}

/// The parts of the Read desk's middle, from top to bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// The scan.
    pub scan: Rect,
    /// The straightened strip.
    pub strip: Rect,
    /// The intensity profile.
    pub profile: Rect,
    /// Circulus spacing; of no height where there is none.
    pub spacing: Rect,
    /// The ruler under all of them.
    pub ruler: Rect,
}

/// Room on the left of strip and curves for their scales.
pub const LEFT_SCALE: f32 = 46.0;

/// Divides the middle of the Read desk.
pub fn parts(whole: Rect, has_spacing: bool) -> Parts {
    let below = (whole.height() * 0.44).clamp(150.0, 340.0).min(whole.height() * 0.6);
    let ruler_height = 20.0;
    let gap = 2.0;
    let free = below - ruler_height - 4.0 * gap;
    let shares = if has_spacing { [0.36, 0.36, 0.28] } else { [0.42, 0.58, 0.0] };
    let mut top = whole.bottom() - below + gap;
    let mut next = |height: f32| {
        let rect = Rect::from_min_max(pos2(whole.left(), top), pos2(whole.right(), top + height));
        top += height + gap;
        rect
    };
    let [strip, profile, spacing] = shares.map(|share| next((free * share).floor()));
    let ruler = next(ruler_height);
    let scan = Rect::from_min_max(whole.min, pos2(whole.right(), whole.bottom() - below));
    Parts { scan, strip, profile, spacing, ruler }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn screen_and_image_go_there_and_back() {
        let rect = Rect::from_min_max(pos2(10.0, 20.0), pos2(410.0, 320.0));
        let transform = ScanTransform::new(rect, Point::new(500.0, 300.0), 0.5);
        let at = Point::new(612.0, 260.0);
        let back = transform.image_from_screen(transform.screen_from_image(at));
        assert!((back - at).hypot() < 1e-3);
        let along = AlongTransform::new(100.0, 900.0, Pixels(50.0), Pixels(850.0));
        assert_eq!(along.x_from_along(Pixels(50.0)), 100.0);
        assert!((along.along_from_x(along.x_from_along(Pixels(321.0))).0 - 321.0).abs() < 1e-3);
    }

    #[test]
    fn a_turned_view_has_the_axis_up_and_goes_there_and_back() {
        let rect = Rect::from_min_max(pos2(0.0, 0.0), pos2(400.0, 300.0));
        let axis = Axis::straight(Point::new(200.0, 150.0), Point::new(260.0, 230.0)).unwrap();
        let turned =
            ScanTransform::new(rect, Point::new(200.0, 150.0), 2.0).turned(turn_to_axis_up(&axis));
        let end = turned.screen_from_image(axis.end());
        assert!((end - pos2(200.0, -50.0)).length() < 1e-3, "{end:?}");
        let back = turned.image_from_screen(end);
        assert!((back - axis.end()).hypot() < 1e-3);
        assert!(turned.visible().contains(turned.image_from_screen(pos2(399.0, 299.0))));
        let [a, b] = tick(&axis, Pixels(50.0), 8.0, &turned);
        assert!((a.y - b.y).abs() < 1e-3 && (a.x - b.x).abs() > 15.0);
    }

    #[test]
    fn the_middle_of_an_arc_lies_on_the_axis() {
        let axis = Axis::straight(Point::new(0.0, 0.0), Point::new(100.0, 40.0)).unwrap();
        let rect = Rect::from_min_max(pos2(0.0, 0.0), pos2(200.0, 200.0));
        let transform = ScanTransform::new(rect, Point::ZERO, 1.0);
        let points = arc(&axis, Pixels(60.0), &transform);
        let middle = transform.screen_from_image(axis.point_at(Pixels(60.0)));
        assert!((points[8] - middle).length() < 1e-3);
        let focus = transform.screen_from_image(axis.focus());
        assert!(points.iter().all(|point| ((*point - focus).length() - 60.0).abs() < 1e-3));
    }

    #[test]
    fn dragging_the_handle_of_the_axis_leaves_its_gap() {
        let axis = Axis::straight(Point::new(0.0, 0.0), Point::new(100.0, 0.0)).unwrap();
        let rect = Rect::from_min_max(pos2(0.0, 0.0), pos2(200.0, 200.0));
        let transform = ScanTransform::new(rect, Point::ZERO, 2.0);
        let handle = axis_handle(&axis, &transform);
        assert_eq!(handle, Point::new(110.0, 0.0));
        assert_eq!(axis_end_for_handle(&axis, handle, &transform), axis.end());
    }

    #[test]
    fn ruler_steps_are_round() {
        assert_eq!(round_steps(0.0, 2400.0, 6), [0.0, 500.0, 1000.0, 1500.0, 2000.0]);
        assert_eq!(
            round_steps(0.13, 0.31, 4),
            [0.15, 0.2, 0.25, 0.3].map(|x: f64| (x / 0.05).round() * 0.05)
        );
        assert!(round_steps(1.0, 1.0, 4).is_empty());
    }

    #[test]
    fn strip_and_curves_lie_under_one_another() {
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(800.0, 700.0));
        let parts = parts(whole, true);
        assert!(parts.scan.bottom() <= parts.strip.top());
        assert!(parts.strip.bottom() <= parts.profile.top());
        assert!(parts.profile.bottom() <= parts.spacing.top());
        assert!(parts.ruler.bottom() <= whole.bottom() + 0.5);
        assert!(parts.scan.height() > 300.0);
    }
}
