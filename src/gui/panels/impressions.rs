//! On the fish card: the impressions of the scan, and the other impressions and scans of the fish.

use egui::{Button, RichText, Ui};

use crate::domain::reading::ReadingState;
use crate::gui::theme::{heading, quiet};
use crate::gui::view::verb_button;
use crate::workbench::action::{Action, Verb};
use crate::workbench::session_scan::OpenScan;
use crate::workbench::session_slide::FishImpression;
use crate::workbench::workbench::Workbench;

/// One button for each impression where the scan holds several, and the way to their boxes.
pub fn impressions_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    scan: &OpenScan,
    actions: &mut Vec<Action>,
) {
    let impressions = &scan.document().reading.impressions;
    let is_slide = impressions.len() > 1 || workbench.fish_on_scan().len() > 1;
    if is_slide {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 3.0;
            for impression in impressions {
                let fish = workbench.survey().and_then(|survey| survey.fish(&impression.fish));
                let fish = fish.map_or(impression.fish.as_str(), |fish| &fish.number);
                let fish = if fish.is_empty() { "no fish" } else { fish };
                let words = format!("Impression {}: {fish}", impression.number);
                let is_shown = impression.number == scan.impression();
                let is_done = impression.state == ReadingState::Confirmed;
                let shown = if is_done { RichText::new(&words).strong() } else { words.into() };
                let button = ui.add(Button::selectable(is_shown, shown));
                if button.on_hover_text(if is_done { "confirmed" } else { "draft" }).clicked() {
                    actions.push(Action::SelectImpression(impression.number));
                }
            }
        });
        verb_button(ui, Verb::ShowBoxes, true, actions);
    }
    of_fish_ui(ui, workbench, scan, actions);
}

/// The impressions of this fish, and which of them its lengths rest on.
fn of_fish_ui(ui: &mut Ui, workbench: &Workbench, scan: &OpenScan, actions: &mut Vec<Action>) {
    let all = workbench.impressions_of_fish();
    if all.len() < 2 {
        return;
    }
    let colour = quiet(ui.visuals().dark_mode);
    ui.add_space(2.0);
    ui.label(heading("Impressions of this fish"));
    // The age read on another scan would lead the reader: it waits until this one is confirmed.
    let may_tell = !scan.is_draft();
    for one in &all {
        ui.horizontal_wrapped(|ui| {
            let name = format!("{}, impression {}", one.scan, one.reading.number);
            if one.is_here {
                ui.label(RichText::new("This one").strong());
            } else if ui.button(&name).on_hover_text("Go to this impression").clicked() {
                actions.push(Action::SelectScan(one.place));
            }
            ui.label(RichText::new(state_words(one, may_tell)).small().color(colour));
        });
    }
    let is_alone = all.iter().any(|one| one.is_here && one.is_alone);
    let words = match (is_alone, all.iter().any(|one| one.is_alone)) {
        (true, _) => "Lengths rest on this one alone",
        (false, true) => "Lengths rest on another one alone",
        (false, false) => "Lengths rest on the mean ratios of all confirmed",
    };
    ui.label(RichText::new(words).small().color(colour));
    verb_button(ui, Verb::Prefer, true, actions);
}

fn state_words(one: &FishImpression, may_tell: bool) -> String {
    let state = match one.reading.state {
        ReadingState::Confirmed => "confirmed",
        ReadingState::Draft if one.reading.marks.is_empty() => "unread",
        ReadingState::Draft => "draft",
    };
    let age = one.reading.age.filter(|_| may_tell && one.reading.state == ReadingState::Confirmed);
    let mut words = state.to_owned();
    if let Some(age) = age {
        words += &format!(", age {age}");
    }
    if one.is_alone {
        words += ", preferred";
    } else if one.is_counted {
        words += ", counted";
    }
    words
}
