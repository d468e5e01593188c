//! The plots of the growth desk: length at age with curve and band, growth years, and the standard.

use egui::{Align2, Color32, RichText, Ui};
use egui_plot::{
    FilledArea, HLine, Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, PlotUi, Points, Text,
};

use crate::analysis::growth::{Fit, predict};
use crate::analysis::year_effects::YearEffect;
use crate::gui::theme::{Look, curve_colours, heading, quiet};
use crate::workbench::growth_findings::{FishPath, GrowthFindings};
use crate::workbench::survey_compare::AgainstStandard;

use super::plot_frame::{name_plot, plain_plot, pointed_at, whole_marks};

/// What the pointer did on a plot of fish.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Pointed {
    /// Key of the fish under the pointer.
    pub over: Option<String>,
    /// It was clicked.
    pub is_clicked: bool,
    /// It was clicked twice.
    pub is_double_clicked: bool,
}

/// Length at age: every fish's path, means with limits, the curve and its band. `bright` stands out.
pub fn length_at_age_ui(
    ui: &mut Ui,
    found: &GrowthFindings,
    bright: Option<&str>,
    height: f32,
) -> Pointed {
    let is_dark = ui.visuals().dark_mode;
    ui.label(heading("Length at age"));
    let oldest = found.paths.iter().map(|path| path.age).max().unwrap_or(1);
    let curve = found.curve.as_ref().ok().map(|fitted| &fitted.fit);
    let plot = plain_plot(ui, "length at age", ("age, years", "length, mm"), height - 66.0)
        .x_grid_spacer(whole_marks)
        .include_x(0.0)
        .include_x(f64::from(oldest) + 0.5)
        .include_y(0.0);
    let shown = plot.show(ui, |plot| {
        if let Some(fit) = curve {
            curve_items(plot, fit, f64::from(oldest), is_dark);
        }
        for path in &found.paths {
            path_items(plot, path, curve_colours(is_dark).curve.gamma_multiply(0.28), 1.0);
        }
        means_items(plot, found, is_dark);
        let ends = found.paths.iter();
        let points = ends.flat_map(|p| p.points.iter().map(move |point| (p.key.as_str(), *point)));
        let over = pointed_at(plot, points).map(str::to_owned);
        let bright = over.as_deref().or(bright);
        if let Some(path) = found.paths.iter().find(|path| Some(path.key.as_str()) == bright) {
            path_items(plot, path, Look::Check.on_ground(is_dark), 2.5);
            path_name(plot, path, is_dark);
        }
        over
    });
    let n = found.paths.len();
    name_plot(&shown.response, &format!("Plot of length at age of {n} fish"));
    let words = match (&found.curve, found.uncertainty.is_ok()) {
        (Err(reason), _) => format!("No curve: {reason}"),
        (Ok(_), true) => "Thin lines: fish. Diamonds: means over all fish, 95 % limits with all known errors. Curve and band: last annulus of each fish, fit alone.".to_owned(),
        (Ok(_), false) => "Thin lines: fish. Curve and band: last annulus of each fish.".to_owned(),
    };
    ui.label(RichText::new(words).color(quiet(is_dark)));
    Pointed {
        is_clicked: shown.inner.is_some() && shown.response.clicked(),
        is_double_clicked: shown.inner.is_some() && shown.response.double_clicked(),
        over: shown.inner,
    }
}

fn path_items(plot: &mut PlotUi<'_>, path: &FishPath, colour: Color32, width: f32) {
    plot.line(
        Line::new(path.key.clone(), PlotPoints::from(path.points.clone()))
            .color(colour)
            .width(width)
            .allow_hover(false),
    );
    plot.points(
        Points::new(path.key.clone(), PlotPoints::from(path.points.clone()))
            .color(colour)
            .radius(width + 0.8)
            .allow_hover(false),
    );
}

fn path_name(plot: &mut PlotUi<'_>, path: &FishPath, is_dark: bool) {
    let Some([age, mm]) = path.points.last() else { return };
    let class = path.year_class.map_or_else(String::new, |year| format!(", {year}"));
    let words =
        RichText::new(format!("{}{class}", path.key)).color(curve_colours(is_dark).text).size(13.0);
    let at = PlotPoint::new(*age, *mm);
    plot.text(Text::new("fish", at, words).anchor(Align2::RIGHT_BOTTOM));
}

fn curve_items(plot: &mut PlotUi<'_>, fit: &Fit, oldest: f64, is_dark: bool) {
    let colour = Look::Proposal.on_ground(is_dark);
    let (from, steps) = (fit.age_range().0.min(1.0), 80);
    let bands: Vec<_> = (0..=steps)
        .filter_map(|i| {
            predict(fit, from + (oldest + 0.4 - from) * f64::from(i) / f64::from(steps))
        })
        .collect();
    let ages: Vec<f64> = bands.iter().map(|band| band.age).collect();
    let side = |i: usize| -> Option<Vec<f64>> {
        bands.iter().map(|band| band.ci95.map(|limits| limits[i])).collect()
    };
    if let (Some(low), Some(high)) = (side(0), side(1)) {
        let area = FilledArea::new("95 % of the curve", &ages, &low, &high);
        plot.add(area.fill_color(colour.gamma_multiply(0.22)).allow_hover(false));
    }
    let line: Vec<[f64; 2]> = bands.iter().map(|band| [band.age, band.mean]).collect();
    plot.line(
        Line::new("curve", PlotPoints::from(line)).color(colour).width(2.5).allow_hover(false),
    );
}

fn means_items(plot: &mut PlotUi<'_>, found: &GrowthFindings, is_dark: bool) {
    let Ok(propagated) = &found.uncertainty else { return };
    let colour = Look::Annulus.on_ground(is_dark);
    let means: Vec<[f64; 2]> =
        propagated.by_age.iter().map(|row| [row.age as f64, row.mean_mm]).collect();
    for row in &propagated.by_age {
        if let Some([low, high]) = row.ci95_mm {
            bar(plot, row.age as f64, [low, high], 0.07, colour);
        }
    }
    let points = Points::new("mean length at age", PlotPoints::from(means));
    plot.points(points.shape(MarkerShape::Diamond).radius(4.5).color(colour).allow_hover(false));
}

/// An interval as an upright bar with caps.
fn bar(plot: &mut PlotUi<'_>, x: f64, [low, high]: [f64; 2], cap: f64, colour: Color32) {
    let parts = [
        vec![[x, low], [x, high]],
        vec![[x - cap, low], [x + cap, low]],
        vec![[x - cap, high], [x + cap, high]],
    ];
    for part in parts {
        let line = Line::new("95 % limits", PlotPoints::from(part));
        plot.line(line.color(colour).width(1.8).allow_hover(false));
    }
}

/// Growth by calendar year: effect in percent with its limits and the number of increments.
pub fn years_ui(ui: &mut Ui, found: &GrowthFindings, height: f32) {
    let is_dark = ui.visuals().dark_mode;
    ui.label(heading("Growth by calendar year"));
    let years: Vec<&YearEffect> = found.years.iter().flat_map(|piece| &piece.years).collect();
    let (Some(first), Some(last)) = (years.first(), years.last()) else {
        ui.label(
            RichText::new("No growth years: capture dates and several ages are needed")
                .color(quiet(is_dark)),
        );
        return;
    };
    let percent = |value: f64| 100.0 * value.exp_m1();
    let reach = |i: usize| years.iter().map(|y| percent(y.ci95[i]).abs()).fold(10.0, f64::max);
    let top = reach(0).max(reach(1)).min(150.0);
    let plot = plain_plot(
        ui,
        "growth years",
        ("calendar year", "growth, % of an average year"),
        height - 66.0,
    )
    .include_x(f64::from(first.year) - 0.7)
    .include_x(f64::from(last.year) + 0.7)
    .include_y(-top.min(70.0) * 1.1)
    .include_y(top * 1.25)
    .x_grid_spacer(whole_marks)
    .x_axis_formatter(|mark, _| format!("{:.0}", mark.value));
    let shown = plot.show(ui, |plot| {
        plot.hline(HLine::new("average year", 0.0).color(curve_colours(is_dark).curve).width(1.2));
        for one in &years {
            let (look, shape) = match (one.is_poor(), one.is_good()) {
                (true, _) => (Look::Check, MarkerShape::Down),
                (_, true) => (Look::Proposal, MarkerShape::Up),
                _ => (Look::Margin, MarkerShape::Circle),
            };
            let colour = look.on_ground(is_dark);
            let x = f64::from(one.year);
            bar(plot, x, one.ci95.map(percent), 0.12, colour);
            let points = Points::new("year", vec![[x, percent(one.effect)]]);
            plot.points(
                points
                    .shape(shape)
                    .radius(5.0)
                    .color(colour)
                    .filled(!one.is_thin)
                    .allow_hover(false),
            );
            let words =
                RichText::new(format!("n {}", one.n)).color(curve_colours(is_dark).text).size(11.0);
            plot.text(Text::new("n", PlotPoint::new(x, top * 1.18), words));
        }
    });
    let poor = years.iter().filter(|one| one.is_poor()).count();
    let good = years.iter().filter(|one| one.is_good()).count();
    name_plot(
        &shown.response,
        &format!("Plot of growth in {} years: {poor} poor, {good} good", years.len()),
    );
    let words = "Down: poor, up: good, by 95 % limits. Open: few increments. n: increments.";
    ui.label(RichText::new(words).color(quiet(is_dark)));
}

/// Deviation of mean length at age from the standard.
pub fn standard_ui(ui: &mut Ui, against: &AgainstStandard, height: f32) {
    let is_dark = ui.visuals().dark_mode;
    ui.label(heading("Against the standard"));
    let oldest = against.index.ages.last().map_or(1, |age| age.age);
    let plot =
        plain_plot(ui, "against the standard", ("age, years", "difference, mm"), height - 66.0)
            .x_grid_spacer(whole_marks)
            .include_x(0.4)
            .include_x(f64::from(oldest) + 0.6)
            .include_y(0.0);
    let shown = plot.show(ui, |plot| {
        plot.hline(HLine::new("standard", 0.0).color(curve_colours(is_dark).curve).width(1.2));
        let colour = Look::Annulus.on_ground(is_dark);
        let mut line = Vec::new();
        for age in &against.index.ages {
            let Some(standing) = age.standing else { continue };
            let point = [f64::from(age.age), standing.deviation_mm];
            if age.is_used {
                line.push(point);
            }
            if let Some(sd) = age.sd_mm.filter(|_| age.n > 1) {
                let half = 1.96 * sd / (age.n as f64).sqrt();
                bar(plot, point[0], [point[1] - half, point[1] + half], 0.08, colour);
            }
            let points = Points::new("age", vec![point]).shape(MarkerShape::Diamond);
            plot.points(points.radius(4.5).color(colour).filled(age.is_used).allow_hover(false));
        }
        let line = Line::new("used ages", PlotPoints::from(line)).style(LineStyle::dashed_dense());
        plot.line(line.color(colour).width(1.5).allow_hover(false));
    });
    name_plot(&shown.response, "Plot of mean length at age less the standard");
    let words = "Bars: 95 % of the mean by scatter among fish. Open: too few fish for the index.";
    ui.label(RichText::new(words).color(quiet(is_dark)));
}
