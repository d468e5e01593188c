//! The marks of the reading as a short list on the fish card: number, distance, how sure, how it came about.

use egui::{Button, Grid, Label, RichText, Ui};

use crate::domain::reading::{Certainty, MarkOrigin};
use crate::gui::theme::quiet;
use crate::gui::view::verb_button;
use crate::proposing::recalibration::{Recalibration, strength_shown};
use crate::workbench::action::{Action, Verb};
use crate::workbench::session_scan::OpenScan;
use crate::workbench::session_selection::{Handle, along_axis, distance, name};

/// Draws the list of marks and proposals, and the buttons for the one that is selected.
/// Proposals have a word, or a probability where this survey's readings allow one (`own`), with what it rests on.
pub fn marks_ui(
    ui: &mut Ui,
    scan: &OpenScan,
    (is_open, own): (bool, Option<&Recalibration>),
    actions: &mut Vec<Action>,
) {
    let colour = quiet(ui.visuals().dark_mode);
    let handles = along_axis(scan.document(), scan.impression());
    let marks = handles.iter().filter(|(_, handle)| *handle != Handle::Margin);
    if marks.clone().next().is_none() {
        let words = if scan.is_proposing() { "Looking for annuli" } else { "No marks yet" };
        ui.label(RichText::new(words).color(colour));
        return;
    }
    Grid::new("marks").num_columns(3).spacing([8.0, 1.0]).show(ui, |ui| {
        for (at, handle) in marks {
            let words = name(scan.document(), scan.impression(), *handle);
            let is_selected = scan.selected() == Some(*handle);
            if ui.add(Button::selectable(is_selected, words)).clicked() {
                actions.push(Action::Select(Some(*handle)));
            }
            ui.label(distance(scan.document(), scan.impression(), *at));
            ui.label(RichText::new(remark(scan, *handle, own)).small().color(colour));
            ui.end_row();
        }
    });
    let has_proposals = !scan.document().open_proposals(scan.impression()).is_empty();
    if let Some(own) = own.filter(|_| has_proposals) {
        let words = format!("Probabilities {}", own.basis());
        ui.add(Label::new(RichText::new(words).small().color(colour)).wrap());
    }
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 3.0;
        let is_mark = matches!(scan.selected(), Some(Handle::Mark(_)));
        let is_proposal = matches!(scan.selected(), Some(Handle::Proposal(_)));
        verb_button(ui, Verb::Accept, is_open && is_proposal, actions);
        verb_button(ui, Verb::ToggleKind, is_open && is_mark, actions);
        verb_button(ui, Verb::Delete, is_open && (is_mark || is_proposal), actions);
    });
}

fn remark(scan: &OpenScan, handle: Handle, own: Option<&Recalibration>) -> String {
    match handle {
        Handle::Proposal(index) => {
            let open = scan.document().open_proposals(scan.impression()).get(index);
            open.map_or_else(String::new, |open| strength_shown(open.probability, own))
        }
        Handle::Mark(index) => {
            let mark = scan.reading().and_then(|reading| reading.marks.get(index));
            mark.map_or_else(String::new, |mark| {
                let origin = match mark.origin {
                    MarkOrigin::AcceptedProposal => "accepted",
                    MarkOrigin::MovedProposal => "moved",
                    MarkOrigin::ByHand => "by hand",
                };
                match mark.certainty {
                    Certainty::Clear => origin.to_owned(),
                    other => format!("{origin}, {}", other.word()),
                }
            })
        }
        Handle::Focus | Handle::Margin | Handle::Bend(_) | Handle::AxisEnd => String::new(),
    }
}
