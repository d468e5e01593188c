//! The Lengths desk: lengths at earlier ages by fish and on the mean, and who was left out, with reasons.

use egui::{DragValue, Grid, RichText, ScrollArea, Ui};

use crate::analysis::back_calculation::LengthsResult;
use crate::gui::theme::{heading, problem, quiet};
use crate::gui::view::{View, verb_button};
use crate::workbench::action::{Action, Verb};
use crate::workbench::notices::sentence;
use crate::workbench::session_growth::GrowthAction;
use crate::workbench::session_lengths::{Lengths, LengthsRequest, PlotFish};
use crate::workbench::survey_readings::AgesFrom;
use crate::workbench::workbench::Workbench;

use super::fish_choice::{FishLine, choose, fish_choice_ui};
use super::lengths_plot::plot_ui;

/// Draws the desk.
pub fn lengths_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    if !workbench.may_show_lengths() {
        guard_ui(ui, actions);
        return;
    }
    method_ui(ui, workbench, view, actions);
    ui.separator();
    let Some(lengths) = workbench.lengths().lengths() else {
        let words = if workbench.lengths().is_working() {
            "Working out lengths"
        } else {
            "No confirmed readings yet: confirm scans on the Read desk first"
        };
        ui.label(words);
        return;
    };
    let hovered = view.growth.choice.hovered.take();
    let chosen = workbench.growth().chosen();
    egui::Panel::right("plot of length on radius").default_size(460.0).min_size(260.0).show(
        ui,
        |ui| {
            let height = ui.available_height() * 0.58;
            let pointed = plot_ui(ui, lengths, hovered.as_deref().or(chosen), height);
            if let Some(key) = &pointed.over {
                if pointed.is_double_clicked {
                    actions.push(Action::Growth(GrowthAction::OpenScanOf(key.clone())));
                } else if pointed.is_clicked {
                    choose(key, actions);
                }
            }
            ui.separator();
            let lines: Vec<FishLine> = lengths.points.iter().map(line).collect();
            let choice = &mut view.growth.choice;
            fish_choice_ui(ui, (chosen, &lines, &lengths.excluded), choice, actions);
        },
    );
    egui::CentralPanel::no_frame().show(ui, |ui| {
        ScrollArea::both().auto_shrink([false, false]).show(ui, |ui| tables_ui(ui, lengths));
    });
}

fn line(fish: &PlotFish) -> FishLine {
    let words = format!("{:.0} mm, radius {:.0} µm", fish.length_mm, fish.radius_um);
    FishLine { key: fish.key.clone(), words }
}

/// An unconfirmed reading is open: lengths would sway it.
pub fn guard_ui(ui: &mut Ui, actions: &mut Vec<Action>) {
    ui.vertical_centered(|ui| {
        ui.add_space(ui.available_height() * 0.3);
        ui.label(RichText::new("Lengths are hidden while a reading is open").size(20.0));
        let words =
            "Confirm the open reading first. If you look now, the reading records that you did.";
        ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            ui.add_space(ui.available_width() / 2.0 - 110.0);
            verb_button(ui, Verb::GoToRead, true, actions);
            if ui.button("Show lengths anyway").clicked() {
                actions.push(Verb::ShowLength.into());
            }
        });
    });
}

/// The methods to choose from.
pub fn method_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    let now = workbench.lengths().request();
    ui.horizontal_wrapped(|ui| {
        ui.label("Method");
        let given = view.given_intercept();
        let choices = [
            LengthsRequest::DirectProportion,
            LengthsRequest::FraserLeeFitted,
            given,
            LengthsRequest::ScaleProportional,
            LengthsRequest::BodyProportional,
        ];
        for request in choices {
            let is_chosen = std::mem::discriminant(&now) == std::mem::discriminant(&request);
            if ui.add(egui::Button::selectable(is_chosen, request.name())).clicked() {
                actions.push(Action::SetLengths(request));
            }
        }
        if let LengthsRequest::FraserLeeGiven(_) = now {
            let label = ui.label("Intercept");
            let field = DragValue::new(&mut view.intercept_mm)
                .range(-500.0..=500.0)
                .speed(0.5)
                .suffix(" mm");
            if ui.add(field).labelled_by(label.id).changed() {
                actions.push(Action::SetLengths(view.given_intercept()));
            }
        }
        if workbench.lengths().is_working() {
            ui.spinner();
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("Ages");
        let now = workbench.lengths().ages_from();
        for from in AgesFrom::ALL {
            if ui.add(egui::Button::selectable(now == from, from.words())).clicked() {
                actions.push(Action::SetAgesFrom(from));
            }
        }
        if let Some(lengths) = workbench.lengths().lengths() {
            let words = sentence(&lengths.ages);
            ui.label(RichText::new(words).small().color(quiet(ui.visuals().dark_mode)));
        }
    });
}

fn tables_ui(ui: &mut Ui, lengths: &Lengths) {
    let is_dark = ui.visuals().dark_mode;
    match &lengths.result {
        Ok(result) => result_ui(ui, lengths, result),
        Err(why) => _ = ui.label(RichText::new(sentence(why)).color(problem(is_dark))),
    }
    left_out_ui(ui, lengths);
}

fn result_ui(ui: &mut Ui, lengths: &Lengths, result: &LengthsResult) {
    let colour = quiet(ui.visuals().dark_mode);
    let intercept =
        result.intercept_mm.map_or_else(String::new, |mm| format!(", intercept {mm:.1} mm"));
    let words = format!(
        "Readings of {}, {} fish{intercept}. Assumed: {}.",
        lengths.reader,
        result.fish.len(),
        result.method.assumption()
    );
    ui.label(RichText::new(words).color(colour));
    for warning in &result.warnings {
        ui.label(
            RichText::new(sentence(&warning.to_string())).color(problem(ui.visuals().dark_mode)),
        );
    }
    ui.add_space(6.0);
    ui.label(heading("Mean length at age, mm"));
    means_ui(ui, result);
    let words =
        "95 %: scatter among fish alone, by Student's t. The Growth desk carries all known errors.";
    ui.label(RichText::new(words).color(colour));
    ui.add_space(10.0);
    ui.label(heading("Length at age by fish, mm"));
    fish_ui(ui, result);
}

fn means_ui(ui: &mut Ui, result: &LengthsResult) {
    Grid::new("means").striped(true).min_col_width(58.0).show(ui, |ui| {
        for heading in ["Age", "Fish", "Mean", "SD", "SE", "95 %", "Growth"] {
            ui.label(RichText::new(heading).strong());
        }
        ui.end_row();
        let increments = &result.tables.increments_mm;
        for (row, growth) in result
            .tables
            .by_age
            .iter()
            .zip(increments.iter().map(Some).chain(std::iter::repeat(None)))
        {
            ui.label(row.age.to_string());
            ui.label(row.n.to_string());
            for value in [Some(row.mean_mm), row.sd_mm, row.se_mm] {
                number(ui, value);
            }
            let limits = row.ci95_mm().map(|[low, high]| format!("{low:.0} to {high:.0}"));
            ui.label(limits.unwrap_or_default());
            number(ui, growth.copied());
            ui.end_row();
        }
    });
}

fn fish_ui(ui: &mut Ui, result: &LengthsResult) {
    let ages = result.fish.iter().map(|fish| fish.lengths_mm.len()).max().unwrap_or(0);
    Grid::new("fish lengths").striped(true).min_col_width(48.0).show(ui, |ui| {
        for heading in ["Fish", "Age", "Year class", "At capture"] {
            ui.label(RichText::new(heading).strong());
        }
        for age in 1..=ages {
            ui.label(RichText::new(age.to_string()).strong());
        }
        ui.end_row();
        for fish in &result.fish {
            let flags: Vec<String> = fish.flags.iter().map(ToString::to_string).collect();
            let name = ui.label(&fish.key);
            if !flags.is_empty() {
                name.on_hover_text(flags.join("; "));
            }
            ui.label(fish.age().to_string());
            ui.label(fish.year_class.map_or_else(|| "-".to_owned(), |year| year.to_string()));
            number(ui, Some(fish.length_at_capture_mm));
            for age in 0..ages {
                number(ui, fish.lengths_mm.get(age).copied());
            }
            ui.end_row();
        }
    });
}

fn number(ui: &mut Ui, value: Option<f64>) {
    ui.label(value.map_or_else(String::new, |value| format!("{value:.1}")));
}

/// Nobody disappears silently: fish without radii, and fish the method must leave out.
fn left_out_ui(ui: &mut Ui, lengths: &Lengths) {
    let excluded = lengths.result.as_ref().map_or(&[][..], |result| &result.excluded);
    let count = excluded.len() + lengths.left_out.len();
    ui.add_space(10.0);
    ui.label(heading(&format!("Left out: {count}")));
    Grid::new("left out").striped(true).num_columns(2).show(ui, |ui| {
        let by_method = excluded.iter().map(|one| (one.fish.clone(), one.reason.to_string()));
        let before = lengths.left_out.iter().map(|one| (one.fish.clone(), one.reason.clone()));
        for (fish, reason) in by_method.chain(before) {
            ui.label(fish);
            ui.label(reason);
            ui.end_row();
        }
    });
}
