//! Which scans the reading list shows: all, unread, doubtful, mine; and finding one by name.

use egui::{Key, TextEdit, Ui};

use crate::workbench::action::Action;
use crate::workbench::session::ListEntry;
use crate::workbench::session_save::ListState;

/// A kind of scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Kind {
    /// Every scan.
    #[default]
    All,
    /// Not begun by this reader.
    Unread,
    /// With a doubtful mark or poor confidence.
    Doubtful,
    /// Begun or confirmed by this reader.
    Mine,
    /// Read by several readers whose ages differ, with nothing decided.
    Disputed,
}

impl Kind {
    const ALL: [(Self, &'static str, &'static str); 5] = [
        (Self::All, "All", "Show every scan"),
        (Self::Unread, "Unread", "Show scans you have not begun"),
        (Self::Doubtful, "Doubtful", "Show your readings with a doubtful mark or poor confidence"),
        (Self::Mine, "Mine", "Show scans you have begun or confirmed"),
        (Self::Disputed, "Differ", "Show scans on which readers differ and nothing is decided"),
    ];

    fn holds(self, entry: &ListEntry) -> bool {
        match self {
            Self::All => true,
            Self::Unread => entry.state == ListState::Unread,
            Self::Doubtful => entry.is_doubtful,
            Self::Mine => entry.state != ListState::Unread,
            Self::Disputed => entry.is_disputed,
        }
    }
}

/// What the list is narrowed down to.
#[derive(Debug, Default)]
pub struct ListFilter {
    /// The kind of scan.
    pub kind: Kind,
    /// Part of a fish number or file name.
    pub words: String,
    /// The field is to get the keyboard.
    pub wants_focus: bool,
}

impl ListFilter {
    /// Places of the entries it lets through.
    pub fn places(&self, entries: &[ListEntry]) -> Vec<usize> {
        let words = self.words.trim().to_lowercase();
        let named = |entry: &ListEntry| {
            words.is_empty()
                || entry.title().to_lowercase().contains(&words)
                || entry.scan.to_lowercase().contains(&words)
        };
        let all = entries.iter().enumerate();
        all.filter(|(_, entry)| self.kind.holds(entry) && named(entry)).map(|(i, _)| i).collect()
    }
}

/// Draws the filters; the places they let through. Enter in the field opens the first.
pub fn filter_ui(
    ui: &mut Ui,
    entries: &[ListEntry],
    is_blind: bool,
    filter: &mut ListFilter,
    actions: &mut Vec<Action>,
) -> Vec<usize> {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 1.0;
        ui.spacing_mut().button_padding.x = 4.0;
        // On a blind list nothing tells what others have read.
        let kinds = Kind::ALL.into_iter().filter(|(kind, ..)| !is_blind || *kind != Kind::Disputed);
        for (kind, words, tooltip) in kinds {
            let button = egui::Button::selectable(filter.kind == kind, words);
            if ui.add(button).on_hover_text(tooltip).clicked() {
                filter.kind = kind;
            }
        }
    });
    let field = TextEdit::singleline(&mut filter.words)
        .desired_width(f32::INFINITY)
        .hint_text("find a fish or scan");
    let field = ui.add(field);
    let is_enabled = field.enabled();
    let value = filter.words.clone();
    field.widget_info(|| {
        let mut info = egui::WidgetInfo::text_edit(is_enabled, &value, &value, "");
        info.label = Some("Find a scan".to_owned());
        info
    });
    if std::mem::take(&mut filter.wants_focus) {
        field.request_focus();
    }
    let places = filter.places(entries);
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    if let Some(first) = places.first().filter(|_| entered) {
        actions.push(Action::SelectScan(*first));
    }
    if places.len() < entries.len() {
        ui.label(format!("{} of {} shown", places.len(), entries.len()));
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(scan: &str, state: ListState, is_doubtful: bool) -> ListEntry {
        let is_disputed = state == ListState::Confirmed;
        ListEntry { scan: scan.to_owned(), fish: Vec::new(), state, is_doubtful, is_disputed }
    }

    #[test]
    fn kinds_and_words_narrow_the_list_down() {
        let entries = [
            entry("MH-0001.tif", ListState::Unread, false),
            entry("MH-0002.tif", ListState::Draft, true),
            entry("MH-0012.tif", ListState::Confirmed, false),
        ];
        let places = |kind, words: &str| {
            ListFilter { kind, words: words.to_owned(), wants_focus: false }.places(&entries)
        };
        assert_eq!(places(Kind::All, ""), [0, 1, 2]);
        assert_eq!(places(Kind::Unread, ""), [0]);
        assert_eq!(places(Kind::Doubtful, ""), [1]);
        assert_eq!(places(Kind::Mine, " mh-0012 "), [2]);
        assert_eq!(places(Kind::Disputed, ""), [2]);
        assert_eq!(places(Kind::All, "2.TIF"), [1, 2]);
    }
}
