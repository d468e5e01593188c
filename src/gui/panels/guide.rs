//! A first reading in six steps, on a simulated scale: skipped at any time, called again at any time.

use egui::{Align2, Context, RichText, Window, vec2};

use crate::domain::reading::ReadingState;
use crate::gui::theme::quiet;
use crate::gui::view::{View, keys};
use crate::workbench::action::{Action, Verb};
use crate::workbench::settings_keys::KeyMap;
use crate::workbench::workbench::Workbench;

/// The guide while it is followed.
#[derive(Debug, Default)]
pub struct Guide {
    /// The step on show, from 0; `None` while it is not followed.
    pub step: Option<usize>,
    /// The zoom at which the scan was first shown.
    zoom: Option<f64>,
    /// The structure it began on.
    place: Option<usize>,
}

/// Steps of the guide.
pub const N_STEPS: usize = 6;

impl Guide {
    /// Begins with the first step.
    pub fn begin(&mut self) {
        *self = Self { step: Some(0), ..Self::default() };
    }
}

/// Draws the step on show, and goes on when it is done.
pub fn guide_ui(
    context: &Context,
    workbench: &Workbench,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    let Some(step) = view.guide.step else { return };
    if !workbench.is_practising() {
        // Left by the way: it is done.
        if workbench.survey().is_some() && !workbench.is_opening() && !workbench.is_saving() {
            view.guide.step = None;
        }
        return;
    }
    let Some(scan) = workbench.scan() else { return };
    let zoom = view.scan.zoom();
    view.guide.zoom = view.guide.zoom.or(zoom);
    view.guide.place = view.guide.place.or(Some(scan.place()));
    if is_done(step, workbench, view) && step + 1 < N_STEPS {
        view.guide.step = Some(step + 1);
        context.request_repaint();
    }
    let step = view.guide.step.unwrap_or(step);
    let keys = keys(context);
    let (title, words) = words(step, &keys);
    let mut next = None;
    Window::new(format!("Step {} of {N_STEPS}: {title}", step + 1))
        .id(egui::Id::unique("guide"))
        .collapsible(false)
        .resizable(false)
        .anchor(Align2::CENTER_TOP, vec2(0.0, 52.0))
        .show(context, |ui| {
            ui.set_width(380.0);
            ui.label(words);
            let colour = quiet(ui.visuals().dark_mode);
            ui.label(RichText::new("Nothing here is written to any survey.").small().color(colour));
            ui.horizontal(|ui| {
                if step > 0 && ui.button("Back").clicked() {
                    next = Some(Some(step - 1));
                }
                let last = step + 1 == N_STEPS;
                if ui.button(if last { "Finish" } else { "Next step" }).clicked() {
                    next = Some((!last).then_some(step + 1));
                }
                if !last && ui.button("Skip the guide").clicked() {
                    next = Some(None);
                }
            });
        });
    if let Some(step) = next {
        view.guide.step = step;
        if step.is_none() {
            view.settings.is_guide_done = true;
            actions.push(Verb::Practise.into());
        }
    }
}

/// The step's task has been done on the structure on show.
fn is_done(step: usize, workbench: &Workbench, view: &View) -> bool {
    let Some(scan) = workbench.scan() else { return false };
    let Some(reading) = scan.reading() else { return false };
    let open = scan.document().open_proposals(scan.impression());
    match step {
        0 => view.scan.zoom() != view.guide.zoom,
        1 => scan.selected().is_some(),
        2 => !reading.marks.is_empty() && !open.iter().any(|open| open.put_forward),
        3 => reading.edge_condition.is_some(),
        4 => reading.state == ReadingState::Confirmed,
        _ => view.guide.place != Some(scan.place()),
    }
}

fn words(step: usize, keys: &KeyMap) -> (&'static str, String) {
    let key = |verb: Verb| keys.shown(verb);
    match step {
        0 => (
            "look at the scale",
            format!(
                "The scan is in the middle, the strip along its axis and the profile under it. Zoom with the wheel or \
                 {} and {}, move by dragging. {} fits it again.",
                key(Verb::ZoomIn),
                key(Verb::ZoomOut),
                key(Verb::Fit)
            ),
        ),
        1 => (
            "take hold of a proposal",
            format!(
                "Dashed lines are proposals: nothing counts until you accept it. {} goes to the next one outwards, \
                 {} back.",
                key(Verb::NextMark),
                key(Verb::PreviousMark)
            ),
        ),
        2 => (
            "accept, move or delete",
            format!(
                "{} accepts the proposal you hold, {} deletes it, arrows or dragging move it. {} accepts all. \
                 {} adds an annulus by hand, {} turns one into a check.",
                key(Verb::Accept),
                key(Verb::Delete),
                key(Verb::AcceptAll),
                key(Verb::Insert),
                key(Verb::ToggleKind)
            ),
        ),
        3 => (
            "judge the margin",
            format!(
                "How much has grown since the last annulus? {} at edge, {} narrow, {} medium, {} wide. \
                 The age follows by the birthday rule.",
                key(Verb::EdgeAtEdge),
                key(Verb::EdgeNarrow),
                key(Verb::EdgeMedium),
                key(Verb::EdgeWide)
            ),
        ),
        4 => (
            "confirm",
            format!(
                "{} puts your name to the reading and saves it; {} takes back any step before. If it cannot be read, \
                 choose unreadable ({}) or regenerated ({}) first.",
                key(Verb::Confirm),
                key(Verb::Undo),
                key(Verb::OutcomeUnreadable),
                key(Verb::OutcomeRegenerated)
            ),
        ),
        _ => (
            "see the truth",
            format!(
                "T1, T2 and so on are where the annuli were drawn, and the card says how you did. {} goes to the next; \
                 {} shows all keys, {} finds anything by name.",
                key(Verb::NextScan),
                key(Verb::ShowKeys),
                key(Verb::ShowCommands)
            ),
        ),
    }
}
