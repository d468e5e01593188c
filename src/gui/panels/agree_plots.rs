//! The pictures of the Agree desk: age bias, differences, agreement by age, radii by annulus. A click on a point lists
//! the fish behind it.

use egui::{Button, Color32, Rangef, RichText, Ui, Vec2b};
use egui_plot::{AxisHints, HLine, Line, LineStyle, MarkerShape, Plot, PlotPoints, Points};

use crate::analysis::agreement::comparison::PairComparison;
use crate::gui::theme::{Look, curve_colours, heading, quiet};
use crate::gui::view::View;
use crate::workbench::agree_figures::AgreeFigures;

use super::agree::{Picture, Shown};
use super::agree_table::table_ui;

/// A click takes the point within this many screen points.
const CLICK_REACH: f32 = 14.0;

/// 95 % of a normal distribution lie within this many standard deviations.
const NORMAL_95: f64 = 1.96;

/// What a plot shows, ready to draw.
#[derive(Default)]
struct Drawing {
    name: &'static str,
    across: String,
    up: String,
    points: Vec<[f64; 2]>,
    /// Shapes as large as the count behind them, in the order of `points`; empty where all are alike.
    sizes: Vec<f32>,
    /// From the low to the high end of an interval.
    intervals: Vec<[[f64; 2]; 2]>,
    /// Lines with their look.
    lines: Vec<(Vec<[f64; 2]>, Look)>,
    levels: Vec<(f64, Look)>,
    words: String,
}

/// Draws the choice of pictures and the chosen one, `height` points high in all.
pub fn plots_ui(
    ui: &mut Ui,
    figures: &AgreeFigures,
    pair: &PairComparison,
    view: &mut View,
    height: f32,
) {
    ui.horizontal_wrapped(|ui| {
        for (picture, words) in Picture::ALL {
            if ui.add(Button::selectable(view.agree.picture == picture, words)).clicked() {
                view.agree.picture = picture;
            }
        }
    });
    let plot_height = (height - 78.0).max(140.0);
    let shown = &mut view.agree.shown;
    match view.agree.picture {
        Picture::Table => {
            let size = egui::vec2(ui.available_width(), plot_height + 40.0);
            ui.allocate_ui(size, |ui| table_ui(ui, pair, shown));
        }
        Picture::Bias => {
            if let Some(at) = draw(ui, &bias(pair), plot_height) {
                *shown = Shown::Age(at[0].round() as u32);
            }
        }
        Picture::Differences => {
            if let Some(at) = draw(ui, &differences(pair), plot_height)
                && let Some((a, b)) = ages_at(pair, at)
            {
                *shown = Shown::Cell(a, b);
            }
        }
        Picture::ByAge => {
            if let Some(at) = draw(ui, &by_age(figures, pair), plot_height) {
                *shown = Shown::Age(at[0].round() as u32);
            }
        }
        Picture::Annuli => match annuli(figures, pair) {
            Some(drawing) => {
                if let Some(at) = draw(ui, &drawing, plot_height) {
                    *shown = Shown::Annulus(at[0].round() as usize);
                }
            }
            None => {
                ui.label("The two share no measured impression: there are no radii to compare");
            }
        },
    }
}

fn bias(pair: &PairComparison) -> Drawing {
    let [first, second] = &pair.readers;
    let rows = &pair.bias_on_first;
    let ages = rows.iter().map(|row| f64::from(row.age));
    let (low, high) =
        ages.fold((f64::MAX, f64::MIN), |(low, high), age| (low.min(age), high.max(age)));
    let one_to_one = vec![[low - 0.5, low - 0.5], [high + 0.5, high + 0.5]];
    Drawing {
        name: "Age bias plot",
        across: format!("age by {first}"),
        up: format!("mean age by {second}"),
        points: rows.iter().map(|row| [f64::from(row.age), row.mean]).collect(),
        intervals: rows
            .iter()
            .filter_map(|row| {
                let [low, high] = row.ci95?;
                Some([[f64::from(row.age), low], [f64::from(row.age), high]])
            })
            .collect(),
        lines: vec![(one_to_one, Look::Annulus)],
        words: "Means with 95 % intervals (t); on the line the two agree. One fish of an age has no interval".to_owned(),
        ..Drawing::default()
    }
}

fn differences(pair: &PairComparison) -> Drawing {
    let [first, second] = &pair.readers;
    let mut drawing = Drawing {
        name: "Difference plot",
        across: "mean of the two ages".to_owned(),
        up: format!("age by {second} minus age by {first}"),
        levels: vec![(0.0, Look::Margin)],
        words: "Larger points hold more fish. Solid: no difference; dashed: mean; dotted: 95 % limits of agreement".to_owned(),
        ..Drawing::default()
    };
    for (a, b, n) in pair.matrix.iter().flat_map(|matrix| matrix.cells()) {
        drawing.points.push(difference_point(a, b));
        drawing.sizes.push(2.5 + 1.5 * (n as f32).sqrt().min(6.0));
    }
    if let Some(limits) = &pair.limits {
        drawing.levels.push((limits.mean, Look::Proposal));
        drawing.levels.extend([(limits.lower, Look::Check), (limits.upper, Look::Check)]);
    }
    drawing
}

fn difference_point(a: u32, b: u32) -> [f64; 2] {
    [(f64::from(a) + f64::from(b)) / 2.0, f64::from(b) - f64::from(a)]
}

/// The two ages behind a point of the difference plot.
fn ages_at(pair: &PairComparison, at: [f64; 2]) -> Option<(u32, u32)> {
    let mut cells = pair.matrix.as_ref()?.cells();
    cells.find(|(a, b, _)| difference_point(*a, *b) == at).map(|(a, b, _)| (a, b))
}

fn by_age(figures: &AgreeFigures, pair: &PairComparison) -> Drawing {
    let rows = &figures.by_age;
    let line = |of: fn(&crate::analysis::agreement::by_age::AgreementAtAge) -> f64| {
        rows.iter().map(|row| [f64::from(row.age), of(row)]).collect::<Vec<_>>()
    };
    let exact = line(|row| row.percent_exact());
    Drawing {
        name: "Agreement by age",
        across: format!("age by {}", pair.readers[0]),
        up: "percent of fish".to_owned(),
        points: exact.clone(),
        sizes: rows.iter().map(|row| 2.5 + 1.2 * (row.n as f32).sqrt().min(6.0)).collect(),
        lines: vec![(exact, Look::Annulus), (line(|row| row.percent_within_1()), Look::Proposal)],
        levels: vec![(0.0, Look::Margin), (100.0, Look::Margin)],
        words:
            "Solid with points: the same age, larger points for more fish; dashed: within one year"
                .to_owned(),
        ..Drawing::default()
    }
}

/// Differences of radii at each annulus with limits of agreement. At each, where the two part is told below.
fn annuli(figures: &AgreeFigures, pair: &PairComparison) -> Option<Drawing> {
    let radii = figures.radii.as_ref()?;
    let [first, second] = &pair.readers;
    let at = |number: usize| number as f64;
    let measured = radii.by_annulus.iter().filter(|row| row.n > 0);
    let most =
        radii.by_annulus.iter().max_by_key(|row| row.n_parting).filter(|row| row.n_parting > 0);
    let parting = most.map_or_else(
        || "The readings part at no annulus".to_owned(),
        |row| format!("Most readings part at annulus {} ({} fish)", row.number, row.n_parting),
    );
    Some(Drawing {
        name: "Radii by annulus",
        across: "annulus".to_owned(),
        up: format!("radius by {second} minus by {first}, µm"),
        points: measured.clone().map(|row| [at(row.number), row.mean.0]).collect(),
        intervals: measured
            .filter_map(|row| {
                let reach = row.sd?.0 * NORMAL_95;
                let ends = [row.mean.0 - reach, row.mean.0 + reach];
                Some(ends.map(|end| [at(row.number), end]))
            })
            .collect(),
        levels: vec![(0.0, Look::Margin)],
        words: format!("Means with 95 % limits of agreement. {parting}"),
        ..Drawing::default()
    })
}

/// Draws a plot; the point that was clicked.
fn draw(ui: &mut Ui, drawing: &Drawing, height: f32) -> Option<[f64; 2]> {
    let is_dark = ui.visuals().dark_mode;
    let colours = curve_colours(is_dark);
    ui.label(heading(drawing.name));
    // Every label at full strength: by default those of a dense axis fade away.
    let across =
        AxisHints::new_x().label(drawing.across.clone()).label_spacing(Rangef::new(40.0, 50.0));
    let up = AxisHints::new_y().label(drawing.up.clone()).label_spacing(Rangef::new(14.0, 20.0));
    let shown = Plot::new(drawing.name)
        .height(height)
        .custom_x_axes(vec![across.tick_label_color(colours.text)])
        .custom_y_axes(vec![up.tick_label_color(colours.text)])
        .grid_color(colours.rule)
        .allow_scroll(false)
        .allow_zoom(false)
        .allow_drag(Vec2b::FALSE)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
        .show(ui, |plot| {
            for (level, look) in &drawing.levels {
                let line = HLine::new("level", *level).color(look.on_ground(is_dark)).width(1.2);
                plot.hline(line.style(style_of(*look)));
            }
            for (points, look) in &drawing.lines {
                let line = Line::new("line", PlotPoints::from(points.clone()));
                plot.line(line.color(look.on_ground(is_dark)).width(1.6).style(style_of(*look)));
            }
            let ink = point_colour(is_dark);
            for ends in &drawing.intervals {
                plot.line(
                    Line::new("interval", PlotPoints::from(ends.to_vec())).color(ink).width(1.6),
                );
            }
            for (place, point) in drawing.points.iter().enumerate() {
                let size = drawing.sizes.get(place).copied().unwrap_or(4.0);
                plot.points(
                    Points::new("fish", PlotPoints::from(vec![*point]))
                        .radius(size)
                        .shape(MarkerShape::Circle)
                        .color(ink),
                );
            }
        });
    let name = drawing.name;
    shown.response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Canvas, true, name));
    ui.label(RichText::new(&drawing.words).small().color(quiet(is_dark)));
    let at = shown.response.interact_pointer_pos().filter(|_| shown.response.clicked())?;
    let distance = |point: &[f64; 2]| {
        let there = shown.transform.position_from_point(&egui_plot::PlotPoint::from(*point));
        (there - at).length()
    };
    let nearest = drawing.points.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)))?;
    (distance(nearest) <= CLICK_REACH).then_some(*nearest)
}

fn style_of(look: Look) -> LineStyle {
    match look {
        Look::Proposal | Look::Alternative => LineStyle::dashed_loose(),
        Look::Check => LineStyle::dotted_loose(),
        Look::Annulus | Look::Margin | Look::Axis => LineStyle::Solid,
    }
}

fn point_colour(is_dark: bool) -> Color32 {
    Look::Proposal.on_ground(is_dark)
}
