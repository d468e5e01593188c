//! What is asked of the report: chapters, ages, method, units, mortality, paper, crew and day.

use egui::{Button, ComboBox, DragValue, RichText, TextEdit, Ui};

use crate::analysis::back_calculation::{Intercept, InterceptLine, Method};
use crate::domain::dates;
use crate::domain::reference::LengthBasis;
use crate::domain::units::Millimetres;
use crate::gui::theme::{heading, problem, quiet};
use crate::report::paper::Paper;
use crate::report::report_units::ReportUnits;
use crate::report::survey_report::Chapter;
use crate::workbench::action::Action;
use crate::workbench::report_request::{MortalityAsked, ReportRequest};
use crate::workbench::session_report::ReportAction;
use crate::workbench::survey_readings::AgesFrom;
use crate::workbench::workbench::Workbench;

use super::report::ReportView;

/// The day of the report as it is typed.
#[derive(Debug, Default)]
pub struct DateField {
    text: String,
}

/// Draws the options; a change asks anew.
pub(super) fn options_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    view: &mut ReportView,
    actions: &mut Vec<Action>,
) {
    let before = workbench.report_desk().request();
    let mut request = before.clone();
    chapters_ui(ui, &mut request);
    ui.add_space(6.0);
    ui.label(heading("How"));
    ages_ui(ui, &mut request);
    reader_ui(ui, workbench, &mut request);
    method_ui(ui, &mut request);
    choices_ui(ui, &mut request);
    mortality_ui(ui, &mut request);
    ui.add_space(6.0);
    ui.label(heading("First page"));
    words_ui(ui, view, &mut request);
    if request != *before {
        actions.push(Action::Report(ReportAction::Ask(Box::new(request))));
    }
}

fn chapters_ui(ui: &mut Ui, request: &mut ReportRequest) {
    ui.label(heading("What goes in"));
    egui::Grid::new("chapters").num_columns(2).show(ui, |ui| {
        for (place, chapter) in Chapter::ALL.into_iter().enumerate() {
            let mut is_in = request.chapters.contains(&chapter);
            if ui.checkbox(&mut is_in, chapter.title()).changed() {
                if is_in {
                    request.chapters.insert(chapter);
                } else {
                    request.chapters.remove(&chapter);
                }
            }
            if place % 2 == 1 {
                ui.end_row();
            }
        }
    });
}

fn ages_ui(ui: &mut Ui, request: &mut ReportRequest) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Ages");
        for from in AgesFrom::ALL {
            if ui.add(Button::selectable(request.ages_from == from, from.words())).clicked() {
                request.ages_from = from;
            }
        }
    });
}

/// Where a survey names several readers: whose ages, or whose readings stand first under a rule.
fn reader_ui(ui: &mut Ui, workbench: &Workbench, request: &mut ReportRequest) {
    let Some(survey) = workbench.survey().filter(|one| one.survey().readers.len() > 1) else {
        return;
    };
    let readers = &survey.survey().readers;
    ui.horizontal(|ui| {
        let label = ui.label("Reader");
        let shown = request.reader.as_ref().or(readers.first());
        let shown = shown.map_or_else(String::new, ToString::to_string);
        let combo = ComboBox::from_id_salt("reader of the report").selected_text(shown);
        let combo = combo.show_ui(ui, |ui| {
            for reader in readers {
                let is_chosen = request.reader.as_ref().or(readers.first()) == Some(reader);
                if ui.selectable_label(is_chosen, reader.to_string()).clicked() {
                    request.reader = Some(reader.clone());
                }
            }
        });
        combo.response.labelled_by(label.id);
    });
}

/// The methods that need no more than an intercept; the command line has all.
fn methods(given_mm: f64) -> [(&'static str, Method); 7] {
    [
        (
            "Fraser-Lee, fitted intercept",
            Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares)),
        ),
        (
            "Fraser-Lee, given intercept",
            Method::FraserLee(Intercept::Given {
                length: Millimetres(given_mm),
                source: "entered on the Report desk".to_owned(),
            }),
        ),
        ("Direct proportion", Method::DirectProportion),
        ("Scale-proportional", Method::ScaleProportional),
        ("Body-proportional", Method::BodyProportional),
        ("Scale-proportional, power", Method::PowerScaleProportional),
        ("Body-proportional, power", Method::PowerBodyProportional),
    ]
}

fn is_same_method(a: &Method, b: &Method) -> bool {
    match (a, b) {
        (Method::FraserLee(a), Method::FraserLee(b)) => {
            std::mem::discriminant(a) == std::mem::discriminant(b)
        }
        _ => a.word() == b.word(),
    }
}

fn method_ui(ui: &mut Ui, request: &mut ReportRequest) {
    let given = match &request.method {
        Method::FraserLee(Intercept::Given { length, .. }) => length.0,
        _ => 0.0,
    };
    let choices = methods(given);
    let shown = choices.iter().find(|(_, method)| is_same_method(method, &request.method));
    let shown = shown.map_or(request.method.word(), |(words, _)| words);
    ui.horizontal(|ui| {
        let label = ui.label("Method");
        let combo =
            ComboBox::from_id_salt("method of the report").selected_text(shown).width(210.0);
        let combo = combo.show_ui(ui, |ui| {
            for (words, method) in choices {
                let is_chosen = is_same_method(&method, &request.method);
                if ui.selectable_label(is_chosen, words).clicked() && !is_chosen {
                    request.method = method;
                }
            }
        });
        combo.response.labelled_by(label.id);
    });
    if let Method::FraserLee(Intercept::Given { length, source }) = &mut request.method {
        ui.horizontal(|ui| {
            let label = ui.label("Intercept");
            let field =
                DragValue::new(&mut length.0).range(-500.0..=500.0).speed(0.5).suffix(" mm");
            ui.add(field).labelled_by(label.id);
            let label = ui.label("from");
            ui.add(TextEdit::singleline(source).desired_width(f32::INFINITY))
                .on_hover_text("Where the intercept was taken from: it stands in the report")
                .labelled_by(label.id);
        });
    }
}

fn choices_ui(ui: &mut Ui, request: &mut ReportRequest) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Growth on");
        for (basis, words) in [
            (LengthBasis::Annulus, "Back-calculated lengths"),
            (LengthBasis::Capture, "Lengths at capture"),
        ] {
            if ui.add(Button::selectable(request.basis == basis, words)).clicked() {
                request.basis = basis;
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("Units");
        for (units, words) in
            [(ReportUnits::Metric, "Millimetres, grams"), (ReportUnits::Us, "Inches, pounds")]
        {
            if ui.add(Button::selectable(request.units == units, words)).clicked() {
                request.units = units;
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("Paper");
        for paper in Paper::ALL {
            if ui.add(Button::selectable(request.paper == paper, paper.words())).clicked() {
                request.paper = paper;
            }
        }
    });
}

fn mortality_ui(ui: &mut Ui, request: &mut ReportRequest) {
    ui.horizontal(|ui| {
        let label = ui.label("Mortality");
        let combo = ComboBox::from_id_salt("mortality of the report")
            .selected_text(request.mortality.words())
            .width(270.0);
        let combo = combo.show_ui(ui, |ui| {
            for asked in MortalityAsked::ALL {
                ui.selectable_value(&mut request.mortality, asked, asked.words());
            }
        });
        combo.response.labelled_by(label.id);
    });
    if request.mortality == MortalityAsked::EvenRecruitment {
        let words = "The report then says that you state even recruitment. Where stocking was uneven, a catch curve shows stocking, \
                     not deaths.";
        ui.label(RichText::new(words).small().color(problem(ui.visuals().dark_mode)));
    }
}

fn words_ui(ui: &mut Ui, view: &mut ReportView, request: &mut ReportRequest) {
    ui.horizontal(|ui| {
        let label = ui.label("Crew");
        let field = TextEdit::singleline(&mut request.crew)
            .hint_text("who caught the fish")
            .desired_width(f32::INFINITY);
        ui.add(field).labelled_by(label.id);
    });
    ui.horizontal(|ui| {
        let label = ui.label("Day");
        let field = TextEdit::singleline(&mut view.date.text)
            .hint_text("as 2025-10-08; else the newest in the data")
            .desired_width(f32::INFINITY);
        if ui.add(field).labelled_by(label.id).changed() {
            request.date = dates::parse(view.date.text.trim()).ok();
        }
    });
    let typed = view.date.text.trim();
    if !typed.is_empty()
        && let Err(advice) = dates::parse(typed)
    {
        let words = format!("Not a day yet, so the newest in the data stands: {advice}");
        ui.label(RichText::new(words).small().color(quiet(ui.visuals().dark_mode)));
    }
}
