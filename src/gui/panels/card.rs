//! The fish card on the right: which fish, margin, outcome, age and year class as they stand, note, confirm.

use egui::{DragValue, Grid, RichText, ScrollArea, TextEdit, Ui};

use crate::domain::age::{AgeAssignment, year_class};
use crate::domain::calibration_fit::doubts;
use crate::domain::reading::{Confidence, EdgeCondition, Outcome};
use crate::gui::theme::{heading, problem, quiet};
use crate::gui::view::{View, choice_button, verb_button};
use crate::marking::command::Command;
use crate::workbench::action::{Action, Verb};
use crate::workbench::notices::sentence;
use crate::workbench::session_scan::OpenScan;
use crate::workbench::workbench::Workbench;

use super::calibrate::in_words;
use super::impressions::impressions_ui;
use super::marks::marks_ui;
use super::practice::practice_ui;

/// Draws the card.
pub fn card_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    let Some(scan) = workbench.scan() else {
        waiting_ui(ui, workbench);
        return;
    };
    let is_open = scan.is_draft() && !workbench.is_confirming();
    buttons_ui(ui, workbench, scan, is_open, actions);
    ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
        practice_ui(ui, workbench, actions);
        fish_ui(ui, workbench, scan, actions);
        if workbench.blind().is_none() {
            impressions_ui(ui, workbench, scan, actions);
        }
        ui.separator();
        if workbench.blind().is_none() {
            pixel_size_ui(ui, workbench, scan, actions);
        }
        marks_ui(ui, scan, (is_open, workbench.own_line()), actions);
        ui.separator();
        edge_ui(ui, scan, is_open, actions);
        outcome_ui(ui, scan, is_open, actions);
        if scan.outcome() == Outcome::Aged {
            age_ui(ui, workbench, scan, is_open, actions);
        }
        confidence_ui(ui, scan, is_open, actions);
        note_ui(ui, scan, view, is_open, actions);
    });
}

fn waiting_ui(ui: &mut Ui, workbench: &Workbench) {
    ui.add_space(8.0);
    let words = match (workbench.is_opening(), workbench.reader()) {
        (true, _) => "Opening the scan",
        (false, None) => "Type your initials on the left to begin",
        (false, Some(_)) => "No scan is open",
    };
    ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
}

fn heading_ui(ui: &mut Ui, words: &str) {
    ui.add_space(2.0);
    ui.label(heading(words));
}

fn fish_ui(ui: &mut Ui, workbench: &Workbench, scan: &OpenScan, actions: &mut Vec<Action>) {
    let key = scan.reading().map_or("", |reading| &reading.fish);
    let fish = workbench.fish();
    let number = fish.map_or(key, |fish| &fish.number);
    let title =
        if number.is_empty() { "Fish not known".to_owned() } else { format!("Fish {number}") };
    ui.label(RichText::new(title).size(20.0).strong());
    if workbench.blind().is_some() {
        blind_ui(ui, workbench);
        return;
    }
    let colour = quiet(ui.visuals().dark_mode);
    let row = |ui: &mut Ui, what: &str, value: &str| {
        ui.label(RichText::new(what).color(colour));
        ui.label(value);
        ui.end_row();
    };
    Grid::new("fish").num_columns(2).spacing([10.0, 3.0]).show(ui, |ui| {
        if let Some(fish) = fish {
            row(ui, "Species", &fish.species);
            let captured =
                fish.captured.map_or_else(|| "not recorded".to_owned(), |d| d.to_string());
            row(ui, "Captured", &captured);
        }
        if let Some(reading) = scan.reading() {
            row(ui, "Structure", reading.structure.word());
        }
        ui.label(RichText::new("Length").color(colour));
        if scan.is_length_shown() {
            let length = fish.and_then(|fish| fish.length);
            ui.label(
                length.map_or_else(|| "not recorded".to_owned(), |length| format!("{length:.0}")),
            );
        } else {
            verb_button(ui, Verb::ShowLength, true, actions);
        }
        ui.end_row();
    });
}

/// What the blind list tells, and nothing else.
fn blind_ui(ui: &mut Ui, workbench: &Workbench) {
    let colour = quiet(ui.visuals().dark_mode);
    let Some(blind) = workbench.blind() else { return };
    let mut rows = vec![("Blind list", blind.list().to_string())];
    if let Some(item) = workbench.blind_item() {
        rows.extend(item.species.clone().map(|species| ("Species", species)));
        rows.extend(item.structure.map(|structure| ("Structure", structure.word().to_owned())));
        rows.extend(item.light.map(|light| ("Light", light.word().to_owned())));
        let month = item.capture_month.and_then(month_name);
        rows.extend(month.map(|month| ("Captured in", month.to_owned())));
    }
    let proposals = if blind.shows_proposals() { "shown" } else { "off" };
    rows.push(("Proposals", proposals.to_owned()));
    Grid::new("blind fish").num_columns(2).spacing([10.0, 3.0]).show(ui, |ui| {
        for (what, value) in rows {
            ui.label(RichText::new(what).color(colour));
            ui.label(value);
            ui.end_row();
        }
    });
}

fn month_name(month: i8) -> Option<&'static str> {
    let names = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    names.get(usize::try_from(month).ok()?.checked_sub(1)?).copied()
}

/// The pixel size, what speaks against it, and the way to change it.
fn pixel_size_ui(ui: &mut Ui, workbench: &Workbench, scan: &OpenScan, actions: &mut Vec<Action>) {
    let is_dark = ui.visuals().dark_mode;
    let survey = workbench.survey().and_then(|survey| survey.survey().default_um_per_px);
    match &scan.document().reading.calibration {
        Some(scale) => {
            ui.label(RichText::new(in_words(scale)).small().color(quiet(is_dark)));
            for doubt in doubts(scale, survey) {
                let words = sentence(&doubt.to_string());
                ui.label(RichText::new(words).small().color(problem(is_dark)));
            }
        }
        None => {
            let words = "No pixel size: give it before measuring";
            ui.label(RichText::new(words).color(problem(is_dark)));
        }
    }
    verb_button(ui, Verb::Calibrate, true, actions);
}

fn edge_ui(ui: &mut Ui, scan: &OpenScan, is_open: bool, actions: &mut Vec<Action>) {
    heading_ui(ui, "Margin");
    let now = scan.reading().and_then(|reading| reading.edge_condition);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 3.0;
        for edge in EdgeCondition::ALL {
            choice_button(ui, Verb::of_edge(*edge), now == Some(*edge), is_open, actions);
        }
    });
    if is_open && now.is_none() {
        // No probability stands here: none has been shown to tell an annulus at the margin.
        let words = "Look whether a winter lies at the very edge: the program does not say";
        let words = RichText::new(words).small().color(quiet(ui.visuals().dark_mode));
        ui.add(egui::Label::new(words).wrap());
    }
    if let Some(share) = scan.plus_growth_share() {
        let words = format!("Plus growth is {:.0} % of the last increment", share * 100.0);
        ui.label(RichText::new(words).small().color(quiet(ui.visuals().dark_mode)));
    }
}

fn outcome_ui(ui: &mut Ui, scan: &OpenScan, is_open: bool, actions: &mut Vec<Action>) {
    heading_ui(ui, "Outcome");
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 3.0;
        for outcome in Outcome::ALL {
            choice_button(
                ui,
                Verb::of_outcome(*outcome),
                scan.outcome() == *outcome,
                is_open,
                actions,
            );
        }
    });
}

/// Age and year class as they stand now, what the rule says about them, and the reader's own word.
fn age_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    scan: &OpenScan,
    is_open: bool,
    actions: &mut Vec<Action>,
) {
    let Some(survey) = workbench.survey() else { return };
    let captured = workbench.captured();
    let assigned = scan.age_by_rule(captured, survey.survey());
    let by_rule = assigned.and_then(|assigned| assigned.age);
    let age = scan.stated_age().or(by_rule);
    let is_dark = ui.visuals().dark_mode;
    ui.add_space(2.0);
    let birthday = survey.survey().birthday_rule.birthday;
    match age {
        Some(age) => {
            ui.label(RichText::new(format!("Age {age}")).size(24.0).strong());
            // The year class would tell the year of capture of a blind fish.
            let dated = captured.filter(|_| workbench.blind().is_none());
            let class = dated.and_then(|captured| year_class(age, captured, birthday));
            if let Some(class) = class {
                ui.label(format!("Year class {class}"));
            }
        }
        None => {
            ui.label(RichText::new("Age open").size(24.0).color(quiet(is_dark)));
        }
    }
    let why = reason_for_age(scan, assigned, captured.is_some());
    if let Some(why) = why {
        ui.label(RichText::new(why).small().color(problem(is_dark)));
    }
    own_age_ui(ui, scan, by_rule, is_open, actions);
}

fn reason_for_age(
    scan: &OpenScan,
    assigned: Option<AgeAssignment>,
    has_date: bool,
) -> Option<&'static str> {
    if !has_date {
        return Some("No capture date: state the age yourself");
    }
    if scan.reading().is_some_and(|reading| reading.edge_condition.is_none()) {
        return Some("Judge the margin to get the age by the birthday rule");
    }
    assigned.and_then(|assigned| assigned.flag).map(|flag| flag.message())
}

fn own_age_ui(
    ui: &mut Ui,
    scan: &OpenScan,
    by_rule: Option<u32>,
    is_open: bool,
    actions: &mut Vec<Action>,
) {
    let counted = scan.reading().map_or(0, |reading| reading.annuli_counted());
    ui.horizontal(|ui| {
        let mut is_own = scan.stated_age().is_some();
        let start = by_rule.unwrap_or(counted);
        if ui.add_enabled(is_open, egui::Checkbox::new(&mut is_own, "State the age")).changed() {
            actions.push(Action::StateAge(is_own.then_some(start)));
        }
        if let Some(stated) = scan.stated_age() {
            let mut age = stated;
            let field =
                ui.add_enabled(is_open, DragValue::new(&mut age).range(0..=200).suffix(" years"));
            if field.changed() {
                actions.push(Action::StateAge(Some(age)));
            }
        }
    });
}

fn confidence_ui(ui: &mut Ui, scan: &OpenScan, is_open: bool, actions: &mut Vec<Action>) {
    heading_ui(ui, "Confidence");
    let now = scan.reading().and_then(|reading| reading.confidence);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 3.0;
        for confidence in Confidence::ALL {
            let verb = Verb::of_confidence(*confidence);
            choice_button(ui, verb, now == Some(*confidence), is_open, actions);
        }
    });
}

/// The note becomes an edit when the field is left.
fn note_ui(
    ui: &mut Ui,
    scan: &OpenScan,
    view: &mut View,
    is_open: bool,
    actions: &mut Vec<Action>,
) {
    let label = ui.label(heading("Note"));
    let field =
        TextEdit::multiline(&mut view.note.text).desired_rows(2).desired_width(f32::INFINITY);
    // Each reading has its own field: undo while typing never brings back another fish's note.
    let field = field.id_salt((scan.place(), scan.impression()));
    let field = ui.add_enabled(is_open, field).labelled_by(label.id);
    if std::mem::take(&mut view.note.wants_focus) {
        field.request_focus();
    }
    if field.lost_focus() && view.note.text != view.note.known {
        let (impression, note) = (scan.impression(), view.note.text.clone());
        actions.push(Action::Edit(Command::SetNote { impression, note }));
    }
}

fn buttons_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    scan: &OpenScan,
    is_open: bool,
    actions: &mut Vec<Action>,
) {
    let panel = egui::Panel::bottom("card buttons").resizable(false).frame(egui::Frame::NONE);
    panel.show(ui, |ui| {
        ui.add_space(4.0);
        let open = scan.document().open_proposals(scan.impression());
        let n_forward = open.iter().filter(|open| open.put_forward).count();
        ui.horizontal(|ui| {
            verb_button(ui, Verb::AcceptAll, is_open && n_forward > 0, actions);
            let may_propose = workbench.blind().is_none_or(|blind| blind.shows_proposals());
            let is_free = is_open && may_propose && !scan.is_proposing();
            verb_button(ui, Verb::Propose, is_free, actions);
        });
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0;
            if scan.is_draft() {
                verb_button(ui, Verb::Confirm, is_open, actions);
            } else {
                verb_button(ui, Verb::Reopen, true, actions);
            }
            verb_button(ui, Verb::NextScan, true, actions);
            if workbench.blind().is_none() {
                verb_button(ui, Verb::ExportCard, !workbench.is_practising(), actions);
            }
        });
        if let Some(card) = workbench.last_card() {
            let open =
                ui.button("Open the card").on_hover_text("Look at the last card, or print it");
            if open.clicked() {
                ui.ctx().open_url(egui::OpenUrl::new_tab(format!("file://{}", card.display())));
            }
        }
        let (words, colour) = saved_words(workbench, scan, ui.visuals().dark_mode);
        ui.label(RichText::new(words).small().color(colour));
    });
}

fn saved_words(workbench: &Workbench, scan: &OpenScan, is_dark: bool) -> (String, egui::Color32) {
    if workbench.is_practising() {
        return ("Practice: nothing is written".to_owned(), quiet(is_dark));
    }
    if workbench.is_saving() {
        return ("Saving".to_owned(), quiet(is_dark));
    }
    if scan.is_unsaved() {
        return ("Not saved yet".to_owned(), problem(is_dark));
    }
    let words = match (scan.is_confirmed_on_disk(), scan.history().is_unsaved()) {
        (true, _) => "Confirmed and saved",
        (false, false) if scan.has_file() => "Draft saved",
        _ => "Nothing marked yet",
    };
    (words.to_owned(), quiet(is_dark))
}
