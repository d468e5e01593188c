//! The growth desk: is it good growth or bad growth, in which years, and how sure.

use egui::{CentralPanel, ComboBox, DragValue, Panel, RichText, ScrollArea, TextEdit, Ui};

use crate::analysis::condition::StandardWeight;
use crate::analysis::growth::Curve;
use crate::gui::theme::problem;
use crate::gui::view::View;
use crate::workbench::action::Action;
use crate::workbench::growth_findings::GrowthFindings;
use crate::workbench::notices::sentence;
use crate::workbench::session_growth::GrowthAction;
use crate::workbench::session_lengths::LengthsRequest;
use crate::workbench::workbench::Workbench;

use super::fish_choice::{FishChoice, FishLine, choose, fish_choice_ui};
use super::growth_plots::{Pointed, length_at_age_ui, standard_ui, years_ui};
use super::growth_words::growth_words_ui;
use super::lengths::{guard_ui, method_ui};

/// What the growth desk remembers for itself.
#[derive(Debug, Default)]
pub struct GrowthView {
    /// The chosen fish.
    pub choice: FishChoice,
    standard: StandardFields,
}

/// What is typed for a standard weight.
#[derive(Debug, Default)]
struct StandardFields {
    intercept: f64,
    slope: f64,
    minimum_mm: f64,
    source: String,
}

/// Draws the desk.
pub fn growth_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    if !workbench.may_show_lengths() {
        guard_ui(ui, actions);
        return;
    }
    method_ui(ui, workbench, view, actions);
    asked_ui(ui, workbench, actions);
    ui.separator();
    let found = match workbench.growth().found() {
        Some(Ok(found)) => found,
        Some(Err(reason)) => {
            ui.label(RichText::new(sentence(reason)).color(problem(ui.visuals().dark_mode)));
            return;
        }
        None => {
            let is_working = workbench.growth().working().is_some();
            ui.label(if is_working {
                "Working out growth"
            } else {
                "No confirmed readings yet: confirm scans on the Read desk first"
            });
            return;
        }
    };
    let growth = &mut view.growth;
    Panel::left("growth in words").default_size(400.0).size_range(260.0..=620.0).show(ui, |ui| {
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            growth_words_ui(ui, found);
            standard_weight_ui(ui, found, &mut growth.standard, actions);
        });
    });
    let hovered = growth.choice.hovered.take();
    let chosen = workbench.growth().chosen();
    Panel::right("fish of the curve").default_size(190.0).size_range(150.0..=320.0).show(
        ui,
        |ui| {
            let lines: Vec<FishLine> = found.paths.iter().map(line).collect();
            fish_choice_ui(ui, (chosen, &lines, &found.excluded), &mut growth.choice, actions);
        },
    );
    let margin = egui::Frame::new().inner_margin(egui::Margin::symmetric(10, 2));
    CentralPanel::default().frame(margin).show(ui, |ui| {
        let bright = hovered.as_deref().or(chosen);
        let pointed = plots_ui(ui, found, bright);
        if let Some(key) = &pointed.over {
            if pointed.is_double_clicked {
                actions.push(Action::Growth(GrowthAction::OpenScanOf(key.clone())));
            } else if pointed.is_clicked {
                choose(key, actions);
            }
        }
    });
}

fn line(path: &crate::workbench::growth_findings::FishPath) -> FishLine {
    let class = path.year_class.map_or_else(String::new, |year| format!(", {year}"));
    FishLine { key: path.key.clone(), words: format!("age {}{class}", path.age) }
}

fn plots_ui(ui: &mut Ui, found: &GrowthFindings, bright: Option<&str>) -> Pointed {
    let height = ui.available_height();
    let pointed = length_at_age_ui(ui, found, bright, height * 0.56);
    let below = ui.available_height() - 6.0;
    match &found.against {
        Some(Ok(against)) => ui.columns(2, |columns| {
            if let [left, right] = columns {
                years_ui(left, found, below);
                standard_ui(right, against, below);
            }
        }),
        _ => years_ui(ui, found, below),
    }
    pointed
}

/// The second method and the curve.
fn asked_ui(ui: &mut Ui, workbench: &Workbench, actions: &mut Vec<Action>) {
    let request = workbench.growth().request();
    ui.horizontal_wrapped(|ui| {
        let label = ui.label("Curve");
        let combo =
            ComboBox::from_id_salt("curve").selected_text(plain(request.curve)).show_ui(ui, |ui| {
                for word in Curve::WORDS {
                    if ui.selectable_label(request.curve == word, plain(word)).clicked() {
                        actions.push(Action::Growth(GrowthAction::SetCurve(word)));
                    }
                }
            });
        combo.response.labelled_by(label.id);
        let label = ui.label("Beside it");
        let shown = request.beside.map_or("no second method", LengthsRequest::name);
        let combo =
            ComboBox::from_id_salt("beside").selected_text(shown).width(190.0).show_ui(ui, |ui| {
                if ui.selectable_label(request.beside.is_none(), "no second method").clicked() {
                    actions.push(Action::Growth(GrowthAction::SetBeside(None)));
                }
                for other in [
                    LengthsRequest::DirectProportion,
                    LengthsRequest::FraserLeeFitted,
                    LengthsRequest::ScaleProportional,
                    LengthsRequest::BodyProportional,
                ] {
                    if ui.selectable_label(request.beside == Some(other), other.name()).clicked() {
                        actions.push(Action::Growth(GrowthAction::SetBeside(Some(other))));
                    }
                }
            });
        combo.response.labelled_by(label.id);
        if let Some(progress) = workbench.growth().working() {
            let (done, of) = progress.counts();
            ui.spinner();
            ui.label(format!("working out growth, {done} of {of}"));
        }
    });
}

fn plain(word: &str) -> String {
    let mut words = word.replace('-', " ");
    if let Some(first) = words.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    words.replace("Von bertalanffy", "Von Bertalanffy").replace("quinn", "Quinn")
}

/// A standard weight counts only with its source: the program ships none.
fn standard_weight_ui(
    ui: &mut Ui,
    found: &GrowthFindings,
    fields: &mut StandardFields,
    actions: &mut Vec<Action>,
) {
    ui.add_space(6.0);
    ui.collapsing("Enter a standard weight", |ui| {
        ui.label("log10 of weight in g = intercept + slope x log10 of total length in mm");
        let numbers: [(&str, &mut f64, f64); 3] = [
            ("Intercept", &mut fields.intercept, 0.001),
            ("Slope", &mut fields.slope, 0.001),
            ("Least length, mm", &mut fields.minimum_mm, 1.0),
        ];
        for (words, value, speed) in numbers {
            ui.horizontal(|ui| {
                let label = ui.label(words);
                ui.add(DragValue::new(value).speed(speed)).labelled_by(label.id);
            });
        }
        let label = ui.label("Source");
        ui.add(TextEdit::singleline(&mut fields.source).desired_width(f32::INFINITY))
            .labelled_by(label.id);
        ui.horizontal(|ui| {
            let is_whole = fields.slope > 0.0 && !fields.source.trim().is_empty();
            let use_it = ui.add_enabled(is_whole, egui::Button::new("Use it"));
            if use_it.on_disabled_hover_text("Give slope and source").clicked() {
                let standard = StandardWeight {
                    species: found.species.clone(),
                    intercept: fields.intercept,
                    slope: fields.slope,
                    minimum_mm: fields.minimum_mm,
                    source: fields.source.trim().to_owned(),
                };
                actions.push(Action::Growth(GrowthAction::SetStandardWeight(Some(standard))));
            }
            if found.request.standard_weight.is_some() && ui.button("Take it away").clicked() {
                actions.push(Action::Growth(GrowthAction::SetStandardWeight(None)));
            }
        });
    });
}
