//! What all plots of the desks share: axes with units, no zoom by accident, a name for screen readers, and fish that can be
//! pointed at.

use egui::{Pos2, Rangef, Response, Ui, Vec2b, WidgetInfo};
use egui_plot::{AxisHints, GridInput, GridMark, Plot, PlotPoint, PlotUi};

use crate::gui::theme::curve_colours;

/// How near the pointer must be to a point, screen points.
const REACH: f32 = 14.0;

/// A plain plot with named axes. `across` and `up` carry their units.
pub fn plain_plot<'a>(ui: &Ui, id: &str, (across, up): (&str, &str), height: f32) -> Plot<'a> {
    let colours = curve_colours(ui.visuals().dark_mode);
    // Every label at full strength: by default those of a dense axis fade away.
    let x = AxisHints::new_x().label(across).label_spacing(Rangef::new(40.0, 50.0));
    let y = AxisHints::new_y().label(up).label_spacing(Rangef::new(14.0, 20.0));
    Plot::new(id.to_owned())
        .height(height.max(120.0))
        .custom_x_axes(vec![x.tick_label_color(colours.text)])
        .custom_y_axes(vec![y.tick_label_color(colours.text)])
        .grid_color(colours.rule)
        .show_x(false)
        .show_y(false)
        .allow_scroll(false)
        .allow_zoom(false)
        .allow_drag(Vec2b::FALSE)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
}

/// Grid marks at whole numbers, thinned to what fits.
pub fn whole_marks(input: GridInput) -> Vec<GridMark> {
    let (low, high) = input.bounds;
    let span = (high - low).max(1.0);
    let step = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0].into_iter().find(|step| span / step <= 9.0);
    let step = step.unwrap_or(100.0);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last.min(first + 200))
        .map(|number| GridMark { value: number as f64 * step, step_size: step })
        .collect()
}

/// Gives a finished plot a name that says what is on it.
pub fn name_plot(response: &Response, words: &str) {
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, words));
}

/// The fish whose point is nearest to the pointer, within reach.
pub fn pointed_at<'a>(
    plot: &PlotUi<'_>,
    points: impl Iterator<Item = (&'a str, [f64; 2])>,
) -> Option<&'a str> {
    let pointer = plot.response().hover_pos()?;
    let away = |point: [f64; 2]| -> f32 {
        let at: Pos2 = plot.screen_from_plot(PlotPoint::new(point[0], point[1]));
        at.distance(pointer)
    };
    let near = points.map(|(key, point)| (key, away(point))).filter(|(_, away)| *away <= REACH);
    near.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(key, _)| key)
}
