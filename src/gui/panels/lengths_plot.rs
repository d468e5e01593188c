//! The plot of length at capture on total radius, with the fitted line and its limits.

use egui::{RichText, Ui};
use egui_plot::{FilledArea, Line, LineStyle, MarkerShape, PlotPoints, PlotUi, Points};

use crate::analysis::back_calculation::{Direction, LengthsResult, Relation, Shape};
use crate::gui::theme::{Look, heading, quiet};
use crate::workbench::session_lengths::Lengths;

use super::growth_plots::Pointed;
use super::plot_frame::{name_plot, plain_plot, pointed_at};

/// Steps a curve is drawn in.
const STEPS: u32 = 60;

/// Draws the plot, `height` points high with its words. `bright` is the key of a fish that stands out.
pub fn plot_ui(ui: &mut Ui, lengths: &Lengths, bright: Option<&str>, height: f32) -> Pointed {
    let is_dark = ui.visuals().dark_mode;
    ui.label(heading("Length at capture on total radius"));
    let relation = lengths.result.as_ref().ok().and_then(|result| result.relation.as_ref());
    let axes = ("total radius, µm", "length, mm");
    let plot = plain_plot(ui, "length on radius", axes, (height - 64.0).clamp(140.0, 460.0))
        .include_x(0.0)
        .include_y(0.0);
    let shown = plot.show(ui, |plot| {
        let all = || lengths.points.iter().map(|fish| [fish.radius_um, fish.length_mm]);
        if let Some(relation) = relation {
            let reach = all().fold([0.0, 0.0], |[x, y]: [f64; 2], p| [x.max(p[0]), y.max(p[1])]);
            relation_items(plot, relation, reach, is_dark);
        }
        let points = Points::new("fish", PlotPoints::from(all().collect::<Vec<_>>()));
        let colour = Look::Proposal.on_ground(is_dark);
        plot.points(points.radius(3.2).shape(MarkerShape::Circle).color(colour).allow_hover(false));
        let keyed = lengths.points.iter().map(|f| (f.key.as_str(), [f.radius_um, f.length_mm]));
        let over = pointed_at(plot, keyed).map(str::to_owned);
        let bright = over.as_deref().or(bright);
        if let Some(fish) = lengths.points.iter().find(|fish| Some(fish.key.as_str()) == bright) {
            let point = Points::new("chosen fish", vec![[fish.radius_um, fish.length_mm]]);
            let look = Look::Check.on_ground(is_dark);
            plot.points(point.radius(7.0).filled(false).color(look).allow_hover(false));
        }
        over
    });
    let n = lengths.points.len();
    name_plot(&shown.response, &format!("Plot of length at capture on total radius of {n} fish"));
    if let Some(key) = &shown.inner {
        shown.response.clone().on_hover_text(format!("Fish {key}"));
    }
    let words = lengths
        .result
        .as_ref()
        .ok()
        .and_then(words_of)
        .unwrap_or_else(|| "This method fits no relation to these fish".to_owned());
    ui.label(RichText::new(words).color(quiet(is_dark)));
    Pointed {
        is_clicked: shown.inner.is_some() && shown.response.clicked(),
        is_double_clicked: shown.inner.is_some() && shown.response.double_clicked(),
        over: shown.inner,
    }
}

/// The relation with the limits of its mean as a band and those of single fish as dashes; drawn on its side where radius
/// was predicted from length.
fn relation_items(plot: &mut PlotUi<'_>, relation: &Relation, reach: [f64; 2], is_dark: bool) {
    let colour = Look::Annulus.on_ground(is_dark);
    let is_upright = relation.direction == Direction::LengthOnRadius;
    let to = 1.05 * if is_upright { reach[0] } else { reach[1] };
    let from = if relation.shape == Shape::LogLog { 0.02 * to } else { 0.0 };
    let at: Vec<f64> =
        (0..=STEPS).map(|i| from + (to - from) * f64::from(i) / f64::from(STEPS)).collect();
    let turned = |x: f64, y: f64| if is_upright { [x, y] } else { [y, x] };
    let line: Vec<[f64; 2]> =
        at.iter().filter_map(|x| Some(turned(*x, relation.at(*x)?))).collect();
    let side =
        |pick: fn(&crate::analysis::back_calculation::LineLimits) -> f64| -> Option<Vec<f64>> {
            at.iter().map(|x| relation.limits_at(*x).map(|limits| pick(&limits))).collect()
        };
    let (low, high) = (side(|l| l.mean95[0]), side(|l| l.mean95[1]));
    if let (Some(low), Some(high), true) = (low, high, is_upright) {
        let area = FilledArea::new("95 % of the mean", &at, &low, &high);
        plot.add(area.fill_color(colour.gamma_multiply(0.22)).allow_hover(false));
    }
    for single in [side(|l| l.single95[0]), side(|l| l.single95[1])].into_iter().flatten() {
        let edge: Vec<[f64; 2]> = at.iter().zip(single).map(|(x, y)| turned(*x, y)).collect();
        let edge = Line::new("95 % of single fish", PlotPoints::from(edge));
        let dashed = edge.style(LineStyle::dashed_dense()).color(colour.gamma_multiply(0.8));
        plot.line(dashed.width(1.2).allow_hover(false));
    }
    let fitted = Line::new("fitted relation", PlotPoints::from(line));
    plot.line(fitted.width(2.2).color(colour).allow_hover(false));
}

fn words_of(result: &LengthsResult) -> Option<String> {
    let relation = result.relation.as_ref()?;
    let fit = relation.r_squared.map_or_else(String::new, |r2| format!(", r squared {r2:.3}"));
    let (a, b) = (relation.intercept, relation.slope);
    let equation = match (relation.direction, relation.shape) {
        (Direction::LengthOnRadius, Shape::Line) => {
            format!("Length = {a:.2} mm + {b:.5} mm/µm x radius{fit}.")
        }
        (Direction::RadiusOnLength, Shape::Line) => {
            format!("Radius = {a:.1} µm + {b:.4} µm/mm x length{fit}.")
        }
        _ => format!("{}, {}{fit}.", relation.direction.word(), relation.shape.word()),
    };
    let limits = if relation.limits_at(0.0).is_some() {
        " Band: 95 % of the mean. Dashes: 95 % of single fish."
    } else {
        ""
    };
    Some(equation + limits)
}
