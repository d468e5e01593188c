//! What the report will hold: each part with what it rests on, and what is empty and why.

use egui::{RichText, Ui};

use crate::gui::theme::{heading, problem, quiet};
use crate::workbench::notices::sentence;
use crate::workbench::report_contents::{ReportContents, ReportPart};
use crate::workbench::report_request::ReportRequest;
use crate::workbench::workbench::Workbench;

/// Faults shown.
const MOST_FAULTS: usize = 30;

/// Draws the list.
pub fn contents_ui(ui: &mut Ui, workbench: &Workbench) {
    let desk = workbench.report_desk();
    let is_dark = ui.visuals().dark_mode;
    ui.horizontal(|ui| {
        ui.label(heading("What the report will hold"));
        if desk.is_looking() {
            ui.spinner();
            ui.label(RichText::new("looking").color(quiet(is_dark)));
        }
    });
    match desk.contents() {
        None => _ = ui.label("Nothing is known of it yet"),
        Some(Err(reason)) => {
            ui.label(RichText::new(sentence(reason)).color(problem(is_dark)));
        }
        Some(Ok(contents)) => parts_ui(ui, contents, desk.request()),
    }
}

fn parts_ui(ui: &mut Ui, contents: &ReportContents, request: &ReportRequest) {
    let is_dark = ui.visuals().dark_mode;
    ui.label(&contents.about);
    ui.label(RichText::new(sentence(&contents.ages)).color(quiet(is_dark)));
    ui.add_space(4.0);
    for part in &contents.parts {
        let is_wanted = part.chapter.is_none_or(|chapter| request.chapters.contains(&chapter));
        part_ui(ui, part, is_wanted);
    }
    if request.crew.trim().is_empty() {
        let words = "Crew: nobody is named; write the names on the left for the first page.";
        ui.label(RichText::new(words).color(quiet(is_dark)));
    }
    if !contents.faults.is_empty() {
        ui.add_space(6.0);
        ui.label(heading("Faults in the files of the survey"));
        for fault in contents.faults.iter().take(MOST_FAULTS) {
            ui.label(RichText::new(sentence(fault)).color(problem(is_dark)));
        }
        if contents.faults.len() > MOST_FAULTS {
            let more = contents.faults.len() - MOST_FAULTS;
            let words = format!("and {more} more: winterline check names them all");
            ui.label(RichText::new(words).color(quiet(is_dark)));
        }
    }
}

fn part_ui(ui: &mut Ui, part: &ReportPart, is_wanted: bool) {
    let is_dark = ui.visuals().dark_mode;
    let state = match (is_wanted, part.rests_on.is_empty()) {
        (false, _) => "left out",
        (true, true) => "empty",
        (true, false) => "in",
    };
    ui.add_space(5.0);
    ui.horizontal_wrapped(|ui| {
        let title = RichText::new(part.title).strong();
        ui.label(if is_wanted { title } else { title.color(quiet(is_dark)) });
        let colour = if state == "empty" { problem(is_dark) } else { quiet(is_dark) };
        ui.label(RichText::new(state).small().color(colour));
    });
    ui.indent(part.title, |ui| {
        for line in &part.rests_on {
            let words = RichText::new(sentence(line));
            ui.label(if is_wanted { words } else { words.color(quiet(is_dark)) });
        }
        for line in &part.missing {
            let words = RichText::new(format!("Not in it: {line}"));
            ui.label(words.color(if is_wanted { problem(is_dark) } else { quiet(is_dark) }));
        }
    });
}
