//! How a scan is looked at: place and size of the view, and what is being dragged. Nothing here is undone or saved.

use egui::{Rect, Vec2};
use kurbo::Point;

use crate::domain::units::Pixels;
use crate::workbench::session_selection::Handle;

use super::layout::ScanTransform;

/// The view of the scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanView {
    /// Screen points per image pixel; `None` until fitted.
    zoom: Option<f64>,
    /// The image point in the middle of the view.
    centre: Point,
    /// Turn from the scan to the screen, radians clockwise.
    angle: f64,
}

impl Default for ScanView {
    fn default() -> Self {
        Self { zoom: None, centre: Point::ZERO, angle: 0.0 }
    }
}

/// No closer than this many screen points to an image pixel.
const MAX_ZOOM: f64 = 40.0;

impl ScanView {
    /// Screen points per image pixel; `None` until fitted.
    pub fn zoom(&self) -> Option<f64> {
        self.zoom
    }

    /// The image point in the middle of the view.
    pub fn centre(&self) -> Point {
        self.centre
    }

    /// Fits `area` (image pixels) at the next drawing.
    pub fn fit(&mut self) {
        self.zoom = None;
    }

    /// Turns the scan by `angle`, radians clockwise; a change fits it anew.
    pub fn turn(&mut self, angle: f64) {
        if (self.angle - angle).abs() > 1e-9 {
            self.angle = angle;
            self.fit();
        }
    }

    /// The transform for a view drawn into `rect`, fitting `area` first where that is due.
    pub fn transform(&mut self, rect: Rect, area: kurbo::Rect) -> ScanTransform {
        let zoom = *self.zoom.get_or_insert_with(|| {
            self.centre = area.center();
            fitting_zoom(rect, area, self.angle)
        });
        ScanTransform::new(rect, self.centre, zoom).turned(self.angle)
    }

    /// Zooms by `factor`, keeping the image point under `at` (screen) where it is.
    pub fn zoom_about(&mut self, at: egui::Pos2, factor: f64, rect: Rect, area: kurbo::Rect) {
        let before = self.transform(rect, area);
        let kept = before.image_from_screen(at);
        let least = fitting_zoom(rect, area, self.angle) * 0.5;
        let zoom = (before.zoom() * factor).clamp(least.min(MAX_ZOOM), MAX_ZOOM);
        self.zoom = Some(zoom);
        let after = ScanTransform::new(rect, self.centre, zoom).turned(self.angle);
        self.centre = kept - after.image_from_screen_vector(at - rect.center());
        self.keep_in(area);
    }

    /// Moves the picture by `delta` screen points.
    pub fn pan(&mut self, delta: Vec2, area: kurbo::Rect) {
        if let Some(zoom) = self.zoom {
            let view = ScanTransform::new(Rect::ZERO, self.centre, zoom).turned(self.angle);
            self.centre -= view.image_from_screen_vector(delta);
            self.keep_in(area);
        }
    }

    /// The middle of the view never leaves the picture.
    fn keep_in(&mut self, area: kurbo::Rect) {
        self.centre.x = self.centre.x.clamp(area.x0, area.x1);
        self.centre.y = self.centre.y.clamp(area.y0, area.y1);
    }
}

/// Share of the view a fitted scan takes: the handle of an axis that ends near the border needs the rest.
const FIT_SHARE: f64 = 0.92;

pub(super) fn fitting_zoom(rect: Rect, area: kurbo::Rect, angle: f64) -> f64 {
    let (sin, cos) = (angle.sin().abs(), angle.cos().abs());
    let across = area.width() * cos + area.height() * sin;
    let down = area.width() * sin + area.height() * cos;
    let wide = f64::from(rect.width().max(1.0)) / across.max(1.0);
    let high = f64::from(rect.height().max(1.0)) / down.max(1.0);
    (wide.min(high) * FIT_SHARE).min(MAX_ZOOM)
}

/// The stretch of the axis that strip and curves show, pixels from the focus.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AlongView {
    shown: Option<(f64, f64)>,
}

impl AlongView {
    /// Shows the whole axis.
    pub fn fit(&mut self) {
        self.shown = None;
    }

    /// Start and end of what is shown, for an axis shown up to `end`.
    pub fn range(&self, end: Pixels) -> (Pixels, Pixels) {
        let (from, to) = self.shown.unwrap_or((0.0, end.0));
        (Pixels(from), Pixels(to))
    }

    /// Zooms by `factor` about the place `at`.
    pub fn zoom_about(&mut self, at: Pixels, factor: f64, end: Pixels) {
        let (from, to) = self.shown.unwrap_or((0.0, end.0));
        let width = ((to - from) / factor).clamp(10.0_f64.min(end.0), end.0);
        let share = if to > from { (at.0 - from) / (to - from) } else { 0.5 };
        self.set(at.0 - share * width, width, end);
    }

    /// Moves what is shown by `delta` pixels of the scan.
    pub fn pan(&mut self, delta: Pixels, end: Pixels) {
        let (from, to) = self.shown.unwrap_or((0.0, end.0));
        self.set(from + delta.0, to - from, end);
    }

    fn set(&mut self, from: f64, width: f64, end: Pixels) {
        let from = from.clamp(0.0, (end.0 - width).max(0.0));
        self.shown = (width < end.0 - 1e-6).then_some((from, from + width));
    }
}

/// A drag in progress: shown to the reader, told to the program only on release.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drag {
    /// What is held.
    pub handle: Handle,
    /// Where it would be put.
    pub to: DragTo,
}

/// Where something being dragged would be put.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DragTo {
    /// A place along the axis.
    Along(Pixels),
    /// A point of the scan.
    Point(Point),
}

#[cfg(test)]
mod tests {
    use egui::pos2;

    use super::*;

    const RECT: Rect = Rect { min: pos2(100.0, 50.0), max: pos2(500.0, 350.0) };

    fn area() -> kurbo::Rect {
        kurbo::Rect::new(-0.5, -0.5, 799.5, 399.5)
    }

    #[test]
    fn zooming_keeps_the_point_under_the_pointer() {
        let mut view = ScanView::default();
        let at = pos2(220.0, 180.0);
        let before = view.transform(RECT, area()).image_from_screen(at);
        view.zoom_about(at, 3.0, RECT, area());
        let after = view.transform(RECT, area()).image_from_screen(at);
        assert!((after - before).hypot() < 1e-3, "{before:?} {after:?}");
    }

    #[test]
    fn fitting_shows_the_whole_picture() {
        let transform = ScanView::default().transform(RECT, area());
        for corner in [(-0.5, -0.5), (799.5, 399.5)] {
            assert!(RECT.contains(transform.screen_from_image(corner.into())));
        }
    }

    #[test]
    fn the_stretch_shown_stays_on_the_axis() {
        let mut along = AlongView::default();
        let end = Pixels(1000.0);
        along.zoom_about(Pixels(900.0), 4.0, end);
        assert_eq!(along.range(end), (Pixels(675.0), Pixels(925.0)));
        along.pan(Pixels(500.0), end);
        assert_eq!(along.range(end), (Pixels(750.0), Pixels(1000.0)));
        along.zoom_about(Pixels(800.0), 0.01, end);
        assert_eq!(along.range(end), (Pixels(0.0), end));
    }
}
