//! The plot of length at capture on total radius, with the fitted line.

use egui::{Color32, Rangef, RichText, Ui, Vec2b};
use egui_plot::{AxisHints, Line, MarkerShape, Plot, PlotPoints, Points};

use crate::analysis::back_calculation::{Direction, LengthsResult, Shape};
use crate::gui::theme::{Look, curve_colours, heading, quiet};
use crate::workbench::session_lengths::Lengths;

/// Draws the plot, `height` points high with its words.
pub fn plot_ui(ui: &mut Ui, lengths: &Lengths, height: f32) {
    let is_dark = ui.visuals().dark_mode;
    ui.label(heading("Length at capture on total radius"));
    let points: Vec<[f64; 2]> =
        lengths.points.iter().map(|fish| [fish.radius_um, fish.length_mm]).collect();
    let right = points.iter().map(|point| point[0]).fold(0.0, f64::max);
    let line = lengths.result.as_ref().ok().and_then(|result| line_of(result, right));
    let colour = Look::Proposal.on_ground(is_dark);
    // Every label at full strength: by default those of a dense axis fade away.
    let ink = curve_colours(is_dark).text;
    let across =
        AxisHints::new_x().label("total radius, µm").label_spacing(Rangef::new(40.0, 50.0));
    let up = AxisHints::new_y().label("length, mm").label_spacing(Rangef::new(14.0, 20.0));
    Plot::new("length on radius")
        .height((height - 70.0).clamp(160.0, 460.0))
        .include_x(0.0)
        .include_y(0.0)
        .custom_x_axes(vec![across.tick_label_color(ink)])
        .custom_y_axes(vec![up.tick_label_color(ink)])
        .grid_color(curve_colours(is_dark).rule)
        .allow_scroll(false)
        .allow_zoom(false)
        .allow_drag(Vec2b::FALSE)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
        .show(ui, |plot| {
            plot.points(
                Points::new("fish", PlotPoints::from(points))
                    .radius(3.5)
                    .shape(MarkerShape::Circle)
                    .color(colour),
            );
            if let Some((_, ends)) = &line {
                let ends: Vec<[f64; 2]> = ends.to_vec();
                plot.line(
                    Line::new("fitted line", PlotPoints::from(ends))
                        .width(2.0)
                        .color(line_colour(is_dark)),
                );
            }
        });
    let words = line.map_or_else(
        || "This method fits no line to these fish".to_owned(),
        |(equation, _)| equation,
    );
    ui.label(RichText::new(words).color(quiet(is_dark)));
}

fn line_colour(is_dark: bool) -> Color32 {
    Look::Annulus.on_ground(is_dark)
}

/// The fitted straight line of length on radius, as words and as its ends from radius 0 to `right`.
fn line_of(result: &LengthsResult, right: f64) -> Option<(String, [[f64; 2]; 2])> {
    let relation = result.relation.as_ref()?;
    if relation.shape != Shape::Line || relation.direction != Direction::LengthOnRadius {
        return None;
    }
    let at = |radius: f64| [radius, relation.intercept + relation.slope * radius];
    let fit = relation.r_squared.map_or_else(String::new, |r2| format!(", r squared {r2:.3}"));
    let words = format!(
        "Length = {:.2} mm + {:.5} mm/µm x radius{fit}",
        relation.intercept, relation.slope
    );
    Some((words, [at(0.0), at(right * 1.05)]))
}
