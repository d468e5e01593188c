//! The scale bar in a corner of the scan.

use egui::{Align2, Color32, FontId, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};

use crate::domain::calibration::Calibration;
use crate::gui::theme::RIM;

use super::layout::ScanTransform;

/// The bar is at most this long, screen points.
const MOST: f64 = 150.0;

/// The longest round length (1, 2 or 5 times a power of ten) that is no longer than `most`, any unit.
pub fn round_length(most: f64) -> Option<f64> {
    if !(most.is_finite() && most > 0.0) {
        return None;
    }
    let magnitude = 10_f64.powf(most.log10().floor());
    let lengths = [5.0, 2.0, 1.0].map(|factor| factor * magnitude);
    // The power of ten itself may come out a hair above `most`.
    lengths.into_iter().find(|length| *length <= most * (1.0 + 1e-12))
}

/// Draws the bar for lengths across the screen; in pixels while the pixel size is not known.
pub fn scale_bar(ui: &mut Ui, transform: &ScanTransform, scale: Option<&Calibration>) {
    let across = transform.image_from_screen_vector(vec2(1.0, 0.0));
    let per_point =
        scale.map_or(across.hypot(), |scale| scale.micrometres_from_displacement(across).0);
    let Some(length) = round_length(MOST * per_point) else { return };
    let wide = (length / per_point) as f32;
    let words = words(length, scale.is_some());
    let corner = transform.rect().left_bottom() + vec2(14.0, -14.0);
    let bar = Rect::from_min_max(corner - vec2(0.0, 4.0), corner + vec2(wide, 0.0));
    let painter = ui.painter_at(transform.rect());
    let plate = Rect::from_min_max(bar.min - vec2(8.0, 22.0), bar.max + vec2(8.0, 7.0));
    painter.rect_filled(plate, 3.0, RIM);
    painter.rect_filled(bar, 0.0, Color32::WHITE);
    let middle = pos2(bar.center().x, bar.top() - 3.0);
    let font = FontId::proportional(13.0);
    painter.text(middle, Align2::CENTER_BOTTOM, &words, font, Color32::WHITE);
    let named = ui.interact(plate, egui::Id::unique("scale bar"), Sense::hover());
    named.widget_info(|| WidgetInfo::labeled(Role::Image, true, format!("Scale bar {words}")));
}

/// A length in words: micrometres, millimetres from 1000 µm on, or pixels.
pub fn words(length: f64, is_um: bool) -> String {
    match (is_um, length >= 1000.0) {
        (true, true) => format!("{} mm", length / 1000.0),
        (true, false) => format!("{length} µm"),
        (false, _) => format!("{length} px"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_round_and_fit() {
        for (most, length) in [(99.0, 50.0), (100.0, 100.0), (1999.0, 1000.0), (0.07, 0.05)] {
            assert!((round_length(most).unwrap() - length).abs() < 1e-9, "{most}");
        }
        assert_eq!(round_length(0.0), None);
        assert_eq!(round_length(f64::NAN), None);
        assert_eq!(words(500.0, true), "500 µm");
        assert_eq!(words(2000.0, true), "2 mm");
        assert_eq!(words(200.0, false), "200 px");
    }
}
