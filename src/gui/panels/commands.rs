//! Everything the program does, found by its name.

use egui::{Context, Key, Modifiers, RichText, ScrollArea, TextEdit, Ui, Window, vec2};

use crate::gui::theme::quiet;
use crate::gui::view::keys;
use crate::workbench::action::{Action, Entry, VERBS, Verb};

/// The list of commands.
#[derive(Debug, Default)]
pub struct Commands {
    /// It is open.
    pub is_shown: bool,
    words: String,
    chosen: usize,
    wants_focus: bool,
}

impl Commands {
    /// Opens it, empty, or closes it.
    pub fn toggle(&mut self) {
        *self = Self { is_shown: !self.is_shown, wants_focus: true, ..Self::default() };
    }
}

/// Draws the list while it is open; a chosen command closes it.
pub fn commands_ui(context: &Context, commands: &mut Commands, actions: &mut Vec<Action>) {
    if !commands.is_shown {
        return;
    }
    let mut is_open = true;
    let mut asked = None;
    Window::new("All commands")
        .open(&mut is_open)
        .collapsible(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_TOP, vec2(0.0, 60.0))
        .show(context, |ui| asked = list_ui(ui, commands));
    commands.is_shown = is_open && asked.is_none();
    actions.extend(asked.map(Action::Do));
}

fn list_ui(ui: &mut Ui, commands: &mut Commands) -> Option<Verb> {
    ui.set_width(460.0);
    let (down, up, enter) = ui.input_mut(|input| {
        let mut pressed = |key| input.consume_key(Modifiers::NONE, key);
        (pressed(Key::ArrowDown), pressed(Key::ArrowUp), pressed(Key::Enter))
    });
    let label = ui.label("Name of a command");
    let field = TextEdit::singleline(&mut commands.words)
        .desired_width(f32::INFINITY)
        .hint_text("type a few letters; arrows choose, Enter does it");
    let field = ui.add(field).labelled_by(label.id);
    if std::mem::take(&mut commands.wants_focus) {
        field.request_focus();
    }
    if field.changed() {
        commands.chosen = 0;
    }
    let found = matching(&commands.words);
    let last = found.len().saturating_sub(1);
    if down {
        commands.chosen += 1;
    }
    if up {
        commands.chosen = commands.chosen.saturating_sub(1);
    }
    commands.chosen = commands.chosen.min(last);
    if enter {
        return found.get(commands.chosen).map(|entry| entry.verb);
    }
    if found.is_empty() {
        ui.label("No command has these words in its name");
    }
    let mut asked = None;
    ScrollArea::vertical().max_height(360.0).auto_shrink([false, true]).show(ui, |ui| {
        for (index, entry) in found.iter().enumerate() {
            if row_ui(ui, entry, index == commands.chosen, down || up) {
                asked = Some(entry.verb);
            }
        }
    });
    asked
}

fn row_ui(ui: &mut Ui, entry: &Entry, is_chosen: bool, wants_scroll: bool) -> bool {
    let colour = quiet(ui.visuals().dark_mode);
    let key = keys(ui.ctx()).shown(entry.verb);
    let row = ui.horizontal(|ui| {
        let button = egui::Button::selectable(is_chosen, entry.label);
        let button = ui.add_sized(vec2(120.0, 22.0), button);
        let words = format!("Command {}", entry.label);
        button.widget_info(|| {
            egui::WidgetInfo::selected(egui::Role::Button, true, is_chosen, &words)
        });
        ui.label(RichText::new(key).monospace());
        ui.add(egui::Label::new(RichText::new(entry.tooltip).small().color(colour)).truncate());
        button.clicked()
    });
    if is_chosen && wants_scroll {
        row.response.scroll_to_me(None);
    }
    row.inner
}

/// Commands in whose name or sentence every word typed occurs, names first.
pub fn matching(words: &str) -> Vec<&'static Entry> {
    let words = words.to_lowercase();
    let has = |text: &str| {
        let text = text.to_lowercase();
        words.split_whitespace().all(|word| text.contains(word))
    };
    let in_name = VERBS.iter().filter(|entry| has(entry.label));
    let in_sentence = VERBS
        .iter()
        .filter(|entry| !has(entry.label) && has(&format!("{} {}", entry.label, entry.tooltip)));
    in_name.chain(in_sentence).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_verb_is_found_by_its_name_and_names_come_first() {
        for entry in VERBS {
            assert!(matching(entry.label).iter().any(|found| found.verb == entry.verb));
        }
        assert_eq!(matching("").len(), VERBS.len());
        assert_eq!(matching("accept all")[0].verb, Verb::AcceptAll);
        assert!(matching("zzz").is_empty());
    }
}
