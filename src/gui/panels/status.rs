//! The line at the bottom: what just happened and what is next. Problems stand above it until dismissed.

use egui::{ProgressBar, RichText, Ui};

use crate::domain::reading::Outcome;
use crate::gui::theme::{problem, quiet};
use crate::gui::view::{keys, verb_button};
use crate::workbench::action::{Action, Desk, Verb};
use crate::workbench::settings_keys::KeyMap;
use crate::workbench::workbench::Workbench;

/// Draws the line, and any problems above it.
pub fn status_ui(ui: &mut Ui, workbench: &Workbench, actions: &mut Vec<Action>) {
    let is_dark = ui.visuals().dark_mode;
    for notice in workbench.notices().problems().iter().rev().take(3) {
        ui.horizontal_wrapped(|ui| {
            if ui.small_button("Dismiss").clicked() {
                actions.push(Action::Dismiss(notice.number));
            }
            ui.label(RichText::new(&notice.text).color(problem(is_dark)));
        });
    }
    ui.horizontal(|ui| {
        if let Some((what, progress)) = workbench.running() {
            let bar =
                ProgressBar::new(progress.fraction()).desired_width(110.0).desired_height(8.0);
            let bar = ui.add(bar);
            bar.widget_info(|| {
                egui::WidgetInfo::labeled(egui::Role::ProgressIndicator, true, what)
            });
            verb_button(ui, workbench.stop_verb(), true, actions);
        }
        ui.label(workbench.notices().status());
        let next = next_step(workbench, &keys(ui.ctx()));
        if !next.is_empty() {
            ui.separator();
            ui.add(
                egui::Label::new(RichText::new(format!("Next: {next}")).color(quiet(is_dark)))
                    .truncate(),
            );
        }
    });
}

/// What a reader would do next, in plain words with the key for it.
pub fn next_step(workbench: &Workbench, keys: &KeyMap) -> String {
    if workbench.desk() != Desk::Read || workbench.is_opening() {
        return String::new();
    }
    let Some(survey) = workbench.survey() else { return String::new() };
    if workbench.reader().is_none() {
        return "type your initials".to_owned();
    }
    let Some(scan) = workbench.scan() else { return String::new() };
    let key = |verb: Verb| keys.shown(verb);
    let Some(reading) = scan.reading() else { return String::new() };
    if workbench.is_confirming() {
        return String::new();
    }
    if !scan.is_draft() {
        return format!("go to the next scan ({})", key(Verb::NextScan));
    }
    if scan.outcome() != Outcome::Aged {
        return format!("confirm ({})", key(Verb::Confirm));
    }
    if scan.document().reading.calibration.is_none() && workbench.blind().is_none() {
        return "give the pixel size on the fish card".to_owned();
    }
    if reading.axis.is_none() {
        return format!("set the focus and the axis ({})", key(Verb::SelectFocus));
    }
    if scan.document().open_proposals(scan.impression()).iter().any(|open| open.put_forward) {
        return format!(
            "accept ({}) or delete ({}) each proposal",
            key(Verb::Accept),
            key(Verb::Delete)
        );
    }
    if reading.edge_condition.is_none() {
        return format!("judge the margin ({} to {})", key(Verb::EdgeAtEdge), key(Verb::EdgeWide));
    }
    let captured = workbench.captured();
    let by_rule = scan.age_by_rule(captured, survey.survey()).and_then(|assigned| assigned.age);
    if scan.stated_age().or(by_rule).is_none() {
        return "state the age".to_owned();
    }
    format!("confirm ({})", key(Verb::Confirm))
}
