//! A scan that is being read: what is there of it is shown while the rest comes.

use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::{Rect, Role, TextureHandle, TextureOptions, Ui, WidgetInfo, vec2};

use crate::imaging::overview::Overview;
use crate::imaging::raster::Raster;
use crate::workbench::settings_tone::ScanTone;

use super::layout::ScanTransform;
use super::model::fitting_zoom;
use super::picture::paint_texture;
use super::picture_build::coarse_picture;

/// A growing picture is drawn anew at most this often.
const REDRAW_AFTER: Duration = Duration::from_millis(80);

/// What is there of a scan that is being read, as a texture.
pub struct ArrivingPicture {
    texture: TextureHandle,
    area: kurbo::Rect,
    scan_area: kurbo::Rect,
    share: f32,
    drawn: Instant,
}

impl ArrivingPicture {
    /// The texture and the area it covers, if it is the whole of `raster`.
    pub fn whole_of(self, raster: &Arc<Raster>) -> Option<(TextureHandle, kurbo::Rect)> {
        (self.share >= 1.0 && self.scan_area == raster.area()).then_some((self.texture, self.area))
    }

    fn is_due(&self, overview: &Overview) -> bool {
        let share = overview.share_filled();
        self.scan_area != overview.scan_area()
            || (share != self.share && (share >= 1.0 || self.drawn.elapsed() >= REDRAW_AFTER))
    }
}

/// Draws the part of the scan that is there into `rect`, and how far it is.
pub fn arriving_ui(
    ui: &mut Ui,
    rect: Rect,
    overview: Option<Overview>,
    shown: &mut Option<ArrivingPicture>,
) {
    let Some(overview) = overview else {
        *shown = None;
        return;
    };
    if shown.as_ref().is_none_or(|shown| shown.is_due(&overview)) {
        let coarse = coarse_picture(&overview, ScanTone::default());
        let texture = ui.ctx().load_texture("arriving", coarse.image, TextureOptions::LINEAR);
        *shown = Some(ArrivingPicture {
            texture,
            area: coarse.area,
            scan_area: overview.scan_area(),
            share: overview.share_filled(),
            drawn: Instant::now(),
        });
    }
    let Some(arriving) = shown else { return };
    let area = arriving.scan_area;
    let zoom = fitting_zoom(rect, area, 0.0);
    let transform = ScanTransform::new(rect, area.center(), zoom);
    paint_texture(&ui.painter_at(rect), &arriving.texture, arriving.area, &transform);
    let place = Rect::from_min_size(rect.left_top() + vec2(10.0, 10.0), vec2(120.0, 8.0));
    let bar = ui.put(place, egui::ProgressBar::new(overview.share_filled()).desired_height(6.0));
    bar.widget_info(|| WidgetInfo::labeled(Role::ProgressIndicator, true, "Reading the scan"));
    ui.ctx().request_repaint_after(REDRAW_AFTER);
}
