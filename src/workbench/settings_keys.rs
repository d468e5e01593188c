//! Which keys ask for what: the table of [`VERBS`] with the changes of the settings file. Clashes are refused.

use std::collections::HashMap;

use serde_json::{Map, Value};

use super::action::{Key, Shortcut, VERBS, Verb};

/// Keys and verbs as they hold in this window.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyMap {
    keys: HashMap<Verb, Vec<Shortcut>>,
    verbs: HashMap<Shortcut, Verb>,
}

impl Default for KeyMap {
    fn default() -> Self {
        Self::of(&HashMap::new())
    }
}

impl KeyMap {
    /// The table with the changes written as `{"NextScan": ["N", "Page Down"]}`, and what of it is refused and why.
    pub fn changed(changes: &Map<String, Value>) -> (Self, Vec<String>) {
        let mut problems = Vec::new();
        let mut taken: HashMap<Verb, Vec<Shortcut>> = HashMap::new();
        for (name, value) in changes {
            match change(name, value) {
                Ok((verb, keys)) => _ = taken.insert(verb, keys),
                Err(problem) => problems.push(problem),
            }
        }
        // Each round gives up at least one change, and the table itself has no clash.
        while let Some((key, one, other)) = clash(&taken) {
            let refused = if taken.remove(&other).is_some() { other } else { one };
            taken.remove(&refused);
            let kept = if refused == one { other } else { one };
            problems.push(format!(
                "the keys for {} are not changed: {key} asks for {} already; choose another key in the settings file",
                refused.label(),
                kept.label()
            ));
        }
        (Self::of(&taken), problems)
    }

    fn of(changes: &HashMap<Verb, Vec<Shortcut>>) -> Self {
        let keys: HashMap<Verb, Vec<Shortcut>> = VERBS
            .iter()
            .map(|entry| (entry.verb, keys_of(entry.verb, entry.shortcuts, changes)))
            .collect();
        let verbs = keys.iter().flat_map(|(verb, keys)| keys.iter().map(|key| (*key, *verb)));
        let verbs = verbs.collect();
        Self { keys, verbs }
    }

    /// What a key asks for.
    pub fn verb(&self, key: Shortcut) -> Option<Verb> {
        self.verbs.get(&key).copied()
    }

    /// The keys that ask for a verb; the first is the one shown beside it.
    pub fn keys(&self, verb: Verb) -> &[Shortcut] {
        self.keys.get(&verb).map_or(&[], Vec::as_slice)
    }

    /// The key shown beside a verb, or nothing.
    pub fn shown(&self, verb: Verb) -> String {
        self.keys(verb).first().map_or_else(String::new, ToString::to_string)
    }

    /// One plain sentence on a verb, with its key.
    pub fn tooltip(&self, verb: Verb) -> String {
        let what = verb.entry().map_or("", |entry| entry.tooltip);
        match self.keys(verb).first() {
            Some(key) => format!("{what} ({key})"),
            None => what.to_owned(),
        }
    }

    /// All keys, as the settings file has them.
    pub fn to_json(&self) -> Map<String, Value> {
        let keys = |verb| -> Value { self.keys(verb).iter().map(ToString::to_string).collect() };
        VERBS.iter().map(|entry| (format!("{:?}", entry.verb), keys(entry.verb))).collect()
    }
}

fn keys_of(
    verb: Verb,
    usual: &[Shortcut],
    changes: &HashMap<Verb, Vec<Shortcut>>,
) -> Vec<Shortcut> {
    changes.get(&verb).cloned().unwrap_or_else(|| usual.to_vec())
}

fn change(name: &str, value: &Value) -> Result<(Verb, Vec<Shortcut>), String> {
    let entry = VERBS.iter().find(|entry| format!("{:?}", entry.verb) == name);
    let entry = entry.ok_or_else(|| {
        format!("the settings file gives keys to \"{name}\", which is nothing the program does")
    })?;
    let keys = value.as_array().ok_or_else(|| {
        format!("the keys of {name} in the settings file are not a list: write [\"N\"]")
    })?;
    let read = |key: &Value| {
        let words = key.as_str().unwrap_or_default();
        shortcut(words).ok_or_else(|| {
            format!("the settings file gives {name} the key {key}, which is not known: write it as in the keys help, such as \"Ctrl+Shift+Z\"")
        })
    };
    Ok((entry.verb, keys.iter().map(read).collect::<Result<_, _>>()?))
}

/// A key that two verbs ask for: the one first in the table, then the other.
fn clash(changes: &HashMap<Verb, Vec<Shortcut>>) -> Option<(Shortcut, Verb, Verb)> {
    let mut owners: HashMap<Shortcut, Verb> = HashMap::new();
    for entry in VERBS {
        for key in keys_of(entry.verb, entry.shortcuts, changes) {
            match owners.insert(key, entry.verb) {
                Some(earlier) if earlier != entry.verb => {
                    let is_changed = changes.contains_key(&entry.verb);
                    let (kept, given_up) =
                        if is_changed { (earlier, entry.verb) } else { (entry.verb, earlier) };
                    return Some((key, kept, given_up));
                }
                _ => {}
            }
        }
    }
    None
}

/// A key as [`Shortcut`] writes it.
pub fn shortcut(words: &str) -> Option<Shortcut> {
    let (ctrl, rest) = match words.strip_prefix("Ctrl+") {
        Some(rest) => (true, rest),
        None => (false, words),
    };
    let (shift, name) = match rest.strip_prefix("Shift+") {
        Some(rest) => (true, rest),
        None => (false, rest),
    };
    Some(Shortcut { key: key_named(name)?, ctrl, shift })
}

fn key_named(name: &str) -> Option<Key> {
    let mut letters = name.chars();
    if let (Some(one), None) = (letters.next(), letters.next()) {
        return match one {
            '[' => Some(Key::BracketLeft),
            ']' => Some(Key::BracketRight),
            '+' => Some(Key::Plus),
            '-' => Some(Key::Minus),
            '?' => Some(Key::Question),
            'a'..='z' | 'A'..='Z' => Some(Key::Letter(one.to_ascii_uppercase())),
            '0'..='9' => one.to_digit(10).and_then(|d| u8::try_from(d).ok()).map(Key::Digit),
            _ => None,
        };
    }
    const NAMED: [Key; 13] = [
        Key::Left,
        Key::Right,
        Key::Up,
        Key::Down,
        Key::PageUp,
        Key::PageDown,
        Key::Delete,
        Key::Backspace,
        Key::Insert,
        Key::Escape,
        Key::F1,
        Key::F2,
        Key::F3,
    ];
    let plain = |key| Shortcut { key, ctrl: false, shift: false };
    NAMED.into_iter().find(|key| plain(*key).to_string() == name)
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn changed(changes: Value) -> (KeyMap, Vec<String>) {
        KeyMap::changed(changes.as_object().unwrap())
    }

    #[test]
    fn every_key_of_the_table_is_read_back_from_its_words() {
        for entry in VERBS {
            for key in entry.shortcuts {
                assert_eq!(shortcut(&key.to_string()), Some(*key), "{key}");
                assert_eq!(KeyMap::default().verb(*key), Some(entry.verb));
            }
        }
        assert_eq!(shortcut("Ctrl+"), None);
        assert_eq!(shortcut("Hyper+N"), None);
    }

    #[test]
    fn a_change_takes_the_place_of_the_table() {
        let (keys, problems) =
            changed(json!({"Confirm": ["Ctrl+Shift+C", "9"], "ConfidencePoor": []}));
        assert!(problems.is_empty(), "{problems:?}");
        assert_eq!(keys.verb(shortcut("9").unwrap()), Some(Verb::Confirm));
        assert_eq!(keys.verb(shortcut("C").unwrap()), None);
        assert_eq!(keys.shown(Verb::Confirm), "Ctrl+Shift+C");
        assert!(keys.tooltip(Verb::Confirm).ends_with("(Ctrl+Shift+C)"));
        assert_eq!(keys.shown(Verb::ConfidencePoor), "");
        let (again, _) = KeyMap::changed(&keys.to_json());
        assert_eq!(again, keys);
    }

    #[test]
    fn clashes_and_slips_are_refused_by_name() {
        let (keys, problems) =
            changed(json!({"Confirm": ["N"], "NextMark": ["Hyper"], "Nap": ["Q"]}));
        assert_eq!(problems.len(), 3, "{problems:?}");
        assert!(
            problems.iter().any(|p| p.contains("N asks for Next scan already")),
            "{problems:?}"
        );
        assert_eq!(keys, KeyMap::default());
        let (keys, problems) = changed(json!({"NextScan": ["Q", "C"], "Confirm": ["E"]}));
        assert!(keys.verb(shortcut("C").unwrap()) == Some(Verb::NextScan) || !problems.is_empty());
    }
}
