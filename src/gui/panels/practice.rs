//! Practice: the score, and the truth once a reading is confirmed.

use egui::{Pos2, RichText, Role, Sense, Stroke, Ui, WidgetInfo, vec2};

use crate::gui::canvas::layout::ScanTransform;
use crate::gui::canvas::paint;
use crate::gui::theme::{Look, RIM, heading, quiet};
use crate::gui::view::verb_button;
use crate::simulate::truth::PictureTruth;
use crate::workbench::action::{Action, Verb};
use crate::workbench::notices::sentence;
use crate::workbench::workbench::Workbench;

/// On the fish card while practising: score and truth.
pub fn practice_ui(ui: &mut Ui, workbench: &Workbench, actions: &mut Vec<Action>) {
    let Some(score) = workbench.score() else { return };
    let colour = quiet(ui.visuals().dark_mode);
    ui.label(heading("Practice"));
    let words =
        format!("{} of {} right, {} within a year", score.right, score.read, score.within_one);
    ui.label(words);
    match workbench.verdict() {
        Some(verdict) => {
            ui.label(RichText::new(sentence(&verdict.words())).size(18.0).strong());
            if let Some(off) = verdict.mean_off_um {
                let words = format!("Annuli marked lie {off:.0} µm from the true ones on average");
                ui.label(RichText::new(words).color(colour));
            }
            let words = "The true annuli are drawn as T1, T2 and so on";
            ui.label(RichText::new(words).small().color(colour));
        }
        None => {
            let words = "Read it as you would any scan; the truth follows when you confirm";
            ui.label(RichText::new(words).small().color(colour));
        }
    }
    ui.horizontal_wrapped(|ui| {
        let words =
            if workbench.practises_with_proposals() { "Hide proposals" } else { "Show proposals" };
        let button = ui.button(words).on_hover_text("With or without proposed annuli (Shift+T)");
        if button.clicked() {
            actions.push(Verb::PractiseUnaided.into());
        }
        if ui.button("Leave practice").on_hover_text("Come back to the survey (Ctrl+T)").clicked() {
            actions.push(Verb::Practise.into());
        }
        verb_button(ui, Verb::ShowGuide, true, actions);
    });
    ui.separator();
}

/// The true annuli on the scan: a short line across the true axis for each, on the other side from the tags.
pub fn truth_on_scan_ui(ui: &mut Ui, truth: &PictureTruth, transform: &ScanTransform) {
    let painter = ui.painter_at(transform.rect());
    let [from, to] = truth.axis_px.map(|at| transform.screen_from_image(at));
    let across = (to - from).normalized().rot90() * 11.0;
    let line = |a: Pos2, b: Pos2| {
        painter.line_segment([a, b], Stroke::new(5.0, RIM));
        painter.line_segment([a, b], Stroke::new(2.2, Look::Check.on_picture()));
    };
    for (index, annulus) in truth.annuli.iter().enumerate() {
        let at = transform.screen_from_image(truth.axis_point(annulus.um));
        if !transform.rect().contains(at) {
            continue;
        }
        line(at - across, at + across);
        let name = format!("T{}", index + 1);
        paint::tag(&painter, at - across * 2.0, &name, Look::Check, false);
        let place = egui::Rect::from_center_size(at, vec2(4.0, 4.0));
        let id = egui::Id::unique(("true annulus", index));
        let shown = ui.interact(place, id, Sense::hover());
        let words = format!("True annulus {}, {:.1} µm", index + 1, annulus.um);
        shown.widget_info(|| WidgetInfo::labeled(Role::Image, true, &words));
    }
}
