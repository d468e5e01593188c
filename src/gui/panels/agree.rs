//! The Agree desk: which two are compared, what the figures are, what they say and what that rests on.

use egui::{ComboBox, Grid, RichText, ScrollArea, Ui};

use crate::analysis::agreement::comparison::PairComparison;
use crate::analysis::agreement::kappa::KappaWeights;
use crate::analysis::agreement::known_age::Accuracy;
use crate::analysis::agreement::verdict::p_text;
use crate::gui::canvas::model::ScanView;
use crate::gui::canvas::picture::ScanPicture;
use crate::gui::theme::{heading, problem, quiet};
use crate::gui::view::{View, verb_button};
use crate::workbench::action::{Action, Verb};
use crate::workbench::agree_figures::{AgreeFigures, ComparedFish, PairKind};
use crate::workbench::notices::sentence;
use crate::workbench::session_agree::AgreeAction;
use crate::workbench::workbench::Workbench;

use super::agree_fish::opened_ui;
use super::agree_plots::plots_ui;
use super::agree_table::fish_ui;

/// Which picture of the comparison is on show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Picture {
    /// Mean age by the second reader for each age of the first.
    #[default]
    Bias,
    /// Difference of the two on their mean.
    Differences,
    /// The table of agreement.
    Table,
    /// Percent agreement by age.
    ByAge,
    /// Differences of radii by annulus.
    Annuli,
}

impl Picture {
    /// All of them, with their names.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Bias, "Age bias"),
        (Self::Differences, "Differences"),
        (Self::Table, "Table"),
        (Self::ByAge, "By age"),
        (Self::Annuli, "Annuli"),
    ];
}

/// Which fish are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Shown {
    /// Those the two part on.
    #[default]
    Parted,
    /// Those of one cell of the table: ages by the first and the second.
    Cell(u32, u32),
    /// Those the first gave an age.
    Age(u32),
    /// Those whose readings part at an annulus.
    Annulus(usize),
}

impl Shown {
    /// True for a fish of this kind.
    pub fn holds(self, fish: &ComparedFish) -> bool {
        match self {
            Self::Parted => fish.difference() != 0,
            Self::Cell(first, second) => fish.ages == [first, second],
            Self::Age(age) => fish.ages[0] == age,
            Self::Annulus(number) => fish.parting == Some(number),
        }
    }
}

/// What is chosen on the Agree desk.
#[derive(Default)]
pub struct AgreeView {
    /// The picture on show.
    pub picture: Picture,
    /// The fish listed.
    pub shown: Shown,
    /// Textures of the opened fish's scan.
    pub scan: Option<ScanPicture>,
    /// How that scan is looked at.
    pub view: ScanView,
    /// The fish `view` was fitted for.
    pub fitted_for: String,
    /// The decision being made.
    pub deciding: Deciding,
}

/// A decision that is being made.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Deciding {
    /// How it is settled.
    pub way: Way,
    /// The age agreed on, years.
    pub age: u32,
    /// Which third reading, as a place among those there are.
    pub third: usize,
    /// Why, in words.
    pub why: String,
}

/// How a disagreement is settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Way {
    /// The readers looked together.
    #[default]
    Consensus,
    /// A third reading decides.
    Third,
    /// No age can be defended.
    Discard,
}

/// An unconfirmed reading is open of a fish that somebody else has read: their age would sway it.
fn guard_ui(ui: &mut Ui, actions: &mut Vec<Action>) {
    ui.vertical_centered(|ui| {
        ui.add_space(ui.available_height() * 0.3);
        let words = "Other readers' ages are hidden while you read a fish they have read";
        ui.label(RichText::new(words).size(20.0));
        let words = "Confirm the open reading first, or open a scan that nobody else has read.";
        ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
        ui.add_space(10.0);
        verb_button(ui, Verb::GoToRead, true, actions);
    });
}

/// Draws the desk.
pub fn agree_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    let Some(figures) = workbench.agree().figures() else {
        let words = if workbench.agree().is_working() {
            "Comparing readers"
        } else {
            "Nothing to compare yet"
        };
        ui.label(words);
        return;
    };
    if !workbench.may_show_agreement() {
        guard_ui(ui, actions);
        return;
    }
    if let Some(opened) = workbench.agree().opened() {
        opened_ui(ui, workbench, figures, opened, view, actions);
        return;
    }
    choose_ui(ui, workbench, figures, actions);
    ui.separator();
    let Some(pair) = &figures.pair else {
        let words = "Two readers must have confirmed ages of the same fish: draw a blind list (Ctrl+L) and have a second reader read it";
        ui.label(words);
        return;
    };
    egui::Panel::left("agreement in figures").default_size(430.0).size_range(300.0..=520.0).show(
        ui,
        |ui| {
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                verdict_ui(ui, figures, pair);
                figures_ui(ui, figures, pair);
                tests_ui(ui, pair);
                known_ui(ui, figures, pair);
                rules_ui(ui, figures);
            });
        },
    );
    egui::CentralPanel::no_frame().show(ui, |ui| {
        let inner = egui::Frame::NONE.inner_margin(egui::Margin { left: 12, ..Default::default() });
        inner.show(ui, |ui| {
            let height = ui.available_height();
            plots_ui(ui, figures, pair, view, height * 0.62);
            ui.separator();
            fish_ui(ui, figures, view, actions);
        });
    });
}

/// Which two columns are compared.
fn choose_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    figures: &AgreeFigures,
    actions: &mut Vec<Action>,
) {
    let Some(chosen) = figures.chosen else {
        ui.label("Nobody has confirmed an age here yet");
        return;
    };
    ui.horizontal_wrapped(|ui| {
        let mut wished = chosen;
        for (place, words) in [(0, "Compare"), (1, "with")] {
            let label = ui.label(words);
            let now = chosen.get(place).copied().unwrap_or(0);
            let name_of = |at: usize| {
                figures.columns.get(at).map_or_else(String::new, |column| {
                    format!("{} ({} fish)", column.name, column.n)
                })
            };
            let named = if place == 0 { "First reader" } else { "Second reader" };
            let combo = ComboBox::from_id_salt(named).selected_text(name_of(now));
            let combo = combo.width(170.0).show_ui(ui, |ui| {
                for at in 0..figures.columns.len() {
                    if ui.selectable_label(at == now, name_of(at)).clicked()
                        && let Some(slot) = wished.get_mut(place)
                    {
                        *slot = at;
                    }
                }
            });
            combo.response.labelled_by(label.id).on_hover_text(named);
        }
        if ui.button("Swap").on_hover_text("Put the second first").clicked() {
            wished.swap(0, 1);
        }
        if workbench.agree().is_working() {
            ui.spinner();
        }
        let names = wished.map(|at| figures.columns.get(at).map(|column| column.name.clone()));
        if let ([Some(first), Some(second)], true) = (names, wished != chosen)
            && first != second
        {
            actions.push(Action::Agree(AgreeAction::Choose([first, second])));
        }
    });
    let is_dark = ui.visuals().dark_mode;
    if figures.kind != PairKind::Readers {
        ui.label(RichText::new(figures.kind.words()).color(problem(is_dark)));
    }
}

fn verdict_ui(ui: &mut Ui, figures: &AgreeFigures, pair: &PairComparison) {
    let colour = quiet(ui.visuals().dark_mode);
    ui.label(heading("What it says"));
    for statement in &pair.verdict.statements {
        ui.label(sentence(&statement.text));
        let basis = if statement.source.is_empty() {
            statement.basis.words().to_owned()
        } else {
            format!("{}: {}", statement.basis.words(), statement.source)
        };
        ui.label(RichText::new(sentence(&basis)).small().color(colour));
    }
    ui.add_space(4.0);
    ui.label(heading("What to do next"));
    for step in &pair.verdict.next {
        ui.label(format!("•  {}", sentence(step)));
    }
    if figures.kind == PairKind::Structures {
        ui.label("•  Ask which structure is validated for this species before trusting either");
    }
    for caution in &pair.verdict.cautions {
        ui.label(RichText::new(sentence(caution)).small().color(colour));
    }
    ui.add_space(8.0);
}

fn row(ui: &mut Ui, what: &str, value: String) {
    ui.label(what);
    ui.label(value);
    ui.end_row();
}

fn percent(value: Option<f64>) -> String {
    value.map_or_else(|| "no value".to_owned(), |value| format!("{value:.1} %"))
}

fn figures_ui(ui: &mut Ui, figures: &AgreeFigures, pair: &PairComparison) {
    ui.label(heading("Figures"));
    let precision = &pair.precision;
    let errors = precision.percent_errors(figures.settings.mean_age_zero);
    Grid::new("figures").num_columns(2).striped(true).spacing([18.0, 3.0]).show(ui, |ui| {
        row(ui, "Fish both aged", precision.n.to_string());
        row(ui, "Left out for want of a reading", pair.left_out.to_string());
        row(ui, "Same age", percent(precision.exact));
        row(ui, "Within 1 year", percent(precision.within_1));
        row(ui, "Within 2 years", percent(precision.within_2));
        row(ui, "Average percent error", percent(errors.average_percent_error));
        row(ui, "Mean CV", percent(errors.mean_cv));
        row(ui, "Index D", percent(errors.mean_d));
        for (weights, kappa) in KappaWeights::ALL.iter().zip(&pair.kappa) {
            let value = kappa.as_ref().map_or_else(
                || "no value".to_owned(),
                |found| {
                    let [low, high] = found.ci95;
                    format!("{:.2} (95 % {low:.2} to {high:.2})", found.estimate)
                },
            );
            row(ui, &format!("Kappa, {}", weights.word()), value);
        }
        let icc = pair.icc.as_ref().and_then(|icc| icc.icc_2_1);
        let icc = icc.map_or_else(|| "no value".to_owned(), |icc| format!("{icc:.3}"));
        row(ui, "ICC(2,1)", icc);
        if let Some(difference) = &pair.difference {
            let interval = difference
                .ci95
                .map_or_else(String::new, |[low, high]| format!(" (95 % {low:.2} to {high:.2})"));
            let words = format!("{:+.2} years{interval}", difference.mean);
            row(ui, "Mean difference, second minus first", words);
        }
        if let Some(limits) = &pair.limits {
            let words = format!("{:+.2} to {:+.2} years", limits.lower, limits.upper);
            row(ui, "95 % limits of agreement", words);
        }
    });
    ui.add_space(8.0);
}

fn tests_ui(ui: &mut Ui, pair: &PairComparison) {
    ui.label(heading("Tests of symmetry"));
    Grid::new("symmetry").num_columns(4).striped(true).spacing([18.0, 3.0]).show(ui, |ui| {
        for words in ["Test", "Chi-square", "df", "p"] {
            ui.label(RichText::new(words).strong());
        }
        ui.end_row();
        for test in &pair.symmetry {
            ui.label(test.test.title());
            ui.label(format!("{:.2}", test.chi2));
            ui.label(test.df.to_string());
            let exact =
                if test.p_exact.is_some() || test.simulated.is_some() { ", exact" } else { "" };
            ui.label(format!("{}{exact}", p_text(test.best_p())));
            ui.end_row();
        }
        if let Some(marginal) = &pair.stuart_maxwell {
            ui.label("Stuart-Maxwell");
            ui.label(format!("{:.2}", marginal.chi2));
            ui.label(marginal.df.to_string());
            ui.label(p_text(marginal.p));
            ui.end_row();
        }
    });
    ui.add_space(8.0);
}

/// Accuracy, which only known ages show.
fn known_ui(ui: &mut Ui, figures: &AgreeFigures, pair: &PairComparison) {
    let found = figures.accuracy.iter().zip(&pair.readers);
    let found: Vec<(&Accuracy, &String)> =
        found.filter_map(|(accuracy, name)| Some((accuracy.as_ref()?, name))).collect();
    if found.is_empty() {
        return;
    }
    ui.label(heading("Against known ages"));
    for (accuracy, name) in found {
        let [low, high] = accuracy.correct.ci95;
        ui.label(format!(
            "{name}: {:.0} % of {} right (95 % {low:.0} to {high:.0}), {:.0} % too young, {:.0} % too old",
            accuracy.correct.percent, accuracy.n, accuracy.too_young.percent, accuracy.too_old.percent
        ));
    }
    ui.add_space(8.0);
}

/// Which ages analyses can use, and how many fish each rule leaves.
fn rules_ui(ui: &mut Ui, figures: &AgreeFigures) {
    ui.label(heading("Fish with an age, by rule"));
    // Not a grid: its columns do not wrap.
    for (rule, n) in &figures.rules {
        ui.label(format!("{n}  {}", sentence(rule)));
    }
}
