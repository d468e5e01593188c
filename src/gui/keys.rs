//! From the keyboard to verbs, by the one table of shortcuts.

use egui::{Context, Event, Modifiers};

use crate::workbench::action::{Key, Shortcut, Verb};
use crate::workbench::settings_keys::KeyMap;

/// Verbs asked for by the keys pressed since the last frame. While words are typed only the ones with Ctrl that a
/// text field has no use for are taken.
///
/// `arrows_are_free` says that no button or field has the keyboard, so that the arrow keys belong to the marks.
pub fn verbs_pressed(context: &Context, keys: &KeyMap, arrows_are_free: bool) -> Vec<Verb> {
    let is_typing = context.text_edit_focused();
    let mut verbs = Vec::new();
    context.input_mut(|input| {
        input.events.retain(|event| {
            let Event::Key { key, pressed: true, repeat, modifiers, .. } = event else {
                return true;
            };
            let Some(verb) = verb_of(keys, *key, *modifiers) else { return true };
            // With Ctrl no button or field has a use for them.
            let is_arrow = !modifiers.command
                && matches!(
                    key,
                    egui::Key::ArrowLeft
                        | egui::Key::ArrowRight
                        | egui::Key::ArrowUp
                        | egui::Key::ArrowDown
                );
            let is_left_to_text = is_typing && !is_global(verb);
            let is_unwanted_repeat = *repeat && !may_repeat(verb);
            if is_left_to_text || is_unwanted_repeat || (is_arrow && !arrows_are_free) {
                return true;
            }
            verbs.push(verb);
            false
        });
    });
    verbs
}

fn verb_of(keys: &KeyMap, key: egui::Key, modifiers: Modifiers) -> Option<Verb> {
    let key = key_from_egui(key)?;
    // A sign may need Shift or AltGr on one keyboard and not on another.
    let is_sign = matches!(
        key,
        Key::BracketLeft | Key::BracketRight | Key::Plus | Key::Minus | Key::Question
    );
    let pressed = if is_sign {
        // Ctrl with Alt is how some keyboards write a sign.
        Shortcut { key, ctrl: modifiers.command && !modifiers.alt, shift: false }
    } else if modifiers.alt {
        return None;
    } else {
        Shortcut { key, ctrl: modifiers.command, shift: modifiers.shift }
    };
    keys.verb(pressed)
}

fn is_global(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::OpenSurvey
            | Verb::GoToRead
            | Verb::GoToLengths
            | Verb::GoToAgree
            | Verb::GoToGrowth
            | Verb::GoToReport
            | Verb::ShowCommands
            | Verb::ShowSettings
            | Verb::LargerInterface
            | Verb::SmallerInterface
    )
}

fn may_repeat(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::NudgeOut
            | Verb::NudgeIn
            | Verb::NudgeUp
            | Verb::NudgeDown
            | Verb::LeapOut
            | Verb::LeapIn
            | Verb::ZoomIn
            | Verb::ZoomOut
            | Verb::PanLeft
            | Verb::PanRight
            | Verb::PanUp
            | Verb::PanDown
            | Verb::NextMark
            | Verb::PreviousMark
    )
}

fn key_from_egui(key: egui::Key) -> Option<Key> {
    use egui::Key as E;
    Some(match key {
        E::OpenBracket => Key::BracketLeft,
        E::CloseBracket => Key::BracketRight,
        E::Plus | E::Equals => Key::Plus,
        E::Minus => Key::Minus,
        E::Questionmark => Key::Question,
        E::ArrowLeft => Key::Left,
        E::ArrowRight => Key::Right,
        E::ArrowUp => Key::Up,
        E::ArrowDown => Key::Down,
        E::PageUp => Key::PageUp,
        E::PageDown => Key::PageDown,
        E::Delete => Key::Delete,
        E::Backspace => Key::Backspace,
        E::Insert => Key::Insert,
        E::Escape => Key::Escape,
        E::F3 => Key::F3,
        E::F1 => Key::F1,
        E::F2 => Key::F2,
        other => return letter_or_digit(other),
    })
}

fn letter_or_digit(key: egui::Key) -> Option<Key> {
    let mut name = key.name().chars();
    match (name.next(), name.next()) {
        (Some(letter @ 'A'..='Z'), None) => Some(Key::Letter(letter)),
        (Some(digit @ '0'..='9'), None) => {
            digit.to_digit(10).and_then(|digit| u8::try_from(digit).ok()).map(Key::Digit)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::workbench::action::VERBS;

    #[test]
    fn modifiers_tell_verbs_apart() {
        let keys = KeyMap::default();
        let with = |key, modifiers| verb_of(&keys, key, modifiers);
        assert_eq!(with(egui::Key::A, Modifiers::NONE), Some(Verb::Accept));
        assert_eq!(with(egui::Key::A, Modifiers::SHIFT), Some(Verb::AcceptAll));
        assert_eq!(with(egui::Key::A, Modifiers::COMMAND), None);
        let redo = Modifiers { shift: true, ..Modifiers::COMMAND };
        assert_eq!(with(egui::Key::Z, redo), Some(Verb::Redo));
        assert_eq!(with(egui::Key::Num1, Modifiers::NONE), Some(Verb::EdgeAtEdge));
    }

    #[test]
    fn signs_are_found_on_any_keyboard() {
        for modifiers in [Modifiers::NONE, Modifiers::SHIFT] {
            assert_eq!(
                verb_of(&KeyMap::default(), egui::Key::Questionmark, modifiers),
                Some(Verb::ShowKeys)
            );
            assert_eq!(
                verb_of(&KeyMap::default(), egui::Key::Equals, modifiers),
                Some(Verb::ZoomIn)
            );
        }
    }

    #[test]
    fn every_shortcut_of_the_table_can_be_pressed() {
        for entry in VERBS {
            for shortcut in entry.shortcuts {
                let reachable =
                    egui::Key::ALL.iter().any(|key| key_from_egui(*key) == Some(shortcut.key));
                assert!(reachable, "{shortcut}");
            }
        }
    }
}
