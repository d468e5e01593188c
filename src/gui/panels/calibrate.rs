//! The pixel size: where it comes from, what speaks against it, and measuring it on a stage micrometer.

use egui::{
    Color32, Context, DragValue, Id, Response, RichText, Role, Sense, Stroke, Ui, WidgetInfo,
    Window, vec2,
};
use kurbo::Point;

use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::calibration_fit::{SpanFit, doubts};
use crate::gui::canvas::layout::ScanTransform;
use crate::gui::theme::{RIM, heading, problem, quiet};
use crate::gui::view::View;
use crate::marking::command::Command;
use crate::workbench::action::Action;
use crate::workbench::notices::sentence;
use crate::workbench::session_scan::OpenScan;
use crate::workbench::workbench::Workbench;

/// What has been typed and measured so far.
#[derive(Debug)]
pub struct Calibrating {
    /// The window is open.
    pub is_shown: bool,
    known_um: f64,
    is_drawing: bool,
    from: Option<Point>,
    to: Point,
    /// Known length, µm, with the ends of the line measured for it, image pixels.
    spans: Vec<(f64, Point, Point)>,
    dpi: f64,
    magnification: f64,
    stated_um: f64,
}

impl Default for Calibrating {
    fn default() -> Self {
        Self {
            is_shown: false,
            known_um: 1000.0,
            is_drawing: false,
            from: None,
            to: Point::ZERO,
            spans: Vec::new(),
            dpi: 2400.0,
            magnification: 1.0,
            stated_um: 10.0,
        }
    }
}

impl Calibrating {
    /// Forgets what was measured: another scan is open.
    pub fn forget(&mut self) {
        self.spans.clear();
        self.from = None;
        self.is_drawing = false;
    }

    /// Lets go of drawing; true where a line was to be drawn.
    pub fn stop_drawing(&mut self) -> bool {
        self.from = None;
        std::mem::take(&mut self.is_drawing)
    }

    /// The mean of what was measured, its standard deviation and standard error.
    pub fn measured(&self) -> Option<SpanFit> {
        let spans = self.spans.iter().map(|(um, a, b)| (*um, (*b - *a).hypot()));
        SpanFit::of(&spans.collect::<Vec<_>>())
    }
}

/// Draws the window while it is open and a scan is.
pub fn calibrate_ui(
    context: &Context,
    workbench: &Workbench,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let Some(scan) = workbench.scan().filter(|_| view.calibrating.is_shown) else { return };
    let survey = workbench.survey().and_then(|survey| survey.survey().default_um_per_px);
    let can_change = scan.is_draft() && !workbench.is_confirming();
    let mut is_open = true;
    let mut chosen = None;
    Window::new("Pixel size of this scan")
        .open(&mut is_open)
        .collapsible(false)
        .resizable(false)
        .default_pos(view.scan_rect.left_top() + vec2(16.0, 16.0))
        .show(context, |ui| {
            ui.set_width(330.0);
            now_ui(ui, scan, survey);
            ui.add_enabled_ui(can_change, |ui| {
                chosen = file_ui(ui, scan, survey);
                chosen = chosen.take().or(stated_ui(ui, &mut view.calibrating));
                chosen = chosen.take().or(micrometer_ui(ui, &mut view.calibrating));
            });
            if !can_change {
                ui.label("This reading is confirmed: reopen it to change its pixel size");
            }
        });
    view.calibrating.is_shown = is_open;
    if !is_open {
        view.calibrating.stop_drawing();
    }
    actions.extend(chosen.map(|scale| Action::Edit(Command::SetCalibration(scale))));
}

fn now_ui(ui: &mut Ui, scan: &OpenScan, survey: Option<[f64; 2]>) {
    let is_dark = ui.visuals().dark_mode;
    match &scan.document().reading.calibration {
        Some(scale) => {
            ui.label(in_words(scale));
            for doubt in doubts(scale, survey) {
                ui.label(RichText::new(sentence(&doubt.to_string())).color(problem(is_dark)));
            }
        }
        None => {
            let words = "No pixel size: nothing can be measured until it is given";
            ui.label(RichText::new(words).color(problem(is_dark)));
        }
    }
}

/// A pixel size in words: "Pixel 5.292 µm ± 0.003 (standard error), stage micrometer".
pub fn in_words(scale: &Calibration) -> String {
    let source = match scale.source {
        CalibrationSource::FileTag => "from the file",
        CalibrationSource::StageMicrometer => "stage micrometer",
        CalibrationSource::Magnification => "stated magnification",
        CalibrationSource::Survey => "survey default",
        CalibrationSource::Stated => "stated",
    };
    let (x, y) = (scale.x_um_per_px(), scale.y_um_per_px());
    let size = if scale.is_anisotropic() {
        format!("{x:.3} x {y:.3} µm")
    } else {
        format!("{:.3} µm", scale.mean_um_per_px())
    };
    match scale.se_um_per_px {
        Some(se) => format!("Pixel {size} ± {se:.4} (standard error), {source}"),
        None => format!("Pixel {size}, {source}"),
    }
}

fn file_ui(ui: &mut Ui, scan: &OpenScan, survey: Option<[f64; 2]>) -> Option<Calibration> {
    let made = |[x, y]: [f64; 2], source| Calibration::new(x, y, source).ok();
    let tag = scan.resolution().map(|resolution| resolution.um_per_px);
    let choices = [
        ("Use the file's", "The file states none", tag, CalibrationSource::FileTag),
        ("Use the survey's", "The survey states none", survey, CalibrationSource::Survey),
    ];
    let mut chosen = None;
    ui.horizontal(|ui| {
        for (words, none, um, source) in choices {
            let label = um.map_or_else(|| words.to_owned(), |[x, _]| format!("{words}: {x:.3} µm"));
            let button = ui.add_enabled(um.is_some(), egui::Button::new(label));
            if button.on_disabled_hover_text(none).clicked() {
                chosen = um.and_then(|um| made(um, source));
            }
        }
    });
    let notice = scan.resolution().and_then(|resolution| resolution.notice());
    if let Some(notice) = notice {
        let colour = quiet(ui.visuals().dark_mode);
        ui.label(RichText::new(sentence(&notice)).small().color(colour));
    }
    chosen
}

fn stated_ui(ui: &mut Ui, state: &mut Calibrating) -> Option<Calibration> {
    let mut chosen = None;
    ui.label(heading("From resolution and magnification"));
    ui.horizontal(|ui| {
        number_ui(ui, "Dots per inch", &mut state.dpi, 1.0..=100_000.0);
        number_ui(ui, "Magnification", &mut state.magnification, 0.001..=10_000.0);
    });
    let (dpi, by) = (state.dpi, state.magnification);
    let scale = Calibration::from_dpi(dpi, by, CalibrationSource::Magnification).ok();
    let um = scale.as_ref().map_or(0.0, Calibration::x_um_per_px);
    if ui.button(format!("Use {um:.3} µm")).clicked() {
        chosen = scale;
    }
    ui.label(heading("Stated"));
    ui.horizontal(|ui| {
        number_ui(ui, "Micrometres a pixel", &mut state.stated_um, 0.0001..=10_000.0);
        if ui.button("Use this size").clicked() {
            let um = state.stated_um;
            chosen = Calibration::new(um, um, CalibrationSource::Stated).ok();
        }
    });
    chosen
}

fn number_ui(ui: &mut Ui, words: &str, value: &mut f64, range: std::ops::RangeInclusive<f64>) {
    let label = ui.label(words);
    let field = DragValue::new(value).range(range).speed(0.1).max_decimals(4);
    ui.add(field).labelled_by(label.id);
}

fn micrometer_ui(ui: &mut Ui, state: &mut Calibrating) -> Option<Calibration> {
    ui.label(heading("Stage micrometer on this picture"));
    ui.horizontal(|ui| {
        number_ui(ui, "Known length, µm", &mut state.known_um, 0.1..=1_000_000.0);
        let words = if state.is_drawing { "Drag along it now" } else { "Draw the line" };
        if ui.add(egui::Button::selectable(state.is_drawing, words)).clicked() {
            state.is_drawing = !state.is_drawing;
        }
    });
    let mut dropped = None;
    for (index, (um, a, b)) in state.spans.iter().enumerate() {
        ui.horizontal(|ui| {
            let px = (*b - *a).hypot();
            ui.label(format!("{um} µm on {px:.1} px: {:.4} µm a pixel", um / px));
            let drop = ui.small_button("Drop");
            let words = format!("Drop measurement {}", index + 1);
            drop.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
            if drop.clicked() {
                dropped = Some(index);
            }
        });
    }
    if let Some(index) = dropped {
        state.spans.remove(index);
    }
    let fit = state.measured()?;
    let n = if fit.n == 1 { "1 measurement".to_owned() } else { format!("{} measurements", fit.n) };
    let words = match (fit.sd_um_per_px, fit.se_um_per_px) {
        (Some(sd), Some(se)) => {
            format!("Mean {:.4} µm, SD {sd:.4}, SE {se:.4}, {n}", fit.um_per_px)
        }
        _ => format!("{:.4} µm, {n}: draw it again for its error", fit.um_per_px),
    };
    ui.label(words);
    ui.button("Use the mean").clicked().then(|| fit.calibration().ok()).flatten()
}

/// The lines on the picture, and drawing one while that is asked for.
pub fn lines_ui(ui: &mut Ui, state: &mut Calibrating, transform: &ScanTransform) {
    if !state.is_shown {
        return;
    }
    let painter = ui.painter_at(transform.rect());
    let paint = |a: Point, b: Point| {
        let line = [transform.screen_from_image(a), transform.screen_from_image(b)];
        painter.line_segment(line, Stroke::new(4.0, RIM));
        painter.line_segment(line, Stroke::new(2.0, Color32::WHITE));
    };
    for (_, a, b) in &state.spans {
        paint(*a, *b);
    }
    if !state.is_drawing {
        return;
    }
    let id = Id::unique("micrometer line");
    let ground = ui.interact(transform.rect(), id, Sense::drag());
    ground.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, "Line over the known length"));
    follow(&ground, state, transform);
    if let Some(from) = state.from {
        paint(from, state.to);
    }
}

fn follow(ground: &Response, state: &mut Calibrating, transform: &ScanTransform) {
    let pointer = ground.interact_pointer_pos().map(|at| transform.image_from_screen(at));
    if ground.drag_started() {
        state.from = pointer;
    }
    if let Some(at) = pointer {
        state.to = at;
    }
    if ground.drag_stopped()
        && let Some(from) = state.from.take()
        && (state.to - from).hypot() > 1.0
    {
        state.spans.push((state.known_um, from, state.to));
        state.is_drawing = false;
    }
}
