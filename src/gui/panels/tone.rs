//! The tone panel: how the open scan is shown. For the eye only; the file, profiles and proposals stay as they are.

use egui::{
    Context, Id, Rect, RichText, Role, Sense, Slider, Stroke, Ui, WidgetInfo, Window, pos2, vec2,
};

use crate::gui::theme::{curve_colours, quiet};
use crate::gui::view::View;
use crate::imaging::enhance::Histogram;
use crate::workbench::settings_tone::{GAMMAS, LOCAL_CONTRASTS, ScanTone};
use crate::workbench::workbench::Workbench;

/// White lies at least this far above black, as a share of the raster's white.
const LEAST_SPAN: f32 = 0.005;

/// Draws the panel while it is open and a scan is.
pub fn tone_ui(context: &Context, workbench: &Workbench, view: &mut View) {
    if !view.is_tone_shown || workbench.scan().is_none() {
        return;
    }
    let histogram = view.picture.as_ref().and_then(|picture| picture.histogram()).cloned();
    let mut is_open = true;
    let mut tone = view.tone;
    Window::new("Tone of this scan")
        .open(&mut is_open)
        .collapsible(false)
        .resizable(false)
        .default_pos(view.scan_rect.right_top() + vec2(-366.0, 12.0))
        .show(context, |ui| {
            ui.spacing_mut().slider_width = 190.0;
            match histogram {
                Some(histogram) => points_ui(ui, &histogram, &mut tone),
                None => _ = ui.label("Counting the grey values"),
            }
            ui.add(Slider::new(&mut tone.gamma, GAMMAS).logarithmic(true).text("Gamma"));
            ui.add(Slider::new(&mut tone.local_contrast, LOCAL_CONTRASTS).text("Local contrast"));
            ui.checkbox(&mut tone.inverted, "Invert");
            ui.horizontal(|ui| {
                let is_usual = tone == ScanTone::default();
                if ui.add_enabled(!is_usual, egui::Button::new("Back to usual")).clicked() {
                    tone = ScanTone::default();
                }
            });
            let words = "For the eye only: the file and what is measured stay as they are. Remembered for this scan.";
            let colour = quiet(ui.visuals().dark_mode);
            ui.set_max_width(336.0);
            ui.label(RichText::new(words).small().color(colour));
        });
    view.is_tone_shown = is_open;
    if tone != view.tone {
        view.set_tone(workbench, tone);
    }
}

/// Black and white point: on the histogram with the pointer, below it with the keyboard.
fn points_ui(ui: &mut Ui, histogram: &Histogram, tone: &mut ScanTone) {
    let fitted = tone.tone(histogram);
    let [mut black, mut white] = [fitted.black, fitted.white];
    let before = [black, white];
    histogram_ui(ui, histogram, &mut black, &mut white);
    // A slider rounds what it shows: only what the person moved counts.
    for (point, words) in [(&mut black, "Black point"), (&mut white, "White point")] {
        let mut value = *point;
        let slider = Slider::new(&mut value, 0.0..=1.0).fixed_decimals(3).text(words);
        if ui.add(slider).changed() {
            *point = value;
        }
    }
    if [black, white] != before {
        let black = black.clamp(0.0, 1.0 - LEAST_SPAN);
        tone.points = Some([black, white.clamp(black + LEAST_SPAN, 1.0)]);
    }
}

fn histogram_ui(ui: &mut Ui, histogram: &Histogram, black: &mut f32, white: &mut f32) {
    let (rect, _) = ui.allocate_exact_size(vec2(336.0, 84.0), Sense::hover());
    let ground = ui.interact(rect, Id::unique("histogram"), Sense::click_and_drag());
    ground.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, "Histogram of grey values"));
    let share = |x: f32| ((x - rect.left()) / rect.width()).clamp(0.0, 1.0);
    if let Some(at) = ground.interact_pointer_pos() {
        let at = share(at.x);
        // The point nearer to the pointer goes to it.
        let is_black = (at - *black).abs() < (at - *white).abs();
        *(if is_black { &mut *black } else { &mut *white }) = at;
    }
    paint_histogram(ui, rect, histogram, [*black, *white]);
}

fn paint_histogram(ui: &Ui, rect: Rect, histogram: &Histogram, points: [f32; 2]) {
    let colours = curve_colours(ui.visuals().dark_mode);
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 2.0, colours.ground);
    let bins = histogram.bins(150);
    // The root keeps small counts in sight beside the ground's.
    let height = |count: u64| (count as f32).sqrt();
    let most = bins.iter().copied().map(height).fold(1.0, f32::max);
    let width = rect.width() / bins.len().max(1) as f32;
    for (i, count) in bins.iter().enumerate() {
        let left = rect.left() + i as f32 * width;
        let top = rect.bottom() - height(*count) / most * (rect.height() - 4.0);
        let bar = Rect::from_min_max(pos2(left, top), pos2(left + width, rect.bottom()));
        painter.rect_filled(bar, 0.0, colours.curve);
    }
    for point in points {
        let x = rect.left() + point * rect.width();
        let line = [pos2(x, rect.top()), pos2(x, rect.bottom())];
        painter.line_segment(line, Stroke::new(4.0, colours.ground));
        painter.line_segment(line, Stroke::new(2.0, ui.visuals().hyperlink_color));
    }
}
